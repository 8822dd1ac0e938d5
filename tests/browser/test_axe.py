"""Every page through axe-core: WCAG 2.0 to 2.2, A and AA, and AAA for the contrast of text.

Source of the rules: axe-core, as it comes with axe-playwright-python. By day and by night, on a phone and on a desk.
"""

from __future__ import annotations

from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.browser.conftest import Shown
from tests.browser.test_pages import NAMES, opened

pytestmark = pytest.mark.browser

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
OPTIONS = {
    "runOnly": {"type": "tag", "values": TAGS},
    "rules": {"color-contrast-enhanced": {"enabled": True}, "target-size": {"enabled": True}},
    "resultTypes": ["violations"],
}
LOOKS: tuple[tuple[int, Literal["light", "dark"]], ...] = (
    (390, "light"), (390, "dark"), (1280, "light"), (1280, "dark"),
)  # fmt: skip


def violations(page: Page) -> list[str]:
    """What axe-core finds, each with its first places."""
    found: dict[str, Any] = Axe().run(page, options=OPTIONS).response
    return [
        f"{each['id']}: {[(node['target'], node['html'][:90]) for node in each['nodes'][:3]]}"
        for each in found["violations"]
    ]


@pytest.mark.parametrize("name", NAMES)
def test_page_has_no_violation_by_day_and_by_night_narrow_and_wide(chromium: Browser, shown: Shown, name: str) -> None:
    with opened(chromium, shown, name, scripts=True) as page:
        for width, scheme in LOOKS:
            page.set_viewport_size({"width": width, "height": 844})
            page.emulate_media(color_scheme=scheme)
            assert violations(page) == [], (width, scheme)


def test_what_is_wrong_would_be_found(chromium: Browser, shown: Shown) -> None:
    """The guard can fail: a field without a name, a picture without words, pale letters, small targets."""
    with opened(chromium, shown, "road", scripts=True) as page:
        page.evaluate("""() => {
            const main = document.querySelector("main");
            main.innerHTML = "<input><svg role='img'></svg><p>paler than AA</p><p>paler than AAA</p>";
            main.lastChild.previousSibling.style.color = "#777";
            main.lastChild.style.color = "#666";
        }""")
        told = " ".join(violations(page))
    for rule in ("label:", "svg-img-alt:", "color-contrast:", "color-contrast-enhanced:"):
        assert rule in told
