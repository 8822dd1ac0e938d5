"""Every page in Chromium without JavaScript: narrow and wide, day and night, enlarged, printed, in forced colours."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import Shown
from tests.page.karst_ridge import every_page

pytestmark = pytest.mark.browser

NAMES = tuple(every_page())
LEAST_TARGET_PX = 48
WIDTHS_PX = (320, 390, 800, 1280)
AAA_TEXT = 7.0

SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"

# Links inside a sentence are as high as their line (WCAG 2.2, 2.5.8, exception for inline targets).
SMALL_TARGETS = """least => [...document.querySelectorAll(
    "button, .btn, summary, nav a, .choices a, .who a, .seg label, .reason label, "
    + "input:not([type=hidden]):not([type=radio]):not([type=checkbox])"
  )].filter(e => e.checkVisibility() && e.getBoundingClientRect().height > 0
    && e.getBoundingClientRect().height < least - .5)
  .map(e => e.outerHTML.slice(0, 80) + " " + e.getBoundingClientRect().height)"""

# Contrast as the browser paints it: own text against the nearest opaque ground. Source of the formula: WCAG 2.2.
FAINT_TEXT = """least => {
  const parse = c => (c.match(/[\\d.]+/g) || []).map(Number);
  const lum = c => { const [r, g, b] = c.slice(0, 3).map(v => v / 255)
    .map(v => v <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4); return .2126 * r + .7152 * g + .0722 * b; };
  const out = [];
  for (const e of document.querySelectorAll("body *")) {
    const own = [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim());
    if (!own || !e.checkVisibility() || e.closest(".vh, .skip, svg, [hidden]")) continue;
    let g = e, ground = null;
    while (g && !ground) { const c = parse(getComputedStyle(g).backgroundColor);
      if (c.length === 3 || c[3] === 1) ground = c; g = g.parentElement; }
    const a = lum(parse(getComputedStyle(e).color)), b = lum(ground || [255, 255, 255]);
    const ratio = (Math.max(a, b) + .05) / (Math.min(a, b) + .05);
    if (ratio < least) out.push(e.outerHTML.slice(0, 80) + " " + ratio.toFixed(2));
  }
  return out;
}"""

CLIPPED_LABELS = """() => [...document.querySelectorAll(".seg label, .btn, button")]
  .filter(e => e.checkVisibility() && e.scrollWidth > e.clientWidth + 1)
  .map(e => e.outerHTML.slice(0, 80))"""


@contextmanager
def opened(
    browser: Browser,
    shown: Shown,
    name: str,
    *,
    width: int = 390,
    scheme: Literal["light", "dark"] = "light",
    scripts: bool = False,
    forced: Literal["active", "none"] = "none",
) -> Iterator[Page]:
    """A page, and the claim that nothing went wrong while it was open: no refused, failed or foreign request."""
    context = browser.new_context(
        viewport={"width": width, "height": 844 if width < 700 else 800},
        color_scheme=scheme,
        java_script_enabled=scripts,
        forced_colors=forced,
        reduced_motion="reduce",
    )
    page = context.new_page()
    trouble: list[str] = []
    page.on("console", lambda message: trouble.append(message.text))
    page.on("pageerror", lambda error: trouble.append(str(error)))
    page.on("requestfailed", lambda request: trouble.append(f"failed: {request.url}"))
    page.on("request", lambda request: trouble.append(request.url) if shown.base_url not in request.url else None)
    page.goto(f"{shown.base_url}/{name}")
    yield page
    context.close()
    assert trouble == []


@pytest.mark.parametrize("name", NAMES)
def test_page_never_scrolls_sideways_and_its_targets_are_large_at_every_width(
    chromium: Browser, shown: Shown, name: str
) -> None:
    with opened(chromium, shown, name) as page:
        for width in WIDTHS_PX:
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate(SIDEWAYS) <= 0, width
            assert page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX) == [], width
            assert page.evaluate(CLIPPED_LABELS) == [], width


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", NAMES)
def test_text_as_painted_has_seven_to_one_by_day_and_by_night(
    chromium: Browser, shown: Shown, name: str, scheme: Literal["light", "dark"]
) -> None:
    with opened(chromium, shown, name, scheme=scheme) as page:
        assert page.evaluate(FAINT_TEXT, AAA_TEXT) == []
        ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert ground == ("rgb(242, 236, 221)" if scheme == "light" else "rgb(25, 23, 18)")


def test_day_or_night_by_choice_overrules_the_device_and_paper_and_forced_colours_overrule_both(
    chromium: Browser, shown: Shown
) -> None:
    ground = "getComputedStyle(document.body).backgroundColor"
    day, night = "rgb(242, 236, 221)", "rgb(25, 23, 18)"
    for scheme, chosen, painted in (("light", "night", night), ("dark", "day", day)):
        with opened(chromium, shown, "vehicle", scheme=scheme) as page:  # type: ignore[arg-type]
            page.evaluate("light => document.documentElement.dataset.light = light", chosen)
            assert page.evaluate(ground) == painted
            assert page.evaluate("getComputedStyle(document.documentElement).colorScheme") == (
                "dark" if chosen == "night" else "light"
            )
            assert page.evaluate(FAINT_TEXT, AAA_TEXT) == []
            page.emulate_media(media="print")
            assert page.evaluate(ground) == "rgb(255, 255, 255)"
    with opened(chromium, shown, "vehicle", forced="active") as page:
        plain = page.evaluate(ground)
        page.evaluate("document.documentElement.dataset.light = 'night'")
        assert page.evaluate(ground) == plain


@pytest.mark.parametrize("name", NAMES)
def test_text_at_200_percent_loses_nothing(chromium: Browser, shown: Shown, name: str) -> None:
    with opened(chromium, shown, name) as page:
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        assert page.evaluate(SIDEWAYS) <= 0
        assert page.evaluate(CLIPPED_LABELS) == []


def test_checks_of_this_file_can_fail(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "road") as page:
        page.evaluate("""() => {
            const main = document.querySelector("main");
            main.innerHTML = "<button>x</button><p>pale</p><div>wide</div>";
            const [button, p, wide] = main.children;
            button.style.minHeight = "20px"; button.style.padding = "0";
            p.style.color = "rgb(150, 150, 150)"; wide.style.width = "2000px";
        }""")
        assert page.evaluate(SIDEWAYS) > 0
        assert len(page.evaluate(SMALL_TARGETS, LEAST_TARGET_PX)) == 1
        assert any("pale" in each for each in page.evaluate(FAINT_TEXT, AAA_TEXT))


def test_our_own_letters_are_used(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "road") as page:
        page.evaluate("document.fonts.ready.then(() => true)")
        loaded = page.evaluate("[...document.fonts].filter(f => f.status === 'loaded').map(f => f.family)")
        assert {family.strip('"') for family in loaded} == {"Archivo", "Atkinson Hyperlegible Next"}


def test_mix_bar_grows_by_style_sheet_alone(chromium: Browser, shown: Shown) -> None:
    def widths(page: Page) -> list[float]:
        found: Any = page.evaluate(
            "[...document.querySelectorAll('.bar span')].map(e => e.getBoundingClientRect().width)"
        )
        return [float(width) for width in found]

    with opened(chromium, shown, "entry") as page:
        towing, track, daily = widths(page)
        assert track == 0
        assert towing / daily == pytest.approx(3, rel=0.01)
        page.locator("label", has=page.locator("#d1p4")).click()
        towing, track, daily = widths(page)
        assert track / towing == pytest.approx(4 / 3, rel=0.01)


def test_unit_behind_the_drum_follows_the_unit_chosen(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "entry") as page:
        assert page.locator("#u .us:visible").inner_text() == "mi"
        page.locator("label", has=page.locator("input[value=km]")).click()
        assert page.locator("#u .us:visible").inner_text() == "km"


def test_form_sends_what_was_typed_without_scripts(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "entry") as page:
        assert page.evaluate("document.activeElement.id") == "odo"
        page.keyboard.type("84 210")
        page.get_by_role("button", name="Save the reading").click()
        page.wait_for_load_state()
    address, sent = shown.sent.pop()
    assert address == "/o/k3y"
    assert sent == {
        "form": ["f0rm"], "odo": ["84 210"], "unit": ["mi"], "part_towing": ["3"], "part_track": ["0"],
        "part_daily": ["1"], "on": [""],
    }  # fmt: skip


def test_each_way_out_of_a_doubt_sends_its_own_answer(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "doubt") as page:
        page.get_by_role("button", name="Yes, save").click()
        page.wait_for_load_state()
    _, sent = shown.sent.pop()
    assert (sent["odo"], sent["answer"], sent["on"], "reason" in sent) == (["84210"], ["guess"], ["2026-04-14"], False)
    with opened(chromium, shown, "doubt") as page:
        page.locator("summary").click()
        page.get_by_label("The odometer was changed").check()
        page.get_by_role("button", name="Save 48").click()
        page.wait_for_load_state()
    _, sent = shown.sent.pop()
    assert (sent["odo"], sent["answer"], sent["reason"]) == (["48210"], ["really"], ["changed"])


def test_script_adds_distances_while_one_types(chromium: Browser, shown: Shown) -> None:
    # 845 mi, three quarters of it are 633.75; the last duty takes what is left.
    with opened(chromium, shown, "entry", scripts=True) as page:
        assert page.locator("#say").is_hidden()
        page.locator("#odo").fill("84210")
        assert page.locator("#say").inner_text() == "845 mi since 12 March: 634 mi towing, 211 mi daily."
        page.locator("#odo").fill("48210")
        assert page.locator("#say").is_hidden()


def test_focus_is_outlined_and_follows_the_page(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "road", width=1280) as page:
        places = []
        for _ in range(12):
            page.keyboard.press("Tab")
            places.append(page.evaluate("document.activeElement.innerText.replaceAll(/\\s+/g, ' ').trim()"))
        assert places == [
            "To the content",
            "Karst Ridge Motor Club",
            "Road ahead",
            "Vehicles",
            "Bay days",
            "Findings",
            "Handbook",
            "People",
            "Find",
            "show km",
            "Ines Calloway : your calendar",
            "Bellows and Winch want a reading.",
        ]
        assert page.evaluate("getComputedStyle(document.activeElement).outlineWidth") == "3px"


def test_focus_is_never_hidden_behind_the_bar_at_the_bottom(chromium: Browser, shown: Shown) -> None:
    # WCAG 2.2, 2.4.11 Focus Not Obscured (Minimum).
    with opened(chromium, shown, "road") as page:
        bar = page.evaluate("document.querySelector('.thumb').getBoundingClientRect().top")
        for _ in range(12):
            page.keyboard.press("Tab")
            top, inside = page.evaluate(
                "[document.activeElement.getBoundingClientRect().top, !!document.activeElement.closest('.thumb')]"
            )
            assert inside or top < bar


def test_paper_shows_the_list_and_none_of_the_controls(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "road", width=1040, scheme="dark") as page:
        page.emulate_media(media="print")
        for control in (".head nav", ".foot", ".thumb", ".slip .btn", ".skip"):
            assert not page.locator(control).first.is_visible(), control
        assert page.locator(".next .dip").first.is_visible()
        assert page.locator(".home").is_visible()
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        assert page.evaluate("getComputedStyle(document.querySelector('.mind')).color") == "rgb(0, 0, 0)"


def test_reasons_unfold_without_scripts_and_stay_inside_the_page(chromium: Browser, shown: Shown) -> None:
    for width in (320, 1280):
        with opened(chromium, shown, "vehicle", width=width) as page:
            reasons = page.locator(".rods details")
            assert reasons.count() == 4
            assert not reasons.nth(1).locator("ol").is_visible()
            reasons.nth(1).locator("summary").click()
            assert "Counted from the work of 21 January 2024" in reasons.nth(1).locator("ol").inner_text()
            assert page.evaluate(SIDEWAYS) <= 0


def test_vehicle_page_shows_one_main_button_at_every_width(chromium: Browser, shown: Shown) -> None:
    for width in WIDTHS_PX:
        with opened(chromium, shown, "vehicle-long", width=width) as page:
            assert page.locator(".btn.go:visible").count() == 1, width
            assert page.locator(".btn.go:visible").inner_text() == "Enter a reading"


def test_paper_shows_rods_and_readings_of_a_vehicle_without_folded_reasons(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "vehicle", width=1040) as page:
        page.emulate_media(media="print")
        assert page.locator(".rods .dip").first.is_visible()
        assert page.locator("table").is_visible()
        assert not page.locator("summary").first.is_visible()


def test_forced_colours_keep_the_solid_parts_of_a_rod(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "road", forced="active") as page:
        wet, text, ground = page.evaluate(
            "[getComputedStyle(document.querySelector('.wet')).fill, getComputedStyle(document.body).color,"
            " getComputedStyle(document.body).backgroundColor]"
        )
        assert wet == text != ground


def test_forced_colours_keep_the_main_button_and_the_cells_of_the_drum(chromium: Browser, shown: Shown) -> None:
    with opened(chromium, shown, "entry", forced="active") as page:
        button, letters = page.evaluate(
            "(s => [s.backgroundColor, s.color])(getComputedStyle(document.querySelector('button.go')))"
        )
        assert button != letters
        for kept in ("button.go", ".cells", ".seg label:has(:checked)"):
            # Otherwise the browser lays its own plate under the words, and paints no lines between the cells.
            assert page.locator(kept).last.evaluate("e => getComputedStyle(e).forcedColorAdjust") == "none", kept
