"""Feeds are renewed where something changed, each entry is written once however many feeds hold it, and the same facts
give the same bytes in any process on any database."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from fleetcare.actions.after_restore import feeds_after_restore
from fleetcare.actions.bring_feeds_up import bring_feeds_up
from fleetcare.actions.links import choose_feed, make_key, publish_feed
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.record_reading import Given, Recorded, record_reading
from fleetcare.actions.refresh import refresh
from fleetcare.actions.settle import settle
from fleetcare.assemble import assemble
from fleetcare.cli.bringing import bring_in_files
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.feed_choice import FeedChoice
from fleetcare.fleet.naming import marks_seen_by
from fleetcare.fleet.people import Person
from fleetcare.meter.reading import Door
from fleetcare.quantities import DateSpan, DistanceUnit
from fleetcare.settings.new_home import write_new_home
from fleetcare.settings.places import shipped_demo
from tests.actions.garages import BASE_URL, DEMO_NOW, Stage, demo
from tests.calendar_feed.raw_feed import Block, moment_of, parsed, unfolded
from tests.stand_ins import FixedClock, NumberedKeys

LATER = DEMO_NOW + timedelta(hours=1)


def subscribed(stage: Stage, count: int) -> list[str]:
    """So many people more, each of whom drives every second vehicle from a place of their own on, with a feed each."""
    keys = [f"driver{number:03}" for number in range(count)]
    with stage.store.write(Change("test", "people", DEMO_NOW)) as unit:
        vehicles = unit.vehicles()
        for key in keys:
            unit.put_person(Person(key, key.title(), unit=DistanceUnit.MI))
        for place, vehicle in enumerate(vehicles):
            drivers = tuple(key for number, key in enumerate(keys) if (number + place) % 2 == 0)
            unit.put_vehicle(replace(vehicle, drivers=vehicle.drivers + drivers))
    for key in keys:
        make_key(stage.store, stage.keys, now=DEMO_NOW, who="test", purpose=Purpose.FEED, person=key)
    refresh(stage.store, stage.rules, now=DEMO_NOW, base_url=BASE_URL, why="begin")
    return keys


def book(stage: Stage, title: str, now: datetime) -> None:
    """Something that changes one entry of whoever sees Anvil, and the dates of Anvil alone."""
    first = DEMO_NOW.date() + timedelta(days=30)
    booking = Booking("b", title, DateSpan.of_days(first, first), ("AN",), Decimal(0), DistanceUnit.KM)
    with stage.store.write(Change("test", "booked", now)) as unit:
        unit.put_booking(booking)
        settle(unit, stage.rules, now=now, base_url=BASE_URL, marks=("AN",))


def revisions(store: Store) -> dict[int, str]:
    """Titles are not in them; by id, what entry a revision is of."""
    with store.read() as view:
        return {number: revision.uid for number, revision in view.revisions().items()}


def bodies(store: Store) -> dict[tuple[str, str], tuple[str, bytes]]:
    """Tag and bytes of every feed."""
    with store.read() as view:
        found = {}
        for each in view.feed_contents():
            body = view.feed(each.person, each.mark)
            assert body is not None
            found[each.key] = (body.etag, body.body)
        return found


def test_an_entry_is_written_once_however_many_feeds_hold_it() -> None:
    """A hundred subscribers: what a renewal writes is what changed, and no more."""
    stage = demo()
    keys = subscribed(stage, 100)
    before = revisions(stage.store)
    held = bodies(stage.store)
    entries = sum(held[key, ""][1].count(b"BEGIN:VEVENT") for key in keys)
    # Half of the garage each: some 20 to 30 different entries, and bookings by which of their vehicles are seen.
    assert entries > 1500
    assert len(before) < entries / 10
    book(stage, "Hill run", LATER)
    new = [uid for number, uid in revisions(stage.store).items() if number not in before]
    assert len(new) == 1
    after = bodies(stage.store)
    changed = [key for key in keys if after[key, ""] != held[key, ""]]
    assert len(changed) == 50
    assert all(b"Hill run" in after[key, ""][1] for key in changed)


def test_a_whole_renewal_after_a_part_of_it_changes_nothing() -> None:
    """What one vehicle's change left alone is what the whole would have given."""
    stage = demo()
    subscribed(stage, 6)
    book(stage, "Hill run", LATER)
    part, kept = bodies(stage.store), revisions(stage.store)
    refresh(stage.store, stage.rules, now=LATER, base_url=BASE_URL, why="the whole")
    assert bodies(stage.store) == part
    # What no feed holds any more is forgotten; nothing is written.
    assert revisions(stage.store).items() <= kept.items()


