"""The demo garage is whole and true to its story: nine vehicles on Tuesday 14 April 2026, blemishes and all."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from fleetcare.book.picking import fits, proposal_clashes
from fleetcare.book.rows import Status
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.settings.book_files import load_book
from tests.book.shipped import BOOK_FILE, events_of, shipped_book, shipped_duties
from tests.demo.garage_files import (
    DEMO,
    NEW_FIELDS,
    TODAY,
    duty_parts,
    marks,
    merged_book,
    rows,
    toml,
    used_readings,
    vehicles,
)

# name: mark, keeper, last dial, day of it, pace in mi a month, mix towing : track : daily
STORY: dict[str, tuple[str, str, int | None, date | None, int | None, tuple[int, int, int]]] = {
    "Anvil": ("AN", "ines", 112640, date(2026, 3, 31), 880, (5, 0, 3)),
    "Bellows": ("BE", "teo", 83365, date(2026, 3, 12), 780, (3, 0, 1)),
    "Nettle": ("NE", "marit", 31420, date(2026, 4, 6), 310, (0, 1, 1)),
    "Thistle": ("TH", "rufus", 44905, date(2026, 4, 6), 360, (0, 1, 2)),
    "Bramble": ("BR", "wanda", 27188, date(2026, 3, 29), 270, (0, 2, 1)),
    "Lantern": ("LA", "piet", 146912, date(2026, 4, 11), 1450, (0, 0, 4)),
    "Pocket": ("PO", "noor", 61204, date(2026, 4, 13), 1900, (0, 0, 4)),
    "Raft": ("RA", "ines", 18340, date(2026, 3, 31), 520, (4, 0, 0)),
    "Plank": ("PL", "wanda", None, None, None, (4, 0, 0)),
}
METERED = [name for name, told in STORY.items() if told[2] is not None]
BOOK = merged_book()
TOMLS = ["garage.toml", "people.toml", "vehicles.toml", "book.toml"]
HEADERS = {
    "readings.csv": "vehicle,meter,date,value,unit,split,by,state,note",
    "work.csv": "vehicle,component,service,date,value,unit,by,note,finding,look_again_on,settled_on",
    "bookings.csv": "key,title,first_day,last_day,vehicles,distance,unit,duty,event",
    "events.csv": "vehicle,component,event,date,note",
    "bay_visits.csv": "vehicle,number,state,begins,services,takes,hands,why",
    "shelf.csv": "item,amount,unit,pack,note",
}


def test_the_folder_holds_the_files_of_a_garage_and_no_other() -> None:
    assert {path.name for path in DEMO.iterdir()} == {*TOMLS, *HEADERS}


@pytest.mark.parametrize("name", TOMLS)
def test_each_toml_file_says_at_its_top_that_its_figures_are_for_show(name: str) -> None:
    comment = "".join(line for line in (DEMO / name).read_text(encoding="utf-8").partition("\n[")[0].splitlines(True))
    assert "for show" in " ".join(comment.replace("#", " ").split())
    assert toml(name)


@pytest.mark.parametrize(("name", "header"), HEADERS.items())
def test_each_table_has_its_header_and_whole_rows(name: str, header: str) -> None:
    assert (DEMO / name).read_text(encoding="utf-8").splitlines()[0] == header
    for row in rows(name):
        assert None not in row
        assert None not in row.values()
        assert all(value == value.strip() for value in row.values())


def test_no_maker_named_in_the_book_appears_in_the_demo() -> None:
    makers = {"Acura", "ArvinMeritor", "Chevrolet", "GMC", "Hyundai", "Miller", "Spicer", "Toyota", "Wood-Mizer"}
    sources = " ".join(row.source for row in shipped_book().rows.values())
    assert all(maker in sources for maker in makers)
    for path in DEMO.iterdir():
        text = path.read_text(encoding="utf-8").lower()
        assert not [maker for maker in makers if re.search(rf"\b{maker.lower()}\b", text)], path.name


# ------------------------------------------------------------------------------------------------ people, vehicles


def test_the_people_are_seven_and_can_be_reached() -> None:
    people = toml("people.toml")["person"]
    assert [person["key"] for person in people] == ["ines", "teo", "marit", "rufus", "wanda", "piet", "noor"]
    assert all(person["mail"].endswith("@karstridge.example") for person in people)
    assert all(ZoneInfo(person["zone"]) for person in people)
    assert toml("garage.toml")["garage"]["list_keeper"] in {person["key"] for person in people}


def test_the_vehicles_are_those_of_the_story_with_marks_of_their_own() -> None:
    found = {name: (vehicle["mark"], vehicle["keeper"]) for name, vehicle in vehicles().items()}
    assert found == {name: told[:2] for name, told in STORY.items()}
    assert len(marks()) == len(vehicles()) == 9


def test_everybody_named_by_a_vehicle_a_reading_or_a_record_is_a_person() -> None:
    people = {person["key"] for person in toml("people.toml")["person"]}
    named = {person for vehicle in vehicles().values() for person in (vehicle["keeper"], *vehicle["drivers"])}
    named |= {row["by"] for row in (*rows("readings.csv"), *rows("work.csv")) if row["by"]}
    assert named <= people


@pytest.mark.parametrize("name", STORY)
def test_the_usual_split_is_the_mix_of_the_story(name: str) -> None:
    split = vehicles()[name]["usual_split"]
    assert tuple(split.get(duty, 0) for duty in ("towing", "track", "daily")) == STORY[name][5]


# -------------------------------------------------------------------------------------------------------- readings


@pytest.mark.parametrize("name", METERED)
def test_the_last_reading_is_the_one_of_the_story(name: str) -> None:
    last = used_readings(name)[-1]
    assert (last.dial, last.on) == STORY[name][2:4]


@pytest.mark.parametrize("name", METERED)
def test_distance_never_falls_and_never_jumps_beyond_belief(name: str) -> None:
    pace = STORY[name][4]
    assert pace is not None
    for before, after in pairwise(used_readings(name)):
        days = (after.on - before.on).days
        assert days > 0
        assert after.true - before.true > 0
        assert (after.true - before.true) / days < 3 * pace / 30.4375


@pytest.mark.parametrize("name", METERED)
def test_about_two_years_of_readings_came_about_monthly(name: str) -> None:
    seen = used_readings(name)
    assert 680 <= (seen[-1].on - seen[0].on).days <= 1000
    gaps = [(after.on - before.on).days for before, after in pairwise(seen)]
    assert 25 <= sum(gaps) / len(gaps) <= 35
    assert max(gaps) <= 80


@pytest.mark.parametrize("name", METERED)
def test_the_pace_of_the_last_twelve_months_is_the_one_of_the_story(name: str) -> None:
    pace = STORY[name][4]
    seen = used_readings(name)
    start = min(seen, key=lambda one: abs((seen[-1].on - one.on).days - 365))
    months = (seen[-1].on - start.on).days / 30.4375
    assert (seen[-1].true - start.true) / months == pytest.approx(pace, rel=0.02)


@pytest.mark.parametrize("name", METERED)
def test_the_mix_of_the_last_twelve_months_is_near_the_one_of_the_story(name: str) -> None:
    towing, track, daily = STORY[name][5]
    told = {"towing": towing, "track": track, "daily": daily}
    usual = " ".join(f"{duty}={part}" for duty, part in vehicles()[name]["usual_split"].items())
    seen = [one for one in used_readings(name) if one.on >= TODAY - timedelta(days=390)]
    run = dict.fromkeys(told, 0.0)
    for before, after in pairwise(seen):
        for duty, share in duty_parts(after.split or usual).items():
            run[duty] += share * (after.true - before.true)
    for duty, part in told.items():
        assert run[duty] / sum(run.values()) == pytest.approx(part / sum(told.values()), abs=0.05)


def test_some_spans_have_a_split_and_others_have_none() -> None:
    given = [row["split"] for row in rows("readings.csv") if row["split"]]
    assert 50 <= len(given) <= len(rows("readings.csv")) - 50
    assert {duty for split in given for duty in duty_parts(split)} <= set(shipped_duties())


def test_nothing_is_dated_after_the_day_of_the_story() -> None:
    dated = [row["date"] for name in ("readings.csv", "work.csv", "events.csv") for row in rows(name)]
    assert max(map(date.fromisoformat, dated)) <= TODAY


# ------------------------------------------------------------------------------------------------------- blemishes


def test_a_reading_with_two_digits_exchanged_is_held() -> None:
    (held,) = [row for row in rows("readings.csv") if row["state"] == "held"]
    seen = used_readings(held["vehicle"])
    before = max(one.dial for one in seen if one.on < date.fromisoformat(held["date"]))
    after = min(one.dial for one in seen if one.on > date.fromisoformat(held["date"]))
    typed = held["value"]
    assert not before <= int(typed) <= after
    exchanged = [typed[:n] + typed[n + 1] + typed[n] + typed[n + 2 :] for n in range(len(typed) - 1)]
    assert [text for text in exchanged if before <= int(text) <= after]


def test_a_reading_with_a_digit_missing_is_superseded_by_another_of_that_day() -> None:
    (superseded,) = [row for row in rows("readings.csv") if row["state"] == "superseded"]
    alike = [
        row
        for row in rows("readings.csv")
        if (row["vehicle"], row["date"]) == (superseded["vehicle"], superseded["date"])
    ]
    assert [row["state"] for row in alike] == ["superseded", "used"]
    assert alike[1]["value"].startswith(superseded["value"])


def test_a_reading_for_the_wrong_vehicle_is_taken_back() -> None:
    (taken,) = [row for row in rows("readings.csv") if row["state"] == "taken back"]
    same = [row for row in rows("readings.csv") if (row["date"], row["value"]) == (taken["date"], taken["value"])]
    assert {row["vehicle"] for row in same} == {"Bramble", "Nettle"}


def test_bellows_missed_a_month_and_wants_a_reading() -> None:
    seen = used_readings("Bellows")
    months = {(one.on.year, one.on.month) for one in seen}
    assert {(2025, 6), (2025, 8)} <= months
    assert (2025, 7) not in months
    assert (TODAY - seen[-1].on).days > 28
    others = [name for name in METERED if name != "Bellows" and (TODAY - used_readings(name)[-1].on).days > 28]
    assert others == []


def test_a_five_digit_hub_odometer_rolled_over() -> None:
    (meter,) = vehicles()["Raft"]["meter"]
    assert (meter["digits"], meter["rolls_over"]) == (5, True)
    falls = [(b.dial, a.dial) for b, a in pairwise(used_readings("Raft")) if a.dial < b.dial]
    assert len(falls) == 1
    assert falls[0][0] > 99_000
    assert falls[0][1] < 1_000


def test_an_instrument_cluster_was_replaced_between_two_readings() -> None:
    changed = {
        name: v["meter"][0]["changes"] for name, v in vehicles().items() if v.get("meter", [{}])[0].get("changes")
    }
    assert list(changed) == ["Thistle"]
    (change,) = changed["Thistle"]
    seen = used_readings("Thistle")
    before = [one for one in seen if one.on < change["on"]][-1]
    after = next(one for one in seen if one.on >= change["on"])
    assert before.dial <= change["old_end"] < change["new_start"] <= after.dial


def test_one_trailer_has_no_meter_and_one_van_has_a_past_nobody_knows() -> None:
    assert [name for name, vehicle in vehicles().items() if not vehicle.get("meter")] == ["Plank"]
    unknown = [(name, line["row"]) for name, _, line in lines() if line["history"] == "unknown"]
    assert unknown == [("Lantern", "gearbox-fluid")]


# -------------------------------------------------------------------------------------------------- book and lines


def lines() -> list[tuple[str, dict[str, str], dict[str, str]]]:
    return [
        (name, component, line)
        for name, vehicle in vehicles().items()
        for component in vehicle["component"]
        for line in component["services"]
    ]


def test_every_line_is_a_row_that_fits_its_component() -> None:
    for name, component, line in lines():
        row = BOOK.rows[line["row"]]
        assert fits(row, VehicleKind(vehicles()[name]["kind"]), component["kind"]), (name, component["key"], row.key)
    assert len(lines()) > 45


def test_no_component_carries_two_lines_of_one_name() -> None:
    named = [(name, component["key"], BOOK.rows[line["row"]].short) for name, component, line in lines()]
    assert len(named) == len(set(named))


def test_every_recorded_line_has_a_record_and_every_record_a_line() -> None:
    recorded = {(name, c["key"], line["row"]) for name, c, line in lines() if line["history"] == "recorded"}
    assert {(row["vehicle"], row["component"], row["service"]) for row in rows("work.csv")} == recorded


def test_a_dial_value_in_a_record_lies_between_the_readings_around_it() -> None:
    checked = 0
    for row in rows("work.csv"):
        if not row["value"]:
            continue
        on, seen = date.fromisoformat(row["date"]), used_readings(row["vehicle"])
        (meter,) = vehicles()[row["vehicle"]]["meter"]
        value = int(row["value"])
        for change in meter.get("changes", []):
            value += (change["old_end"] - change["new_start"]) if on >= change["on"] else 0
        before = [one.true for one in seen if one.on <= on]
        after = [one.true for one in seen if one.on >= on]
        if meter.get("rolls_over"):
            lap = 10 ** meter["digits"]
            value += before[-1] // lap * lap
            value += lap if value < before[-1] else 0
        assert not before or before[-1] <= value, row
        assert not after or value <= after[0], row
        checked += 1
    assert checked > 60


def test_the_garage_changes_shipped_rows_with_a_reason_and_marks_its_own() -> None:
    own, shipped = toml("book.toml")["rows"], shipped_book().rows
    changed = {key for key in own if key in shipped}
    added = {key for key in own if key not in shipped}
    assert {"axle-vents", "rear-axle-fluid", "trailer-bearings"} <= changed
    assert all(own[key]["reason"] for key in changed)
    assert all(set(NEW_FIELDS) <= set(own[key]) for key in added)
    assert {BOOK.rows[key].status for key in added} == {Status.GARAGE}
    assert added


def test_the_changed_book_still_works_and_proposes_nothing_twice() -> None:
    assert proposal_clashes(BOOK) == ()
    assert all(len(row.short) <= 24 for row in BOOK.rows.values())


def test_the_program_lays_the_changes_over_the_book_alike() -> None:
    """Two readers that share no code agree, but for the marks that the program leaves on a changed row."""
    read = load_book(BOOK_FILE, DEMO / "book.toml", duties=shipped_duties()).rows
    for key, row in BOOK.rows.items():
        assert replace(read[key], overrides=(), status=row.status) == row
    changed = {key for key, row in read.items() if row.overrides}
    assert changed == set(toml("book.toml")["rows"]) & set(shipped_book().rows)
    assert all(change.reason for row in read.values() for change in row.overrides)
    assert read.keys() == BOOK.rows.keys()


def test_a_towed_mile_counts_two_on_the_rear_axle() -> None:
    limits = BOOK.rows["rear-axle-fluid"].rule.repeat
    figures = {figure.duty: figure.distance for figure in limits.by_duty}
    assert limits.distance is not None
    assert figures["towing"] is not None
    assert figures["towing"].in_km * 2 == pytest.approx(limits.distance.in_km)
    assert limits.months == 60


# ----------------------------------------------------------------------------------------- findings, bookings, events


def test_two_findings_wait_for_the_people_who_wrote_them() -> None:
    waiting = {
        (row["vehicle"], row["finding"], row["by"], row["date"], row["look_again_on"])
        for row in rows("work.csv")
        if row["finding"] and not row["settled_on"] and row["look_again_on"] < "2026-06"
    }
    assert waiting == {
        ("Bellows", "Rear cover damp at the lower left bolt", "teo", "2026-03-02", "2026-04-30"),
        ("Nettle", "Grey paste on the axle magnet, no flakes", "marit", "2026-02-21", "2026-05-09"),
    }


def test_the_vehicles_are_spoken_for_as_the_story_says() -> None:
    spoken: dict[tuple[str, str, str], set[str]] = {}
    for row in rows("bookings.csv"):
        spoken.setdefault((row["title"], row["first_day"], row["last_day"]), set()).update(row["vehicles"].split())
    assert spoken == {
        ("Hollow Lake hill climb", "2026-05-01", "2026-05-03"): {"AN", "RA", "NE"},
        ("Track day tow", "2026-05-15", "2026-05-16"): {"BE", "RA"},
        ("Track day", "2026-05-16", "2026-05-16"): {"NE", "TH", "BR", "LA"},
        ("Saltflat weekend", "2026-06-12", "2026-06-14"): {"AN", "TH", "RA", "LA"},
        ("Ridge endurance", "2026-07-11", "2026-07-12"): {"NE", "TH", "BR", "BE", "RA", "LA"},
    }
    keys = [row["key"] for row in rows("bookings.csv")]
    assert len(keys) == len(set(keys))


def test_bookings_and_events_name_vehicles_duties_components_and_events_that_exist() -> None:
    known = events_of(BOOK)
    for row in rows("bookings.csv"):
        assert set(row["vehicles"].split()) <= set(marks())
        assert row["duty"] in shipped_duties()
        assert row["event"] in {"", *known}
    for row in rows("events.csv"):
        keys = {component["key"] for component in vehicles()[row["vehicle"]]["component"]}
        assert row["component"] in {"", *keys}
        assert row["event"] in known


def test_every_event_that_makes_a_line_due_was_followed_by_the_work() -> None:
    """Otherwise the demo would show work long past late that its story does not know."""
    for event in rows("events.csv"):
        for name, component, line in lines():
            waits = {after.event for after in BOOK.rows[line["row"]].rule.after}
            if name == event["vehicle"] and event["component"] in {"", component["key"]} and event["event"] in waits:
                done = [
                    row["date"]
                    for row in rows("work.csv")
                    if (row["vehicle"], row["component"], row["service"]) == (name, component["key"], line["row"])
                ]
                assert max(done) >= event["date"], (event, line)
