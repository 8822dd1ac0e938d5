"""From an empty home to the first vehicle on the road, and from a sale to its undoing: in Chromium, day and night."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from fleetcare.assemble import assemble
from fleetcare.cli.bringing import bring_in_files
from fleetcare.cli.serving import Addresses
from fleetcare.due.outlook import DueWindow
from fleetcare.settings.new_home import write_new_home
from fleetcare.settings.places import shipped_demo
from fleetcare.web.app import create_app
from fleetcare.web.server import open_socket, port_of
from tests.browser.test_journeys import LOOKS, Scheme, came_in, entries, plain, posted, words
from tests.browser.test_journeys import device as device
from tests.browser.test_journeys import garage as garage
from tests.stand_ins import FixedClock, NumberedKeys
from tests.web.conftest import TUESDAY, Served, answering
from tests.web.conftest import prepared as prepared
from tests.web.stored import last

pytestmark = pytest.mark.browser


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Served]:
    """A closed garage with its people and no vehicle yet."""
    files, home = tmp_path / "files", tmp_path / "home"
    files.mkdir()
    for name in ("garage.toml", "people.toml"):
        shutil.copy(shipped_demo() / name, files / name)
    write_new_home(home)
    sock, clock = open_socket("127.0.0.1", 0), FixedClock(TUESDAY)
    overrides = {"FLEETCARE_WEB_PORT": str(port_of(sock)), "FLEETCARE_WEB_OPEN_HOUSE": "false"}
    parts = bring_in_files(assemble(home, {}, clock=clock, keys=NumberedKeys(), overrides=overrides), files).parts
    nothing: Addresses = {
        "front": parts.base_url,
        "feeds": {},
        "readings": {},
        "sign_in": "",
        "letters": "",
        "home": "",
    }
    try:
        with answering(create_app(parts), sock):
            yield Served(parts, clock, nothing)
    finally:
        parts.close()


@pytest.fixture(params=LOOKS, ids=lambda look: f"{look[0]}-{look[1]}")
def beginner(request: pytest.FixtureRequest, chromium: Browser, empty: Served) -> Iterator[BrowserContext]:
    """A browser before that garage, without scripts; at its end nothing left the garage's host."""
    width, scheme = request.param
    chosen: Scheme = scheme
    context = chromium.new_context(
        viewport={"width": width, "height": 844},
        color_scheme=chosen,
        reduced_motion="reduce",
        service_workers="block",
        java_script_enabled=False,
    )
    context.set_default_timeout(10_000)
    elsewhere: list[str] = []
    context.on("request", lambda sent: elsewhere.append(sent.url) if not sent.url.startswith(empty.url) else None)
    yield context
    context.close()
    assert elsewhere == []


def test_the_first_vehicle_on_the_road(beginner: BrowserContext, empty: Served) -> None:
    page = came_in(beginner, empty, "ines")
    page.goto(empty.url)
    expect(page.get_by_role("main")).to_contain_text("No lanes yet.")
    page.get_by_role("link", name="Put the first vehicle on the road").click()
    page.get_by_label("Its name").fill("Quarry")
    page.get_by_role("group", name="What is it?").get_by_label("Light truck").check()
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_label("Its mark")).to_have_value("QU")
    page.get_by_label("What it shows today").fill("84 210")
    page.get_by_role("radiogroup", name="Towing").get_by_label("3").check()
    page.get_by_text("More about its age and dial").click()
    page.get_by_label("In service since, if known").fill("2019-05-02")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("group", name="It has")).to_be_visible()  # a page half come in cannot be gone back from
    # Gone back and loaded again, everything is still there.
    page.go_back()
    page.reload()
    expect(page.get_by_label("Its mark")).to_have_value("QU")
    page.go_forward()
    page.reload()
    page.get_by_role("group", name="It has").get_by_label("Propeller shaft").uncheck()
    page.get_by_role("button", name="Go on").click()
    oil = page.get_by_role("group", name="Engine oil and filter")
    oil.get_by_label("It was done").check()
    oil.get_by_label("At, in mi").fill("82000")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("main")).to_contain_text("Its dial shows 84")
    page.get_by_role("button", name="Put it on the road").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Quarry is on the road")
    expect(page.get_by_role("main")).to_contain_text("Engine oil and filter")
    page.reload()
    expect(page.get_by_role("heading", level=1)).to_have_text("Quarry is on the road")
    page.get_by_role("link", name="To Quarry").click()
    assert page.url == f"{empty.url}/vehicles/QU"
    page.goto(empty.url)
    expect(page.get_by_role("main")).to_contain_text("Quarry, engine oil")
    assert last(empty.parts.store, "QU") == (date(2026, 4, 14), Decimal(84210))
    with empty.parts.store.read() as view:
        assert [vehicle.name for vehicle in view.vehicles()] == ["Quarry"]
        windows = view.windows(("QU",))
        assert any(isinstance(window, DueWindow) for window in windows.values())
        assert not [key for key in windows if key.component == "propeller-shaft"]


def test_a_vehicle_is_sold_and_its_entries_and_letters_go_and_come_back(device: BrowserContext, garage: Served) -> None:
    page = came_in(device, garage, "ines")
    assert any("Pocket" in each.summary.value for each in entries(garage.feed("ines")))
    page.goto(f"{garage.url}/vehicles/PO")
    page.get_by_role("link", name="Sold or given away").click()
    page.get_by_label("Gone since").fill("2026-04-14")
    page.get_by_role("button", name="It is gone").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Pocket has left the fleet")
    page.goto(garage.url)
    assert "Pocket" not in words(page)
    assert not [each for each in entries(garage.feed("ines")) if "Pocket" in each.summary.value]
    garage.clock.move(timedelta(days=6))
    assert not [each for each in posted(garage) if "Pocket" in plain(each)]
    page.goto(f"{garage.url}/vehicles/PO/history")
    expect(page.get_by_role("main")).to_contain_text("Engine oil")
    page.goto(f"{garage.url}/vehicles")
    expect(page.get_by_role("main")).to_contain_text("Out of the fleet since 14 April.")
    page.get_by_role("link", name="Pocket").click()
    page.get_by_role("link", name="It is here after all").click()
    page.get_by_role("button", name="It is here: take that back").click()
    expect(page.get_by_role("main")).to_contain_text("Dates that moved")
    page.goto(garage.url)
    assert "Pocket" in words(page)
    assert any("Pocket" in each.summary.value for each in entries(garage.feed("ines")))
