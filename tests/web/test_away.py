"""Days spoken for and what happened to a vehicle, over real HTTP: put down, changed, taken back, what moved."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import httpx

from fleetcare.actions.keep_bookings import GivenBooking, away_of, keep_booking
from fleetcare.due.outlook import DueWindow
from fleetcare.fleet.booking import Booking
from fleetcare.quantities import DateSpan, DistanceUnit
from tests.web.conftest import Served
from tests.web.pages import PageForm, page_of
from tests.web.stored import everything

TRIP = {
    "title": "Long haul to the lake",
    "first": "2026-04-20",
    "last": "2026-04-24",
    "distance": "4000",
    "unit": "mi",
    "duty": "towing",
    "event": "tow",
    "vehicle": ["AN"],
    "what": "save",
}


def sent(served: Served, client: httpx.Client, who: str, path: str, **typed: object) -> httpx.Response:
    """The answer to a form of that person."""
    headers = served.session(who)
    return client.post(served.url + path, data={**typed, **served.sealed(headers)}, headers=headers)


def bookings(served: Served, mark: str) -> dict[str, Booking]:
    """As stored, by title."""
    away = away_of(served.parts.store, served.parts.rules, mark, now=served.clock.now())
    return {each.title: each for each in away.bookings}


def forms(served: Served, client: httpx.Client, headers: dict[str, str], mark: str) -> list[PageForm]:
    """The forms of spells that are there."""
    page = page_of(client.get(f"{served.url}/vehicles/{mark}/away", headers=headers))
    return [form for form in page.forms if form.fields.get("key")]


def earliest(served: Served, mark: str) -> date:
    """The first likely date of that vehicle."""
    with served.parts.store.read() as view:
        return min(w.likely for w in view.windows((mark,)).values() if isinstance(w, DueWindow))


def test_a_trip_is_put_down_and_the_page_says_which_dates_moved(served: Served, client: httpx.Client) -> None:
    before = earliest(served, "AN")
    answer = sent(served, client, "ines", "/vehicles/AN/away", **TRIP)
    assert answer.status_code == 303
    page = page_of(client.get(served.url + answer.headers["location"], headers=served.session("ines"))).words
    assert "Anvil, spoken for: Long haul to the lake, 20 April 2026 to 24 April 2026, 4000 mi towing." in page
    assert "earlier" in page
    assert "20 April to 24 April, 4 000 mi towing, tow." in page
    assert earliest(served, "AN") <= before
    trip = bookings(served, "AN")["Long haul to the lake"]
    assert (trip.days, trip.marks, trip.distance) == (
        DateSpan.of_days(date(2026, 4, 20), date(2026, 4, 24)), ("AN",), Decimal(4000)
    )  # fmt: skip
    assert "Long haul" in client.get(served.feed("ines")).text.replace("\r\n ", "")


def test_a_trip_is_changed_for_two_vehicles_and_taken_back(served: Served, client: httpx.Client) -> None:
    sent(served, client, "ines", "/vehicles/AN/away", **TRIP)
    key = bookings(served, "AN")["Long haul to the lake"].key
    changed = {**TRIP, "key": key, "distance": "100", "vehicle": ["AN", "RA"]}
    assert sent(served, client, "ines", "/vehicles/AN/away", **changed).status_code == 303
    page = page_of(client.get(f"{served.url}/vehicles/AN/away", headers=served.session("ines"))).words
    assert "100 mi towing, tow, with Raft." in page
    assert bookings(served, "RA")["Long haul to the lake"].distance == Decimal(100)
    answer = sent(served, client, "ines", "/vehicles/RA/away", key=key, what="drop")
    told = page_of(client.get(served.url + answer.headers["location"], headers=served.session("ines"))).words
    assert "is taken away" in told
    assert "Long haul to the lake" not in bookings(served, "AN")


def test_who_comes_second_is_told_and_nothing_is_lost(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    form = next(f for f in forms(served, client, headers, "AN") if f.fields["title"] == "Hollow Lake hill climb")
    meant = {**form.filled(title="Hill climb, late start"), "vehicle": ["AN", "RA"], "unit": "mi", "what": "save"}
    other = GivenBooking("Hill climb, cancelled?", date(2026, 5, 1), date(2026, 5, 2), ("AN", "RA"))
    keep_booking(
        served.parts.store, served.parts.rules, other, key=form.fields["key"], may_plan={"AN", "RA"},
        now=served.clock.now(), who="teo", base_url=served.url,
    )  # fmt: skip
    before = everything(served.parts.store)
    answer = client.post(served.url + form.action, data=meant, headers=headers)
    assert answer.status_code == 409
    assert "Somebody changed that spell meanwhile." in page_of(answer).words
    assert any(f.fields.get("title") == "Hill climb, late start" for f in page_of(answer).forms)
    assert everything(served.parts.store) == before
    sent(served, client, "ines", "/vehicles/AN/away", key=form.fields["key"], what="drop")
    answer = client.post(served.url + form.action, data=meant, headers=headers)
    assert answer.status_code == 409
    assert "Somebody took that spell back meanwhile." in page_of(answer).words


def test_a_vehicle_of_others_stays_in_a_trip_and_is_not_spoken_for(served: Served, client: httpx.Client) -> None:
    page = client.get(f"{served.url}/vehicles/LA/away", headers=served.session("piet"))
    assert page.status_code == 200
    refused = sent(served, client, "piet", "/vehicles/LA/away", **{**TRIP, "vehicle": ["LA", "AN"]})
    assert refused.status_code == 403
    assert "Long haul to the lake" not in bookings(served, "AN")
    assert sent(served, client, "piet", "/vehicles/AN/away", **TRIP).status_code == 403
    assert forms(served, client, served.session("piet"), "AN") == []


def test_nothing_planned_says_so(served: Served, client: httpx.Client) -> None:
    page = page_of(client.get(f"{served.url}/vehicles/PO/away", headers=served.session("ines")))
    assert "Nothing planned: Pocket is spoken for on no day ahead." in page.words


def test_an_event_is_noted_and_taken_back_with_the_dates_it_moved(served: Served, client: httpx.Client) -> None:
    noted = sent(
        served, client, "ines", "/vehicles/BE/events",
        kind="immersion", on="2026-04-13", component="rear-axle", note="ford", what="save",
    )  # fmt: skip
    told = page_of(client.get(served.url + noted.headers["location"], headers=served.session("ines"))).words
    assert "Bellows, event: immersion on 2026-04-13." in told
    assert "axle after immersion" in told.casefold() or "immersion" in told
    assert "13 April, immersion, Rear axle: ford." in told
    page = page_of(client.get(f"{served.url}/vehicles/BE/away", headers=served.session("ines")))
    back = next(form for form in page.forms if form.fields.get("on") == "2026-04-13" and form.fields["what"] == "drop")
    answer = sent(served, client, "ines", "/vehicles/BE/events", **{**back.fields, "seal": ""})
    assert answer.status_code == 303
    page = page_of(client.get(served.url + answer.headers["location"], headers=served.session("ines")))
    assert "immersion on 13 April 2026 is taken away" in page.words
    again = sent(served, client, "ines", "/vehicles/BE/events", **{**back.fields, "seal": ""})
    assert again.status_code == 422


def test_what_cannot_be_is_said_and_changes_nothing(shared: Served, client: httpx.Client) -> None:
    headers = shared.session("ines")
    before = everything(shared.parts.store)
    for path, change, told in (
        ("away", {"title": ""}, "empty"),
        ("away", {"first": ""}, "A day is missing."),
        ("away", {"last": "2026-04-19"}, "It ends before it begins."),
        ("away", {"first": "2026-03-01", "last": "2026-03-02"}, "Those days are over."),
        ("away", {"last": "2028-04-19"}, "longer than a year"),
        ("away", {"vehicle": []}, "No vehicle is ticked."),
        ("away", {"distance": "far"}, "far"),
        ("away", {"distance": "900000"}, "is no distance for a trip"),
        ("away", {"unit": "ft"}, "km or mi"),
        ("away", {"duty": "flying"}, "flying"),
        ("away", {"event": "flight"}, "flight"),
        ("away", {"key": "nothing"}, "nothing"),
        ("events", {"kind": "flight", "on": "2026-04-13"}, "flight"),
        ("events", {"kind": "tow", "on": "2026-05-13"}, "still to come"),
        ("events", {"kind": "tow", "on": "2026-04-13", "component": "wing"}, "wing"),
        ("events", {"kind": "tow", "on": ""}, "A day is missing."),
    ):
        data = {**TRIP, **change, **shared.sealed(headers)}
        answer = client.post(f"{shared.url}/vehicles/AN/{path}", data=data, headers=headers)
        assert answer.status_code == 422, (path, change)
        assert told in page_of(answer).words, (path, change)
        assert 'role="alert"' in answer.text
    assert everything(shared.parts.store) == before


def test_a_trip_in_kilometres_counts_as_such(served: Served, client: httpx.Client) -> None:
    sent(served, client, "ines", "/vehicles/AN/away", **{**TRIP, "unit": "km", "distance": "12,5"})
    trip = bookings(served, "AN").get("Long haul to the lake")
    assert trip is not None
    assert (trip.unit, trip.distance) == (DistanceUnit.KM, Decimal("12.5"))
