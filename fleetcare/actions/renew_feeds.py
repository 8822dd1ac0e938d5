"""Feeds brought up to date: which of them show what changed, and what stands in them now.

Part of `settle`, the last step of every write, and of the actions that hand a feed out. Not an action itself.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, garage_day, outlooks_of
from fleetcare.actions.ports import Purpose, WriteUnit
from fleetcare.calendar_feed.bay_entries import (
    bay_entries,
    bay_taken,
    marks_worked_on,
    planned_sheets,
    taken_in_bay,
)
from fleetcare.calendar_feed.calm import Shown, shown_lines
from fleetcare.calendar_feed.entries import (
    GARAGE_TOPICS,
    Form,
    booking_entries,
    busy_entries,
    form_of,
    never_taken,
    nothing_due,
    vehicle_entries,
)
from fleetcare.calendar_feed.publishing import Draft, Press, checked_base, draft_of, press_at, publish
from fleetcare.calendar_feed.render import feed_etag, feed_head, later, standing
from fleetcare.calendar_feed.values import FeedContents, FeedEntry, Revision
from fleetcare.calendar_feed.words import BAY_FREE, free_title, names_in_titles
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.errors import NotFound
from fleetcare.fleet.access import BAY
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedChoice
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import ENGLISH, speaking
from fleetcare.language.measure import measuring
from fleetcare.work.order import WorkOrder, sheets_by_visit
from fleetcare.work.record import WorkDone

REMEMBERED = timedelta(days=3 * 365)
"""So long a feed remembers what was withdrawn from it; nothing it shows lies further away."""


def renew_feeds(
    unit: WriteUnit,
    rules: Rules,
    garage: Garage,
    *,
    touched: Collection[str] | None,
    outlooks: Sequence[VehicleOutlook],
    now: datetime,
    base_url: str,
) -> None:
    """Brings the feeds that show these vehicles up to date; every feed if `touched` is None.

    Feeds whose keys have all ended are left as they were. outlooks: vehicles as worked out for today already, which are
    then not worked out again.
    """
    alive = {
        (key.person, key.mark)
        for key in unit.keys(Purpose.FEED)
        if key.replaced_at is None and key.opens(Purpose.FEED, now)
    }
    if alive:
        _Renewal(unit, rules, garage, outlooks, now, base_url).run(alive, touched)
    if touched is None:
        unit.feeds_given()


def renew_feed(
    unit: WriteUnit, rules: Rules, garage: Garage, person: str, mark: str = "", *, now: datetime, base_url: str
) -> bytes:
    """Brings one feed up to date, whether it has a key or not, and returns its bytes; entries as they were keep theirs.

    person, mark: whose (`FeedContents`). Raises NotFound for a person or vehicle that is not there.
    """
    _Renewal(unit, rules, garage, (), now, base_url).run({(person, mark)}, None, sweep=False)
    body = unit.feed(person, mark)
    if body is None:
        raise NotFound("calendar", person or mark)
    return body.body


@dataclass(frozen=True, slots=True)
class _Reader:
    """One feed that is to be: whose, of which vehicles, in which form, under which name. by_hand: those of them that
    are there for this person's visits alone, because they are somebody else's."""

    person: str
    mark: str
    marks: tuple[str, ...]
    form: Form
    head: bytes
    made_for: str
    by_hand: frozenset[str] = frozenset()

    @property
    def key(self) -> tuple[str, str]:
        return self.person, self.mark

    @property
    def own(self) -> tuple[str, ...]:
        """The vehicles of which everything is shown."""
        return tuple(mark for mark in self.marks if mark not in self.by_hand)

    @property
    def is_busy(self) -> bool:
        """It shows when one vehicle, or the bay, is taken, and nothing else."""
        return bool(self.mark)


@dataclass
class _Renewal:
    """One pass over some feeds. What several of them show is worked out, made ready and written once."""

    unit: WriteUnit
    rules: Rules
    garage: Garage
    given: Sequence[VehicleOutlook]
    now: datetime
    base_url: str
    _drafts: dict[tuple[Form, str], tuple[Draft, ...]] = field(default_factory=dict)
    _spells: dict[tuple[Form, tuple[str, ...]], tuple[Draft, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        unit = self.unit
        self.today: date = garage_day(self.garage, self.now)
        self.base = checked_base(self.base_url)
        self.press: Press = press_at(self.now, unit.feed_era())
        # Their meters and components are asked for where a vehicle is looked at; of a thousand it is one or two.
        self.vehicles: dict[str, Vehicle] = {vehicle.mark: vehicle for vehicle in unit.bare_vehicles()}
        self.bookings = unit.bookings()
        self.visits = unit.bay_visits()
        self.orders: dict[str, list[WorkOrder]] = {}
        self.zone = ZoneInfo(self.garage.zone)
        self.names = names_in_titles(list(self.vehicles.values()))
        self.outlooks: dict[str, VehicleOutlook] = {outlook.vehicle.mark: outlook for outlook in self.given}
        self.shown: dict[LineKey, Shown] = {}
        self.work: dict[str, list[WorkDone]] = {}

    def run(self, alive: set[tuple[str, str]], touched: Collection[str] | None, *, sweep: bool = True) -> None:
        """Renews those of these feeds that the change concerns (all if None)."""
        scopes = self.unit.feed_scopes()
        todo = [
            (reader, stale)
            for reader in self._readers(alive)
            if (stale := _stale(reader, scopes.get(reader.key), touched)) is not None
        ]
        if not todo:
            return
        whole = touched is None and sweep
        self._look_at({mark for reader, stale in todo if not reader.is_busy for mark in stale})
        before = {each.key: each for each in self.unit.feed_contents(None if whole else [r.key for r, _ in todo])}
        stored = self.unit.revisions(None if whole else [n for each in before.values() for n in _all_ids(each)])
        ready = [(reader, stale, self._drafts_of(reader, stale)) for reader, stale in todo]
        self.press.knows(
            stored.values() if whole else self.unit.revisions_of({d.uid for _, _, drafts in ready for d in drafts})
        )
        self._store(
            [self._next(reader, stale, drafts, before.get(reader.key), stored) for reader, stale, drafts in ready],
            before,
        )
        if whole:
            held = {number for each in self.unit.feed_contents() for number in _all_ids(each)}
            self.unit.drop_revisions(number for number in stored if number not in held)

    def _readers(self, alive: set[tuple[str, str]]) -> Iterable[_Reader]:
        people = {person.key: person for person in self.unit.people()}
        self.people = {key: person.name for key, person in people.items()}
        worked_on = marks_worked_on(self.visits)
        choices = self.unit.feed_choices()
        seen = _marks_by_person(self.garage, self.vehicles.values())
        hours = self.rules.feeds.refresh_hours
        for person, mark in sorted(alive):
            if mark == BAY:
                yield self._reader(person, mark, tuple(self.vehicles), Form(), feed_head("Bay: days taken", hours))
            elif mark:
                if mark not in self.vehicles:
                    continue
                name = f"{self.vehicles[mark].name}: days taken"
                yield self._reader(person, mark, (mark,), Form(), feed_head(name, hours))
            elif not person:
                form = Form(self.garage.unit, GARAGE_TOPICS, plain=True)
                yield self._reader("", "", tuple(self.vehicles), form, feed_head(self.garage.name, hours))
            elif person in people:
                choice = choices.get(person, FeedChoice())
                marks = tuple(mark for mark in seen.get(person, ()) if not choice.marks or mark in choice.marks)
                head = feed_head(self.garage.name, hours)
                form = form_of(people[person], choice)
                if person in worked_on:
                    # Whoever works on somebody else's vehicle has to know when, whatever else they look at.
                    others = worked_on[person].intersection(self.vehicles).difference(seen.get(person, ()))
                    marks += tuple(sorted(others))
                    form = replace(form, hands=person)
                    yield replace(self._reader(person, "", marks, form, head), by_hand=others)
                else:
                    yield self._reader(person, "", marks, form, head)

    def _reader(self, person: str, mark: str, marks: tuple[str, ...], form: Form, head: bytes) -> _Reader:
        spoken = self.rules.tongues.to(form.language).code
        said = (form.name, self.base, str(self.press.era), head.decode())
        # Another language of the garage writes every feed anew; while it is English, their marks stay as they were.
        made_for = "\n".join(said if spoken == ENGLISH.code else (*said, spoken))
        return _Reader(person, mark, marks, form, head, made_for)

    def _look_at(self, marks: set[str]) -> None:
        """Works out what is not worked out yet, and settles what calendars say of these vehicles' lines."""
        missing = sorted(mark for mark in marks if mark not in self.outlooks)
        if missing:
            found = outlooks_of(self.unit, self.rules, self.today, missing, with_steps=False)
            self.outlooks |= {outlook.vehicle.mark: outlook for outlook in found}
        for done in self.unit.work(marks):
            self.work.setdefault(done.line.mark, []).append(done)
        for order in self.unit.orders(marks):
            self.orders.setdefault(order.mark, []).append(order)
        said = self.unit.shown_lines(marks)
        looked_at = [self.outlooks[mark] for mark in sorted(marks)]
        self.shown = shown_lines(said, looked_at, today=self.today, rules=self.rules.feeds)
        self.unit.put_shown_lines({line: now for line, now in self.shown.items() if said.get(line) != now})
        self.unit.drop_shown_lines([line for line in said if line not in self.shown])

    def _drafts_of(self, reader: _Reader, stale: set[str]) -> list[Draft]:
        """What is to stand in a feed of the vehicles that are looked at, and of no single vehicle."""
        with speaking(self.rules.tongues.to(reader.form.language)), measuring(reader.form.unit):
            return self._drafts_in_words(reader, stale)

    def _drafts_in_words(self, reader: _Reader, stale: set[str]) -> list[Draft]:
        if reader.mark == BAY:
            taken = bay_taken(self.visits, zone=self.zone, today=self.today, rules=self.rules.feeds)
            return self._ready(taken or (never_taken(BAY_FREE, today=self.today),))
        if reader.is_busy:
            vehicle, name = self.vehicles[reader.mark], self.names[reader.mark]
            taken = busy_entries(vehicle, name, self.bookings, today=self.today, rules=self.rules.feeds)
            taken += taken_in_bay(self.visits, vehicle, name, zone=self.zone, today=self.today, rules=self.rules.feeds)
            return self._ready(taken or (never_taken(free_title(name), today=self.today),))
        found = [draft for mark in reader.own if mark in stale for draft in self._of_vehicle(reader.form, mark)]
        for mark in sorted(reader.by_hand & stale):
            theirs = [visit for visit in self.visits if visit.mark == mark and visit.mechanic == reader.person]
            found += self._ready(self._bay_entries(theirs, reader.form, mark))
        return found + list(self._of_spells(reader.form, reader.own))

    def _of_vehicle(self, form: Form, mark: str) -> tuple[Draft, ...]:
        key = (form, mark)
        if key not in self._drafts:
            entries = vehicle_entries(
                self.outlooks[mark],
                self.names[mark],
                form,
                work=self.work.get(mark, []),
                shown=self.shown,
                today=self.today,
                rules=self.rules.feeds,
            )
            entries += self._bay_entries(self.visits, form, mark)
            entries += planned_sheets(
                self.orders.get(mark, []),
                self.outlooks[mark],
                self.names[mark],
                form,
                today=self.today,
                rules=self.rules.feeds,
            )
            self._drafts[key] = tuple(self._ready(entries))
        return self._drafts[key]

    def _bay_entries(self, visits: Sequence[BayVisit], form: Form, mark: str) -> tuple[FeedEntry, ...]:
        return bay_entries(
            visits,
            self.outlooks[mark],
            self.names[mark],
            form,
            people=self.people,
            sheets=sheets_by_visit(self.orders.get(mark, [])),
            zone=self.zone,
            today=self.today,
            rules=self.rules.feeds,
        )

    def _of_spells(self, form: Form, marks: tuple[str, ...]) -> tuple[Draft, ...]:
        key = (form, marks)
        if key not in self._spells:
            vehicles = [self.vehicles[mark] for mark in marks]
            spells = booking_entries(
                self.bookings, vehicles, self.names, form, today=self.today, rules=self.rules.feeds
            )
            self._spells[key] = tuple(self._ready(spells))
        return self._spells[key]

    def _ready(self, entries: Iterable[FeedEntry]) -> list[Draft]:
        return [draft_of(entry, garage_id=self.garage.id, base=self.base) for entry in entries]

    def _next(
        self,
        reader: _Reader,
        stale: set[str],
        drafts: list[Draft],
        was: FeedContents | None,
        stored: dict[int, Revision],
    ) -> tuple[
        _Reader, FeedContents | None, tuple[Revision, ...], tuple[Revision, ...], tuple[tuple[int, datetime], ...]
    ]:
        """A feed with the revisions that stand in it, those set aside, and those gone."""
        current = [stored[number] for number in (*was.entries, *was.aside)] if was else []
        gone = [replace(stored[number], withdrawn_at=at) for number, at in was.gone] if was else []
        stay = set(reader.marks) - stale
        kept = [revision for revision in current if revision.mark in stay]
        if not drafts and not kept:
            shown = outlooks_of(self.unit, self.rules, self.today, reader.own, with_steps=False)
            with speaking(self.rules.tongues.to(reader.form.language)), measuring(reader.form.unit):
                drafts = self._ready((nothing_due(shown, reader.form, today=self.today, rules=self.rules.feeds),))
        ledger = publish([*gone, *current], drafts, self.press, kept=kept)
        stands = standing(ledger.entries, head=reader.head, today=self.today)
        in_it = {revision.uid for revision in stands}
        aside = tuple(r for r in ledger.entries if r.withdrawn_at is None and r.uid not in in_it)
        since = self.press.stamp - REMEMBERED
        left = tuple(
            (r.id, r.withdrawn_at)
            for r in ledger.entries
            if r.id is not None and r.withdrawn_at is not None and r.withdrawn_at > since
        )
        return reader, was, stands, aside, left

    def _store(
        self,
        feeds: list[
            tuple[
                _Reader,
                FeedContents | None,
                tuple[Revision, ...],
                tuple[Revision, ...],
                tuple[tuple[int, datetime], ...],
            ]
        ],
        before: dict[tuple[str, str], FeedContents],
    ) -> None:
        made = self.press.made
        numbers = (
            {(e.uid, e.digest): n for e, n in zip(made, self.unit.add_revisions(made), strict=True)} if made else {}
        )

        def number(revision: Revision) -> int:
            return revision.id if revision.id is not None else numbers[revision.uid, revision.digest]

        for reader, was, stands, aside, gone in feeds:
            etag = feed_etag(reader.head, (revision.digest for revision in stands))
            is_same = was is not None and was.etag == etag
            now = FeedContents(
                person=reader.person,
                mark=reader.mark,
                etag=etag,
                modified_at=was.modified_at if was is not None and is_same else later(self.press.stamp, was),
                head=reader.head,
                form=reader.made_for,
                marks=reader.marks,
                entries=tuple(number(revision) for revision in stands),
                aside=tuple(number(revision) for revision in aside),
                gone=gone,
            )
            if now != was:
                self.unit.put_feed(now)


def _stale(
    reader: _Reader, was: tuple[str, tuple[str, ...]] | None, touched: Collection[str] | None
) -> set[str] | None:
    """Marks whose entries are to be looked at again in this feed; None if the feed stays as it is."""
    if touched is None or was is None or was[0] != reader.made_for:
        return set(reader.marks)
    now, then = set(reader.marks), set(was[1])
    if now == then and now.isdisjoint(touched):
        return None
    return (now & set(touched)) | (now - then)


def _marks_by_person(garage: Garage, vehicles: Collection[Vehicle]) -> dict[str, list[str]]:
    """The vehicles each person is shown, as `marks_seen_by` has it, for everybody in one go."""
    seen: dict[str, list[str]] = {}
    for vehicle in vehicles:
        for person in {vehicle.keeper, *vehicle.drivers} - {garage.list_keeper}:
            seen.setdefault(person, []).append(vehicle.mark)
    seen[garage.list_keeper] = [vehicle.mark for vehicle in vehicles]
    return seen


def _all_ids(contents: FeedContents) -> Iterable[int]:
    return (*contents.entries, *contents.aside, *(number for number, _ in contents.gone))
