"""A service more, a service less and a dial more by page, over real HTTP; dates follow, and history stays."""

from __future__ import annotations

from datetime import date
from typing import Any

import httpx
import pytest

from fleetcare.actions.change_services import add_service
from fleetcare.actions.gather import outlooks_of
from fleetcare.actions.order_work import Opening, open_order
from fleetcare.due.more_services import services_of
from fleetcare.due.outlook import LineOutlook
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.settings.book_files import load_book
from fleetcare.settings.garage_rules import own_book_path
from fleetcare.settings.places import SHIPPED_BOOK, shipped_config
from fleetcare.work.new_vehicle import Answer, Past
from tests.web.conftest import Served
from tests.web.pages import PageForm, page_of
from tests.web.stored import everything

ANVIL = "/vehicles/AN"


def form_of(served: Served, client: httpx.Client, headers: dict[str, str], what: str) -> PageForm:
    """One form about Anvil."""
    (form,) = page_of(client.get(f"{served.url}{ANVIL}/{what}", headers=headers)).forms
    return form


def sent(served: Served, client: httpx.Client, what: str, **typed: Any) -> httpx.Response:
    """The answer to one form of Anvil's with these fields filled otherwise."""
    headers = served.session("ines")
    form = form_of(served, client, headers, what)
    return client.post(served.url + form.action, data=form.as_sent(**typed), headers=headers)


def anvil(served: Served) -> Vehicle:
    """As it is stored."""
    with served.parts.store.read() as view:
        return view.vehicles(("AN",))[0]


def line(served: Served, component: str, service: str) -> LineOutlook | None:
    """One line of Anvil, None if it carries none."""
    with served.parts.store.read() as view:
        outlook = outlooks_of(view, served.parts.rules, date(2026, 4, 14), ("AN",))[0]
    return next((each for each in outlook.lines if each.key == LineKey("AN", component, service)), None)


def offered(served: Served, component: str) -> str:
    """The first service that component could carry as well."""
    there = services_of(anvil(served), served.parts.rules.book)
    return next(each.offered[0].key for each in there if each.component.key == component)


def test_a_service_is_added_and_taken_off_and_what_was_done_counts_again(served: Served, client: httpx.Client) -> None:
    service = offered(served, "engine")
    answer = sent(
        served, client, "service-more", service=f"engine.{service}", past="done", on="2026-01-10", at="111 000"
    )
    words = page_of(answer).words
    assert answer.status_code == 200, words
    assert "is added." in words
    there = line(served, "engine", service)
    assert there is not None
    assert there.last_done_on == date(2026, 1, 10)
    assert there.counted_on == date(2026, 1, 10)
    off = sent(served, client, "service-less", service=f"engine.{service}")
    assert "What was done of it stays in the history." in page_of(off).words
    assert line(served, "engine", service) is None
    with served.parts.store.read() as view:
        assert any(done.line.service == service for done in view.work(("AN",)))
        assert [(each.before == "", each.after == "") for each in view.log("AN") if each.what == "service"] == [
            (False, True),
            (True, False),
        ]
    sent(served, client, "service-more", service=f"engine.{service}")
    again = line(served, "engine", service)
    assert again is not None
    assert again.last_done_on == date(2026, 1, 10), "it goes on from what was done before"


def test_what_nobody_knows_begins_with_a_look(served: Served, client: httpx.Client) -> None:
    service = offered(served, "engine")
    words = page_of(sent(served, client, "service-more", service=f"engine.{service}")).words
    assert "Nobody knows when it was last done: a look comes first." in words
    there = line(served, "engine", service)
    assert there is not None
    assert there.last_done_on is None


def test_a_service_of_our_own_comes_into_the_handbook_and_on_this_vehicle_alone(
    served: Served, client: httpx.Client
) -> None:
    before = served.parts.rules.book
    answer = sent(
        served, client, "service-more", service="rear-axle.own", title="Pinion nut, look", short="pinion nut",
        distance="6000", months="9", hours="", reason="It came loose once", past="new",
    )  # fmt: skip
    assert answer.status_code == 200, page_of(answer).words
    there = line(served, "rear-axle", "pinion-nut-look")
    assert there is not None
    assert there.window is not None
    assert there.row.rule.repeat.months == 9
    book = load_book(
        shipped_config() / SHIPPED_BOOK, own_book_path(served.parts.home), duties=served.parts.rules.duties
    )
    assert set(book.rows) - set(before.rows) == {"pinion-nut-look"}
    page = page_of(client.get(f"{served.url}/handbook/pinion-nut-look", headers=served.session("ines"))).words
    assert "6\u2009000 mi or 9 months" in page or "6 000 mi" in page
    with served.parts.store.read() as view:
        assert not any(
            start.service == "pinion-nut-look"
            for vehicle in view.vehicles()
            if vehicle.mark != "AN"
            for component in vehicle.components
            for start in component.lines
        )
    assert all("pinion-nut-look" not in [r.key for r in book.proposed_for(v, "rear axle")] for v in _kinds(served))


