"""The style sheets, put together once from the parts in `style/`, in the order of their names.

One is for every page, a small one for the pages that a link opens.

One room, one part, so that what belongs to a page is found and removed in one place. The order matters: what holds for
phones and for paper comes last and overrules what stands before it.

Who opens a link in a letter has nothing of ours at hand, and often a thin line: the small sheet has the parts that
those pages use and the one font file they need in it, so that page and sheet are all that is fetched.
"""

from __future__ import annotations

import base64
from functools import cache
from pathlib import Path

PARTS = Path(__file__).parent / "style"
STYLE_SHEET = "fleetcare.css"
"""Its name among the static files; `fonts/` in it is beside it there."""
LINK_STYLE_SHEET = "link-pages.css"
"""The same of the small one."""
LINK_PARTS = (
    *("05-fonts", "10-inks", "20-letters", "25-frame", "30-drawings", "35-plates", "45-vehicle"),
    *("60-choosing", "65-coming-in", "70-reading", "80-phone", "90-paper"),
)
"""What the pages that a link opens use."""
LINK_FONT = "fonts/atkinson-hyperlegible-next-latin-wght-normal.woff2"
"""The one font file that they use, unless a name has letters from outside Latin-1."""


@cache
def style_sheet() -> str:
    """The text of the style sheet."""
    return "".join(part.read_text("utf-8") for part in sorted(PARTS.glob("*.css")))


@cache
def link_style_sheet() -> str:
    """The text of the small one."""
    text = "".join((PARTS / f"{part}.css").read_text("utf-8") for part in LINK_PARTS)
    font = base64.b64encode((PARTS.parent / "static" / LINK_FONT).read_bytes()).decode("ascii")
    return text.replace(f"url({LINK_FONT})", f"url(data:font/woff2;base64,{font})")


SHEETS = {STYLE_SHEET: style_sheet, LINK_STYLE_SHEET: link_style_sheet}
"""By their names among the static files."""
