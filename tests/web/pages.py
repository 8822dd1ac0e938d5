"""A page as a browser without scripts takes it: its forms with what they carry, its addresses, its words."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

import httpx

_ADDRESSES = {"href", "src", "action", "formaction", "poster", "data", "srcset", "content"}
_SILENT = {"style", "script", "title"}


@dataclass
class PageForm:
    """One form: where it is sent, and what it carries if nothing is touched but one button."""

    action: str
    method: str
    fields: dict[str, str] = field(default_factory=dict)
    choices: dict[str, list[str]] = field(default_factory=dict)
    buttons: list[dict[str, str]] = field(default_factory=list)
    ticked: dict[str, list[str]] = field(default_factory=dict)
    """Boxes by name, each with those values that are ticked."""

    def as_sent(self, **typed: str | list[str]) -> dict[str, str | list[str]]:
        """As `filled`, with every box as a browser sends it: each value that is ticked, and none that is not."""
        plain = {name: value for name, value in self.filled().items() if name not in self.ticked}
        return {**plain, **{name: values for name, values in self.ticked.items() if values}, **typed}

    def filled(self, **typed: str) -> dict[str, str]:
        """What is sent once these fields are typed and the first button is pressed."""
        pressed = self.buttons[0] if self.buttons else {}
        named = {pressed["name"]: pressed.get("value", "")} if pressed.get("name") else {}
        return {**self.fields, **named, **typed}


class Page(HTMLParser):
    """Reads one page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.forms: list[PageForm] = []
        self.addresses: list[str] = []
        self._words: list[str] = []
        self._inside: list[str] = []
        self._open: PageForm | None = None
        self._writing: str = ""
        self.feed(text)

    @property
    def words(self) -> str:
        """What is read on the page, with plain blanks."""
        return " ".join("".join(self._words).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Takes the addresses and the fields."""
        given = {name: value or "" for name, value in attrs}
        self.addresses += [value for name, value in given.items() if name in _ADDRESSES and value]
        if tag in _SILENT:
            self._inside.append(tag)
        if tag == "form":
            self._open = PageForm(given["action"], given.get("method", "get"))
            self.forms.append(self._open)
        elif self._open is not None and tag == "button":
            self._open.buttons.append(given)
        elif self._open is not None and tag == "textarea":
            self._writing = given["name"]
            self._open.fields[self._writing] = ""
        elif self._open is not None and tag == "input" and "name" in given:
            if given.get("type") == "radio":
                self._open.choices.setdefault(given["name"], []).append(given["value"])
                if "checked" not in given:
                    return
            if given.get("type") == "checkbox":
                boxes = self._open.ticked.setdefault(given["name"], [])
                boxes += [given.get("value", "")] if "checked" in given else []
            self._open.fields[given["name"]] = given.get("value", "")

    def handle_endtag(self, tag: str) -> None:
        """Leaves forms and what is not read."""
        if tag == "form":
            self._open = None
        if tag == "textarea":
            self._writing = ""
        if self._inside and self._inside[-1] == tag:
            self._inside.pop()

    def handle_data(self, data: str) -> None:
        """Keeps what is read, and what stands in a field of several lines."""
        if self._open is not None and self._writing:
            self._open.fields[self._writing] += data
        if not self._inside:
            self._words.append(data)


def page_of(answer: httpx.Response) -> Page:
    """The page that came."""
    return Page(answer.text)
