"""Which letters are written, and that each is written once: over a year, after a restart, by two at a time."""

from __future__ import annotations

import quopri
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from fleetcare.actions.composing import SAMPLE_KEY
from fleetcare.actions.ports import Change, WriteUnit
from fleetcare.actions.record_reading import Given, record_reading
from fleetcare.actions.write_letters import (
    AT_ONCE,
    Desk,
    garage_message,
    send_garage_letter,
    stop_letters,
    write_come_in_letter,
    write_due_letters,
    write_garage_letter,
)
from fleetcare.chance import key_hash
from fleetcare.digest.values import Delivery, DeliveryState, LetterKind
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.access import AccessKey, Purpose
from fleetcare.fleet.people import Person
from fleetcare.meter.reading import Door
from tests.actions.garages import BASE_URL, SMALL_NOW, Stage, log_of, person, small
from tests.stand_ins import MemoryStore

HOUR = timedelta(hours=1)
MONDAY = datetime(2021, 6, 7, 12, 0, tzinfo=UTC)
"""Four months after the last reading: everybody's letter has something to say."""


def ledger(store: MemoryStore, kind: LetterKind = LetterKind.GARAGE) -> list[Delivery]:
    with store.read() as view:
        return [each for each in view.deliveries() if each.kind is kind]


def write(stage: Stage, now: datetime, *, requests: bool = False) -> int:
    return write_due_letters(stage.store, stage.rules, stage.desk, now=now, with_requests=requests)


def test_over_a_year_of_hourly_wakes_each_person_has_one_letter_a_week() -> None:
    """Hours that a clock change leaves out or doubles are among them: 02:00 in Berlin, 01:00 in New York."""
    people = (
        person("berta", "Europe/Berlin", weekday=6, hour=2),
        person("nils", "America/New_York", weekday=6, hour=1),
        person("kiran", "Asia/Kolkata", weekday=2, hour=7),
    )
    stage = small(*people)
    start = datetime(2021, 3, 1, tzinfo=UTC)
    now = start
    while now < start + timedelta(days=365):
        write(stage, now)
        now += HOUR
    letters = ledger(stage.store)
    assert max(Counter((each.person, each.period) for each in letters).values()) == 1
    for each in people:
        theirs = [letter for letter in letters if letter.person == each.key]
        assert {letter.period for letter in theirs} == weeks_of(each, start, now)
        # The first one catches up with the week before; each of the others came within an hour of its moment.
        for letter in theirs[1:]:
            local = letter.decided_at.astimezone(ZoneInfo(each.zone))
            assert local.weekday() == each.letter_weekday
            assert local.hour - each.letter_hour in (0, 1), f"{each.key}: {local}"


def weeks_of(whose: Person, start: datetime, end: datetime) -> set[str]:
    """ISO weeks of that weekday's dates, counted on a calendar alone: from the last one before the start on."""
    zone = ZoneInfo(whose.zone)
    first = start.astimezone(zone).date() - timedelta(days=6)
    last = (end - HOUR).astimezone(zone).date()
    days = (first + timedelta(days=n) for n in range((last - first).days + 1))
    names = set()
    for day in days:
        if day.weekday() == whose.letter_weekday:
            year, week, _ = day.isocalendar()
            names.add(f"{year}-W{week:02}")
    return names


def test_a_restart_and_a_clock_set_back_write_nothing_again() -> None:
    stage = small(person("berta"))
    assert write(stage, MONDAY) == 1
    restarted = Stage(stage.store, stage.rules, stage.keys)
    assert write(restarted, MONDAY + HOUR) == 0
    assert write(restarted, MONDAY - HOUR) == 0
    assert write(restarted, MONDAY - timedelta(days=7)) == 1, "a week that had none has one"
    assert write(restarted, MONDAY) == 0


