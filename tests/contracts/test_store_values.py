"""Every store gives back what it was given, in the order the port says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetcare.actions.ports import Change, LineState, LogEntry, Store, WriteUnit
from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.values import PublishedEntry, number_of
from fleetcare.digest.values import Delivery, DeliveryState, LetterKind
from fleetcare.due.outlook import Cause, DueWindow, NoDate
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState, laid_end_to_end
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedChoice
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import MeterUnit
from fleetcare.work.moves import Move
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import ANVIL, BELLOWS, CHANGE, LINE, MINUTE, NOW, RAFT, TODAY, settle_in

YESTERDAY = TODAY - timedelta(days=1)
LOOK = LineKey("AN", "rear-axle", "axle-look")
THEIRS = LINE._replace(mark="BE")
WINDOW = DueWindow(TODAY, TODAY, TODAY + timedelta(days=9), Cause.DISTANCE)
ON_ONE_STORE = settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


def test_an_empty_store_holds_nothing(store: Store) -> None:
    with store.read() as view:
        assert view.version() == 0
        assert view.garage() is None
        for several in (view.people, view.vehicles, view.readings, view.work, view.events, view.bookings, view.keys):
            assert several() == ()
        assert view.published("ines") == ()
        assert view.deliveries() == ()
        assert view.log() == ()
        assert view.windows() == {}
        assert view.key("aa11") is None
        assert view.feed("ines") is None
        assert view.feed_contents() == ()
        for by_key in (view.revisions, view.shown_lines, view.feed_choices, view.fetches):
            assert len(by_key()) == 0
        assert view.feed_era() == 0
        assert view.feeds_owed() == frozenset()
        assert view.newest_fit() is None
        assert view.delivery("ines", LetterKind.GARAGE, "2026-W16") is None


def test_garage_and_people_come_back_whole_people_by_key_and_the_latest_counts(store: Store) -> None:
    settle_in(store)
    with store.read() as view:
        assert view.garage() == kr.GARAGE
        assert view.people() == (kr.INES, kr.TEO)
    renamed, moved = replace(kr.GARAGE, name="Karst Ridge"), replace(kr.TEO, zone="Europe/Vienna", letter_weekday=None)
    with store.write(CHANGE) as unit:
        unit.put_garage(renamed)
        unit.put_person(moved)
    with store.read() as view:
        assert view.garage() == renamed
        assert view.people() == (kr.INES, moved)


def test_vehicles_come_back_whole_in_the_order_they_were_first_entered(store: Store) -> None:
    settle_in(store)
    changed = replace(RAFT, name="Raft II", components=ANVIL.components[1:])
    with store.write(CHANGE) as unit:
        unit.put_vehicle(changed)
    with store.read() as view:
        assert view.vehicles() == (changed, ANVIL, BELLOWS)
        assert view.vehicles(["BE", "RA", "ZZ"]) == (changed, BELLOWS)
        assert view.vehicles([]) == ()


def test_a_vehicle_put_again_with_less_has_less(store: Store) -> None:
    settle_in(store)
    stripped = replace(ANVIL, meters=ANVIL.meters[::-1], components=(replace(kr.AXLE, lines=()),))
    with store.write(CHANGE) as unit:
        unit.put_vehicle(stripped)
        assert unit.vehicles(["AN"]) == (stripped,)


def test_more_marks_can_be_asked_for_than_one_statement_holds(store: Store) -> None:
    settle_in(store)
    many = [*(f"{number:04}" for number in range(40_000)), "BE"]
    with store.read() as view:
        assert view.vehicles(many) == (BELLOWS,)


@ON_ONE_STORE
@given(st.lists(kr.vehicles, max_size=3, unique_by=lambda vehicle: vehicle.mark))
def test_any_vehicles_come_back_as_they_were_given(store: Store, vehicles: list[Vehicle]) -> None:
    with store.write(CHANGE) as unit:
        for vehicle in vehicles:
            unit.put_vehicle(vehicle)
    with store.read() as view:
        assert {v.mark: v for v in view.vehicles([v.mark for v in vehicles])} == {v.mark: v for v in vehicles}


@ON_ONE_STORE
@given(st.lists(kr.readings, max_size=5))
def test_any_readings_come_back_as_they_were_given(store: Store, readings: list[Reading]) -> None:
    first = {reading.identity: reading for reading in reversed(readings)}
    with store.write(CHANGE) as unit:
        unit.put_vehicle(ANVIL)
        before = {reading.identity for reading in unit.readings()}
        assert unit.add_readings(readings) == len(first.keys() - before)
    with store.read() as view:
        found = view.readings(["AN"])
    by_identity = {reading.identity: reading for reading in found}
    assert len(by_identity) == len(found)
    assert all(replace(by_identity[one], id=None) == first[one] for one in first.keys() - before)
    assert list(found) == sorted(found, key=lambda r: (r.mark, r.meter, r.on, r.id or 0))


def test_readings_come_by_mark_meter_day_and_id(store: Store) -> None:
    settle_in(store)
    given_in = [
        kr.reading("7", mark="BE"),
        kr.reading("9", meter="zeroth"),
        kr.reading("9", meter="Zeroth"),
        kr.reading("3"),
        kr.reading("2"),
        kr.reading("1", on=YESTERDAY),
    ]
    with store.write(CHANGE) as unit:
        assert unit.add_readings(given_in) == 6
    with store.read() as view:
        found = view.readings()
        assert [replace(r, id=None) for r in found] == [given_in[number] for number in (2, 5, 3, 4, 1, 0)]
        assert len({r.id for r in found}) == 6
        assert [r.value for r in view.readings(["BE", "ZZ"])] == [7]


def test_the_same_reading_again_counts_once_whoever_sends_it(store: Store) -> None:
    settle_in(store)
    one = kr.reading("84210.0")
    again = replace(one, value=Decimal(84210), by="ines", entered_at=NOW + MINUTE, note="", split=None)
    with store.write(CHANGE) as unit:
        assert unit.add_readings([one, again]) == 1
    with store.write(CHANGE) as unit:
        assert unit.add_readings([again]) == 0
        assert unit.add_readings([replace(one, unit=MeterUnit.KM), replace(one, on=YESTERDAY)]) == 2
    with store.read() as view:
        (kept,) = [r for r in view.readings() if r.identity == one.identity]
        assert replace(kept, id=None) == one


def test_only_state_and_note_of_a_reading_change(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.add_readings([kr.reading()])
        number = unit.readings()[0].id or 0
        unit.set_reading_state(number, ReadingState.HELD, "runs backwards")
    with store.read() as view:
        assert view.readings() == (replace(kr.reading(), state=ReadingState.HELD, note="runs backwards", id=number),)


def test_work_comes_by_line_day_and_id_with_its_findings_in_order(store: Store) -> None:
    settle_in(store)
    given_in = [kr.work(line=LOOK), kr.work(), kr.work(at=None), kr.work(on=YESTERDAY), kr.work(line=THEIRS)]
    with store.write(CHANGE) as unit:
        assert unit.add_work(given_in) == 5
        assert unit.add_work(given_in) == 0
    with store.read() as view:
        assert [replace(done, id=None) for done in view.work()] == [given_in[number] for number in (3, 1, 2, 0, 4)]
        assert [done.line for done in view.work(["BE"])] == [THEIRS]


def test_work_is_the_same_by_line_day_and_value(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        assert unit.add_work([kr.work(), replace(kr.work(), by="ines", findings=()), kr.work(at=None)]) == 2
        assert unit.add_work([replace(kr.work(), unit=MeterUnit.KM), kr.work(at="84210")]) == 2
        assert unit.work()[0].findings == kr.work().findings
        # A unit beside a dial that nobody read says nothing.
        assert unit.add_work([replace(kr.work(at=None), unit=MeterUnit.KM)]) == 0
        unit.add_work([replace(kr.work(at=None, on=YESTERDAY), unit=MeterUnit.KM)])
        assert unit.work()[0].unit is None


def test_events_come_by_mark_day_kind_component_and_once(store: Store) -> None:
    settle_in(store)
    axle = kr.event(component="rear-axle")
    given_in = [kr.event(mark="BE"), kr.event("tow"), axle, kr.event(), kr.event(on=YESTERDAY)]
    with store.write(CHANGE) as unit:
        assert unit.add_events([*given_in, replace(kr.event(), note="again")]) == 5
        assert unit.add_events(given_in) == 0
    with store.read() as view:
        assert view.events() == tuple(given_in[number] for number in (4, 1, 3, 2, 0))
        assert view.events(["BE"]) == (given_in[0],)


def test_bookings_come_by_first_day_and_key_and_are_put_in_place(store: Store) -> None:
    settle_in(store)
    changed = replace(kr.booking("b", marks=("BE", "AN")), distance=None)
    with store.write(CHANGE) as unit:
        for one in (kr.booking("b"), kr.booking("a"), kr.booking("c", first=YESTERDAY), changed):
            unit.put_booking(one)
    with store.read() as view:
        assert view.bookings() == (kr.booking("c", first=YESTERDAY), kr.booking("a"), changed)


def test_windows_are_kept_line_by_line_and_forgotten_by_name(store: Store) -> None:
    settle_in(store)
    states: dict[LineKey, LineState] = {THEIRS: NoDate.NO_READING, LOOK: NoDate.BEYOND, LINE: WINDOW}
    with store.write(CHANGE) as unit:
        unit.put_windows(states)
        unit.put_windows({LOOK: WINDOW, LINE: NoDate.NO_USE})
    with store.read() as view:
        assert list(view.windows().items()) == [(LINE, NoDate.NO_USE), (LOOK, WINDOW), (THEIRS, NoDate.NO_READING)]
        assert view.windows(["BE"]) == {THEIRS: NoDate.NO_READING}
    with store.write(CHANGE) as unit:
        unit.drop_windows([LOOK, LineKey("AN", "no", "such")])
        assert list(unit.windows()) == [LINE, THEIRS]


def test_keys_come_by_moment_of_making_and_hash(store: Store) -> None:
    early = kr.key("zz", made_at=NOW - MINUTE, purpose=Purpose.ODOMETER, person="", mark="AN")
    made = [kr.key("bb"), kr.key("aa", expires_at=NOW + MINUTE), early]
    with store.write(CHANGE) as unit:
        for one in made:
            unit.put_key(one)
    with store.read() as view:
        assert view.keys() == (made[2], made[1], made[0])
        assert view.keys(Purpose.FEED) == (made[1], made[0])
        assert view.key("aa") == view.key("aa", in_use=True) == made[1]
        assert view.key("cc") is None


def test_feeds_share_revisions_and_remember_what_was_withdrawn(store: Store) -> None:
    with store.write(CHANGE) as unit:
        b, a, newer = unit.add_revisions([kr.published("b"), kr.published("a"), kr.published("a", 7)])
        unit.put_feed(kr.contents(entries=(b, a)))
        unit.put_feed(kr.contents("teo", entries=(newer,)))
    with store.write(CHANGE) as unit:
        gone = replace(kr.contents(entries=(a,)), gone=((b, NOW + MINUTE),), aside=(newer,))
        unit.put_feed(gone)
    with store.read() as view:
        withdrawn = replace(kr.published("b"), withdrawn_at=NOW + MINUTE, id=b)
        kept, aside = replace(kr.published("a"), id=a), replace(kr.published("a", 7), id=newer)
        assert set(view.published("ines")) == {kept, aside, withdrawn}
        assert [entry.uid for entry in view.published("ines")] == ["a", "a", "b"]
        assert view.published("teo") == (aside,)
        assert view.feed_contents() == (gone, kr.contents("teo", entries=(newer,)))
        assert view.feed_contents([("teo", ""), ("nobody", "")]) == (kr.contents("teo", entries=(newer,)),)
        assert view.feed_scopes() == {(who, ""): (gone.form, ("AN", "BE")) for who in ("ines", "teo")}
        assert view.feed("ines") == kr.feed(parts=kr.published("a").body, count=1)


def test_revisions_come_by_id_and_by_uid_without_their_bytes(store: Store) -> None:
    """An id follows from the bytes, so that the same revision has the same one everywhere."""
    given = [kr.published("b"), kr.published("a"), kr.published("a", 7)]
    with store.write(CHANGE) as unit:
        numbers = unit.add_revisions(given)
        assert numbers == tuple(number_of(each.digest) for each in given)
        assert unit.add_revisions(given[1:]) == numbers[1:]
    with store.read() as view:
        found = view.revisions()
        assert list(found) == sorted(numbers)
        for number, each in zip(numbers, given, strict=True):
            told = found[number]
            assert (told.uid, told.sequence) == (each.uid, each.sequence)
            assert (told.digest, told.size) == (each.digest, each.size)
            assert not isinstance(told, PublishedEntry)
        assert view.revisions([numbers[2], 999]) == {numbers[2]: found[numbers[2]]}
        assert view.revisions_of(["a", "c"]) == tuple(found[number] for number in sorted(numbers[1:]))
    with store.write(CHANGE) as unit:
        unit.drop_revisions([numbers[0], numbers[2]])
        assert list(unit.revisions()) == [numbers[1]]


def test_bare_vehicles_are_the_vehicles_without_what_they_are_made_of(store: Store) -> None:
    settle_in(store)
    with store.read() as view:
        whole, bare = view.vehicles(), view.bare_vehicles()
    assert any(vehicle.components for vehicle in whole)
    assert bare == tuple(replace(vehicle, meters=(), components=()) for vehicle in whole)


def test_calendars_are_owed_until_they_are_given(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.owe_feeds(["BE", "AN"])
        unit.owe_feeds(["CI", "AN"])
        assert unit.feeds_owed() == {"AN", "BE", "CI"}
    with store.write(CHANGE) as unit:
        unit.feeds_given(["BE", "no such"])
    with store.read() as view:
        assert view.feeds_owed() == {"AN", "CI"}
    with store.write(CHANGE) as unit:
        unit.feeds_given()
        assert unit.feeds_owed() == frozenset()


def test_what_calendars_say_and_what_people_want_come_back_whole(store: Store) -> None:
    settle_in(store)
    plain = Shown(kr.SHOWN.window, None, 46.5)
    with store.write(CHANGE) as unit:
        unit.put_shown_lines({THEIRS: plain, LINE: kr.SHOWN})
        unit.put_feed_choice("teo", kr.CHOICE)
        unit.put_feed_choice("ines", FeedChoice())
        unit.put_feed_choice("ines", replace(kr.CHOICE, alarms=()))
        unit.put_feed_era(2)
    with store.read() as view:
        assert list(view.shown_lines().items()) == [(LINE, kr.SHOWN), (THEIRS, plain)]
        assert view.shown_lines(["BE"]) == {THEIRS: plain}
        assert view.feed_choices() == {"ines": replace(kr.CHOICE, alarms=()), "teo": kr.CHOICE}
        assert view.feed_era() == 2
    with store.write(CHANGE) as unit:
        unit.drop_shown_lines([LINE, LineKey("AN", "no", "such")])
        assert list(unit.shown_lines()) == [THEIRS]


def test_a_key_keeps_its_name_and_when_it_was_replaced(store: Store) -> None:
    named = replace(kr.key(), name="phone", replaced_at=NOW + MINUTE)
    with store.write(CHANGE) as unit:
        unit.put_key(kr.key())
        unit.put_key(named)
    with store.read() as view:
        assert view.key("aa11") == named


def test_letters_come_by_moment_of_decision_and_are_there_once_for_ever(store: Store) -> None:
    early = replace(kr.letter(period="2026-W15"), decided_at=NOW - MINUTE)
    given_in = [kr.letter(), early, kr.letter("ines"), kr.letter(kind=LetterKind.READING)]
    with store.write(CHANGE) as unit:
        assert all([unit.add_delivery(one) for one in given_in])  # noqa: C419 - each is to be added
        assert not unit.add_delivery(replace(kr.letter(), raw=b"another", state=DeliveryState.SENT))
    with store.write(CHANGE) as unit:
        for there in unit.deliveries():
            unit.set_delivery(replace(there, state=DeliveryState.EXPIRED))
        assert not unit.add_delivery(kr.letter())
    with store.read() as view:
        found = view.deliveries()
        expired = [replace(one, state=DeliveryState.EXPIRED) for one in given_in]
        assert [replace(one, id=None) for one in found] == [expired[number] for number in (1, 0, 2, 3)]
        assert view.deliveries(DeliveryState.DUE) == ()
        assert view.deliveries(DeliveryState.EXPIRED) == found
        assert view.delivery("teo", LetterKind.GARAGE, "2026-W16") == found[1]


def test_the_state_of_a_letter_changes_and_what_it_says_does_not(store: Store) -> None:
    progress: dict[str, Any] = {
        "state": DeliveryState.SENT,
        "tries": 3,
        "next_try_at": NOW + MINUTE,
        "leased_until": NOW,
        "last_answer": "250 Ok — 二",
        "sent_at": NOW + 2 * MINUTE,
    }
    with store.write(CHANGE) as unit:
        unit.add_delivery(kr.letter())
        (there,) = unit.deliveries()
        other = Delivery("ines", LetterKind.COME_IN, "never", "<n>", "no", "n@x", b"no", NOW + MINUTE, NOW, id=there.id)
        unit.set_delivery(replace(other, **progress))
        assert unit.deliveries() == (replace(there, **progress),)


def test_the_log_comes_newest_first_with_its_change(store: Store) -> None:
    second = Change("ines", "feed asked for", NOW + MINUTE)
    with store.write(CHANGE) as unit:
        unit.log_change("AN", "reading", "—", "84 210.5 mi")
        unit.log_change("BE", "reading", "", "7 mi")
    with store.write(second) as unit:
        unit.log_change("AN", "window", "2026-04-14", "2026-04-15")
    with store.read() as view:
        newest, middle, oldest = view.log()
        assert replace(newest, id=None) == LogEntry(second, "AN", "window", "2026-04-14", "2026-04-15")
        assert (middle.subject, oldest.after, oldest.change) == ("BE", "84 210.5 mi", CHANGE)
        assert view.log("AN") == (newest, oldest)
        assert view.log("AN", 1) == view.log(limit=1) == (newest,)
        assert view.log("ZZ") == view.log(limit=0) == ()


def test_instants_come_back_as_the_same_moment_whatever_zone_they_were_given_in(store: Store) -> None:
    local = NOW.astimezone(ZoneInfo("Pacific/Apia"))
    with store.write(replace(CHANGE, at=local)) as unit:
        unit.log_change("AN", "x", "", "")
        unit.put_key(kr.key(made_at=local.replace(microsecond=0)))
    with store.read() as view:
        assert view.log()[0].change.at == NOW
        assert view.keys()[0].made_at == NOW.replace(microsecond=0)


def test_what_dates_are_made_of_comes_back_by_mark_and_the_latest_counts(store: Store) -> None:
    settle_in(store)
    alone = kr.inputs(b"", mark="BE")
    with store.write(CHANGE) as unit:
        unit.put_line_inputs([kr.inputs(), alone])
        unit.put_line_inputs([kr.inputs(b"later")])
    with store.read() as view:
        assert view.line_inputs() == (kr.inputs(b"later"), alone)
        assert view.line_inputs(["AN", "RA"]) == (kr.inputs(b"later"),)
        assert view.marks() == ("AN", "BE", "RA")


CHANGES_OF_FACTS: dict[str, Callable[[WriteUnit], object]] = {
    "the vehicle": lambda unit: unit.put_vehicle(ANVIL),
    "a reading": lambda unit: unit.add_readings([kr.reading("84300")]),
    "a reading's state": lambda unit: unit.set_reading_state(unit.readings()[0].id or 0, ReadingState.HELD),
    "work": lambda unit: unit.add_work([kr.work()]),
    "an event": lambda unit: unit.add_events([kr.event()]),
    "a booking": lambda unit: unit.put_booking(kr.booking("new")),
    "a booking that was its": lambda unit: unit.put_booking(kr.booking(marks=("BE",))),
}


@pytest.mark.parametrize("name", CHANGES_OF_FACTS)
def test_what_dates_are_made_of_is_not_whole_once_a_fact_of_the_vehicle_is_written(store: Store, name: str) -> None:
    settle_in(store)
    other = kr.inputs(mark="RA")
    with store.write(CHANGE) as unit:
        unit.add_readings([kr.reading()])
        unit.put_booking(kr.booking())
        unit.put_line_inputs([kr.inputs(), other])
    with store.write(CHANGE) as unit:
        CHANGES_OF_FACTS[name](unit)
    with store.read() as view:
        assert view.line_inputs(["AN", "RA"]) == (replace(kr.inputs(), whole=False), other)


@pytest.mark.parametrize("name", CHANGES_OF_FACTS)
def test_a_vehicle_has_another_stamp_once_a_fact_of_it_is_written_and_no_other_has(store: Store, name: str) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.add_readings([kr.reading()])
        unit.put_booking(kr.booking())
    with store.read() as view:
        before = view.fact_stamps()
    with store.write(CHANGE) as unit:
        CHANGES_OF_FACTS[name](unit)
        unit.put_line_inputs([kr.inputs()])
    with store.read() as view:
        after = view.fact_stamps()
    assert list(after) == [vehicle.mark for vehicle in (RAFT, ANVIL, BELLOWS)]
    assert after["AN"] > before["AN"]
    assert after["RA"] == before["RA"]


def test_vehicles_that_exchanged_a_component_have_another_stamp_together(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.put_move(Move(kr.TODAY, "AN", "rear-axle", "BE", "rear-axle"))
    with store.read() as view:
        before, (move,) = view.fact_stamps(), view.moves()
    with store.write(CHANGE) as unit:
        unit.add_readings([kr.reading()])
    with store.read() as view:
        after = view.fact_stamps()
    assert "AN" in (move.from_mark, move.to_mark)
    assert {mark for mark in after if after[mark] != before[mark]} == {move.from_mark, move.to_mark}


# Numbers learned


def test_the_newest_fit_comes_back_whole_even_if_a_clock_was_set_back(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.add_fit(kr.fit())
        unit.add_fit(kr.fit(m0=1 / 3, who="timetable", at=NOW - 60 * MINUTE))
    with store.read() as view:
        newest = view.newest_fit()
    assert newest is not None
    assert newest.id is not None
    assert replace(newest, id=None) == kr.fit(m0=1 / 3, who="timetable", at=NOW - 60 * MINUTE)


def test_a_fit_that_kept_the_shipped_numbers_comes_back_without_any(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.add_fit(kr.fit())
        unit.add_fit(replace(kr.fit(), numbers=None))
    with store.read() as view:
        newest = view.newest_fit()
    assert newest is not None
    assert newest.numbers is None
    assert newest.basis == kr.fit().basis


def test_a_fit_with_a_figure_that_is_none_is_refused(store: Store) -> None:
    settle_in(store)
    basis = replace(kr.fit().basis, after=float("nan"))
    with pytest.raises(BadInput), store.write(CHANGE) as unit:
        unit.add_fit(replace(kr.fit(), basis=basis))
    with store.read() as view:
        assert view.newest_fit() is None


def test_visits_to_the_bay_come_back_by_mark_and_number_and_the_latest_counts(store: Store) -> None:
    settle_in(store)
    hands, stands = StretchKind.HANDS_ON, StretchKind.STANDING
    visit = BayVisit(
        mark="AN",
        number=2,
        lines=(LINE, LOOK),
        stretches=laid_end_to_end(NOW, [(hands, timedelta(minutes=50)), (stands, timedelta(hours=24))]),
        mechanic="ines",
        reason="“before the climb”",
    )
    with store.write(CHANGE) as unit:
        unit.put_bay_visit(visit)
        unit.put_bay_visit(replace(visit, number=1))
        unit.put_bay_visit(replace(visit, mark="BE", lines=(THEIRS,)))
        unit.put_bay_visit(inked := replace(visit, state=VisitState.INKED))
        assert unit.bay_visits(["AN"]) == (replace(visit, number=1), inked)
    with store.read() as view:
        assert [each.key for each in view.bay_visits()] == [("AN", 1), ("AN", 2), ("BE", 2)]
        assert view.bay_visits(["RA"]) == ()
    with pytest.raises(NotFound), store.write(CHANGE) as unit:
        unit.put_bay_visit(replace(visit, mark="XX", lines=(LINE._replace(mark="XX"),)))
