"""The child process: a calendar on standard input, its single times as JSON on standard output.

It limits itself before it reads a byte, imports nothing that could reach the network or the store, and is killed by the
kernel if it wants more than it may have. Whatever it says is looked at again by who started it.

    {"events": [{"id", "title", "note", "first", "end", "begins_at", "ends_at", "busy", "cancelled", "single"}],
     "notices": [what], "shown_from": day or null}
    or {"refused": what}

What is said of it is a kind of `told.py` with its facts.

Days are those of the garage, `end` is the first day after; instants are UTC, null for what lasts whole days. A
floating time is the garage's; one that its clock jumps over counts from the clock before the jump, one that it shows
twice is the first (RFC 5545, 3.3.5).
"""

from __future__ import annotations

import hashlib
import json
import os
import signal
import sys
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from fleetcare.calendar_in.content_lines import Refused, decoded, kept_lines
from fleetcare.calendar_in.limits import Limits
from fleetcare.calendar_in.rules import rule_trouble
from fleetcare.calendar_in.told import as_parts, told
from fleetcare.language import Saying

Event = Any
"""An event as the library has it; what its values are is looked at where they are used."""
LONGEST = timedelta(days=366)
TITLE = 300
NOTE = 2000
MOST_NOTICES = 20
_ODD = (ArithmeticError, AssertionError, AttributeError, LookupError, RecursionError, TypeError, ValueError, OSError)
"""What the library raises for calendars that are none. Anything else ends the process, which is noticed as well."""


class _TooSlow(Exception):
    """One event took longer than its share."""


@dataclass(frozen=True, slots=True)
class Task:
    """What is asked of the child: times on the days from `first` up to and without `end`, as seen in `zone`."""

    zone: str
    first: date
    end: date
    charset: str = "utf-8"
    limits: Limits = field(default_factory=Limits)

    def as_text(self) -> str:
        """For the command line of the child."""
        days = {"first": self.first.isoformat(), "end": self.end.isoformat()}
        return json.dumps({"zone": self.zone, **days, "charset": self.charset, "limits": asdict(self.limits)})

    @classmethod
    def from_text(cls, text: str) -> Task:
        """Back from `as_text`."""
        given = json.loads(text)
        days = (date.fromisoformat(given["first"]), date.fromisoformat(given["end"]))
        return cls(given["zone"], *days, given["charset"], Limits(**given["limits"]))


def main(arguments: Sequence[str]) -> None:
    """Entry point of the child. arguments: `Task.as_text()`, and the process id of who started it."""
    task = Task.from_text(arguments[0])
    limit_this_process(task.limits)
    _end_with_the_parent(int(arguments[1]), task.limits)
    try:
        answer = expanded(sys.stdin.buffer.read(), task)
        answer["notices"] = [as_parts(each) for each in answer["notices"]]
    except Refused as refused:
        answer = {"refused": as_parts(refused.said)}
    except MemoryError:
        answer = {"refused": as_parts(told("memory"))}
    sys.stdout.write(json.dumps(answer))
    sys.stdout.flush()
    # While it winds up, Python takes its handlers away; a signal would then end the process as if something were wrong.
    signal.setitimer(signal.ITIMER_REAL, 0)


def limit_this_process(limits: Limits) -> None:
    """Processor time, memory and output of this process from now on; it writes no files and starts nothing."""
    import resource

    for what, most, beyond in (
        # A second more for the hard limit: the signal at the soft one says what it was, at the hard one it is a kill.
        (resource.RLIMIT_CPU, limits.cpu_s, limits.cpu_s + 1),
        (resource.RLIMIT_AS, limits.memory_octets, limits.memory_octets),
        (resource.RLIMIT_FSIZE, limits.result_octets, limits.result_octets),
        (resource.RLIMIT_CORE, 0, 0),
    ):
        resource.setrlimit(what, (most, beyond))


def _end_with_the_parent(parent: int, limits: Limits) -> None:
    """Should who started it be killed, nobody else ends this process; so it looks once a second."""
    left = int(limits.child_s) + 5

    def look(_number: int, _frame: object) -> None:
        nonlocal left
        left -= 1
        if left <= 0 or os.getppid() != parent:
            os._exit(1)

    signal.signal(signal.SIGALRM, look)
    signal.setitimer(signal.ITIMER_REAL, 1, 1)