def _kinds(served: Served) -> set[Any]:
    with served.parts.store.read() as view:
        return {vehicle.kind for vehicle in view.vehicles()}


@pytest.mark.parametrize(
    ("what", "typed", "told"),
    [
        ("service-more", {"service": ""}, "Which service?"),
        ("service-more", {"service": "engine.flux"}, "There is no service called"),
        ("service-more", {"service": "rear-axle.rear-axle-fluid"}, "has that service."),
        (
            "service-more",
            {"service": "engine.own", "title": "x", "short": "x", "reason": "y"},
            "It would never fall due.",
        ),
        ("service-more", {"service": "engine.own", "months": "5", "short": "x", "reason": "y"}, ""),
        ("service-more", {"service": "engine.own", "title": "x", "short": "x", "months": "0", "reason": "y"}, ""),
        ("service-less", {"service": "wing.flap"}, "There is no"),
        ("dial", {"dial": "x"}, "Which dial?"),
        ("dial", {"dial": "mi", "value": "5"}, "has such a dial already"),
        ("dial", {"dial": "h", "value": "1234567", "digits": "5"}, "cannot show"),
        ("dial", {"dial": "off.odometer"}, "That dial has readings, and they stay."),
    ],
)
def test_what_cannot_be_is_said_and_changes_nothing(
    shared: Served, client: httpx.Client, what: str, typed: dict[str, str], told: str
) -> None:
    headers = shared.session("ines")
    form = form_of(shared, client, headers, what)
    before = everything(shared.parts.store)
    answer = client.post(shared.url + form.action, data=form.as_sent(**typed), headers=headers)
    assert answer.status_code == 422
    assert told in page_of(answer).words
    assert 'role="alert"' in answer.text
    assert everything(shared.parts.store) == before


def test_done_before_it_was_there_is_refused_at_its_field(shared: Served, client: httpx.Client) -> None:
    service = offered(shared, "engine")
    for typed in ({"on": "2031-01-01"}, {"on": "", "at": ""}, {"on": "", "at": "9999999"}):
        answer = sent(shared, client, "service-more", service=f"engine.{service}", past="done", **typed)
        assert answer.status_code == 422
        assert 'id="past-problem"' in answer.text


def test_an_older_form_and_a_planned_service_undo_nothing(served: Served, client: httpx.Client) -> None:
    headers = served.session("ines")
    older = form_of(served, client, headers, "service-less")
    service = offered(served, "engine")
    add_service(
        served.parts.store, served.parts.rules, "AN", ("engine", service), Answer(Past.NEW),
        now=served.clock.now(), who="teo", base_url=served.url,
    )  # fmt: skip
    late = client.post(
        served.url + older.action, data=older.as_sent(service="rear-axle.rear-axle-fluid"), headers=headers
    )
    assert late.status_code == 409
    assert line(served, "rear-axle", "rear-axle-fluid") is not None
    given = Opening("Anvil", ("rear axle fluid",))
    open_order(served.parts.store, served.parts.rules, given, now=served.clock.now(), who="teo", base_url=served.url)
    refused = sent(served, client, "service-less", service="rear-axle.rear-axle-fluid")
    assert refused.status_code in (409, 422)
    assert "It stands on sheet" in page_of(refused).words


def test_an_hour_meter_is_added_and_taken_off_until_somebody_read_it(served: Served, client: httpx.Client) -> None:
    assert "is added." in page_of(sent(served, client, "dial", dial="h", value="", digits="5")).words
    meter = anvil(served).hour_meter
    assert meter is not None
    assert meter.digits == 5
    assert "is taken off." in page_of(sent(served, client, "dial", dial="off.hours")).words
    assert anvil(served).hour_meter is None
    assert sent(served, client, "dial", dial="h", value="412.5", digits="6").status_code == 200
    with served.parts.store.read() as view:
        (reading,) = [each for each in view.readings(("AN",)) if each.meter == "hours"]
    assert str(reading.value) == "412.5"
    assert reading.by == "ines"


def test_the_vehicle_s_page_leads_there(shared: Served, client: httpx.Client) -> None:
    page = page_of(client.get(shared.url + ANVIL, headers=shared.session("ines")))
    for what in ("service-more", "service-less", "dial"):
        assert f"{ANVIL}/{what}" in page.addresses
