"""A garage's files are recognised by content and checked against each other; every fault has its line."""

from __future__ import annotations

import os
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from fleetcare.errors import BadFile, Fault
from fleetcare.fleet.component import History, LineStart
from fleetcare.intake.garage_files import columns_of, read_path, time_zones
from fleetcare.intake.known import KnownNames
from fleetcare.meter.reading import Door, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.settings.toml_text import TomlText
from tests.intake.garage_texts import (
    BOOK,
    DUTIES,
    ENTERED_AT,
    GARAGE,
    NOTHING_KNOWN,
    PEOPLE,
    READINGS,
    VEHICLES,
    WHOLE,
    ZONES,
    faults_of,
    line_with,
    stored,
    taken,
    with_vin_doubts,
)


def said(faults: list[Fault]) -> list[tuple[str, int]]:
    return [(fault.file, fault.line) for fault in faults]


def test_a_whole_garage_is_read() -> None:
    come = taken(WHOLE)
    assert come.garage is not None
    assert come.garage.list_keeper == "ines"
    ines = come.people[0]
    assert (ines.zone, ines.unit, ines.letter_weekday) == ("America/Denver", DistanceUnit.MI, None)
    anvil, raft = come.vehicles
    assert anvil.yearly_km == 10000 * 1.609344
    assert anvil.usual_split.share("towing") == 0.625
    assert anvil.laid_up == (DateSpan(date(2025, 12, 1), date(2026, 3, 1)),)
    assert anvil.components[0].lines == (LineStart("axle-fluid", History.NEW),)
    assert anvil.components[0].fluid_capacity_l == Decimal("2.6")
    assert raft.towed_by == ("AN",)
    assert raft.unit is DistanceUnit.MI
    first, second = come.readings
    assert (first.mark, first.meter, first.value, first.unit) == ("AN", "odometer", Decimal(83365), MeterUnit.MI)
    assert (second.value, second.door, second.state, second.entered_at) == (
        Decimal("84210.5"),
        Door.FILE,
        ReadingState.USED,
        ENTERED_AT,
    )
    assert come.reading_lines == (2, 3)


def test_a_component_without_services_gets_those_the_book_proposes() -> None:
    assert taken(WHOLE).vehicles[0].components[1].lines == (LineStart("engine-oil", History.UNKNOWN),)


def test_a_file_is_recognised_by_its_content_not_its_name() -> None:
    known = stored()
    assert len(taken({"export (3).txt": READINGS}, known).readings) == 2
    assert len(taken({"a": PEOPLE}, known).people) == 1
    both = taken({"all.toml": GARAGE + PEOPLE + VEHICLES}, NOTHING_KNOWN)
    assert (len(both.people), len(both.vehicles)) == (1, 2)
    assert columns_of(("vehicle", "event", "date")) is not None


@pytest.mark.parametrize("text", ["name,age\nx,1\n", "hello\n", "", "{}", "<html>", "\x7fELF"])
def test_what_is_no_file_of_a_garage_is_said_to_be_none(text: str) -> None:
    (fault,) = faults_of({"x": text})
    assert fault.instead


def test_every_fault_of_every_file_is_said_at_once() -> None:
    vehicles = VEHICLES.replace('kind = "light truck"', 'kind = "light truk"').replace("digits", "digts")
    readings = READINGS + "AN,3/4/2026,84k\nAnvyl,2026-04-14,1\n"
    faults = faults_of(WHOLE | {"vehicles.toml": vehicles, "readings.csv": readings, "people.toml": PEOPLE + "x = 1\n"})
    assert said(faults) == [
        ("people.toml", PEOPLE.count("\n") + 1),
        ("readings.csv", 4),
        ("readings.csv", 4),
        ("readings.csv", 5),
        ("vehicles.toml", line_with(vehicles, "truk")),
        # Raft is pulled by a vehicle that is half read; that is not held against Raft
    ]
    assert [fault.instead for fault in faults[-1:]] == ["Did you mean light truck?"]