def expanded(raw: bytes, task: Task) -> dict[str, Any]:
    """What stands at the top of this file. Raises Refused."""
    import icalendar

    lines = kept_lines(
        decoded(raw, task.charset),
        first_day=f"{task.first:%Y%m%d}",
        end_day=f"{task.end:%Y%m%d}",
        limits=task.limits,
    )
    try:
        calendar = icalendar.Calendar.from_ical(lines.text)
    except _ODD:
        raise Refused("form") from None
    notices = [told("zone", name=name[:60]) for name in lines.unknown_zones]
    events = [part for part in calendar.subcomponents if isinstance(part, icalendar.Event)]
    found = _Expansion(task, notices).of(events)
    found.sort(key=lambda entry: (entry["first"], entry["begins_at"] or "", entry["id"]))
    shown_from = lines.shown_from and f"{lines.shown_from[:4]}-{lines.shown_from[4:6]}-{lines.shown_from[6:]}"
    if len(notices) > MOST_NOTICES:
        notices = [*notices[:MOST_NOTICES], told("more", more=len(notices) - MOST_NOTICES)]
    return {"events": found, "notices": notices, "shown_from": shown_from or None}


class _Expansion:
    """Turns events into their single times, each event that repeats by itself and within its share of time."""

    def __init__(self, task: Task, notices: list[Saying]) -> None:
        self._task = task
        self._zone = ZoneInfo(task.zone)
        self._notices = notices
        self._ids: set[str] = set()

    def of(self, events: Sequence[Event]) -> list[dict[str, Any]]:
        """The entries of all events, in any order. Raises Refused if there are too many."""
        series: defaultdict[str, list[Event]] = defaultdict(list)
        for number, event in enumerate(events):
            trouble = self._trouble_with(event)
            if trouble:
                self._note(event, trouble)
                continue
            # Without a UID, which has to be there, an event is known by its place in time and its name.
            uid = _said(event, "UID") or f"{event['DTSTART'].to_ical()!r} {_said(event, 'SUMMARY') or number}"
            series[uid].append(event)
        entries: list[dict[str, Any]] = []
        for uid, parts in series.items():
            entries += self._series(uid, parts)
            if len(entries) > self._task.limits.entries:
                first, end = self._task.first.isoformat(), self._task.end.isoformat()
                raise Refused("entries", most=self._task.limits.entries, first=first, end=end)
        return entries

    def _series(self, uid: str, parts: list[Event]) -> list[dict[str, Any]]:
        repeats = any(name in part for part in parts for name in ("RRULE", "RDATE", "RECURRENCE-ID"))
        if not repeats and len(parts) == 1:
            entry = self._entry(uid, "", parts[0], _moment(parts[0], "DTSTART"), _end_of(parts[0]), single=True)
            return [entry] if entry else []
        try:
            with _share_of_time(self._task.limits.series_s):
                return self._repeated(uid, parts)
        except _TooSlow:
            self._note(parts[0], told("slow"))
        except _ODD:
            self._note(parts[0], told("odd-repeat"))
        return []

    def _repeated(self, uid: str, parts: list[Event]) -> list[dict[str, Any]]:
        import icalendar
        import recurring_ical_events

        alone = icalendar.Calendar()
        for part in parts:
            alone.add_component(part)
        day = timedelta(days=1)
        found = recurring_ical_events.of(alone).between(self._task.first - day, self._task.end + day)
        if len(found) > self._task.limits.entries_of_one:
            self._note(parts[0], told("repeats", most=self._task.limits.entries_of_one))
            return []
        repeats = any(name in part for part in parts for name in ("RRULE", "RDATE"))
        entries = []
        for each in found:
            which = _moment(each, "RECURRENCE-ID") if repeats else None
            entry = self._entry(
                uid, _moment_text(which), each, _moment(each, "DTSTART"), _moment(each, "DTEND"), single=not repeats
            )
            if entry:
                entries.append(entry)
        return entries

    def _entry(
        self, uid: str, which: str, event: Event, start: date, end: date, *, single: bool
    ) -> dict[str, Any] | None:
        """One single time; None if it does not touch the days looked at."""
        if isinstance(start, datetime) or isinstance(end, datetime):
            begins_at, ends_at = self._instant(start), self._instant(end)
            first = begins_at.astimezone(self._zone).date()
            last_at = max(begins_at, ends_at - timedelta(microseconds=1))
            after = last_at.astimezone(self._zone).date() + timedelta(days=1)
            moments: tuple[str, str] | None = (_utc_text(begins_at), _utc_text(ends_at))
        else:
            first, after, moments = start, max(end, start + timedelta(days=1)), None
        if after <= self._task.first or first >= self._task.end:
            return None
        return {
            "id": self._own_id(uid, which, start),
            "title": _said(event, "SUMMARY")[:TITLE],
            "note": _said(event, "DESCRIPTION")[:NOTE],
            "first": first.isoformat(),
            "end": after.isoformat(),
            "begins_at": moments and moments[0],
            "ends_at": moments and moments[1],
            # What takes no time keeps nobody busy.
            "busy": _said(event, "TRANSP").upper() != "TRANSPARENT" and not (moments and moments[0] == moments[1]),
            "cancelled": _said(event, "STATUS").upper() == "CANCELLED",
            "single": single,
        }

    def _own_id(self, uid: str, which: str, start: date) -> str:
        """The same for the same event, and for the same repeat of it wherever it is moved to."""
        made = hashlib.sha256(f"{uid}\0{which}".encode("utf-8", "replace")).hexdigest()[:32]
        if made in self._ids:  # a change to “this and all that follow” gives them all one name
            made = hashlib.sha256(f"{uid}\0{which}\0{_moment_text(start)}".encode("utf-8", "replace")).hexdigest()[:32]
        self._ids.add(made)
        return made

    def _instant(self, moment: date) -> datetime:
        if not isinstance(moment, datetime):
            moment = datetime(moment.year, moment.month, moment.day)  # noqa: DTZ001 - it floats, as the day does
        return (moment if moment.tzinfo else moment.replace(tzinfo=self._zone, fold=0)).astimezone(UTC)

    def _trouble_with(self, event: Event) -> Saying | None:
        """Why an event is left out; None if it is taken."""
        try:
            length = self._instant(_end_of(event)) - self._instant(_moment(event, "DTSTART"))
            rules = event.get("RRULE", [])
            found = [rule_trouble(rule, self._task.limits) for rule in (rules if isinstance(rules, list) else [rules])]
        except _ODD:
            return told("odd-time")
        if length < timedelta(0):
            return told("backwards")
        if length > LONGEST:
            return told("long")
        if event.errors and any(name in ("RRULE", "RDATE", "EXDATE", "RECURRENCE-ID") for name, _ in event.errors):
            return told("odd-repeat")
        return next((trouble for trouble in found if trouble is not None), None)

    def _note(self, event: Event, trouble: Saying) -> None:
        title = " ".join(_said(event, "SUMMARY").split())[:60]
        self._notices.append(told("left-out", title=title, why=trouble) if title else told("untitled", why=trouble))


