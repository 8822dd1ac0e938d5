"""Which key opens what, who may enter, what a reading does to the feed, and that looking changes nothing."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from itertools import pairwise

import httpx
import pytest
from starlette.applications import Starlette
from starlette.routing import BaseRoute, Route

from fleetcare.actions.links import revoke
from fleetcare.fleet.access import LETTER_LINK_TIME, Purpose
from fleetcare.meter.reading import Door, Reading
from fleetcare.web.app import create_app
from tests.web.conftest import Served, serving
from tests.web.pages import page_of
from tests.web.stored import everything, last, reading_of
from tests.web.test_odometer import LAST, TODAY, typed


def test_a_sticker_says_vehicle_alone_and_a_letters_link_says_whose_it_is_and_until_when(
    served: Served, client: httpx.Client
) -> None:
    letter = f"{served.url}/o/{served.key(Purpose.ODOMETER, lasts=LETTER_LINK_TIME, person='teo', mark='BE')}"
    sticker_words = page_of(client.get(served.odometer("BE"))).words
    letter_words = page_of(client.get(letter)).words.replace("\u00a0", " ")
    assert "Who are you?" in sticker_words
    assert "Who are you?" not in letter_words
    assert "until" not in sticker_words
    # 35 days after 14 April at nine is 19 May at nine; the nineteenth is the last day on which it works.
    assert "This link is Teo’s, for Bellows alone, until 19 May." in letter_words
    answer = typed(client, letter, odo="84210")
    assert "Thank you, Teo." in page_of(answer).words
    stored = reading_of(served.parts.store, "BE", "84210")
    assert (stored.by, stored.door) == ("teo", Door.PHONE)


def test_every_key_that_does_not_open_gets_the_same_404(served: Served, client: httpx.Client) -> None:
    """Expired, revoked, unknown, made for something else: one answer, so that none says more than another."""
    expired = served.key(Purpose.ODOMETER, lasts=timedelta(hours=1), person="teo", mark="BE")
    revoked = served.key(Purpose.ODOMETER, mark="NE")
    other = [served.key(purpose, person="ines") for purpose in Purpose if purpose is not Purpose.ODOMETER]
    revoke(served.parts.store, now=served.clock.now(), who="test", purposes=(Purpose.ODOMETER,), mark="NE")
    served.clock.move(timedelta(hours=1))
    keys = [expired, revoked, *other, "x" * 43, "x", "a%00b", "%F0%9F%9A%97", "x" * 4000]
    before = everything(served.parts.store)
    for method, step in (("GET", ""), ("POST", ""), ("POST", "/take-back")):
        data = {"odo": "84210"} if method == "POST" else None
        answers = [client.request(method, f"{served.url}/o/{key}{step}", data=data) for key in keys]
        kept = [(a.status_code, a.content, sorted(h for h in a.headers.items() if h[0] != "date")) for a in answers]
        assert all(each == kept[0] for each in kept)
        assert answers[0].status_code == 404
        assert "This link is over" in page_of(answers[0]).words
    assert everything(served.parts.store) == before


def test_a_key_of_one_vehicle_writes_to_no_other(served: Served, client: httpx.Client) -> None:
    """Neither by naming another in the form or the address, nor by taking back another's reading."""
    typed(client, served.odometer("NE"), odo=str(int(last(served.parts.store, "NE")[1]) + 20))
    other = max(r.id or 0 for r in _readings(served, "NE"))
    readings = {mark: _readings(served, mark) for mark in ("NE", "PO", "AN")}
    named = {"vehicle": "NE", "mark": "NE", "meter": "odometer"}
    assert client.post(f"{served.odometer('BE')}?vehicle=NE&mark=NE", data={"odo": "84210", **named}).status_code == 200
    refused = client.post(f"{served.odometer('BE')}/take-back", data={"form": str(other)})
    assert refused.status_code == 403
    assert "This link is for Bellows alone." in refused.text
    assert {mark: _readings(served, mark) for mark in readings} == readings
    assert last(served.parts.store, "BE") == (TODAY, Decimal(84210))


