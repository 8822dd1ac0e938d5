"""How a date came about and when a vehicle stands, met with the keyboard and by labels, without JavaScript."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from tests.browser.conftest import Shown
from tests.browser.test_pages import opened

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", [390, 1280])
def test_the_chain_opens_and_closes_with_the_keyboard_and_names_its_service(
    chromium: Browser, shown: Shown, width: int
) -> None:
    with opened(chromium, shown, "vehicle", width=width) as page:
        summary = page.locator("summary", has_text="Rear axle fluid, cover reseal")
        step = page.get_by_text("Counted from the work of")
        change = page.get_by_text("12 days earlier")
        assert not step.is_visible()
        summary.focus()
        page.keyboard.press("Enter")
        assert step.is_visible()
        assert change.is_visible()
        page.keyboard.press("Space")
        assert not step.is_visible()


def test_the_answer_is_given_by_its_labels_and_sent_whole(chromium: Browser, shown: Shown) -> None:
    shown.sent.clear()
    with opened(chromium, shown, "vehicle-stands") as page:
        assert page.get_by_label("The first day on which it stands").input_value() == "2026-02-03"
        page.get_by_label("The last one; leave it empty if nobody knows yet").fill("2026-04-30")
        page.get_by_role("button", name="Lay it up").click()
        page.wait_for_url("**/lay-up*")
    assert shown.sent == [("/vehicles/AN/lay-up", {"seal": [""], "from": ["2026-02-03"], "until": ["2026-04-30"]})]


def test_what_is_wrong_with_a_field_is_told_with_it(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "vehicle-laid-up") as page:
        field = page.get_by_label("It runs again from")
        told = page.locator(f"#{field.get_attribute('aria-describedby')}")
        assert field.get_attribute("aria-invalid") == "true"
        assert told.get_attribute("role") == "alert"
        assert "That is no day" in told.inner_text()