def test_two_desks_on_one_store_write_each_letter_once() -> None:
    people = tuple(person(f"p{n}") for n in range(6))
    stage = small(*people)
    gate = threading.Barrier(4)

    def write_it() -> None:
        gate.wait()
        write(stage, MONDAY, requests=True)

    threads = [threading.Thread(target=write_it) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Counter((d.person, d.kind) for d in ledger(stage.store)) == {(p.key, LetterKind.GARAGE): 1 for p in people}
    assert len(ledger(stage.store, LetterKind.READING)) == len(people)


def test_a_machine_that_was_off_for_three_weeks_catches_up_with_one_letter() -> None:
    stage = small(person("berta"))
    assert write(stage, MONDAY) == 1
    assert write(stage, MONDAY + timedelta(weeks=3)) == 1
    assert [each.period for each in ledger(stage.store)] == ["2021-W23", "2021-W26"]


def test_who_has_no_mail_or_wants_no_letter_gets_none() -> None:
    stage = small(person("berta"), person("mute", mail=""), person("never", weekday=None))
    write(stage, MONDAY, requests=True)
    with stage.store.read() as view:
        assert {each.person for each in view.deliveries()} == {"berta"}


def test_where_there_is_nothing_to_say_the_week_is_settled_without_a_letter() -> None:
    """Two days after the reading nothing wants anything, and Idle drives nothing."""
    stage = small(person("idle"))
    with stage.store.write(Change("test", "nobody drives", SMALL_NOW)) as unit:
        (vehicle,) = unit.vehicles()
        unit.put_vehicle(replace(vehicle, keeper="noor", drivers=()))
    assert write(stage, SMALL_NOW) == 0
    (nothing,) = ledger(stage.store)
    assert (nothing.state, nothing.raw) == (DeliveryState.NOTHING, b"")
    assert write(stage, SMALL_NOW + HOUR) == 0
    assert len(ledger(stage.store)) == 1


def test_while_requests_are_not_looked_for_none_is_written() -> None:
    stage = small(person("berta"))
    write(stage, MONDAY)
    assert ledger(stage.store, LetterKind.READING) == []
    write(stage, MONDAY, requests=True)
    assert len(ledger(stage.store, LetterKind.READING)) == 1


def test_one_address_that_cannot_stand_in_a_letter_keeps_nobody_else_waiting() -> None:
    stage = small(person("anna"), person("bad", mail="bad\r\nBcc: all@small.example"), person("zoe"))
    assert write(stage, MONDAY) == 2
    states = {each.person: each for each in ledger(stage.store)}
    assert {key: each.state for key, each in states.items()} == {
        "anna": DeliveryState.DUE,
        "bad": DeliveryState.FAILED,
        "zoe": DeliveryState.DUE,
    }
    assert states["bad"].last_answer.endswith(".")
    assert any(
        "bad" in entry.subject and states["bad"].last_answer in entry.after for entry in log_of(stage.store, "letter")
    )
    assert write(stage, MONDAY + HOUR) == 0, "it is said once"


def test_a_reading_is_asked_for_once_a_month_until_it_comes() -> None:
    """The last reading is of 1 February 2021; one is wanted 28 days later, on 1 March."""
    stage = small(person("berta", hour=7))
    now = datetime(2021, 2, 20, 8, 0, tzinfo=UTC)
    while now < datetime(2021, 5, 20, tzinfo=UTC):
        write(stage, now, requests=True)
        now += timedelta(hours=6)
    asked = ledger(stage.store, LetterKind.READING)
    assert [each.period for each in asked] == ["2021-03/PO", "2021-04/PO", "2021-05/PO"]
    given = Given("PO", Decimal(14_000), "berta", Door.COMMAND, on=date(2021, 5, 20))
    record_reading(stage.store, stage.rules, given, now=now, base_url=BASE_URL)
    write(stage, datetime(2021, 6, 2, 8, tzinfo=UTC), requests=True)
    assert len(ledger(stage.store, LetterKind.READING)) == 3


def test_a_letter_asked_for_is_beside_the_weekly_one_and_a_preview_is_stored_nowhere() -> None:
    stage = small(person("berta"), person("mute", mail=""))
    before = stage.store._memory
    preview = write_garage_letter(stage.store, stage.rules, stage.desk, "berta", now=MONDAY)
    assert preview is not None
    assert stage.store._memory is before
    assert write(stage, MONDAY) == 1
    assert send_garage_letter(stage.store, stage.rules, stage.desk, "berta", now=MONDAY) is True
    assert send_garage_letter(stage.store, stage.rules, stage.desk, "berta", now=MONDAY) is False, "the same moment"
    assert len(ledger(stage.store)) == 2
    with pytest.raises(BadInput, match="Mute has no mail address"):
        send_garage_letter(stage.store, stage.rules, stage.desk, "mute", now=MONDAY)
    with pytest.raises(NotFound, match="Did you mean"):
        send_garage_letter(stage.store, stage.rules, stage.desk, "bertha", now=MONDAY)


def test_a_stop_link_ends_the_letters_of_its_reader_alone() -> None:
    stage = small(person("anna"), person("berta"))
    write(stage, MONDAY)
    desk: Desk = stage.desk
    secret = desk.keys.new_key()
    with stage.store.write(Change("test", "a stop key", MONDAY)) as unit:
        unit.put_key(
            AccessKey(key_hash(secret), Purpose.STOP_LETTERS, "anna", "", MONDAY, MONDAY + timedelta(days=400))
        )
    assert stop_letters(stage.store, "unknown", now=MONDAY) is False
    assert stop_letters(stage.store, secret, now=MONDAY) is True
    assert stop_letters(stage.store, secret, now=MONDAY) is True, "twice is harmless"
    assert write(stage, MONDAY + timedelta(weeks=1)) == 1
    assert stop_letters(stage.store, secret, now=MONDAY + timedelta(days=401)) is False


def test_a_way_in_is_sent_once_a_minute_at_most_and_never_to_a_stranger() -> None:
    stage = small(person("berta"))
    for mail in ("berta@small.example", " BERTA@small.example ", "stranger@small.example", ""):
        write_come_in_letter(stage.store, stage.desk, mail, now=MONDAY)
    assert [each.person for each in ledger(stage.store, LetterKind.COME_IN)] == ["berta"]
    write_come_in_letter(stage.store, stage.desk, "berta@small.example", now=MONDAY + timedelta(minutes=1))
    assert len(ledger(stage.store, LetterKind.COME_IN)) == 2


def test_a_garage_is_written_in_stretches_so_that_nobody_waits_for_all_of_it() -> None:
    people = tuple(person(f"p{n:03}") for n in range(2 * AT_ONCE + 5))
    stage = small(*people)
    watched = Counted(stage.store)
    assert write_due_letters(watched, stage.rules, stage.desk, now=MONDAY, with_requests=False) == len(people)
    assert watched.letters == [AT_ONCE, AT_ONCE, 5]
    assert len(ledger(stage.store)) == len(people)


class Killed(BaseException):
    """The process is gone."""


class Counted:
    """A store that counts the letters of each write, and is killed in the write it was told."""

    def __init__(self, within: MemoryStore, dies_in: int = 0) -> None:
        self.within, self.dies_in = within, dies_in
        self.letters: list[int] = []

    def __getattr__(self, name: str) -> Any:
        return getattr(self.within, name)

    @contextmanager
    def write(self, change: Change, *, typed: bool = True) -> Iterator[WriteUnit]:
        """As usual, counted."""
        with self.within.write(change, typed=typed) as unit:
            before = len(unit.letter_places())
            yield unit
            self.letters.append(len(unit.letter_places()) - before)
            if len(self.letters) == self.dies_in:
                raise Killed


def test_killed_between_two_stretches_the_rest_is_written_by_the_next_call_and_nothing_twice() -> None:
    people = tuple(person(f"p{n:03}") for n in range(3 * AT_ONCE))
    stage = small(*people)
    with pytest.raises(Killed):
        write_due_letters(
            Counted(stage.store, dies_in=2),
            stage.rules,
            stage.desk,
            now=MONDAY,
            with_requests=False,
        )
    assert len(ledger(stage.store)) == AT_ONCE
    assert write(stage, MONDAY + HOUR) == 2 * AT_ONCE
    assert Counter(each.person for each in ledger(stage.store)) == {each.key: 1 for each in people}


def test_the_bytes_that_are_shown_are_those_that_go_but_for_the_keys_in_their_links() -> None:
    stage = small(person("berta"))

    class Sample:
        """Draws the key that stands in letters which are only shown."""

        def new_key(self) -> str:
            """Always the same."""
            return SAMPLE_KEY

    desk = replace(stage.desk, keys=Sample())
    shown = garage_message(stage.store, stage.rules, desk, "berta", now=MONDAY)
    assert write_due_letters(stage.store, stage.rules, desk, now=MONDAY, with_requests=False) == 1
    (decided,) = ledger(stage.store)
    assert shown == decided.raw
    later = garage_message(stage.store, stage.rules, stage.desk, "berta", now=MONDAY + timedelta(days=3))
    assert later == decided.raw, "once decided it is the very letter, whatever has changed since"
    nobody = small(person("idle"))
    with nobody.store.write(Change("test", "nobody drives", SMALL_NOW)) as unit:
        (vehicle,) = unit.vehicles()
        unit.put_vehicle(replace(vehicle, keeper="noor", drivers=()))
    assert garage_message(nobody.store, nobody.rules, nobody.desk, "idle", now=SMALL_NOW) is None


def test_past_late_and_lost_letters_are_told_once_and_next_weeks_letter_says_what_was_missed() -> None:
    stage = small(person("berta", hour=7), person("noor", weekday=None))
    late = datetime(2021, 12, 6, 12, tzinfo=UTC)  # ten months after the last reading
    write(stage, late, requests=True)
    told = ledger(stage.store, LetterKind.PAST_LATE)
    assert [each.state for each in told].count(DeliveryState.DUE) == 1, "one letter, however many services"
    write(stage, late + timedelta(days=3), requests=True)
    assert ledger(stage.store, LetterKind.PAST_LATE) == told
    (weekly,) = ledger(stage.store)
    with stage.store.write(Change("test", "it comes back", late)) as unit:
        unit.set_delivery(replace(weekly, state=DeliveryState.FAILED, last_answer="550 no such mailbox"))
        garage = unit.garage()
        assert garage is not None
        unit.put_garage(replace(garage, list_keeper="noor"))
    for hours in (1, 2, 30):
        write(stage, late + timedelta(hours=hours))
    (word,) = ledger(stage.store, LetterKind.NOT_DELIVERED)
    assert (word.person, word.state) == ("noor", DeliveryState.DUE)
    assert b"550 no such mailbox" in quopri.decodestring(word.raw)
    write(stage, late + timedelta(days=7))
    second = ledger(stage.store)[-1]
    assert b"did not get through" in quopri.decodestring(second.raw)


def test_a_person_in_a_zone_nobody_knows_keeps_nobody_elses_letters() -> None:
    stage = small(person("anna"), person("lost", "Atlantis/Deep"), person("zoe"))
    assert write(stage, MONDAY, requests=True) >= 3
    assert {each.person for each in ledger(stage.store)} == {"anna", "lost", "zoe"}


@pytest.mark.parametrize("step", [timedelta(hours=1), timedelta(days=1), timedelta(days=365)])
def test_a_clock_that_runs_ahead_and_is_set_right_again_sends_nothing_twice(step: timedelta) -> None:
    stage = small(person("berta", "Europe/Berlin"), person("nils", "America/New_York", weekday=2, hour=23))
    start = datetime(2021, 6, 1, tzinfo=UTC)
    for day in range(60):
        now = start + timedelta(days=day)
        for at in (now, now + step, now, now - step):
            write(stage, at)
    counts = Counter((each.person, each.period) for each in ledger(stage.store))
    assert set(counts.values()) == {1}
    weeks = {each.period for each in ledger(stage.store) if each.person == "berta"}
    assert {f"2021-W{week:02}" for week in range(22, 30)} <= weeks, "no week of the right clock is left out"


def test_who_moves_to_another_zone_a_minute_before_the_letter_gets_one_that_week() -> None:
    """6:59 in Berlin; in Auckland it is long past seven, in Los Angeles it is still Sunday."""
    for zone in ("Pacific/Auckland", "America/Los_Angeles", "Asia/Kathmandu"):
        stage = small(person("berta", "Europe/Berlin"))
        now = datetime(2021, 6, 7, 4, 59, tzinfo=UTC)
        write(stage, now)
        with stage.store.write(Change("test", "moves", now)) as unit:
            berta = next(p for p in unit.people() if p.key == "berta")
            unit.put_person(replace(berta, zone=zone))
        for hours in range(24 * 12):
            write(stage, now + timedelta(minutes=1) + hours * HOUR)
        counts = Counter(each.period for each in ledger(stage.store))
        assert set(counts.values()) == {1}, zone
        assert {"2021-W22", "2021-W23", "2021-W24"} == set(counts), zone