def test_a_renewal_without_news_writes_nothing() -> None:
    stage = demo()
    subscribed(stage, 6)
    book(stage, "Hill run", LATER)
    refresh(stage.store, stage.rules, now=LATER, base_url=BASE_URL, why="the whole")
    with stage.store.read() as view:
        version = view.version()
    refresh(stage.store, stage.rules, now=LATER + timedelta(hours=2), base_url=BASE_URL, why="again")
    with stage.store.read() as view:
        assert view.version() == version


def test_who_has_no_part_in_a_vehicle_any_more_is_not_shown_it_any_more() -> None:
    stage = demo()
    (key, *_) = subscribed(stage, 2)
    assert b"SUMMARY:Anvil" in bodies(stage.store)[key, ""][1]
    with stage.store.write(Change("test", "drives it no more", LATER)) as unit:
        anvil = next(vehicle for vehicle in unit.vehicles() if vehicle.mark == "AN")
        unit.put_vehicle(replace(anvil, drivers=()))
        settle(unit, stage.rules, now=LATER, base_url=BASE_URL, marks=("AN",))
    body = bodies(stage.store)[key, ""][1]
    assert b"Anvil" not in body
    assert b"SUMMARY:" in body


def test_everybody_is_shown_what_the_rule_of_the_garage_says() -> None:
    """`marks_seen_by`, person by person."""
    stage = demo()
    subscribed(stage, 5)
    with stage.store.read() as view:
        garage, vehicles, scopes = view.garage(), view.vehicles(), view.feed_scopes()
        assert garage is not None
        for person in view.people():
            if (person.key, "") in scopes:
                assert scopes[person.key, ""][1] == marks_seen_by(person, garage, vehicles)
    assert len(scopes) >= 5


def test_who_works_on_somebody_elses_vehicle_has_those_hours_in_their_calendar_and_nothing_more_of_it() -> None:
    """Teo's hands are asked for on Lantern, which Piet keeps: his own time is taken, its other dates are not his."""
    stage = demo()
    now = DEMO_NOW
    for person in ("teo", "piet"):
        make_key(stage.store, stage.keys, now=now, who="test", purpose=Purpose.FEED, person=person)
        publish_feed(stage.store, stage.rules, person=person, now=now, base_url=BASE_URL)

    def of_lantern(person: str) -> list[Block]:
        return [each for each in _events(stage.store, person).values() if "Lantern" in each.one("SUMMARY").value]

    teos, piets = of_lantern("teo"), of_lantern("piet")
    assert len(piets) > len(teos) >= 2
    titles = {each.one("SUMMARY").value.split("\\,")[0] for each in teos}
    assert titles == {"Lantern in the bay", "Lantern in the bay again", "Lantern stands until Sun 10:40"}
    assert {each.one("TRANSP").value for each in teos if "in the bay" in each.one("SUMMARY").value} == {"OPAQUE"}
    with stage.store.write(Change("test", "Marit does it", LATER)) as unit:
        for visit in unit.bay_visits(("LA",)):
            unit.put_bay_visit(replace(visit, mechanic="marit"))
        settle(unit, stage.rules, now=LATER, base_url=BASE_URL, marks=("LA",))
    assert of_lantern("teo") == []
    refresh(stage.store, stage.rules, now=LATER, base_url=BASE_URL, why="the whole")
    assert of_lantern("teo") == []


