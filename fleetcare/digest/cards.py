"""What a letter shows, as plain values: both twins are made from the same cards, so they say the same."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.digest.rod import RodCell


@dataclass(frozen=True, slots=True)
class Words:
    """A run of text; `strong` for what a reader must not miss."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class LinkCard:
    """A link: what it says and where it leads."""

    words: str
    url: str


@dataclass(frozen=True, slots=True)
class ButtonCard:
    """The one thing to do, with the sentence under it."""

    words: str
    url: str
    below: str


@dataclass(frozen=True, slots=True)
class LineCard:
    """One service: its title, the rod in both forms, and in words what the rod shows."""

    mark: str
    title: str
    rod: tuple[RodCell, ...]
    """Empty if the wear cannot be said."""
    gauge: str
    worn: str
    dates: str
    standing: str
    """`6 days past late`, `Window open`, or nothing while it is ahead."""
    is_past_late: bool


@dataclass(frozen=True, slots=True)
class SectionCard:
    """One stretch of the letter."""

    heading: str
    lines: tuple[LineCard, ...] = ()
    notes: tuple[str, ...] = ()
    link: LinkCard | None = None


@dataclass(frozen=True, slots=True)
class LetterCard:
    """A whole letter. Foot lines may carry a link behind their text."""

    garage: str
    dated: str
    subject: str
    lead: tuple[Words, ...]
    button: ButtonCard | None = None
    more_links: tuple[ButtonCard, ...] = ()
    sections: tuple[SectionCard, ...] = ()
    foot: tuple[tuple[str, LinkCard | None], ...] = ()
    html_foot: tuple[str, ...] = ()
    plain_foot: tuple[str, ...] = ()
    """What differs between the twins: how to read the rod, in strokes or in letters."""