def test_a_person_who_came_in_enters_for_their_own_vehicles(served: Served, client: httpx.Client) -> None:
    address = f"{served.url}/vehicles/BE/reading"
    teo, noor = served.session("teo"), served.session("noor")
    (form,) = page_of(client.get(address, headers=teo)).forms
    before = everything(served.parts.store)
    assert client.get(address).headers["location"] == "/sign-in"
    assert client.get(address, headers=noor).status_code == 403
    assert client.post(address, data=form.filled(odo="84210")).status_code == 403
    assert client.post(address, data=form.filled(odo="84210"), headers=noor).status_code == 403
    assert client.post(f"{address}/take-back", data={"form": "1"}, headers=noor).status_code == 403
    assert client.get(f"{served.url}/vehicles/XX/reading", headers=teo).status_code == 404
    assert everything(served.parts.store) == before
    answer = client.post(address, data=form.filled(odo="84210"), headers=teo)
    assert answer.status_code == 200
    assert reading_of(served.parts.store, "BE", "84210").by == "teo"
    back = page_of(answer).forms[0]
    assert client.post(served.url + back.action, data=back.filled(), headers=teo).status_code == 200
    assert last(served.parts.store, "BE") == LAST


def test_a_stranger_learns_no_vehicle_by_asking(shared: Served, client: httpx.Client) -> None:
    answers = [client.post(f"{shared.url}/vehicles/{mark}/reading", data={"odo": "1"}) for mark in ("BE", "XX", "A%00")]
    assert len({(answer.status_code, answer.content) for answer in answers}) == 1
    assert "Bellows" not in answers[0].text


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "null", "Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_form_of_another_site_is_refused(shared: Served, client: httpx.Client, headers: dict[str, str]) -> None:
    teo = shared.session("teo")
    before = everything(shared.parts.store)
    for path in ("/vehicles/BE/reading", "/vehicles/BE/reading/take-back", "/go-out", "/sign-in", "/api/readings"):
        answer = client.post(f"{shared.url}{path}", data={"odo": "84210"}, headers={**teo, **headers})
        assert answer.status_code in (403, 422), path
        assert "set-cookie" not in answer.headers
    assert everything(shared.parts.store) == before


def test_the_pages_own_forms_come_through_as_browsers_send_them(served: Served, client: httpx.Client) -> None:
    """With Referrer-Policy no-referrer a browser sends Origin: null with a form (Fetch standard, "append a request
    Origin header"), and Sec-Fetch-Site: same-origin."""
    headers = {**served.session("teo"), "Origin": "null", "Sec-Fetch-Site": "same-origin"}
    answer = client.post(
        f"{served.url}/vehicles/BE/reading", data={"odo": "84210", **served.sealed(headers)}, headers=headers
    )
    assert answer.status_code == 200


def test_going_out_with_a_feed_key_for_a_cookie_does_not_end_the_feed(served: Served, client: httpx.Client) -> None:
    """A feed key can be read with, and nothing else."""
    key = served.feed("ines").removeprefix(f"{served.url}/feeds/").removesuffix(".ics")
    client.post(f"{served.url}/go-out", headers={"Cookie": f"fleetcare={key}"})
    assert client.get(served.feed("ines")).status_code == 200


def test_a_reading_changes_only_its_own_vehicles_entries_in_the_feed(served: Served, client: httpx.Client) -> None:
    """Moved entries rise in SEQUENCE (RFC 5545, 3.8.7.4); every other component keeps its bytes."""
    before, tag = _components(client, served.feed("teo"))
    noor = client.get(served.feed("noor"))
    assert typed(client, served.odometer("BE"), odo="86500").status_code in (200, 409)
    page = page_of(typed(client, served.odometer("BE"), odo="86500"))
    if page.forms[-1].choices.get("reason"):
        client.post(served.url + page.forms[-1].action, data=page.forms[-1].filled(reason="itdoes"))
    assert last(served.parts.store, "BE")[1] == 86500
    after, new_tag = _components(client, served.feed("teo"))
    assert new_tag != tag
    moved = [uid for uid in before if uid in after and after[uid] != before[uid]]
    come_or_gone = [text for uid, text in (before | after).items() if (uid in before) != (uid in after)]
    assert moved
    # The reading that was wanted is wanted no more.
    assert any(b"CATEGORIES:reading wanted" in text for text in come_or_gone)
    for uid in moved:
        assert _sequence(after[uid]) == _sequence(before[uid]) + 1
    for text in [*(before[uid] for uid in moved), *come_or_gone]:
        assert b"SUMMARY:Bellows: " in text
    assert len(before.keys() & after.keys()) - len(moved) >= 5
    assert client.get(served.feed("noor")).content == noor.content


