"""Every error that is raised on purpose.

    FleetcareError
    ├── BadInput                 somebody gave something that cannot be taken; nothing was changed
    │   ├── BadReading           a reading that cannot be taken as it stands
    │   ├── BadFile              a file with one or more faults, each with its line
    │   ├── BadSettings          the settings of the home or the environment
    │   ├── BadBook              a row of the interval book that cannot work
    │   ├── BadStep              a step that a work order cannot take from where it stands
    │   ├── BadFinding           a finding that cannot be taken: no place, no such grade, a value that cannot be
    │   └── BadPhoto             a picture that cannot be read, or is too large
    ├── NotFound                 no such vehicle, service, person ...; the nearest name is offered
    ├── NotAllowed               the key does not open this
    ├── Clash                    two things that cannot both be (two vehicles with one mark)
    │   └── Overtaken            whoever sent it was shown how it stood before somebody else changed it
    ├── StoreTrouble             the database cannot be read or written now
    │   ├── StoreBusy            another process holds it; trying again makes sense
    │   ├── StoreFull            there is no room left
    │   └── StoreDamaged         it is not whole; a backup is needed
    ├── MailboxTrouble           the mailbox for answers could not be read; what lies there is taken the next time
    ├── SearchTrouble            the search for bay days came to grief; what is planned stays as it is
    ├── CalendarTrouble          somebody's calendar could not be read by its URL; the last good copy stays
    └── DeliveryFailed           a letter was not taken; `permanent` says whether trying again is any use

An error carries facts; the entry point (web, cli, timetable) turns them into words. `str(error)` is the one
plain sentence that says what is wrong and what to do, in English, as logs and the API have it; `error.words()` says
it in the language in force.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fleetcare.language import Quoted, Saying, saying, together, tr


class FleetcareError(Exception):
    """Root of everything this program raises on purpose."""

    def words(self) -> str:
        """What is wrong and what to do, in the language in force."""
        return " ".join(tr(part) for part in self.args if isinstance(part, str) and part)

    @property
    def said(self) -> Saying:
        """The same, for whoever says it as a part of something else."""
        return Saying("{words}", {"words": self.words})


class BadInput(FleetcareError):
    """Something given cannot be taken. `field` names it, `remedy` says what to give instead."""

    def __init__(self, what: str, *, remedy: str = "", field: str = "") -> None:
        self.what: str = saying(what)
        self.remedy: str = saying(remedy)
        self.field = field
        super().__init__(f"{what} {remedy}".strip())

    def words(self) -> str:
        """What is wrong and what to give instead, in the language in force."""
        return f"{tr(self.what)} {tr(self.remedy)}".strip()


class BadReading(BadInput):
    """A reading that cannot be taken as it stands."""


class BadSettings(BadInput):
    """A setting in settings.toml or the environment is wrong or unknown."""


class BadBook(BadInput):
    """A row of the interval book that cannot work."""


class BadStep(BadInput):
    """A step that a work order cannot take from where it stands."""


class BadFinding(BadInput):
    """A finding that cannot be taken: no place, no such grade, a value that cannot be."""


class BadPhoto(BadInput):
    """A picture that cannot be read, or is too large."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with one file: where (1-based line, 0 if the file as a whole), what, and what to write."""

    file: str
    line: int
    what: str
    instead: str

    def __str__(self) -> str:
        place = f"{self.file}, line {self.line}" if self.line else self.file
        return f"{place}: {self.what} {self.instead}".strip()

    def words(self) -> str:
        """The same in the language in force."""
        place = tr("{file}, line {line}", file=self.file, line=self.line) if self.line else self.file
        return f"{place}: {tr(self.what)} {tr(self.instead)}".strip()


class BadFile(BadInput):
    """A file that has faults. All of them are listed; nothing was taken from it."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def words(self) -> str:
        """Every fault on a line of its own, in the language in force."""
        return "\n".join(fault.words() for fault in self.faults)


class NotFound(FleetcareError):
    """There is no such thing; `nearest` is what may have been meant."""

    def __init__(self, kind: str, given: str, known: Iterable[str] = ()) -> None:
        self.kind = kind
        self.given = given
        self.nearest = _nearest(given, known)
        sayings = [saying("There is no {kind} called {given}.", kind=saying(kind), given=shown(given))]
        if self.nearest:
            sayings.append(saying("Did you mean {nearest}?", nearest=self.nearest))
        self._sayings = tuple(sayings)
        super().__init__(" ".join(sayings))

    def words(self) -> str:
        """That there is none, and what may have been meant, in the language in force."""
        return " ".join(tr(each) for each in self._sayings)


class NotAllowed(FleetcareError):
    """The key given does not open this."""


class Clash(FleetcareError):
    """Two things that cannot both be."""


class Overtaken(Clash):
    """Whoever sent it was shown how it stood before somebody else changed it; nothing was changed by it."""


class StoreTrouble(FleetcareError):
    """The database cannot be read or written now; nothing was changed."""


class StoreBusy(StoreTrouble):
    """Another process holds the database; trying again makes sense."""


class StoreFull(StoreTrouble):
    """There is no room left on the disk."""


class StoreDamaged(StoreTrouble):
    """The database is not whole."""


class DeliveryFailed(FleetcareError):
    """A letter was not taken by the mail server.

    `permanent`: trying again is of no use. `server_away`: it is the server's trouble and none of the letter's, so the
    next letter would fare no better now.
    """

    def __init__(self, answer: str, *, permanent: bool, server_away: bool = False) -> None:
        self.answer = answer
        self.permanent = permanent
        self.server_away = server_away
        super().__init__(answer)


class MailboxTrouble(FleetcareError):
    """The mailbox that answers by mail are read from could not be read now; nothing in it is lost."""


class SearchTrouble(FleetcareError):
    """The search for bay days could not be begun or came to grief; nothing was changed."""


class CalendarTrouble(FleetcareError):
    """A calendar elsewhere could not be read; what was read before stays. Names its host at most, never its URL."""

    def __init__(self, what: str, *, remedy: str = "") -> None:
        self.what: str = saying(what)
        self.remedy: str = saying(remedy)
        super().__init__(f"{what} {remedy}".strip())

    def words(self) -> str:
        """What is wrong and what to do, in the language in force."""
        return tr(self.said)

    @property
    def said(self) -> Saying:
        """The same, as it can be kept."""
        return together(self.what, self.remedy)


def shown(text: str, limit: int = 80) -> str:
    """What somebody typed, quoted for a message: control characters escaped, at most `limit` characters."""
    safe = "".join(ch if ch.isprintable() else " " for ch in text[: limit + 1])
    return Quoted(f"{safe[:limit]}…" if len(text) > limit else safe)


def _nearest(given: str, known: Iterable[str]) -> str | None:
    by_fold = {name.casefold(): name for name in known}
    close = difflib.get_close_matches(given.casefold(), list(by_fold), n=1, cutoff=0.6)
    return by_fold[close[0]] if close else None
