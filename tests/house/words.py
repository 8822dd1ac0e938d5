"""Words that must not stand somewhere: traces of one machine in the repository, and labels that pages never use."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser

# Each pattern is written so that it does not find itself. A number behind "work" is the page of a sheet.
TRACES = {
    "a folder of somebody's machine": r"(?<![\w.~-])/(?:work/(?!\d+\b)|(?:home|Users|root|mnt|media)/)[\w.-]",
    "a folder outside the repository": r"(?<![\w/.-])sh[a]red/",
    "a package index of one's own": r"(?:extra-)?index[_-]url\s*[=\s]|PIP_(?:EXTRA_)?INDEX|trusted[_-]host\s*[=\s]",
    "a machine of a private network": r"\b(?:10\.\d+|192\.168|172\.(?:1[6-9]|2\d|3[01]))\.\d+\.\d+\b|\bhost\.docker\.",
}

LABELS = {
    "due soon": "window ahead",
    "overdue": "past late",
    "status": "what it is",
    "dashboard": "Road ahead",
    "overview": "Road ahead",
    "asset": "vehicle",
    "assets": "vehicles",
    "fleet": "vehicles",
    "user": "person",
    "users": "people",
    "owner": "keeper",
    "admin": "who keeps the list",
    "appointment": "bay day",
    "slot": "bay day",
    "tentative": "pencilled",
    "estimate": "reckoned",
    "estimated": "reckoned",
    "prediction": "likely",
    "predicted": "likely",
    "smart": "nothing",
    "submit": "save",
    "alert": "letter",
    "alerts": "letters",
    "notification": "letter",
    "notifications": "letters",
    "ticket": "service",
    "task": "service",
    "tasks": "services",
    "to-do": "service",
    "downtime": "stands",
    "unavailable": "stands",
    "login": "come in",
    "log in": "come in",
    "log out": "leave",
    "sign up": "come in",
    "account": "your calendar",
    "error": "what happened, and what to do",
    "invalid": "what happened, and what to do",
    "failed": "what happened, and what to do",
    "oops": "what happened, and what to do",
    "health": "the sentence with the figure",
    "score": "the sentence with the figure",
    "kpi": "the sentence with the figure",
    "compliance": "the sentence with the figure",
}
"""Words that are no label here, with what is said instead."""

_READ_OUT = frozenset({"alt", "aria-label", "aria-description", "content", "placeholder", "title", "value"})
"""Attributes whose text a reader sees or hears."""


def traces_in(text: str) -> Iterator[tuple[int, str, str]]:
    """Line, kind and wording of each trace of one machine."""
    for number, line in enumerate(text.splitlines(), start=1):
        for kind, pattern in TRACES.items():
            for match in re.finditer(pattern, line):
                yield number, kind, match.group(0)


def seen_text(template: str) -> str:
    """The fixed text of a template that a reader sees: without statements and values, tags, styles and scripts."""
    bare = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", " ", template, flags=re.DOTALL)
    reader = _Reader()
    reader.feed(bare)
    reader.close()
    return " ".join(" ".join(reader.parts).split())


def wrong_labels_in(template: str) -> list[str]:
    """Words a reader of the template would see that are no labels here; an exclamation mark counts as one."""
    text = seen_text(template)
    found = [word for word in LABELS if re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", text, re.IGNORECASE)]
    return found + (["!"] if "!" in text else [])


class _Reader(HTMLParser):
    """Collects what is shown. Plain text passes through it unchanged."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.parts: list[str] = []
        self._unseen = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in {"style", "script"}:
            self._unseen += 1
        # The content of <meta> is for machines, but for the description that search engines and chats show.
        read_out = _READ_OUT - ({"content"} if ("name", "description") not in attrs else set())
        hidden = ("type", "hidden") in attrs
        self.parts += [value for name, value in attrs if name in read_out and value and not hidden]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in {"style", "script"} and self._unseen:
            self._unseen -= 1

    def handle_data(self, data: str) -> None:
        if not self._unseen:
            self.parts.append(data)
