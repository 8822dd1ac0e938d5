"""Lines of JSON, a vehicle each: what is taken, and what is refused with the place where it stands."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.due.vehicle_lines import VehicleDates, vehicle_dates
from fleetcare.errors import BadInput
from fleetcare.intake.vehicle_lines import MOST_ENTRIES, MOST_READINGS, answer_line, parse_vehicle_line
from fleetcare.quantities import DateSpan, MeterUnit
from fleetcare.usage.priors import Priors

WHOLE: dict[str, Any] = {
    "id": "c00017",
    "unit": "km",
    "as_of": "2023-05-14",
    "in_service": "2017-02-03",
    "readings": [["2022-11-02", 83211.0], ["2023-02-01", 86102]],
    "trips": [["2023-06-20", 900.0]],
    "parked": [["2023-07-01", "2023-09-01"]],
    "services": [
        {"id": "a", "due_at": 91000.0},
        {"id": "b", "due_at": 95000.0, "not_after": "2024-01-15"},
        {"id": "c", "remaining": 8000.0},
    ],
    "max_per_day": 900,
    "vouched": [1],
    "digits": 6,
    "rolls_over": True,
}


def line(**changed: Any) -> bytes:
    return json.dumps({**WHOLE, **changed}).encode()


def refused(text: bytes) -> BadInput:
    with pytest.raises(BadInput) as caught:
        parse_vehicle_line(text)
    return caught.value


def test_a_whole_line_is_taken_key_by_key() -> None:
    taken = parse_vehicle_line(line())
    assert (taken.name, taken.unit, taken.as_of) == ("c00017", MeterUnit.KM, date(2023, 5, 14).toordinal())
    assert taken.in_service == date(2017, 2, 3).toordinal()
    assert [(one.ordinal, one.value, one.vouched) for one in taken.readings] == [
        (date(2022, 11, 2).toordinal(), 83211.0, False),
        (date(2023, 2, 1).toordinal(), 86102.0, True),
    ]
    assert taken.trips == ((date(2023, 6, 20).toordinal(), 900.0),)
    # From the first day to the day of return, which is the first day of use again.
    assert taken.laid_up == (DateSpan(date(2023, 7, 1), date(2023, 9, 1)),)
    assert [(one.name, one.due_at, one.remaining, one.not_after) for one in taken.services] == [
        ("a", 91000.0, None, None),
        ("b", 95000.0, None, date(2024, 1, 15).toordinal()),
        ("c", None, 8000.0, None),
    ]
    assert (taken.max_per_day, taken.digits, taken.rolls_over) == (900.0, 6, True)


def test_a_line_needs_four_keys_and_no_more() -> None:
    least = {"id": "x", "unit": "h", "as_of": "2023-05-14", "services": []}
    taken = parse_vehicle_line(json.dumps(least).encode())
    assert (taken.readings, taken.trips, taken.laid_up, taken.in_service) == ((), (), (), None)
    for key in least:
        bad = refused(json.dumps({name: value for name, value in least.items() if name != key}).encode())
        assert (bad.field, bad.what) == (key, f"The key {key} is missing.")
        assert f'Write "{key}"' in bad.remedy


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"unit": "miles"}, "unit", "“miles”"),
        ({"unit": ["km"]}, "unit", "a list of 1"),
        ({"id": ""}, "id", "text in quotes"),
        ({"id": 17}, "id", "“17”"),
        ({"as_of": "14.5.2023"}, "as_of", "2023-05-14"),
        ({"as_of": "2023-02-29"}, "as_of", "has 28 days"),
        ({"as_of": "20230514"}, "as_of", "2026-03-31"),
        ({"as_of": "2023-W20-7"}, "as_of", "2026-03-31"),
        ({"as_of": "1023-05-14"}, "as_of", "1900"),
        ({"as_of": 20230514}, "as_of", "year, month, day"),
        ({"in_service": "2023-05-15"}, "in_service", "lies after as_of"),
        ({"readings": "none"}, "readings", "“none”"),
        ({"readings": [["2022-11-02", 1], ["2022-11-01", 2]]}, "readings[1]", "oldest first"),
        ({"readings": [["2022-11-02", 1], ["2023-05-15", 2]]}, "readings[1]", "lies after as_of"),
        ({"readings": [["2022-11-02"]]}, "readings[0]", "a list of 1"),
        ({"readings": [["2022-11-02", "83211"]]}, "readings[0]", "without quotes"),
        ({"readings": [["2022-11-02", True]]}, "readings[0]", "true"),
        ({"readings": [["2022-11-02", None]]}, "readings[0]", "null"),
        ({"readings": [["2022-11-02", 10**12]]}, "readings[0]", "12 digits"),
        ({"readings": [["2022-11-02", 10**400]]}, "readings[0]", "12 digits"),
        ({"readings": [["2 November", 5]]}, "readings[0]", "2026-03-31"),
        ({"readings": {"2022-11-02": 1}}, "readings", "an object"),
        ({"trips": [["2023-06-20", -1]]}, "trips[0]", "shorter than nought"),
        ({"trips": None}, "trips", "null"),
        ({"parked": [["2023-07-01", "2023-07-01"]]}, "parked[0]", "not after the first day"),
        ({"parked": [["2023-07-01", "2023-08-01"], "winter"]}, "parked[1]", "“winter”"),
        ({"services": [{"id": "a"}]}, "services[0]", "Nothing says when"),
        ({"services": [{"due_at": 5}]}, "services[0]", "id is missing"),
        ({"services": [{"id": "a", "due_at": 5}, {"id": "a", "due_at": 6}]}, "services[1].id", "name of its own"),
        ({"services": [{"id": "a", "due_at": -5}]}, "services[0].due_at", "less than nought"),
        ({"services": [{"id": "a", "due_at": "5"}]}, "services[0].due_at", "without quotes"),
        ({"services": [{"id": "a", "remaining": [5]}]}, "services[0].remaining", "a list of 1"),
        ({"services": [{"id": "a", "not_after": "soon"}]}, "services[0].not_after", "2026-03-31"),
        ({"services": [{"id": "a", "due_ad": 5}]}, "services[0]", "Did you mean due_at?"),
        ({"services": ["oil"]}, "services[0]", "“oil”"),
        ({"max_per_day": 0}, "max_per_day", "not more than nought"),
        ({"max_per_day": "all"}, "max_per_day", "without quotes"),
        ({"vouched": [2]}, "vouched[0]", "no place of a reading"),
        ({"vouched": [True]}, "vouched[0]", "no place of a reading"),
        ({"digits": 2}, "digits", "from 3 to 9"),
        ({"digits": None}, "rolls_over", "digits"),
        ({"rolls_over": 1}, "rolls_over", "true or false"),
        ({"asof": "2023-05-14"}, "", "Did you mean as_of?"),
        ({"colour": "red"}, "", "“colour”"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_place(changed: dict[str, Any], field: str, words: str) -> None:
    bad = refused(line(**changed))
    assert bad.field == field
    assert words in str(bad)
    assert len(str(bad)) < 400


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"hello", "not JSON"),
        (b"[1, 2]", "no object"),
        (b"null", "no object"),
        (b'{"id": "x"', "not JSON"),
        (b'{"id": "x"} {"id": "y"}', "not JSON"),
        (b'{"id": "x", "id": "y"}', "given twice"),
        (b'{"readings": [["2022-11-02", NaN]]}', "NaN is no number"),
        (b'{"readings": [["2022-11-02", -Infinity]]}', "-Infinity is no number"),
        (b'{"id": "\xff"}', "not UTF-8"),
        (b"[" * 100_000, "nest too deep"),
        (b'{"as_of": ' + b"9" * 5000 + b"}", "too many digits"),
    ],
)
def test_what_is_no_line_of_json_is_refused(text: bytes, words: str) -> None:
    assert words in str(refused(text))


def test_numbers_past_all_bounds_are_refused() -> None:
    # 1e999 is read as infinity.
    bad = refused(line(readings=[["2022-11-02", 5.5]]).replace(b"5.5", b"1e999"))
    assert (bad.field, "12 digits" in str(bad)) == ("readings[0]", True)


def test_lists_without_end_are_refused() -> None:
    bad = refused(line(readings=[["2022-11-02", 1]] * (MOST_READINGS + 1)))
    assert (bad.field, "100001 entries" in str(bad)) == ("readings", True)
    assert refused(line(trips=[["2023-06-20", 1]] * (MOST_ENTRIES + 1))).field == "trips"
    assert len(parse_vehicle_line(line(readings=[["2022-11-02", 1]] * MOST_READINGS)).readings) == MOST_READINGS


def test_several_readings_of_a_day_and_figures_below_nought_are_taken_to_be_judged() -> None:
    taken = parse_vehicle_line(line(readings=[["2022-11-02", 5], ["2022-11-02", 5], ["2022-11-03", -7]]))
    assert [one.value for one in taken.readings] == [5.0, 5.0, -7.0]
    assert (
        2
        in vehicle_dates(
            parse_vehicle_line(
                line(readings=[["2022-11-02", 5], ["2023-01-02", 1505], ["2023-02-03", -7]], vouched=[])
            ),
            Priors(),
        ).suspect
    )


def test_the_answer_is_one_line_of_plain_json() -> None:
    answer = VehicleDates("Bär\n", (("öl", (date(2023, 6, 30), date(2023, 8, 8), None)),), (3,))
    text = answer_line(answer)
    assert text.isascii()
    assert "\n" not in text
    assert json.loads(text) == {"id": "Bär\n", "services": {"öl": ["2023-06-30", "2023-08-08", None]}, "suspect": [3]}


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12)
    | st.sampled_from(["2023-05-01", "2023-05-14", "2199-12-31", "1900-01-01", "km", "h"]),
    lambda inner: st.lists(inner, max_size=4)
    | st.dictionaries(st.sampled_from([*WHOLE, "due_at", "x"]), inner, max_size=4),
    max_leaves=12,
)  # fmt: skip


@settings(max_examples=250, deadline=None)
@given(st.sampled_from(sorted(WHOLE)), ANYTHING)
def test_whatever_stands_for_a_key_is_taken_or_refused_in_words(key: str, value: Any) -> None:
    """No other end: a line either gives an answer, or BadInput that says what to do."""
    text = json.dumps({**WHOLE, "vouched": [], key: value}).encode()
    said, answer = "", ""
    try:
        answer = answer_line(vehicle_dates(parse_vehicle_line(text), Priors()))
    except BadInput as bad:
        said = bad.remedy and bad.what
    assert bool(said) is not bool(answer)


NUMBERS = st.one_of(
    st.floats(-1e3, 1e12, exclude_max=True), st.integers(0, 200_000), st.sampled_from([0, 0.1, 99_999, 1e11])
)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.dates(date(1900, 1, 1), date(2199, 12, 31)), NUMBERS), max_size=5),
    st.lists(st.tuples(st.dates(date(1900, 1, 1), date(2199, 12, 31)), NUMBERS.map(abs)), max_size=3),
    st.sampled_from(["km", "mi", "h"]),
    NUMBERS,
)
def test_any_days_and_figures_give_an_answer(
    readings: list[tuple[date, float]], trips: list[tuple[date, float]], unit: str, due_at: float
) -> None:
    given_ = {
        "id": "x", "unit": unit, "as_of": "2199-12-31", "in_service": "1950-01-01",
        "readings": [[on.isoformat(), value] for on, value in sorted(readings, key=lambda one: one[0])],
        "trips": [[on.isoformat(), value] for on, value in trips],
        "services": [{"id": "a", "due_at": abs(due_at)}, {"id": "b", "remaining": due_at}],
    }  # fmt: skip
    found = vehicle_dates(parse_vehicle_line(json.dumps(given_).encode()), Priors())
    for _, window in found.services:
        early, likely, late = (day or date.max for day in window)
        assert early <= likely <= late
