"""The nouns of a garage's files, which its rows refer to: garage, people, interval book, vehicles; and their names."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field

from fleetcare.book.rows import IntervalBook
from fleetcare.errors import BadFile, Fault, shown
from fleetcare.fleet.busy import CalendarOwner, CalendarSource
from fleetcare.fleet.calendar_address import calendar_address
from fleetcare.fleet.component import Component
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.tag_reading import TagDoubt
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.intake.csv_rows import Found, Place
from fleetcare.intake.known import KnownNames, Roster, unknown
from fleetcare.intake.toml_files import TomlDocument, garage_in, loose_names, person_in, vehicle_in
from fleetcare.language import saying

GARAGE_TABLES = ("garage", "person", "vehicle")
BOOK_TABLE = "rows"

ParseBook = Callable[[str, str], IntervalBook]
"""Takes the text and the name of a garage's own interval book; gives the book in force with it. Raises BadFile."""
CheckTag = Callable[[Component, VehicleKind], tuple[TagDoubt, ...]]
"""What is wrong with the tag of a component on that kind of vehicle."""


@dataclass(slots=True)
class Nouns:
    """The tables that rows refer to, as they are read: garage, people, interval book, vehicles."""

    known: KnownNames
    found: Found
    zones: Collection[str]
    garage: Garage | None = None
    garage_place: Place | None = None
    people: list[Person] = field(default_factory=list)
    vehicles: list[Vehicle] = field(default_factory=list)
    calendars: list[CalendarSource] = field(default_factory=list)
    vehicle_at: dict[str, tuple[TomlDocument, int]] = field(default_factory=dict)
    half_read: set[str] = field(default_factory=set)
    book: IntervalBook | None = None
    book_text: str | None = None
    book_file: str = ""

    def read_garage(self, documents: list[TomlDocument]) -> None:
        """At most one [garage]."""
        for document in documents:
            if "garage" not in document.tables:
                continue
            place = Place(document.file, document.line("garage"))
            if self.garage_place is not None:
                what = saying("There is a [garage] in {file} already.", file=self.garage_place.file)
                self.found.faults.append(place.fault(what, "Take one of the two away."))
                continue
            self.garage_place = place
            try:
                self.garage = garage_in(document, self.zones)
            except BadFile as bad:
                self.found.faults += bad.faults

    def read_people(self, documents: list[TomlDocument]) -> None:
        """Every [[person]]; two with one key are a fault."""
        seen: list[tuple[str, Place]] = []
        garage = self.garage or self.known.garage
        for document, place in self._entries(documents, "person", ("key",)):
            try:
                person = person_in(document, place, garage, self.zones)
            except BadFile as bad:
                self._half(bad, document.tables["person"][place], ("key",))
                continue
            seen.append((person.key, Place(document.file, document.line("person", place))))
            self.people.append(person)
            self._note_calendar(document.tables["person"][place], CalendarOwner.PERSON, person.key)
        self.found.faults += _twice(seen, "person")

    def read_book(self, documents: list[TomlDocument], texts: dict[str, str], parse_book: ParseBook | None) -> None:
        """At most one file with rows of the interval book, which holds nothing else."""
        for document in documents:
            if BOOK_TABLE not in document.tables:
                continue
            others = [name for name in GARAGE_TABLES if name in document.tables]
            if others or self.book_file:
                what = (
                    saying("Rows of the interval book stand beside {table}.", table=others[0])
                    if others
                    else saying("Rows of the interval book stand in two files.")
                )
                instead = "Put them into one file of their own."
                self.found.faults.append(document.fault(what, instead, BOOK_TABLE))
                continue
            self.book_text, self.book_file = texts[document.file].removeprefix("\ufeff"), document.file
            if parse_book is not None:
                try:
                    self.book = parse_book(self.book_text, document.file)
                except BadFile as bad:
                    self.found.faults += bad.faults

    def read_vehicles(self, documents: list[TomlDocument]) -> None:
        """Every [[vehicle]]; a mark or a name that means two of them is a fault."""
        garage = self.garage or self.known.garage
        seen: list[tuple[str, Place]] = []
        book = self.book or self.known.book
        for document, place in self._entries(documents, "vehicle", ("mark", "name")):
            try:
                vehicle = vehicle_in(
                    document, place, unit=garage.unit if garage else None, duties=self.known.duties, book=book
                )
            except BadFile as bad:
                self._half(bad, document.tables["vehicle"][place], ("mark", "name"))
                continue
            here = Place(document.file, document.line("vehicle", place, "mark"))
            seen.append((vehicle.mark, here))
            if vehicle.name.casefold() != vehicle.mark.casefold():
                seen.append((vehicle.name, Place(document.file, document.line("vehicle", place, "name"))))
            if vehicle.mark not in self.vehicle_at:
                self.vehicles.append(vehicle)
                self._note_calendar(document.tables["vehicle"][place], CalendarOwner.VEHICLE, vehicle.mark)
                self.vehicle_at[vehicle.mark] = (document, place)
        self.found.faults += _twice(seen, "vehicle")
        coming = {vehicle.mark for vehicle in self.vehicles}
        staying = {
            name.casefold(): vehicle
            for vehicle in self.known.vehicles
            if vehicle.mark not in coming
            for name in (vehicle.name, vehicle.mark)
        }
        for name, at in seen:
            other = staying.get(name.casefold())
            if other is not None:
                what = saying(
                    "{name} ({mark}) is called {name_2} already.",
                    name=other.name,
                    mark=other.mark,
                    name_2=shown(name, 40),
                )
                self.found.faults.append(at.fault(what, "Give one of the two another name."))

    def roster(self) -> Roster:
        """What the words in the rows may mean."""
        return Roster.of(
            self.known,
            vehicles=self.vehicles,
            people=[person.key for person in self.people],
            half_read=self.half_read,
            book=self.book,
            unit=self.garage.unit if self.garage else None,
        )

    def check_names(self, roster: Roster) -> None:
        """People, vehicles, kinds and services that garage and vehicles name must be there."""
        keeper = self.garage.list_keeper if self.garage else ""
        if keeper and self.garage_place is not None and not self._is_person(keeper, roster):
            bad = unknown("person", keeper, roster.people)
            self.found.faults.append(self.garage_place.fault(saying("list_keeper: {what}", what=bad.what), bad.remedy))
        for vehicle in self.vehicles:
            document, place = self.vehicle_at[vehicle.mark]
            at = ("vehicle", place)
            if vehicle.keeper and not self._is_person(vehicle.keeper, roster):
                bad = unknown("person", vehicle.keeper, roster.people)
                self.found.faults.append(
                    document.fault(saying("keeper: {what}", what=bad.what), bad.remedy, *at, "keeper")
                )
            for index, driver in enumerate(vehicle.drivers):
                if not self._is_person(driver, roster):
                    bad = unknown("person", driver, roster.people)
                    self.found.faults.append(
                        document.fault(saying("drivers: {what}", what=bad.what), bad.remedy, *at, "drivers", index)
                    )
            for index, mark in enumerate(vehicle.towed_by):
                if mark not in roster.vehicles and mark.casefold() not in roster.half_read:
                    bad = unknown("vehicle", mark, roster.vehicles)
                    self.found.faults.append(
                        document.fault(saying("towed_by: {what}", what=bad.what), bad.remedy, *at, "towed_by", index)
                    )
            if roster.book is not None:
                self._check_book(vehicle, roster.book, roster.component_kinds(), document, at)

    def note_doubts(self, vin_doubts: Callable[[str], tuple[str, ...]] | None) -> None:
        """Warnings: an odd VIN, a vehicle that nobody can read."""
        for vehicle in self.vehicles:
            document, place = self.vehicle_at[vehicle.mark]
            doubts = vin_doubts(vehicle.vin) if vin_doubts is not None and vehicle.vin else ()
            self.found.warnings += [
                document.fault(
                    saying("vin of {name}: {doubt}", name=vehicle.name, doubt=doubt),
                    "It is kept as it stands.",
                    "vehicle",
                    place,
                    "vin",
                )
                for doubt in doubts
            ]
            if not vehicle.meters and vehicle.kind is not VehicleKind.TRAILER:
                what = saying("{name} has no meter; its services by distance wait for one.", name=vehicle.name)
                self.found.warnings.append(document.fault(what, "Add [[vehicle.meter]].", "vehicle", place))

    def check_tags(self, tag_doubts: CheckTag | None) -> None:
        """Values of a tag that cannot be are faults; words that cannot be read are warnings, and kept."""
        if tag_doubts is None:
            return
        for vehicle in self.vehicles:
            document, place = self.vehicle_at[vehicle.mark]
            for at, component in enumerate(vehicle.components):
                path = ("vehicle", place, "component", at)
                for doubt in tag_doubts(component, vehicle.kind):
                    where = (*path, "facts", doubt.place) if doubt.place >= 0 else (*path, "fluid_capacity_l")
                    fault = document.fault(
                        saying("{name}, {key}. {what}", name=vehicle.name, key=component.key, what=doubt.what),
                        doubt.instead,
                        *where,
                    )
                    (self.found.faults if doubt.is_fault else self.found.warnings).append(fault)

    def _note_calendar(self, table: Mapping[str, object], kind: CalendarOwner, owner: str) -> None:
        """A calendar that a table names. The table was checked before, address included."""
        given = table.get("calendar")
        if isinstance(given, str):
            self.calendars.append(CalendarSource(owner.casefold(), kind, owner, calendar_address(given)))

    def _check_book(
        self,
        vehicle: Vehicle,
        book: IntervalBook,
        kinds: frozenset[str],
        document: TomlDocument,
        at: tuple[str | int, ...],
    ) -> None:
        for index, component in enumerate(vehicle.components):
            path = (*at, "component", index)
            if component.kind not in kinds:
                bad = unknown("kind of component", component.kind, kinds)
                instead = saying("{remedy} Or add a row for it to the interval book.", remedy=bad.remedy)
                self.found.faults.append(document.fault(bad.what, instead, *path, "kind"))
                continue
            for place, line in enumerate(component.lines):
                row = book.rows.get(line.service)
                if row is None:
                    bad = unknown("row of the interval book", line.service, book.rows)
                    self.found.faults.append(document.fault(bad.what, bad.remedy, *path, "services", place))
                elif component.kind not in row.components:
                    what = saying("The row {key} is not meant for a {kind}.", key=row.key, kind=component.kind)
                    self.found.warnings.append(document.fault(what, "It is kept.", *path, "services", place))

    def _entries(
        self, documents: list[TomlDocument], name: str, called: tuple[str, ...]
    ) -> Iterable[tuple[TomlDocument, int]]:
        """Each entry of [[name]] over all files; a faulty list is noted."""
        for document in documents:
            entries = document.tables.get(name, [])
            if not isinstance(entries, list):
                what = saying("[{name}] is a single table.", name=name)
                self.found.faults.append(
                    document.fault(what, saying("Write [[{name}]] over each of them.", name=name), name)
                )
                self.half_read |= loose_names([entries], *called)
                continue
            for place, entry in enumerate(entries):
                if isinstance(entry, dict):
                    yield document, place
                else:
                    what = saying("{name} is a list of something else.", name=name)
                    self.found.faults.append(
                        document.fault(what, saying("Write [[{name}]] over each.", name=name), name, place)
                    )

    def _half(self, bad: BadFile, table: object, keys: tuple[str, ...]) -> None:
        self.found.faults += bad.faults
        self.half_read |= {name.casefold() for name in loose_names([table], *keys)}

    def _is_person(self, key: str, roster: Roster) -> bool:
        return key in roster.people or key.casefold() in roster.half_read


def _twice(seen: list[tuple[str, Place]], kind: str) -> list[Fault]:
    """A fault for each key that was seen before, whatever its case."""
    first: dict[str, Place] = {}
    faults = []
    for key, place in seen:
        earlier = first.setdefault(key.casefold(), place)
        if earlier is not place:
            what = saying(
                "The {kind} {key} stands in {seen_from} already.",
                kind=kind,
                key=shown(key, 40),
                seen_from=earlier.seen_from(place),
            )
            faults.append(place.fault(what, "Give one of the two another name, or take it away."))
    return faults
