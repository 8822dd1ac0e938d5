"""The page that looks back, as a person meets it: pictures that fit, tables that unfold, on paper, in any colours."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from tests.browser.conftest import Shown
from tests.browser.test_pages import SIDEWAYS, opened

pytestmark = pytest.mark.browser


def test_pictures_fill_their_column_and_tables_unfold_without_scripts(chromium: Browser, shown: Shown) -> None:
    for width, columns in ((320, 1), (390, 1), (1280, 2)):
        with opened(chromium, shown, "trust", width=width) as page:
            pictures = page.locator(".past svg")
            assert pictures.count() >= 6
            boxes = [box for box in (pictures.nth(at).bounding_box() for at in range(2)) if box is not None]
            assert len({round(box["y"]) for box in boxes}) == 3 - columns
            assert all(box["width"] > 0.8 * (width - 60 * columns) / columns for box in boxes)
            folded = page.locator("details:not([open])").first
            assert not folded.locator("table").is_visible()
            folded.locator("summary").click()
            assert folded.page.locator("details[open] table").nth(1).is_visible()
            assert page.evaluate(SIDEWAYS) <= 0


def test_the_middle_of_a_picture_is_named_in_its_middle(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "trust") as page:
        picture, middle = page.locator(".past svg").first, page.locator(".axis span:nth-child(2)").first
        box, words = picture.bounding_box(), middle.bounding_box()
        assert box is not None
        assert words is not None
        assert words["x"] + words["width"] / 2 == pytest.approx(box["x"] + box["width"] / 2, abs=1)


def test_misses_are_seen_on_paper_and_in_forced_colours(chromium: Browser, shown: Shown) -> None:
    stroke = "getComputedStyle(document.querySelector('.past .miss')).stroke"
    with opened(chromium, shown, "trust", width=1040, scheme="dark") as page:
        page.emulate_media(media="print")
        assert page.locator(".past svg").first.is_visible()
        assert page.evaluate(stroke) == "rgb(0, 0, 0)"
    with opened(chromium, shown, "trust", forced="active") as page:
        assert page.evaluate(stroke) != page.evaluate("getComputedStyle(document.body).backgroundColor")
