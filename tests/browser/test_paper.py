"""Every page printed by Chromium on A4 and Letter: black on white whatever the light, and no sheet comes out blank.

Counted in the PDF itself: its page objects and what their content streams write. Source of the format, from memory:
ISO 32000-1, 7.3.8 (streams), 7.7.3.3 (page objects), 9.4.3 (text-showing operators).
"""

from __future__ import annotations

import re
import zlib

import pytest
from playwright.sync_api import Browser

from tests.browser.conftest import Shown
from tests.browser.test_pages import NAMES, opened

pytestmark = pytest.mark.browser

MOST_SHEETS = 12
PAPERS = ("A4", "Letter")
DARK_GROUND = """() => [...document.querySelectorAll("html, body, .wrap, main, section, form, .plate, table, li")]
  .filter(e => e.checkVisibility()).map(e => getComputedStyle(e).backgroundColor)
  .filter(c => !["rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"].includes(c))"""
PALE_TEXT = """() => [...document.querySelectorAll("main *")]
  .filter(e => e.checkVisibility() && !e.closest("svg, .vh"))
  .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()))
  .filter(e => !["rgb(0, 0, 0)", "rgb(255, 255, 255)"].includes(getComputedStyle(e).color))
  .map(e => e.outerHTML.slice(0, 80))"""
WIDER_THAN_PAPER = """() => [...document.querySelectorAll("main svg, main table, main li, main p, main form")]
  .filter(e => e.checkVisibility() && !e.closest(".bar") && e.getBoundingClientRect().right > innerWidth + 1)
  .map(e => e.outerHTML.slice(0, 80))"""
PAPER_PX = 703
"""A4 without its margins of 12 mm, at 96 to the inch; Letter is 725."""


def sheets(pdf: bytes) -> list[bytes]:
    """What is written on each sheet, in order."""
    objects = {int(number): body for number, body in re.findall(rb"(?s)\b(\d+) 0 obj\b(.*?)\bendobj", pdf)}
    written = []
    for body in objects.values():
        if re.search(rb"/Type\s*/Page\b", body) and (found := re.search(rb"/Contents (\d+) 0 R", body)):
            stream = objects[int(found[1])].partition(b"stream")[2].lstrip(b"\r\n")
            written.append(zlib.decompressobj().decompress(stream))
    return written


def is_blank(sheet: bytes) -> bool:
    """No text is shown on it."""
    return not re.search(rb"\bT[jJ]\b", sheet)


@pytest.mark.parametrize("name", NAMES)
def test_no_sheet_is_blank_on_either_paper_and_all_is_black_on_white(
    chromium: Browser, shown: Shown, name: str
) -> None:
    with opened(chromium, shown, name, width=PAPER_PX, scheme="dark") as page:
        for paper in PAPERS:
            printed = sheets(page.pdf(format=paper, prefer_css_page_size=True, print_background=True))
            assert 0 < len(printed) <= MOST_SHEETS, (paper, len(printed))
            assert [number for number, sheet in enumerate(printed, 1) if is_blank(sheet)] == [], paper
        page.emulate_media(media="print")
        assert page.evaluate(DARK_GROUND) == []
        assert page.evaluate(PALE_TEXT) == []
        assert page.evaluate(WIDER_THAN_PAPER) == []
        for control in (".head nav", ".foot", ".thumb", ".skip"):
            assert page.locator(f"{control}:visible").count() == 0, control


def test_what_is_wrong_on_paper_would_be_found(chromium: Browser, shown: Shown) -> None:
    """The guards can fail: a blank sheet, a dark ground, pale letters, something wider than the paper."""
    with opened(chromium, shown, "held-none", width=PAPER_PX, scheme="dark") as page:
        page.evaluate("""() => {
            const main = document.querySelector("main");
            main.innerHTML += "<div></div><section>x</section><p>pale</p><table></table>";
            const [div, section, p, table] = [...main.children].slice(-4);
            div.style.breakBefore = "page"; div.style.height = "9cm";
            section.style.background = "#222"; section.style.breakBefore = "page";
            p.style.color = "#999"; table.style.width = "2000px";
        }""")
        printed = sheets(page.pdf(format="A4", prefer_css_page_size=True, print_background=True))
        assert [is_blank(sheet) for sheet in printed] == [False, True, False]
        page.emulate_media(media="print")
        assert len(page.evaluate(DARK_GROUND)) == 1
        assert len(page.evaluate(PALE_TEXT)) == 1
        assert len(page.evaluate(WIDER_THAN_PAPER)) == 1


def test_the_handbook_is_printed_whole_and_what_is_folded_elsewhere_stays_away(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "handbook", width=PAPER_PX) as page:
        page.emulate_media(media="print")
        assert page.locator("details tbody tr").last.is_visible()
    with opened(chromium, shown, "person", width=PAPER_PX) as page:
        page.emulate_media(media="print")
        assert page.locator("summary:visible").count() == 0


@pytest.mark.parametrize("name", ["bay-days", "bay-days-new"])
def test_the_form_for_a_visit_is_for_the_screen_alone(chromium: Browser, shown: Shown, name: str) -> None:
    with opened(chromium, shown, name, width=PAPER_PX) as page:
        assert page.locator("#new select:visible").count()
        page.emulate_media(media="print")
        assert page.locator("#new:visible, select:visible").count() == 0
        assert page.locator(".visit:visible").count()
