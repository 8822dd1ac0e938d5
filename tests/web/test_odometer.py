"""Entering a reading on a phone: shown, saved, asked about, refused, taken back."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import httpx
import pytest

from fleetcare.actions.ports import Change
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Meter
from fleetcare.meter.reading import Door, ReadingState
from fleetcare.quantities import MeterUnit
from tests.web.conftest import TUESDAY, Served
from tests.web.pages import Page, page_of
from tests.web.stored import everything, last, reading_of, used

TODAY = date(2026, 4, 14)
LAST = (date(2026, 3, 12), Decimal(83365))
"""Bellows, as the demo files have it. 845 miles in 33 days is what it usually does: 84 210."""


def typed(client: httpx.Client, address: str, **fields: str) -> httpx.Response:
    """The form of the page, filled in and sent."""
    (form,) = page_of(client.get(address)).forms
    return client.post(address, data=form.filled(**fields))


def sent(client: httpx.Client, served: Served, page: Page, form: int, **fields: str) -> httpx.Response:
    """One of the forms of a page that is open, sent."""
    chosen = page.forms[form]
    return client.post(served.url + chosen.action, data=chosen.filled(**fields))


def test_the_page_shows_the_plate_and_last_time_but_nothing_to_copy(shared: Served, client: httpx.Client) -> None:
    """A figure that is expected would be typed in without a look at the dial."""
    before = everything(shared.parts.store)
    answer = client.get(shared.odometer("BE"))
    page = page_of(answer)
    assert answer.status_code == 200
    assert "Bellows" in page.words
    assert "BE" in page.words
    assert "12 March" in page.words
    assert 'aria-label="83' in answer.text.replace("\u2009", " ") or "83 365" in page.words.replace("\u2009", " ")
    (form,) = page.forms
    assert form.method == "post"
    assert form.fields["odo"] == ""
    for reckoned in ("84210", "84 210", "842", "841", "843"):
        assert reckoned not in page.words.replace("\u2009", "").replace("\u00a0", "")
    assert everything(shared.parts.store) == before


def test_a_reading_is_saved_and_its_windows_are_shown(served: Served, client: httpx.Client) -> None:
    answer = typed(client, served.odometer("BE"), odo="84 210")
    assert answer.status_code == 200
    words = page_of(answer).words
    assert "Saved: 84" in words
    assert "845 mi in 33 days" in words.replace("\u00a0", " ").replace("\u2009", " ")
    assert words.count("likely ") >= 5
    assert last(served.parts.store, "BE") == (TODAY, Decimal(84210))
    stored = reading_of(served.parts.store, "BE", "84210")
    assert (stored.by, stored.door, stored.unit) == ("sticker", Door.PHONE, MeterUnit.MI)


def test_a_double_tap_is_one_reading(served: Served, client: httpx.Client) -> None:
    """The same form sent again, and eight times at once, counts once and is answered alike."""
    (form,) = page_of(client.get(served.odometer("BE"))).forms
    body = form.filled(odo="84210")

    def send(_: int) -> httpx.Response:
        with httpx.Client(timeout=30, trust_env=False) as own:
            return own.post(served.odometer("BE"), data=body)

    with ThreadPoolExecutor(8) as eight:
        answers = list(eight.map(send, range(8)))
    once_more = client.post(served.odometer("BE"), data=body)
    assert {answer.status_code for answer in [*answers, once_more]} == {200}
    assert all("Saved: 84" in page_of(answer).words for answer in [*answers, once_more])
    assert len([r for r in used(served.parts.store, "BE") if r.on == TODAY]) == 1


def test_a_form_sent_again_after_midnight_is_still_one_reading(served: Served, client: httpx.Client) -> None:
    served.clock.set(datetime(2026, 4, 15, 5, 50, tzinfo=UTC))  # ten to midnight at Karst Ridge
    (form,) = page_of(client.get(served.odometer("BE"))).forms
    client.post(served.odometer("BE"), data=form.filled(odo="84210"))
    served.clock.move(timedelta(minutes=20))
    client.post(served.odometer("BE"), data=form.filled(odo="84210"))
    assert [r.on for r in used(served.parts.store, "BE") if r.value == 84210] == [TODAY]


def test_a_page_left_open_for_days_dates_the_reading_to_the_day_it_is_sent(
    served: Served, client: httpx.Client
) -> None:
    """A phone keeps its tabs for weeks; what the dial shows now must not be put down for then."""
    (form,) = page_of(client.get(served.odometer("BE"))).forms
    served.clock.move(timedelta(days=5))
    assert client.post(served.odometer("BE"), data=form.filled(odo="84210")).status_code == 200
    assert last(served.parts.store, "BE")[0] == TODAY + timedelta(days=5)


def test_exchanged_digits_are_asked_about_and_yes_saves_the_guess(served: Served, client: httpx.Client) -> None:
    before = everything(served.parts.store)
    answer = typed(client, served.odometer("BE"), odo="48210")
    assert answer.status_code == 409
    page = page_of(answer)
    words = page.words.replace("\u2009", " ").replace("\u00a0", " ")
    assert "Did you mean 84 210?" in words
    assert "lower than last time" in words
    assert everything(served.parts.store) == before
    saved = sent(client, served, page, 0)
    assert saved.status_code == 200
    assert last(served.parts.store, "BE") == (TODAY, Decimal(84210))


def test_the_answer_keeps_the_parts_that_were_chosen(served: Served, client: httpx.Client) -> None:
    page = page_of(typed(client, served.odometer("BE"), odo="48210", part_towing="1", part_daily="1"))
    sent(client, served, page, 0)
    assert reading_of(served.parts.store, "BE", "84210").split == DutySplit((("daily", 0.5), ("towing", 0.5)))


def test_really_because_the_odometer_was_changed_counts_on_from_there(served: Served, client: httpx.Client) -> None:
    page = page_of(typed(client, served.odometer("BE"), odo="120"))
    assert sent(client, served, page, -1, reason="changed").status_code == 200
    with served.parts.store.read() as view:
        (bellows,) = view.vehicles(("BE",))
    (change,) = bellows.odometer.changes if bellows.odometer else ()
    assert (change.on, change.old_end, change.new_start) == (TODAY, Decimal(83365), Decimal(120))
    served.clock.move(timedelta(days=10))
    assert typed(client, served.odometer("BE"), odo="380").status_code == 200


def test_really_because_last_time_was_wrong_sets_one_reading_aside_however_often_it_is_sent(
    served: Served, client: httpx.Client
) -> None:
    store = served.parts.store
    page = page_of(typed(client, served.odometer("BE"), odo="83300"))
    for _ in range(3):
        assert sent(client, served, page, -1, reason="wronglast").status_code == 200
    with store.read() as view:
        aside = [r.value for r in view.readings(("BE",)) if r.state is ReadingState.SUPERSEDED]
    assert aside == [LAST[1]]
    assert last(store, "BE") == (TODAY, Decimal(83300))


def test_really_because_the_dial_shows_the_other_unit_stores_that_unit(served: Served, client: httpx.Client) -> None:
    """84 210 miles are 135 523 km."""
    page = page_of(typed(client, served.odometer("BE"), odo="135523"))
    answer = sent(client, served, page, -1, reason="unit")
    assert answer.status_code == 200
    assert "135" in page_of(answer).words
    stored = reading_of(served.parts.store, "BE", "135523")
    assert (stored.unit, stored.on) == (MeterUnit.KM, TODAY)


def test_really_because_it_ran_that_far_is_believed_but_no_dial_runs_backwards(
    served: Served, client: httpx.Client
) -> None:
    page = page_of(typed(client, served.odometer("BE"), odo="89000"))
    assert "itdoes" in page.forms[-1].choices["reason"]
    assert sent(client, served, page, -1, reason="itdoes").status_code == 200
    assert last(served.parts.store, "BE") == (TODAY, Decimal(89000))
    served.clock.move(timedelta(days=1))
    before = everything(served.parts.store)
    page = page_of(typed(client, served.odometer("BE"), odo="88000"))
    assert "itdoes" not in page.forms[-1].choices["reason"]
    assert sent(client, served, page, -1, reason="itdoes").status_code == 409
    assert everything(served.parts.store) == before


def test_further_than_can_be_driven_is_asked_about_but_no_word_makes_it_right(
    served: Served, client: httpx.Client
) -> None:
    before = everything(served.parts.store)
    answer = typed(client, served.odometer("BE"), odo="184210")
    page = page_of(answer)
    words = page.words.replace("\u2009", " ").replace("\u00a0", " ")
    assert answer.status_code == 409
    assert "no more than 994 mi a day can be" in words
    assert "Did you mean 84 210?" in words
    reasons = page.forms[-1].choices["reason"]
    assert "itdoes" not in reasons
    assert {"changed", "wronglast"} <= set(reasons)
    assert sent(client, served, page, -1, reason="itdoes").status_code == 409
    assert everything(served.parts.store) == before
    assert sent(client, served, page, 0).status_code == 200
    assert last(served.parts.store, "BE") == (TODAY, Decimal(84210))


def test_really_without_a_reason_asks_again(shared: Served, client: httpx.Client) -> None:
    before = everything(shared.parts.store)
    page = page_of(typed(client, shared.odometer("BE"), odo="48210"))
    assert sent(client, shared, page, -1).status_code == 409
    assert sent(client, shared, page, -1, reason="because").status_code == 409
    assert everything(shared.parts.store) == before


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"odo": ""}, "Type what the dial shows, digits only."),
        ({"odo": " \t"}, "Type what the dial shows, digits only."),
        ({"odo": "84k"}, "That is not a number: “84k”. Digits only, please."),
        ({"odo": "-5"}, "less than nought"),
        ({"odo": "1e9"}, "not a number"),
        ({"odo": "٨٤٢١٠"}, "not a number"),
        ({"odo": "８４２１０"}, "not a number"),
        ({"odo": "8" * 5000}, "not a number"),
        ({"odo": "84210" + " " * 200 + "7"}, "not a number"),
        ({"odo": "84\0210"}, "not a number"),
        ({"odo": "84_210"}, "not a number"),
        ({"odo": "84,21"}, "can be read in two ways"),
        ({"odo": "1000000"}, "more digits than this dial"),
        ({"odo": "84210", "on": "2026-04-15"}, "still to come"),
        ({"odo": "84210", "on": "2026-02-30"}, "There is no 30 February 2026"),
        ({"odo": "84210", "on": "3/4/2026"}, "can be read in two ways"),
        ({"odo": "84210", "on": "x" * 5000}, "That is not a day"),
        ({"odo": "84210", "on": "2026-03-01"}, "does not lie between its neighbours"),
        ({"odo": "84210", "unit": "h"}, "is no unit of this dial"),
        ({"odo": "84210", "unit": "furlong"}, "is no unit of this dial"),
        ({"odo": "84210", "part_towing": "9"}, "is no part of"),
        ({"odo": "84210", "part_flying": "2"}, "is no part of"),
        ({"odo": "84210", "part_to\0wing": "2"}, "is no part of"),
    ],
)
def test_what_cannot_be_taken_changes_nothing_and_says_what_to_do(
    shared: Served, client: httpx.Client, fields: dict[str, str], told: str
) -> None:
    before = everything(shared.parts.store)
    answer = typed(client, shared.odometer("BE"), **fields)
    page = page_of(answer)
    assert answer.status_code == 422
    assert told in page.words.replace("\u2009", " ").replace("\u00a0", " ")
    assert 'role="alert"' in answer.text
    assert len(answer.content) < 40_000
    assert "\0" not in answer.text
    assert everything(shared.parts.store) == before
    # What was typed is there again, to be corrected, but never more than a dial could show.
    assert len(page.forms[0].fields["odo"]) <= 40


def test_a_form_that_is_no_form_changes_nothing(shared: Served, client: httpx.Client) -> None:
    before = everything(shared.parts.store)
    address = shared.odometer("BE")
    assert client.post(address).status_code == 422
    assert client.post(address, json={"odo": "84210"}).status_code == 422
    assert client.post(address, files={"odo": ("a.txt", b"84210")}).status_code == 422
    assert client.post(address, content=b"x", headers={"Content-Type": "multipart/form-data"}).status_code == 400
    assert client.post(address, content=b"\xff\xfe=%zz&odo", headers=FORM).status_code == 422
    assert client.post(address, content=b"a=1&" * 2000, headers=FORM).status_code == 400
    assert client.post(address, content=b"odo=" + b"8" * 1_500_000, headers=FORM).status_code == 413
    assert everything(shared.parts.store) == before


FORM = {"Content-Type": "application/x-www-form-urlencoded"}


def test_a_reading_of_an_earlier_day_is_taken_where_it_fits(served: Served, client: httpx.Client) -> None:
    """Between 82 967 on 18 February and 83 365 on 12 March."""
    assert typed(client, served.odometer("BE"), odo="83100", on="2026-03-01").status_code == 200
    assert reading_of(served.parts.store, "BE", "83100").on == date(2026, 3, 1)
    assert last(served.parts.store, "BE") == LAST


def test_none_everywhere_is_the_usual_split_if_nothing_was_said_last_time(served: Served, client: httpx.Client) -> None:
    none = {"part_towing": "0", "part_daily": "0", "part_track": "0"}
    assert typed(client, served.odometer("BE"), odo="84210", **none).status_code == 200
    assert reading_of(served.parts.store, "BE", "84210").split is None  # None stands for the usual split


def test_none_everywhere_is_as_last_time_if_parts_were_given_then(served: Served, client: httpx.Client) -> None:
    """So the page says it."""
    none = {"part_towing": "0", "part_daily": "0", "part_track": "0"}
    typed(client, served.odometer("BE"), odo="84210", **(none | {"part_towing": "1", "part_daily": "3"}))
    served.clock.move(timedelta(days=7))
    typed(client, served.odometer("BE"), odo="84400", **none)
    assert reading_of(served.parts.store, "BE", "84400").split == DutySplit((("daily", 0.75), ("towing", 0.25)))


def test_hours_are_read_with_tenths_and_never_taken_for_miles(served: Served, client: httpx.Client) -> None:
    store = served.parts.store
    with store.write(Change("test", "an hour meter", TUESDAY)) as unit:
        (bellows,) = unit.vehicles(("BE",))
        hour_meter = Meter("hours", MeterUnit.HOURS, digits=5)
        unit.put_vehicle(replace(bellows, meters=(*bellows.meters, hour_meter)))
    address = f"{served.odometer('BE')}?meter=hours"
    (form,) = page_of(client.get(address)).forms
    assert "hour meter" in page_of(client.get(address)).words
    assert client.post(address, data=form.filled(odo="1204.5", unit="mi")).status_code == 422
    assert used(store, "BE", "hours") == []
    assert client.post(served.url + form.action, data=form.filled(odo="1204.5")).status_code == 200
    assert last(store, "BE", "hours") == (TODAY, Decimal("1204.5"))
    assert last(store, "BE") == LAST
    assert client.get(f"{served.odometer('BE')}?meter=rev-counter").status_code == 404


@pytest.mark.parametrize(("moment", "works"), [("2026-04-15T13:59:59", True), ("2026-04-15T14:00:00", False)])
def test_a_reading_can_be_taken_back_until_eight_the_next_morning(
    served: Served, client: httpx.Client, moment: str, works: bool
) -> None:
    """Eight at Karst Ridge is 14:00 UTC in April (America/Denver, UTC-6)."""
    page = page_of(typed(client, served.odometer("BE"), odo="84210"))
    assert "until tomorrow 08:00" in page.words.replace("\u00a0", " ")
    served.clock.set(datetime.fromisoformat(moment).replace(tzinfo=UTC))
    before = everything(served.parts.store)
    answers = [sent(client, served, page, 0) for _ in range(2)]
    if works:
        assert [answer.status_code for answer in answers] == [200, 200]
        assert "Taken back: 84" in page_of(answers[0]).words
        assert last(served.parts.store, "BE") == LAST
    else:
        assert {answer.status_code for answer in answers} == {422}
        assert everything(served.parts.store) == before


def test_taking_back_undoes_what_the_answer_changed(served: Served, client: httpx.Client) -> None:
    """A meter said to be changed is not changed; a reading set aside counts again."""
    with served.parts.store.read() as view:
        (as_it_was,) = view.vehicles(("BE",))
    for value, reason in (("120", "changed"), ("83300", "wronglast")):
        asked = page_of(typed(client, served.odometer("BE"), odo=value))
        page = page_of(sent(client, served, asked, -1, reason=reason))
        assert sent(client, served, page, 0).status_code == 200
        assert last(served.parts.store, "BE") == LAST
        with served.parts.store.read() as view:
            assert view.vehicles(("BE",)) == (as_it_was,)


@pytest.mark.parametrize(
    ("number", "status"),
    [("", 404), ("0", 403), ("-1", 404), ("x", 404), ("9" * 18, 403), ("9" * 60, 404), ("１", 404)],
)
def test_a_reading_that_is_not_there_cannot_be_taken_back(
    shared: Served, client: httpx.Client, number: str, status: int
) -> None:
    """A number that is none of its vehicle's is answered alike whether another vehicle has it or nobody does."""
    before = everything(shared.parts.store)
    assert client.post(f"{shared.odometer('BE')}/take-back", data={"form": number}).status_code == status
    assert everything(shared.parts.store) == before
