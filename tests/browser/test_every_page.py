"""Every page walked at once: 320 px with large text in both languages, in forced colours, and by keyboard alone."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import Shown
from tests.browser.test_pages import SIDEWAYS

pytestmark = pytest.mark.browser

ROUNDED_PX = 1
"""A column of a page may be rounded up by so much."""
STOPS = 25
"""So many presses of Tab on a page; the longest ones repeat their rows beyond it."""

# Text outside of the window, cut off by its own box, or under other text. Not looked at: what is for ears alone,
# drawings (they scale), what scrolls in a region of its own, the bars at the bottom, and the cells of a drum, which cut
# off the space behind their last digit and no digit.
LOST = """() => {
  const told = (e, why) => `${why}: ${e.outerHTML.slice(0, 60)} ${e.textContent.trim().slice(0, 40)}`;
  const up = (e, claim) => {
    for (let g = e; g && g !== document.body; g = g.parentElement) if (claim(g)) return true;
    return false;
  };
  const isSmall = g => { const b = g.getBoundingClientRect();
    return (b.width <= 1 || b.height <= 1) && getComputedStyle(g).overflow !== "visible"; };
  const scrolls = g => ["auto", "scroll"].includes(getComputedStyle(g).overflowX);
  const stays = g => ["fixed", "sticky"].includes(getComputedStyle(g).position);
  const wide = document.documentElement.clientWidth, out = new Set(), boxes = [];
  for (const e of document.querySelectorAll("body *")) {
    if (!e.checkVisibility() || e.closest(".vh, .skip, svg, .cells, [aria-hidden=true]") || up(e, isSmall)) continue;
    const style = getComputedStyle(e);
    if (style.overflowX !== "visible" && !scrolls(e) && e.textContent.trim() && style.display !== "inline"
        && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 8)) out.add(told(e, "cut off"));
    if (up(e, scrolls)) continue;
    for (const node of e.childNodes) {
      if (node.nodeType !== 3 || !node.data.trim()) continue;
      const range = document.createRange();
      range.selectNodeContents(node);
      for (const box of range.getClientRects()) {
        if (box.width < 1 || box.height < 1) continue;
        if (box.right > wide + 1 || box.left < -1) out.add(told(e, "outside"));
        if (!up(e, stays)) boxes.push([box, e]);
      }
    }
  }
  boxes.sort((a, b) => a[0].top - b[0].top);
  boxes.forEach(([a, e], i) => {
    for (let j = i + 1; j < boxes.length && boxes[j][0].top < a.bottom; j++) {
      const [b, f] = boxes[j];
      const width = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const height = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (e !== f && width > 3 && height > Math.min(a.height, b.height) * .45) out.add(told(e, "under other text"));
    }
  });
  return [...out].slice(0, 5);
}"""

# In forced colours: what can be pressed or typed into has an edge, the page one is on is marked alone, and a drawing
# has no ink that is neither the ground nor at least three to one against it (WCAG 2.2, 1.4.11); ruling means nothing.
LOST_IN_FORCED_COLOURS = """() => {
  const parse = c => (c.match(/[\\d.]+/g) || []).map(Number);
  const scale = c => c.startsWith("color(") ? 1 : 255;
  const lum = c => { const [r, g, b] = parse(c).slice(0, 3).map(v => v / scale(c))
    .map(v => v <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4); return .2126 * r + .7152 * g + .0722 * b; };
  const ground = getComputedStyle(document.body).backgroundColor;
  const ratio = c => { const [a, b] = [lum(c), lum(ground)]; return (Math.max(a, b) + .05) / (Math.min(a, b) + .05); };
  const out = new Set();
  for (const e of document.querySelectorAll("button, .btn, select, textarea, input:not([type=hidden])")) {
    const box = e.closest(".cells, .seg") || e, s = getComputedStyle(box);
    if (!e.checkVisibility() || e.matches(".plain")) continue;
    const edge = parseFloat(s.borderTopWidth) >= 1 && s.borderTopStyle !== "none" && ratio(s.borderTopColor) >= 3;
    if (!edge && ratio(s.backgroundColor) < 3 && s.appearance === "none")
      out.add(`no edge: ${e.outerHTML.slice(0, 70)}`);
  }
  const under = [...document.querySelectorAll(".head nav a")].filter(a => a.checkVisibility()
    && parseFloat(getComputedStyle(a).borderBottomWidth) > 0 && ratio(getComputedStyle(a).borderBottomColor) >= 3);
  if (under.some(a => !a.hasAttribute("aria-current"))) out.add("marked too: " + under.map(a => a.innerText));
  for (const e of document.querySelectorAll("svg :is(path, rect, circle, line, polygon, polyline, text)")) {
    if (!e.checkVisibility() || e.matches(".behind, .week, .earth *") || e.closest("defs, .code")) continue;
    const s = getComputedStyle(e);
    for (const ink of [s.fill, s.stroke])
      if (ink !== "none" && !ink.startsWith("url") && ratio(ink) > 1.05 && ratio(ink) < 3)
        out.add(`pale: ${e.outerHTML.slice(0, 70)} ${ink}`);
  }
  return [...out].slice(0, 5);
}"""

# One stop of the focus: whether it comes after the last one on the page, and whether one sees it: an outline of 2 px
# at the element or at the box it is drawn in (WCAG 2.2, 2.4.3 and 2.4.7).
STOP = """() => {
  const e = document.activeElement, isFirst = e === window.first || (e && e.matches(".skip"));
  // After the last stop comes the browser's own frame, or the first stop again where it has none.
  const isAlone = document.querySelectorAll("a[href], button, summary, input, [tabindex='0']").length === 1;
  if (!e || e === document.body || (isFirst && window.was && (isAlone || window.was !== e)))
    return { ended: true, told: "", wrong: "" };
  // Day, month, year and the calendar of a date are stops within one field.
  window.same = e === window.was ? (window.same || 0) + 1 : 0;
  if (window.same > (["date", "time"].includes(e.type) ? 4 : 0))
    return { ended: false, told: e.outerHTML.slice(0, 80), wrong: "stuck" };
  window.first = window.first || e;
  const outlined = g => { const s = getComputedStyle(g);
    return s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2 && s.outlineColor !== "rgba(0, 0, 0, 0)"; };
  let wrong = "";
  if (window.was && window.was !== e && !(window.was.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING))
    wrong = "goes back";
  const places = [e, e.closest("label"), e.closest(".cells"), e.closest(".seg"), e.closest("summary")];
  // Within a date the browser itself shows which of its parts has the focus.
  if (!window.same && !places.some(g => g && outlined(g))) wrong = "not seen";
  window.was = e;
  return { ended: false, told: e.outerHTML.slice(0, 80), wrong };
}"""


@contextmanager
def window(browser: Browser, width: int, **context: Any) -> Iterator[Page]:
    """One page to walk with, without scripts of its own."""
    opened = browser.new_context(viewport={"width": width, "height": 844}, reduced_motion="reduce", **context)
    yield opened.new_page()
    opened.close()


@pytest.mark.parametrize("language", ["en", "de"])
def test_at_320_px_with_text_twice_as_large_nothing_is_lost(
    chromium: Browser, request: pytest.FixtureRequest, language: str
) -> None:
    shown: Shown = request.getfixturevalue("shown" if language == "en" else "shown_in_german")
    with window(chromium, 320) as page:
        for name in shown.names:
            page.goto(f"{shown.base_url}/{name}")
            page.evaluate("document.documentElement.style.fontSize = '200%'")
            # Before its own font is there the words stand in another, which may be wider.
            page.evaluate("document.fonts.ready.then(() => true)")
            assert page.evaluate(SIDEWAYS) <= ROUNDED_PX, name
            assert page.evaluate(LOST) == [], name


def test_what_is_lost_would_be_noticed(chromium: Browser, shown: Shown) -> None:
    with window(chromium, 320) as page:
        page.goto(f"{shown.base_url}/road")
        page.evaluate("""() => {
            const main = document.querySelector("main");
            main.innerHTML = "<p>a line far too long for any window that is so narrow as this one</p>"
                + "<p>two lines<br>of which one is cut</p><p>below</p><p>above</p>";
            const [long, cut, , above] = main.children;
            long.style.whiteSpace = "nowrap"; above.style.marginTop = "-40px";
            cut.style.height = "12px"; cut.style.overflow = "hidden"; }""")
        told = " ".join(page.evaluate(LOST))
        assert ["outside" in told, "cut off" in told, "under" in told] == [True] * 3


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_forced_colours_keep_edges_marks_and_drawings(
    chromium: Browser, shown: Shown, scheme: Literal["light", "dark"]
) -> None:
    with window(chromium, 1280, forced_colors="active", color_scheme=scheme) as page:
        for name in shown.names:
            page.goto(f"{shown.base_url}/{name}")
            assert page.evaluate(LOST_IN_FORCED_COLOURS) == [], name


def test_what_forced_colours_take_away_would_be_noticed(chromium: Browser, shown: Shown) -> None:
    with window(chromium, 1280, forced_colors="active") as page:
        page.goto(f"{shown.base_url}/road")
        page.evaluate("""() => {
            document.querySelectorAll(".head nav a").forEach(a => a.style.borderColor = "CanvasText");
            document.querySelector(".btn").style.cssText = "border:0;appearance:none;background:Canvas";
            document.querySelector(".lanes .base").style.stroke = "rgb(200, 200, 200)"; }""")
        told = " ".join(page.evaluate(LOST_IN_FORCED_COLOURS))
        assert ["marked" in told, "no edge" in told, "pale" in told] == [True] * 3


@pytest.mark.parametrize("forced", ["none", "active"])
def test_by_keyboard_one_goes_down_every_page_and_sees_where_one_is(
    chromium: Browser, shown: Shown, forced: Literal["none", "active"]
) -> None:
    with window(chromium, 390, forced_colors=forced) as page:
        for name in shown.names:
            page.goto(f"{shown.base_url}/{name}")
            assert (
                page.evaluate('document.querySelectorAll(\'[tabindex]:not([tabindex="0"],[tabindex="-1"])\').length')
                == 0
            )
            for _ in range(STOPS):
                page.keyboard.press("Tab")
                stop = page.evaluate(STOP)
                assert stop["wrong"] == "", (name, stop)
                if stop["ended"]:
                    break


def test_a_focus_that_is_not_seen_goes_back_or_is_stuck_would_be_noticed(chromium: Browser, shown: Shown) -> None:
    with window(chromium, 390) as page:
        page.goto(f"{shown.base_url}/road")
        page.evaluate("""() => {
            document.body.innerHTML = "<a href=/a tabindex=2>1</a><a href=/b tabindex=1>2</a>"
                + "<a href=/c tabindex=3>3</a>";
            document.body.lastChild.style.outline = "0"; }""")
        found = []
        for _ in range(3):
            page.keyboard.press("Tab")
            found.append(page.evaluate(STOP)["wrong"])
        found.append(page.evaluate(STOP)["wrong"])
        assert found == ["", "goes back", "not seen", "stuck"]