@contextmanager
def _share_of_time(seconds: float) -> Iterator[None]:
    """Raises _TooSlow after so much processor time. Not time on the wall: a busy machine must not change the result."""

    def ring(_number: int, _frame: object) -> None:
        raise _TooSlow

    before = signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def _said(event: Event, name: str) -> str:
    """A text of an event, empty if it has none; the first, if it stands there more than once."""
    value = event.get(name, "")
    return str(value[0] if isinstance(value, list) else value)


def _moment(event: Event, name: str) -> date:
    """A day or a time of an event. Raises one of _ODD if it is neither."""
    moment = event[name].dt
    if not isinstance(moment, date):
        raise TypeError("neither a day nor a time")
    return moment


def _end_of(event: Event) -> date:
    start = _moment(event, "DTSTART")
    if "DTEND" in event:
        return _moment(event, "DTEND")
    if "DURATION" in event:
        length: timedelta = event["DURATION"].dt
        if not isinstance(start, datetime) and length % timedelta(days=1):
            start = datetime(start.year, start.month, start.day)  # noqa: DTZ001 - it floats, as the day does
        return start + length
    return start if isinstance(start, datetime) else start + timedelta(days=1)


def _moment_text(moment: date | None) -> str:
    if moment is None:
        return ""
    if isinstance(moment, datetime) and moment.tzinfo is not None:
        return _utc_text(moment)
    return moment.isoformat()


def _utc_text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")
