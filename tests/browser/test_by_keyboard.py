"""A reading, a bay day and a sheet by keyboard alone, as a driver, a keeper and a mechanic, without scripts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.browser.test_journeys import came_in
from tests.web.conftest import Prepared, Served, serving
from tests.web.conftest import prepared as prepared
from tests.web.stored import last
from tests.web.test_work import opened as sheet_opened

pytestmark = pytest.mark.browser

PRESSES = 250
"""After so many presses of Tab nothing is reached any more."""
HAS_FOCUS = "e => e === document.activeElement"


@pytest.fixture
def garage(prepared: Prepared, tmp_path: Path) -> Iterator[Served]:
    """A closed demo garage of one's own, on Tuesday 14 April 2026."""
    with serving(tmp_path / "home", prepared=prepared, open_house=False) as running:
        yield running


@pytest.fixture
def phone(chromium: Browser) -> Iterator[BrowserContext]:
    """A narrow window without scripts; dates are typed month first."""
    context = chromium.new_context(
        viewport={"width": 390, "height": 844},
        java_script_enabled=False,
        locale="en-US",
        reduced_motion="reduce",
        service_workers="block",
    )
    context.set_default_timeout(20_000)
    yield context
    context.close()


def tab_to(page: Page, wanted: Locator) -> None:
    """Presses Tab until the first that is wanted has the focus."""
    goal = wanted.first
    for _ in range(PRESSES):
        if goal.evaluate(HAS_FOCUS):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"never reached: {wanted}")


def pressed(page: Page, wanted: Locator, key: str = "Enter") -> None:
    """Goes there and presses a key that leads to another page."""
    tab_to(page, wanted)
    with page.expect_navigation():
        page.keyboard.press(key)


def test_a_driver_enters_a_reading(phone: BrowserContext, garage: Served) -> None:
    page = came_in(phone, garage, "piet")
    page.goto(garage.url)
    pressed(page, page.get_by_role("link", name="Enter a reading"))
    if page.get_by_role("link", name=re.compile("Lantern")).count():
        pressed(page, page.get_by_role("link", name=re.compile("Lantern")))
    tab_to(page, page.get_by_role("textbox", name=re.compile("^Now, 14 April")))
    page.keyboard.type("147050")
    pressed(page, page.get_by_role("button", name="Save the reading"), "Space")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Saved: 147")
    assert last(garage.parts.store, "LA") == (date(2026, 4, 14), Decimal(147050))


def test_a_keeper_inks_a_bay_day_and_moves_it(phone: BrowserContext, garage: Served) -> None:
    page = came_in(phone, garage, "ines")
    page.goto(f"{garage.url}/plan")
    anvil = page.get_by_role("article").filter(has_text="Anvil")
    pressed(page, anvil.filter(has_text="30 May").get_by_role("button", name="Ink this day"))
    day = anvil.filter(has_text="30 May").first
    expect(day).to_contain_text("inked")
    tab_to(page, day.locator("summary", has_text="Move it"))
    page.keyboard.press("Enter")
    tab_to(page, day.get_by_label("Its first hand, on"))
    page.keyboard.type("05312026")
    pressed(page, day.get_by_role("button", name="Move it"))
    expect(anvil.filter(has_text="31 May").first).to_contain_text("inked")


def test_a_mechanic_hands_in_a_sheet(phone: BrowserContext, garage: Served) -> None:
    number = sheet_opened(garage)
    page = came_in(phone, garage, "teo")
    page.goto(f"{garage.url}/work/{number}/hand-in")
    tab_to(page, page.get_by_label("The dial at the end, in mi"))
    page.keyboard.type("113052")
    magnet = page.get_by_role("group", name="Magnet").first.get_by_role("radio")
    chosen = page.get_by_role("group", name="Magnet").first.get_by_label("slivers or flakes")
    for _ in range(PRESSES):
        if magnet.evaluate_all("all => all.includes(document.activeElement)"):
            break
        page.keyboard.press("Tab")
    for _ in range(magnet.count()):
        if chosen.is_checked():
            break
        page.keyboard.press("ArrowDown")
    assert chosen.is_checked()
    tab_to(page, page.get_by_label("Signed").last)
    page.keyboard.type("Teo Lindqvist")
    pressed(page, page.get_by_role("button", name="See what follows"))
    expect(page.get_by_role("main")).to_contain_text("Look again within 500")
    pressed(page, page.get_by_role("button", name="Hand in the sheet"))
    expect(page.get_by_role("main")).to_contain_text("Handed in")
