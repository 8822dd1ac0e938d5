"""What stands in a calendar entry: each rule of the grammar, and what could be read in two ways is not read."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.event_text import EventText, SpokenDistance, mentions_distance, named_vehicles, spoken_distances
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.intake.numbers import parse_amount
from fleetcare.quantities import DistanceUnit

DUTIES = {
    key: DutyCycle(key, title, severe=False)
    for key, title in {"daily": "daily", "towing": "towing", "track": "track", "hill-road": "mountain road"}.items()
}
KM, MI = DistanceUnit.KM, DistanceUnit.MI
GARAGE = [
    Vehicle(mark, name, VehicleKind.CAR, "car", KM)
    for mark, name in (("AN", "Anvil"), ("RA", "Raft"), ("LA", "Lantern"), ("LB", "Lantern Two"))
]


def read(title: str, note: str = "") -> EventText:
    """What that entry says."""
    return spoken_distances(title, note, duties=DUTIES, parse_amount=parse_amount)


@pytest.mark.parametrize(
    ("text", "distance", "unit", "duty"),
    [
        ("900 km towing", "900", KM, "towing"),
        ("560 mi track", "560", MI, "track"),
        ("towing 900km", "900", KM, "towing"),
        ("Towing: 900 km", "900", KM, "towing"),
        ("Ridge run, 900 km towing", "900", KM, "towing"),
        ("Stage 2, 900 km towing", "900", KM, "towing"),
        ("Lake - 900 km towing", "900", KM, "towing"),
        ("(900 km towing)", "900", KM, "towing"),
        ("900 km (towing)", "900", KM, "towing"),
        ("12.5 miles of track", "12.5", MI, "track"),
        ("1 mile of track", "1", MI, "track"),
        ("900 KM TOWING", "900", KM, "towing"),
        ("900 kilometres daily", "900", KM, "daily"),
        ("900 kilometers daily", "900", KM, "daily"),
        ("80 km mountain road", "80", KM, "hill-road"),
        ("80 km hill-road", "80", KM, "hill-road"),
        ("80 km hill road", "80", KM, "hill-road"),
        ("1,200 km towing", "1200", KM, "towing"),
        ("1.200,5 km towing", "1200.5", KM, "towing"),
        ("Lake and back: 900 km", "900", KM, ""),
        ("900 km, 3 people", "900", KM, ""),
        ("900\u00a0km towing", "900", KM, "towing"),
    ],
)
def test_a_distance_is_read_as_it_is_meant(text: str, distance: str, unit: DistanceUnit, duty: str) -> None:
    assert read(text) == EventText((SpokenDistance(Decimal(distance), unit, duty),))


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("900 km towing, 60 km track", [("900", "towing"), ("60", "track")]),
        ("towing 900 km, track 60 km", [("900", "towing"), ("60", "track")]),
        ("900 km towing 60 km track", [("900", "towing"), ("60", "track")]),
        ("900 km towing + 60 km track + 5 km daily", [("900", "towing"), ("60", "track"), ("5", "daily")]),
    ],
)
def test_several_distances_each_have_a_duty_of_their_own(text: str, parts: list[tuple[str, str]]) -> None:
    assert read(text) == EventText(tuple(SpokenDistance(Decimal(far), KM, duty) for far, duty in parts))


@pytest.mark.parametrize(
    "text",
    [
        *("2 900 km", "2026 900 km", "50 000 km towing", "9\u00a0000 km", "Day 2 900 km"),
        *("900-1000 km", "900 - 1000 km", "900–1000 km towing", "2 x 450 km", "2 × 450 km towing", "3*100 km"),
        *(
            "84,21 km",
            "84.2105 km",
            "900, km",
            "1,2,3 km",
            "0 km",
            "-900 km",
            "Lake-900 km",
            "Route A1,900 km",
            "A1 9 km",
        ),
        *("900 km/h", "900 km per day", "120 km an hour", "160 mi (257 km) towing", "99999999999999 km"),
        *(
            "towing 900 km track 60 km",
            "300 km towing, 300 km towing",
            "900 km, 60 km track",
            "300 km there, 300 km back",
        ),
    ],
)
def test_what_can_be_read_in_two_ways_is_not_read_and_a_sentence_says_so(text: str) -> None:
    said = read(text)
    assert said.distances == ()
    assert len(said.doubts) == 1
    assert said.doubts[0].endswith((".", "please."))


@pytest.mark.parametrize(
    "text", ["Ridge run", "5. Mi", "Room 900", "10 min", "3 kmh", "900kmtowing", "km towing", "٣٠٠ km", "track"]
)
def test_what_names_no_distance_says_nothing(text: str) -> None:
    assert read(text) == EventText()
    assert not mentions_distance(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("900 km hauling", "“hauling” is no duty. The duties are daily, hill-road, towing, track"),
        ("900 km to the lake", "“to” is no duty"),
        ("Towing Raft home (900 km)", "“towing” does not stand beside it. Write it as 900 km towing"),
        ("Track day, 60 km", "“track” does not stand beside it"),
    ],
)
def test_a_distance_with_an_unknown_duty_counts_in_the_usual_split_and_a_sentence_says_so(
    text: str, words: str
) -> None:
    said = read(text)
    assert [each.duty for each in said.distances] == [""]
    assert [words in doubt for doubt in said.doubts] == [True]


def test_the_note_is_read_only_if_the_title_holds_no_figure_with_a_unit() -> None:
    """A distance written twice must not count twice."""
    assert read("900 km towing", "900 km towing with Raft") == read("900 km towing")
    assert read("Ridge run", "900 km towing\nback on Sunday") == read("900 km towing")
    assert read("2 900 km", "900 km towing").distances == ()


def test_a_garage_without_duties_reads_distances_all_the_same() -> None:
    said = spoken_distances("900 km", "", duties={}, parse_amount=parse_amount)
    assert said == EventText((SpokenDistance(Decimal(900), KM),))


@given(st.integers(1, 10**6), st.integers(0, 9), st.sampled_from(["km", "mi"]), st.sampled_from(sorted(DUTIES)))
def test_whatever_is_written_plainly_is_read_back(whole: int, tenth: int, unit: str, duty: str) -> None:
    said = read(f"Ridge run, {whole}.{tenth} {unit} {duty}, back on Sunday")
    assert said == EventText((SpokenDistance(Decimal(f"{whole}.{tenth}"), DistanceUnit(unit), duty),))


@given(st.text(max_size=60), st.text(max_size=60))
def test_no_text_stops_the_reading_and_no_distance_is_nothing_or_finer_than_a_dial(title: str, note: str) -> None:
    for each in read(title, note).distances:
        assert each.distance > 0
        assert each.distance * 10 == int(each.distance * 10)


@given(st.text("0123456789 .,-–x/km towing()\n", max_size=30))
def test_a_figure_is_never_more_or_less_than_the_digits_that_stand_there(text: str) -> None:
    """No slip by a factor: the digits of what is read stand in the text in one piece, marks aside."""
    bare = text.replace(",", "").replace(".", "")
    for each in read(text).distances:
        assert f"{each.distance:f}".replace(".", "").lstrip("0") in bare


@pytest.mark.parametrize(
    ("title", "note", "marks"),
    [
        ("Anvil: Ridge run", "", ("AN",)),
        ("AN: Ridge run", "", ("AN",)),
        ("Anvil, Raft: Ridge run", "", ("AN", "RA")),
        ("Anvil and Raft: Ridge run", "", ("AN", "RA")),
        ("Ridge run with Raft", "", ("RA",)),
        ("Ridge run with Raft + Anvil", "", ("RA", "AN")),
        ("Ridge run", "with AN", ("AN",)),
        ("Ridge run", "Anvil: 900 km", ("AN",)),
        ("Lantern Two: out", "", ("LB",)),
        ("Anvil: out with Raft and Anvil", "", ("AN", "RA")),
        ("Lantern festival", "", ()),
        ("anvil: Ridge run", "", ()),
        ("Lunch with Teo", "", ()),
        ("An: old story", "", ()),
        ("Anvilla: out", "", ()),
        ("Ridge run Anvil", "", ()),
    ],
)
def test_vehicles_are_named_at_the_beginning_or_after_with(title: str, note: str, marks: tuple[str, ...]) -> None:
    """Names are words of everyday life as well, so a vehicle is not meant wherever its name stands."""
    assert named_vehicles(title, note, GARAGE) == marks


def test_in_a_garage_without_vehicles_none_is_named() -> None:
    assert named_vehicles("Anvil: out", "", []) == ()
