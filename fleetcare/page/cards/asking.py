"""Pages that ask for something: groups of fields, what is wrong with one of them, and one button."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from fleetcare.page.cards.frame import Frame, Link, Plate

FieldKind = Literal["text", "digits", "day", "area", "one", "many", "short", "past"]


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing to choose. more: said under it."""

    value: str
    words: str
    is_chosen: bool = False
    more: str = ""


@dataclass(frozen=True, slots=True)
class Field:
    """One field. kind: how it is asked for; `one`, `short` and `past` choose one thing, `many` any number.

    then: with `past`, fields that matter only for the choice `done`. problem: what is wrong with what was given.
    """

    name: str
    label: str
    kind: FieldKind = "text"
    value: str = ""
    hint: str = ""
    choices: tuple[Choice, ...] = ()
    then: tuple[Field, ...] = ()
    is_required: bool = False
    problem: str = ""
    latest: str = ""
    """The last day that can be meant."""
    slug: str = ""
    """What stands for it on the page, where its name does not do."""

    @property
    def id(self) -> str:
        """What stands for it on the page."""
        return self.slug or self.name.replace(".", "-")


@dataclass(frozen=True, slots=True)
class Group:
    """Fields that belong together. is_folded: behind a line that opens them, unless is_open."""

    fields: tuple[Field, ...]
    heading: str = ""
    told: str = ""
    is_folded: bool = False
    is_open: bool = False


@dataclass(frozen=True, slots=True)
class AskCard:
    """A page that asks.

    method: `get` for one that changes nothing and only leads on. said: sentences above the fields. problem: what is
    wrong where no field is to blame. hidden: what the form carries. back: where one came from. has_seal: it changes
    something.
    """

    frame: Frame
    heading: str
    action_url: str
    button: str
    groups: tuple[Group, ...]
    step: str = ""
    plate: Plate | None = None
    said: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    problem: str = ""
    hidden: tuple[tuple[str, str], ...] = ()
    method: Literal["get", "post"] = "post"
    back: Link | None = None
    foot: str = ""

    @property
    def has_seal(self) -> bool:
        """Only what is posted changes anything."""
        return self.method == "post"


def with_problem(groups: tuple[Group, ...], field: str, problem: str) -> tuple[tuple[Group, ...], str]:
    """The groups with the problem at its field, the first of several of that name, and what is left to say above."""
    if not problem:
        return groups, ""
    found = False
    marked = []
    for group in groups:
        fields = []
        for each in group.fields:
            if not found and (each.name == field or any(inner.name == field for inner in each.then)):
                fields.append(replace(each, problem=problem))
                found = True
            else:
                fields.append(each)
        is_here = any(each.problem for each in fields)
        marked.append(replace(group, fields=tuple(fields), is_open=group.is_open or is_here))
    return tuple(marked), "" if found else problem