def test_one_persons_choice_leaves_the_others_feeds_alone() -> None:
    stage = demo()
    one, other, *_ = subscribed(stage, 4)
    before = bodies(stage.store)
    choice = FeedChoice(alarms=stage.rules.feeds.alarms)
    choose_feed(stage.store, stage.rules, one, choice, now=LATER, who="test", base_url=BASE_URL)
    after = bodies(stage.store)
    assert after[one, ""] != before[one, ""]
    assert {key: body for key, body in after.items() if key[0] != one} == {
        key: body for key, body in before.items() if key[0] != one
    }
    assert other


def test_a_garage_without_anything_due_has_feeds_that_say_so() -> None:
    stage = demo()
    with stage.store.write(Change("test", "a guest", DEMO_NOW)) as unit:
        unit.put_person(Person("guest", "Guest"))
    body = publish_feed(stage.store, stage.rules, "guest", now=DEMO_NOW, base_url=BASE_URL)
    assert body.count(b"BEGIN:VEVENT") == 1
    assert b"SUMMARY:No vehicle of yours yet" in body


# One state, one body


def published_on(home: Path, url: str) -> dict[str, tuple[str, datetime, bytes]]:
    """The demo, brought in and published there: tag, moment and bytes of every person's feed, as a poll gives them."""
    write_new_home(home)
    clock, keys = FixedClock(DEMO_NOW), NumberedKeys()
    parts = assemble(home, {"FLEETCARE_DATABASE": url}, clock=clock, keys=keys)
    try:
        parts = bring_in_files(parts, shipped_demo()).parts
        with parts.store.read() as view:
            people = [person.key for person in view.people()]
        for person in people:
            make_key(parts.store, parts.keys, now=DEMO_NOW, who="test", purpose=Purpose.FEED, person=person)
        refresh(parts.store, parts.rules, now=DEMO_NOW, base_url=BASE_URL, why="begin")
        clock.move(timedelta(days=20))
        refresh(parts.store, parts.rules, now=clock.now(), base_url=BASE_URL, why="later")
    finally:
        parts.close()
    # A second worker, and a process started since, read what the first one wrote.
    other = assemble(home, {"FLEETCARE_DATABASE": url}, clock=clock, keys=keys)
    try:
        found = {}
        with other.store.read() as view:
            by_person = {key.person: key.hash for key in view.keys(Purpose.FEED)}
        for person in people:
            body = other.store.feed_by_key(by_person[person], clock.now())
            stamp = other.store.feed_stamp(by_person[person], clock.now())
            assert body is not None
            assert stamp is not None
            assert (stamp.etag, stamp.modified_at) == (body.etag, body.modified_at)
            found[person] = (body.etag, body.modified_at, body.body)
        return found
    finally:
        other.close()


@pytest.mark.postgres
def test_both_databases_give_the_same_bytes_and_validators(sqlite_url: str, postgres_url: str, tmp_path: Path) -> None:
    one = published_on(tmp_path / "one", sqlite_url)
    assert len(one) > 5
    assert one == published_on(tmp_path / "two", postgres_url)


# Brought up to date after the write


def drive(stage: Stage, value: str, now: datetime, *, feeds_later: bool) -> None:
    given = Given("AN", Decimal(value), "ines", Door.PHONE, on=now.date())
    came = record_reading(stage.store, stage.rules, given, now=now, base_url=BASE_URL, feeds_later=feeds_later)
    assert isinstance(came, Recorded)


def bytes_of(stage: Stage, keys: list[str]) -> list[bytes]:
    with stage.store.read() as view:
        return [found.body for key in keys if (found := view.feed(key)) is not None]