def test_looking_at_every_address_changes_nothing(shared: Served, client: httpx.Client) -> None:
    """Every GET route of the application, with every kind of key, by a stranger and by somebody who came in."""
    app = create_app(shared.parts)
    inner = app._app._app  # type: ignore[attr-defined]  # behind the feed door and the guard
    assert isinstance(inner, Starlette)
    keys = {
        "/o/": shared.key(Purpose.ODOMETER, person="teo", mark="BE"),
        "/sign-in/": shared.key(Purpose.SIGN_IN, person="teo"),
        "/letters/stop/": shared.key(Purpose.STOP_LETTERS, person="teo"),
    }
    ways: list[dict[str, str]] = [{}, shared.session("teo"), shared.bearer("teo")]
    addresses = [shared.feed("teo"), f"{shared.url}/robots.txt", f"{shared.url}/static/fleetcare.css"]
    routes = [path for path in _paths(inner.routes) if "{path" not in path]
    assert {"/", "/o/{key}", "/sign-in/{key}", "/letters/stop/{key}", "/api/due", "/healthz"} <= set(routes)
    for path in routes:
        begin = next((start for start in keys if path.startswith(start)), "")
        addresses.append(shared.url + path.replace("{key}", keys.get(begin, "x")).replace("{mark}", "BE"))
    before = everything(shared.parts.store)
    for address in addresses:
        for headers in ways:
            assert client.get(address, headers=headers).status_code in (200, 204, 303, 401, 403, 404, 422, 503), address
        assert client.head(address).status_code in (200, 204, 303, 404, 405, 401, 503), address
    assert everything(shared.parts.store) == before


def test_behind_a_closed_door_a_stranger_sees_nothing(tmp_path_factory: pytest.TempPathFactory) -> None:
    with (
        serving(tmp_path_factory.mktemp("closed") / "home", open_house=False) as served,
        httpx.Client(timeout=20, trust_env=False) as client,
    ):
        with served.parts.store.read() as view:
            names = [vehicle.name for vehicle in view.vehicles()] + [person.name for person in view.people()]
        for path in ("/", "/readings", "/vehicles/BE/reading", "/?unit=km", "/?start=5"):
            answer = client.get(served.url + path)
            assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in"), path
        for path in ("/api/due", "/api/vehicles", "/api/due?vehicle=BE", "/api/due?vehicle=XX"):
            answer = client.get(served.url + path)
            assert answer.status_code == 401
            assert answer.headers["www-authenticate"] == "Bearer"
            assert not [name for name in names if name in answer.text]
        assert client.get(served.url + "/", headers=served.session("noor")).status_code == 200
        assert client.get(served.url + "/api/due", headers=served.bearer("noor")).status_code == 200
        sign_in = client.get(f"{served.url}/sign-in").text
        assert not [name for name in names if name in sign_in]


def _readings(served: Served, mark: str) -> tuple[Reading, ...]:
    with served.parts.store.read() as view:
        return view.readings((mark,))


def _components(client: httpx.Client, feed: str) -> tuple[dict[bytes, bytes], str]:
    answer = client.get(feed)
    lines = answer.content.split(b"\r\n")
    found: dict[bytes, bytes] = {}
    starts = [at for at, line in enumerate(lines) if line in (b"BEGIN:VEVENT", b"BEGIN:VTODO")]
    for start, end in pairwise([*starts, len(lines)]):
        text = b"\r\n".join(lines[start:end])
        found[next(line for line in lines[start:end] if line.startswith(b"UID:"))] = text
    return found, answer.headers["etag"]


def _sequence(component: bytes) -> int:
    (line,) = [line for line in component.split(b"\r\n") if line.startswith(b"SEQUENCE:")]
    return int(line.removeprefix(b"SEQUENCE:"))


def _paths(routes: list[BaseRoute]) -> list[str]:
    """Every path that answers GET, through included routers."""
    found: list[str] = []
    for route in routes:
        if isinstance(route, Route) and "GET" in (route.methods or ()):
            found.append(route.path)
        inner = getattr(route, "routes", None) or getattr(getattr(route, "original_router", None), "routes", None)
        if inner and not isinstance(route, Route):
            found += _paths(inner)
    return found
