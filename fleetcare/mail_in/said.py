"""What a person wrote in a mail, without what their program put around it: quoted text, signature, markup."""

from __future__ import annotations

import re
from html.parser import HTMLParser

MOST_LINES = 200
_SIGNATURE = re.compile(r"--\s?|__+|\u2014\u2014?")
# Programs that do not mark quoted text line by line put one of these above it; below stands the letter answered to.
_QUOTE_BEGINS = re.compile(
    r"[-_]{3,}.*[-_]{3,}|_{10,}|[-]{10,}|(?:From|Von|De|Da|Van|Fra|Fr\u00e5n|Od):\s.*", re.IGNORECASE
)
_BLOCKS = re.compile(r"address|article|br|d[dlt]|div|h[1-6r]|li|[ou]l|p|pre|section|table|t[dhr]")
_UNSHOWN = frozenset(("blockquote", "head", "script", "style", "title", "template"))
_QUOTE_NAMES = re.compile(r"quote|moz-cite-prefix|divRplyFwdMsg|appendonsend", re.IGNORECASE)
_VOID = re.compile(r"area|base|br|col|embed|hr|img|input|link|meta|source|track|wbr")


def lines_said(text: str) -> tuple[str, ...]:
    """The lines that the sender typed, trimmed, none empty: nothing quoted, and nothing from the signature on."""
    rows = [row.strip("\ufeff \t\u00a0\u200b\r") for row in text.splitlines()]
    said: list[str] = []
    for at, row in enumerate(rows):
        if row.startswith(">") or not row:
            continue
        if _SIGNATURE.fullmatch(row) or _QUOTE_BEGINS.fullmatch(row):
            break
        if not _introduces_a_quote(rows, at):
            said.append(row)
        if len(said) >= MOST_LINES:
            break
    return tuple(said)


def text_of_html(html: str) -> str:
    """The text of an HTML mail, one line for each block, without what is quoted in it."""
    reader = _TextReader()
    reader.feed(html)
    reader.close()
    return "".join(reader.pieces)


def _introduces_a_quote(rows: list[str], at: int) -> bool:
    """Whether that row belongs to the words above a quote, `On 14 April Teo wrote:`, which may take two rows."""
    for here in (at, at + 1):
        if here >= len(rows) or not rows[here] or rows[here].startswith(">"):
            return False
        if rows[here].endswith(":"):
            below = next((row for row in rows[here + 1 :] if row), "")
            return below.startswith(">")
    return False


class _TextReader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.pieces: list[str] = []
        self._hidden: list[str] = []
        """Tags that are open since an element that is not shown; empty while what is read is shown."""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if _BLOCKS.fullmatch(tag):
            self.pieces.append("\n")
        if _VOID.fullmatch(tag):
            return
        names = " ".join(value or "" for name, value in attrs if name in ("class", "id"))
        if self._hidden or tag in _UNSHOWN or _QUOTE_NAMES.search(names):
            self._hidden.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in self._hidden:
            # What was left open inside is closed with it.
            while self._hidden.pop() != tag:
                pass
        if _BLOCKS.fullmatch(tag):
            self.pieces.append("\n")

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.pieces.append(re.sub(r"\s+", " ", data))