def test_what_is_owed_is_given_in_one_go_and_comes_to_the_same_entries() -> None:
    one, other = demo(), demo()
    keys = subscribed(one, 3)
    subscribed(other, 3)
    before = bytes_of(one, keys)
    assert before == bytes_of(other, keys)
    drive(one, "113040", LATER, feeds_later=True)
    assert bytes_of(one, keys) == before, "nobody waited for calendars"
    with one.store.read() as view:
        assert view.feeds_owed() == {"AN"}
    assert bring_feeds_up(one.store, one.rules, now=LATER, base_url=BASE_URL) == 1
    drive(other, "113040", LATER, feeds_later=False)
    after = bytes_of(one, keys)
    assert after != before
    assert after == bytes_of(other, keys)
    with one.store.read() as view:
        assert view.feeds_owed() == frozenset()
        version = view.version()
    assert bring_feeds_up(one.store, one.rules, now=LATER, base_url=BASE_URL) == 0
    with one.store.read() as view:
        assert view.version() == version, "with nothing owed nothing is written"


def test_a_whole_pass_gives_all_that_was_owed() -> None:
    stage = demo()
    keys = subscribed(stage, 1)
    before = bytes_of(stage, keys)
    drive(stage, "113040", LATER, feeds_later=True)
    refresh(stage.store, stage.rules, now=LATER, base_url=BASE_URL, why="a new day")
    assert bytes_of(stage, keys) != before
    with stage.store.read() as view:
        assert view.feeds_owed() == frozenset()


# Restored from a backup


def test_after_a_restore_nothing_goes_backwards(tmp_path: Path) -> None:
    home = tmp_path / "home"
    database = tmp_path / "fleetcare.sqlite3"
    url = f"sqlite:///{database}"
    published_on(home, url)
    shutil.copyfile(database, tmp_path / "backup")
    clock = FixedClock(DEMO_NOW + timedelta(days=21))
    parts = assemble(home, {"FLEETCARE_DATABASE": url}, clock=clock, keys=NumberedKeys())
    stage_rules = parts.rules
    first = DEMO_NOW.date() + timedelta(days=40)
    for day in range(1, 6):  # what is published after the backup and then lost
        clock.move(timedelta(days=7))
        with parts.store.write(Change("test", "lost", clock.now())) as unit:
            moved = first + timedelta(days=day)
            unit.put_booking(Booking("lost", "Lost run", DateSpan.of_days(moved, moved), ("AN",)))
            settle(unit, stage_rules, now=clock.now(), base_url=BASE_URL)
    lost = _events(parts.store, "ines")
    parts.close()
    for end in ("", "-wal", "-shm"):
        database.with_name(database.name + end).unlink(missing_ok=True)
    shutil.copyfile(tmp_path / "backup", database)
    parts = assemble(home, {"FLEETCARE_DATABASE": url}, clock=clock, keys=NumberedKeys())
    clock.move(timedelta(minutes=10))
    assert feeds_after_restore(parts.store, parts.rules, now=clock.now(), base_url=BASE_URL) == 1
    restored = _events(parts.store, "ines")
    with parts.store.write(Change("test", "entered once more", clock.now())) as unit:
        moved = first + timedelta(days=9)
        unit.put_booking(Booking("lost", "Lost run", DateSpan.of_days(moved, moved), ("AN",)))
        settle(unit, stage_rules, now=clock.now(), base_url=BASE_URL)
    restored |= {uid: event for uid, event in _events(parts.store, "ines").items() if uid not in restored}
    parts.close()
    both = set(lost) & set(restored)
    assert len(both) > 20
    assert any(int(lost[uid].one("SEQUENCE").value) > 1 for uid in both)
    for uid in both:
        assert int(restored[uid].one("SEQUENCE").value) > int(lost[uid].one("SEQUENCE").value)
        assert moment_of(restored[uid].one("LAST-MODIFIED")) > moment_of(lost[uid].one("LAST-MODIFIED"))


def _events(store: Store, person: str) -> dict[str, Block]:
    with store.read() as view:
        body = view.feed(person)
    assert body is not None
    return {event.one("UID").value: event for event in parsed(unfolded(body.body)).blocks}
