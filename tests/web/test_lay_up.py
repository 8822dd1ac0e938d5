"""Saying over HTTP when a vehicle stands: who may, what is refused, and that the page asks and shows it."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import httpx
import pytest

from fleetcare.actions.ports import Change
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DateSpan, MeterUnit
from tests.web.conftest import Served
from tests.web.pages import page_of
from tests.web.stored import everything

AT = datetime(2026, 4, 14, 12, tzinfo=UTC)


def stands(served: Served) -> None:
    """Raft shows the same in three readings since 31 March, the last of today's month after next."""
    days = (date(2026, 4, 20), date(2026, 5, 15))
    served.clock.set(datetime(2026, 5, 16, 15, tzinfo=UTC))
    with served.parts.store.write(Change("test", "readings", AT)) as unit:
        unit.add_readings(tuple(Reading("RA", "odometer", day, Decimal(18_340), MeterUnit.MI, AT) for day in days))


def spells(served: Served, mark: str = "RA") -> tuple[DateSpan, ...]:
    with served.parts.store.read() as view:
        return view.vehicles((mark,))[0].laid_up


def test_a_keeper_answers_on_the_page_and_takes_it_back_there(served: Served, client: httpx.Client) -> None:
    stands(served)
    ines = served.session("ines")
    address = f"{served.url}/vehicles/RA"
    page = page_of(client.get(address, headers=ines))
    assert "Raft stands since 31 March? Three readings show 18 340 mi." in page.words
    (form,) = [each for each in page.forms if "lay-up" in each.action]
    assert form.filled() == {"from": "2026-03-31", "until": "", **served.sealed(ines)}
    answer = client.post(served.url + form.action, data=form.filled(until="2026-05-20"), headers=ines)
    assert (answer.status_code, answer.headers["location"]) == (303, "/vehicles/RA#laid-up")
    assert spells(served) == (DateSpan.of_days(date(2026, 3, 31), date(2026, 5, 20)),)
    page = page_of(client.get(address, headers=ines))
    assert "stands since" not in page.words
    assert "Raft is laid up until 20 May." in page.words
    assert "What changed it last: 16 May, laid up from 31 March 2026 to 20 May 2026:" in page.words
    (form,) = [each for each in page.forms if "let-out" in each.action]
    answer = client.post(served.url + form.action, data=form.filled(out="2026-03-31"), headers=ines)
    assert answer.status_code == 303
    assert spells(served) == ()
    assert "stands since 31 March?" in page_of(client.get(address, headers=ines)).words


def test_the_front_page_and_the_api_ask_too(served: Served, client: httpx.Client) -> None:
    stands(served)
    front = page_of(client.get(served.url))
    assert "Raft stands since 31 March?" in front.words
    assert "/vehicles/RA#laid-up" in front.addresses
    vehicles = {each["vehicle"]: each for each in client.get(f"{served.url}/api/vehicles").json()}
    assert vehicles["RA"]["standing"]["since"] == "2026-03-31"
    assert vehicles["AN"]["standing"] is None
    assert vehicles["PL"]["laid_up"] == [{"from": "2025-12-01", "until": "2026-02-28"}]


def test_who_only_drives_or_did_not_come_in_sees_no_form_and_is_refused(served: Served, client: httpx.Client) -> None:
    address = f"{served.url}/vehicles/BE/lay-up"
    given = {"from": "2026-04-10"}
    assert "lay-up" not in client.get(f"{served.url}/vehicles/BE").text
    stranger = client.post(address, data=given)
    assert stranger.status_code == 403
    assert "Bellows" not in page_of(stranger).words
    noor = served.session("noor")
    assert "lay-up" not in client.get(f"{served.url}/vehicles/BE", headers=noor).text
    assert client.post(address, data=given, headers=noor).status_code == 403
    # Its keeper came in, but the form comes from another site.
    teo = {**served.session("teo"), "Origin": "https://elsewhere.example"}
    assert client.post(address, data=given, headers=teo).status_code == 403
    assert spells(served, "BE") == ()
    with served.parts.store.read() as view:
        assert [entry for entry in view.log() if entry.what == "laid up"] == []


@pytest.mark.parametrize(
    ("step", "form", "field", "part"),
    [
        ("lay-up", {}, "from", "Give the day, such as 2026-02-03."),
        ("lay-up", {"from": "3/4/2026"}, "from", "3/4/2026"),
        ("lay-up", {"from": "2026-02-30"}, "from", "February 2026"),
        ("lay-up", {"from": "x" * 5000}, "from", "day"),
        ("lay-up", {"from": "2026-04-10", "until": "2026-04-01"}, "until", "Give the first day"),
        ("lay-up", {"from": "2026-04-10", "until": "soon"}, "until", "soon"),
        ("lay-up", {"from": "2026-02-20"}, "from", "moved in that time"),
        ("lay-up", {"from": "9999-12-31"}, "from", "Years from 1900 to 2199"),
        ("let-out", {"out": "2026-04-10"}, "out", "is not laid up on 10 April 2026"),
    ],
)
def test_what_cannot_be_taken_is_told_at_its_field_and_changes_nothing(
    served: Served, client: httpx.Client, step: str, form: dict[str, str], field: str, part: str
) -> None:
    ines = served.session("ines")
    before = everything(served.parts.store)
    answer = client.post(f"{served.url}/vehicles/AN/{step}", data={**form, **served.sealed(ines)}, headers=ines)
    assert answer.status_code == 422
    assert part in page_of(answer).words
    assert f'id="{field}-problem" role="alert"' in answer.text
    assert everything(served.parts.store) == before


@pytest.mark.parametrize("step", ["lay-up", "let-out"])
def test_a_vehicle_that_is_not_there_is_not_found(served: Served, client: httpx.Client, step: str) -> None:
    form = {"from": "2026-04-10", "out": "2026-04-10"}
    ines = served.session("ines")
    answer = client.post(f"{served.url}/vehicles/Anvyl/{step}", data={**form, **served.sealed(ines)}, headers=ines)
    assert answer.status_code == 404
    assert "Anvil?" in answer.text
    assert client.get(f"{served.url}/vehicles/AN/{step}").status_code == 405
