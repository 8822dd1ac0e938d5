"""The style sheets, put together once from the parts in `style/`, in the order of their names, as they are served.

One is for every page, and three small ones beside it are for the few pages that need more. The pages that a link opens
have one of their own instead.

One room, one part, so that what belongs to a page is found and removed in one place. The order matters: what holds for
phones and for paper comes last and overrules what stands before it. A sheet beside the first comes after all of it, so
a part of it that is to give way to phone or paper has that itself.

Who opens a link in a letter has nothing of ours at hand, and often a thin line: that sheet has the parts that those
pages use and the one font file they need in it, so that page and sheet are all that is fetched.

What only people read, comments and line ends, stays in the parts.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Callable, Iterable, Mapping
from functools import cache, partial
from pathlib import Path

PARTS = Path(__file__).parent / "style"
STYLE_SHEET = "fleetcare.css"
"""Its name among the static files; `fonts/` in it is beside it there."""
BESIDE = {
    "forms.css": ("71-dials", "72-asking", "73-stickers"),
    "job-sheet.css": ("75-job-sheet", "91-job-sheet-paper"),
    "fan.css": ("46-heading",),
}
"""The small ones that a page links beside it, by their names among the static files; each part is in one sheet."""
LINK_STYLE_SHEET = "link-pages.css"
"""The same of the one for pages behind a link."""
LINK_PARTS = (
    *("05-fonts", "10-inks", "20-letters", "25-frame", "30-drawings", "35-plates", "45-vehicle"),
    *("60-choosing", "65-coming-in", "70-reading", "71-dials", "80-phone", "90-paper"),
)
"""What the pages that a link opens use."""
LINK_FONT = "fonts/atkinson-hyperlegible-next-latin-wght-normal.woff2"
"""The one font file that they use, unless a name has letters from outside Latin-1."""

_FOR_PEOPLE = re.compile(r"/\*.*?\*/|\s*\n\s*", re.DOTALL)
"""Comments and line ends: nothing in the parts, a string least of all, needs either."""


def served(part: str) -> str:
    """A part as it is served: `/* letters */` and where its lines end is left out."""
    return _FOR_PEOPLE.sub("", (PARTS / f"{part}.css").read_text("utf-8"))


@cache
def style_sheet() -> str:
    """The text of the one for every page."""
    beside = {part for parts in BESIDE.values() for part in parts}
    return _joined(each.stem for each in sorted(PARTS.glob("*.css")) if each.stem not in beside)


@cache
def beside_sheet(name: str) -> str:
    """The text of a small one, of those in `BESIDE`."""
    return _joined(BESIDE[name])


@cache
def link_style_sheet() -> str:
    """The text of the one for pages behind a link."""
    font = base64.b64encode((PARTS.parent / "static" / LINK_FONT).read_bytes()).decode("ascii")
    return _joined(LINK_PARTS).replace(f"url({LINK_FONT})", f"url(data:font/woff2;base64,{font})")


def _joined(parts: Iterable[str]) -> str:
    return "".join(map(served, parts))


SHEETS: Mapping[str, Callable[[], str]] = {
    STYLE_SHEET: style_sheet,
    LINK_STYLE_SHEET: link_style_sheet,
    **{name: partial(beside_sheet, name) for name in BESIDE},
}
"""By their names among the static files."""