def test_an_unknown_key_is_named_with_the_nearest_on_its_own_line() -> None:
    vehicles = VEHICLES.replace("fluid_capacity_l", "fluid_capacity")
    (fault,) = faults_of(WHOLE | {"vehicles.toml": vehicles})
    assert fault == Fault(
        "vehicles.toml",
        line_with(vehicles, "fluid_capacity"),
        "There is no key “fluid_capacity” here.",
        "Did you mean fluid_capacity_l?",
    )


@pytest.mark.parametrize(
    ("old", "new", "what", "instead"),
    [
        ('mark = "RA"', 'mark = "AN"', "The vehicle “AN” stands in line 2 already.", "another name"),
        ('name = "Raft"', 'name = "anvil"', "The vehicle “anvil” stands in line 3 already.", "another name"),
        ('mark = "RA"', 'mark = "raft"', "“raft” cannot be a mark.", "capitals"),
        ('keeper = "ines"', 'keeper = "inse"', "keeper: There is no person “inse”.", "Did you mean ines?"),
        ('drivers = ["ines"]', 'drivers = ["bo"]', "drivers: There is no person “bo”.", "There is ines."),
        ('towed_by = ["AN"]', 'towed_by = ["AM"]', "towed_by: There is no vehicle “AM”.", "There are AN, RA."),
        ("towing = 5", "towng = 5", "There is no duty called “towng”. Did you mean towing?", "The duties are"),
        ("towing = 5, daily = 3", "towing = 0", "A duty split needs", "Write it as"),
        ("last = 2026-02-28", "last = 2025-11-30", "The spell ends before it begins", "not before"),
        ('kind = "rear axle"', 'kind = "rear axel"', "There is no kind of component “rear axel”.", "rear axle?"),
        ('row = "axle-fluid"', 'row = "axle-flud"', "There is no row of the interval book “axle-flud”.", "axle-fluid?"),
        ('key = "engine"', 'key = "rear-axle"', "The component rear-axle stands in line 16 already.", "another key"),
        ("fluid_capacity_l = 2.6", 'fluid_capacity_l = "2,6"', "fluid_capacity_l is “2,6”.", "without quotes"),
        ("fluid_capacity_l = 2.6", "fluid_capacity_l = nan", "fluid_capacity_l is “NaN”.", "plain number"),
        ("yearly_distance = 10000", "yearly_distance = true", "yearly_distance is true.", "plain number"),
        ("yearly_distance = 10000", "yearly_distance = -1", "yearly_distance is “-1”.", "0 or more"),
        ("yearly_distance = 10000", "yearly_distance = 1e400", "yearly_distance is “1E+400”.", "at most"),
        ("first = 2025-12-01", 'first = "2025-12-01"', "first is “2025-12-01”.", "without quotes"),
        ("first = 2025-12-01", "first = 0001-01-01", "first is “0001-01-01”.", "1900-01-01 or more"),
        ('history = "new"', 'history = "nwe"', "history cannot be “nwe”.", "new"),
        ('name = "Anvil"', 'name = "An\\u202evil"', "The name holds a sign that cannot be seen", "without that"),
        ('unit = "mi"', 'unit = "miles"', "unit cannot be “miles”.", "There are km, mi, h."),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_vehicle_is_said_where_it_stands(old: str, new: str, what: str, instead: str) -> None:
    vehicles = VEHICLES.replace(old, new, 1)
    (fault,) = faults_of({"garage.toml": GARAGE, "people.toml": PEOPLE, "vehicles.toml": vehicles})
    assert fault.what.startswith(what)
    assert instead in fault.instead
    assert fault.line == line_with(VEHICLES, old)


@pytest.mark.parametrize(
    ("text", "zone"),
    [
        ("Denver", "Did you mean America/Denver?"),
        ("america/denver", "Did you mean America/Denver?"),
        ("Europe", "Did you mean Europe/Berlin?"),
        ("../../etc/passwd", "Write it as"),
        ("localtime", "Write it as"),
        ("x" * 5000, "Write it as"),
        ("", "Write it as"),
    ],
)
def test_a_time_zone_is_one_of_the_list(text: str, zone: str) -> None:
    (fault,) = faults_of(WHOLE | {"garage.toml": GARAGE.replace("America/Denver", text)})[:1]
    assert (fault.file, fault.line) == ("garage.toml", 3)
    assert zone in fault.instead


def test_the_list_of_time_zones_is_that_of_iana_without_this_machines_own() -> None:
    zones = time_zones()
    assert {"America/Denver", "Europe/Berlin", "UTC", "Pacific/Apia"} <= zones
    assert not {"localtime", "Factory", "Europe"} & zones


@pytest.mark.parametrize(
    ("row", "what", "instead"),
    [
        ("Anvyl,2026-03-12,1", "vehicle: There is no vehicle “Anvyl”.", "Did you mean Anvil?"),
        (",2026-03-12,1", "vehicle: There is no vehicle.", "mark or its name"),
        ("AN,3/4/2026,1", "date: “3/4/2026” can be read in two ways.", "2026-03-04 or 2026-04-03"),
        ("AN,2026-03-12,84k", "value: That is not a number: “84k”.", "Digits only, please."),
        ("AN,2026-03-12,", "value: There is no number.", "digits only"),
        ("RA,2026-03-12,1", "meter: Raft has no odometer.", "Name the meter."),
        ("AN,2026-03-12,'=1+1", "value: That is not a number: “=1+1”.", "Digits only"),
    ],
)
def test_what_is_wrong_with_a_reading_is_said_with_its_line(row: str, what: str, instead: str) -> None:
    (fault,) = faults_of({"readings.csv": READINGS + row + "\n"}, stored())
    assert (fault.line, fault.what) == (4, what)
    assert instead in fault.instead


@pytest.mark.parametrize(
    ("cells", "what"),
    [
        ("hour,,,,,,,", "meter: There is no meter of Anvil “hour”."),
        (",h,,,,,,", "unit: The odometer counts mi, not h."),
        (",miles,,,,,,", "unit: It cannot be “miles”."),
        (",,towing=x,,,,,", "split: That is no part of a duty split: “towing=x”."),
        (",,towng=1,,,,,", "split: There is no duty called “towng”. Did you mean towing?"),
        (",,,,fax,,,", "door: It cannot be “fax”."),
        (",,,,,doubtful,,", "state: It cannot be “doubtful”."),
        (",,,,,,a\x07b,", "note: The note holds a control character (U+0007) as character 2: “a b”."),
        (",,,,,,,yesterday", "entered_at: That is not a moment in time: “yesterday”."),
    ],
)
def test_each_column_of_a_reading_is_checked(cells: str, what: str) -> None:
    head = "vehicle,date,value,meter,unit,split,by,door,state,note,entered_at\n"
    (fault,) = faults_of({"r": f"{head}AN,2026-03-12,1,{cells}\n"}, stored())
    assert (fault.line, fault.what) == (2, what)


def test_a_reading_given_twice_counts_once_and_a_different_one_is_refused() -> None:
    come = taken({"r": READINGS + "Anvil,12.3.2026,83365\n"}, stored())
    assert len(come.readings) == 2
    assert [(warning.line, warning.instead) for warning in come.warnings] == [(4, "It counts once.")]
    head = "vehicle,date,value,note\n"
    (fault,) = faults_of({"r": head + "AN,2026-03-12,1,\nAN,2026-03-12,1,odd\n"}, stored())
    assert fault.line == 3
    over_files = taken({"a.csv": READINGS, "b.csv": READINGS}, stored())
    assert len(over_files.readings) == 2
    assert "a.csv, line 2" in over_files.warnings[0].what


def test_thousands_that_nothing_in_the_file_confirms_are_pointed_out() -> None:
    come = taken({"r": 'vehicle,date,value\nAN,2026-03-12,"84,210"\n'}, stored())
    assert come.readings[0].value == 84210
    assert come.warnings[0].line == 2
    assert come.warnings[0].instead == "Write 84210 to leave no doubt."
    comma = faults_of({"r": "vehicle;date;value\nAN;2026-03-12;84210,5\nAN;2026-03-13;84,211\n"}, stored())
    assert said(comma) == [("r", 3)]


def test_a_day_to_come_is_refused_where_today_is_given() -> None:
    assert taken({"r": READINGS}, stored(), date(2026, 4, 14)).readings
    (fault,) = faults_of({"r": READINGS}, stored(), date(2026, 4, 13))
    assert (fault.line, fault.what) == (3, "date: “2026-04-14” is still to come.")


def test_work_with_several_findings_is_one_work_done() -> None:
    head = "vehicle,component,service,date,value,unit,by,note,finding,look_again_on,settled_on\n"
    row = "Anvil,rear-axle,axle-fluid,2026-03-12,83365,mi,teo,,"
    text = (
        head + row + "magnet furred,2026-09-01,\n" + row + "seal damp,,2026-03-12\n" + row + "seal damp,,2026-03-12\n"
    )
    come = taken({"w": text}, stored())
    (done,) = come.work
    assert [finding.text for finding in done.findings] == ["magnet furred", "seal damp"]
    assert done.line == ("AN", "rear-axle", "axle-fluid")
    assert come.warnings[0].line == 4


@pytest.mark.parametrize(
    ("row", "what"),
    [
        ("AN,rear-axel,axle-fluid,2026-03-12,,,", "component: There is no component of Anvil “rear-axel”."),
        (
            "AN,rear-axle,engine-oil,2026-03-12,,,",
            "service: The rear-axle of Anvil does not have the service engine-oil.",
        ),
        ("AN,rear-axle,axle-flud,2026-03-12,,,", "service: There is no service on the rear-axle of Anvil “axle-flud”."),
        ("AN,rear-axle,axle-fluid,2026-03-12,,,2026-04-01", "finding: There is a day for a finding, but no finding."),
        ("AN,rear-axle,,2026-03-12,,,", "service: There is no service."),
    ],
)
def test_what_is_wrong_with_work_is_said_with_its_line(row: str, what: str) -> None:
    head = "vehicle,component,service,date,value,finding,look_again_on\n"
    (fault,) = faults_of({"w": head + row + "\n"}, stored())
    assert (fault.line, fault.what) == (2, what)


def test_bookings_are_read_and_checked() -> None:
    head = "key,title,first_day,last_day,vehicles,distance,unit,duty,event\n"
    come = taken({"b": head + 'ridge,Ridge day,2026-05-09,2026-05-10,"AN, raft",400,,towing,\n'}, stored())
    (booking,) = come.bookings
    assert booking.days == DateSpan(date(2026, 5, 9), date(2026, 5, 11))
    assert (booking.marks, booking.distance, booking.unit) == (("AN", "RA"), Decimal(400), DistanceUnit.MI)
    bad = (
        "ridge,Ridge day,2026-05-09,2026-05-08,AN,,,,\n"
        "Ridge!,,2026-05-09,2026-05-10,,,,towng,\n"
        "a,A,2026-05-09,2026-05-10,AN,,,,imersion\n"
        "b,B,2026-05-09,2026-05-10,AN,,,,\nb,B,2026-05-09,2026-05-10,AN,,,,\n"
    )
    faults = faults_of({"b": head + bad}, stored())
    assert [(fault.line, fault.what.partition(":")[0]) for fault in faults] == [
        (2, "last_day"),
        (3, "duty"),
        (3, "key"),
        (3, "title"),
        (3, "vehicles"),
        (4, "event"),
        (6, "key"),
    ]


def test_events_are_read_and_a_misspelt_one_is_refused() -> None:
    head = "vehicle,component,event,date,note\n"
    come = taken({"e": head + "AN,Rear axle,immersion,2026-03-12,\nAN,,open day,2026-03-12,\n"}, stored())
    assert come.events[0].component == "rear-axle"
    assert [warning.line for warning in come.warnings] == [3]
    (fault,) = faults_of({"e": head + "AN,,imersion,2026-03-12,\n"}, stored())
    assert fault.instead == "Did you mean immersion?"


def test_a_garages_own_rows_come_as_they_stand_and_their_services_can_be_used() -> None:
    row = '# ours\n[rows.winch]\ntitle = "Winch"\nshort = "winch"\ncomponents = ["winch"]\n'
    book = row + "[rows.winch.repeat]\nmonths = 12\n"
    vehicles = VEHICLES.replace('kind = "engine"', 'kind = "winch"')
    come = taken(WHOLE | {"vehicles.toml": vehicles, "book.toml": book})
    assert come.book_text == book
    assert come.book is not None
    assert come.vehicles[0].components[1].lines == (LineStart("winch"),)
    (fault,) = faults_of(WHOLE | {"book.toml": book.replace("months = 12", "months = 0")})
    assert (fault.file, fault.line) == ("book.toml", 7)


def test_the_book_stands_in_one_file_of_its_own() -> None:
    rows = '[rows.a]\ntitle = "A"\n'
    assert said(faults_of(WHOLE | {"garage.toml": GARAGE + rows})) == [("garage.toml", GARAGE.count("\n") + 1)]


def test_a_vehicle_that_is_there_already_is_replaced_but_its_name_is_not_taken_twice() -> None:
    known = stored()
    assert taken({"v": VEHICLES}, known).vehicles[0].mark == "AN"
    other = '[[vehicle]]\nmark = "NE"\nname = "Raft"\nkind = "trailer"\n'
    (fault,) = faults_of({"v": other}, known)
    assert (fault.line, fault.what) == (3, "Raft (RA) is called “Raft” already.")


def test_odd_vins_and_missing_meters_are_warned_about_never_refused() -> None:
    vehicles = VEHICLES.replace('keeper = "ines"', 'keeper = "ines"\nvin = "ODD"').replace(
        '[[vehicle.meter]]\nkey = "odometer"\nunit = "mi"\n', ""
    )
    come = with_vin_doubts({k: v for k, v in WHOLE.items() if k != "readings.csv"} | {"vehicles.toml": vehicles})
    assert [(warning.line, warning.what) for warning in come.warnings] == [
        (1, "Anvil has no meter; its services by distance wait for one."),
        (line_with(vehicles, "vin ="), "vin of Anvil: ODD is short"),
    ]


def test_a_single_table_is_told_from_a_list_of_them() -> None:
    (fault,) = [f for f in faults_of(WHOLE | {"people.toml": PEOPLE.replace("[[person]]", "[person]")}) if f.line]
    assert (fault.file, fault.instead) == ("people.toml", "Write [[person]] over each of them.")


def test_too_many_faults_are_counted_not_listed() -> None:
    text = "vehicle,date,value\n" + "Anvyl,2026-03-12,84k\n" * 2000
    faults = faults_of({"r": text}, stored())
    assert len(faults) == 201
    assert "what follows was not looked at" in faults[-1].what


def write(folder: Path, files: dict[str, str]) -> Path:
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_a_folder_is_read_whole_and_a_file_by_itself(tmp_path: Path) -> None:
    write(tmp_path, WHOLE | {".hidden.csv": "x", "notes.md": "x"})
    (tmp_path / "more.csv").mkdir()
    come = read_path(tmp_path, known=NOTHING_KNOWN, entered_at=ENTERED_AT, read_toml=TomlText, zones=ZONES)
    assert come.files == ("garage.toml", "people.toml", "readings.csv", "vehicles.toml")
    alone = read_path(tmp_path / "readings.csv", known=stored(), entered_at=ENTERED_AT, read_toml=TomlText, zones=ZONES)
    assert alone.readings == come.readings


def test_what_cannot_be_read_from_the_disk_is_said(tmp_path: Path) -> None:
    def faults(path: Path, most_bytes: int = 100) -> list[Fault]:
        with pytest.raises(BadFile) as caught:
            read_path(
                path, known=KnownNames(), entered_at=ENTERED_AT, read_toml=TomlText, zones=ZONES, most_bytes=most_bytes
            )
        return list(caught.value.faults)

    assert faults(tmp_path / "gone.csv")[0].what.startswith("There is no file")
    assert faults(tmp_path)[0].what == "The folder has no .toml and no .csv file."
    write(tmp_path, {"big.csv": READINGS * 10})
    assert "larger than" in faults(tmp_path)[0].what
    write(tmp_path, {"big.csv": "x"})
    os.chmod(tmp_path / "big.csv", 0)
    if not os.access(tmp_path / "big.csv", os.R_OK):  # the superuser can read everything
        assert "cannot be read" in faults(tmp_path)[0].what


def test_nothing_is_checked_against_a_book_that_is_not_there() -> None:
    come = taken(WHOLE, KnownNames(duties=DUTIES))
    assert come.vehicles[0].components[1].lines == ()
    assert BOOK.rows
