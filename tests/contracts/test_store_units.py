"""Every store writes in units: all of it or nothing, one after the other, each under its change."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.calendar_feed.values import FeedStamp, number_of
from fleetcare.digest.values import DeliveryState, LetterKind
from fleetcare.due.outlook import NoDate
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.access import Fetch, Purpose
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import MeterChange
from fleetcare.meter.reading import ReadingState
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import ANVIL, BELLOWS, CHANGE, LINE, MINUTE, NOW, TODAY, everything, settle_in

Write = Callable[[WriteUnit], object]

WRITES: dict[str, Write] = {
    "put_garage": lambda unit: unit.put_garage(kr.GARAGE),
    "put_person": lambda unit: unit.put_person(kr.TEO),
    "put_vehicle": lambda unit: unit.put_vehicle(ANVIL),
    "add_readings": lambda unit: unit.add_readings([kr.reading("5")]),
    "set_reading_state": lambda unit: unit.set_reading_state(unit.readings()[0].id or 0, ReadingState.HELD, "odd"),
    "add_work": lambda unit: unit.add_work([kr.work(at="5")]),
    "add_events": lambda unit: unit.add_events([kr.event("immersion")]),
    "put_booking": lambda unit: unit.put_booking(kr.booking()),
    "put_windows": lambda unit: unit.put_windows({LINE: NoDate.BEYOND}),
    "drop_windows": lambda unit: unit.drop_windows([LINE]),
    "put_line_inputs": lambda unit: unit.put_line_inputs([kr.inputs(b"new")]),
    "put_key": lambda unit: unit.put_key(kr.key("new")),
    "revoke_keys": lambda unit: unit.revoke_keys(NOW, purpose=Purpose.FEED, person="ines"),
    "use_up_key": lambda unit: unit.use_up_key("aa11", NOW),
    "add_revisions": lambda unit: unit.add_revisions([kr.published("new")]),
    "drop_revisions": lambda unit: unit.drop_revisions([number_of(kr.published("not in any feed").digest)]),
    "put_feed": lambda unit: unit.put_feed(kr.contents(head=b"new")),
    "put_shown_lines": lambda unit: unit.put_shown_lines({LINE._replace(service="new"): kr.SHOWN}),
    "drop_shown_lines": lambda unit: unit.drop_shown_lines([LINE]),
    "put_feed_choice": lambda unit: unit.put_feed_choice("ines", kr.CHOICE),
    "put_feed_era": lambda unit: unit.put_feed_era(3),
    "owe_feeds": lambda unit: unit.owe_feeds(["AN", "BE"]),
    "feeds_given": lambda unit: unit.feeds_given(["AN"]),
    "put_farewell": lambda unit: unit.put_farewell("aa11", kr.feed()),
    "add_delivery": lambda unit: unit.add_delivery(kr.letter(period="new")),
    "set_delivery": lambda unit: unit.set_delivery(replace(unit.deliveries()[0], tries=1)),
    "lease_delivery": lambda unit: unit.lease_delivery(unit.deliveries()[0].id or 0, NOW, NOW + MINUTE),
    "log_change": lambda unit: unit.log_change("AN", "x", "", ""),
    "add_fit": lambda unit: unit.add_fit(kr.fit()),
    "log_changes": lambda unit: unit.log_changes([("AN", "x", "", ""), ("BE", "y", "1", "2")]),
    # Putting what is there already is a write like any other; comparing is for whoever puts.
    "put_garage again": lambda unit: unit.put_garage(kr.GARAGE),
    "put_vehicle again": lambda unit: unit.put_vehicle(BELLOWS),
    "put_windows again": lambda unit: unit.put_windows({LINE: NoDate.NO_READING}),
    "set_reading_state again": lambda unit: unit.set_reading_state(unit.readings()[0].id or 0, ReadingState.USED, ""),
}

NO_WRITES: dict[str, Write] = {
    "nothing at all": lambda unit: None,
    "only reads": everything,
    "the same reading": lambda unit: unit.add_readings([kr.reading()]),
    "no readings": lambda unit: unit.add_readings([]),
    "the same work": lambda unit: unit.add_work([kr.work()]),
    "the same event": lambda unit: unit.add_events([kr.event()]),
    "a calendar owed already": lambda unit: unit.owe_feeds(["AN"]),
    "no calendar owed": lambda unit: unit.owe_feeds([]),
    "a calendar given that is not owed": lambda unit: unit.feeds_given(["BE"]),
    "no windows": lambda unit: unit.put_windows({}),
    "the same revision": lambda unit: unit.add_revisions([kr.published()]),
    "no revisions": lambda unit: unit.add_revisions([]),
    "no shown lines": lambda unit: unit.put_shown_lines({}),
    "a revision that is not there": lambda unit: unit.drop_revisions([999]),
    "no inputs": lambda unit: unit.put_line_inputs([]),
    "no lines of the log": lambda unit: unit.log_changes([]),
    "a line that is not there": lambda unit: unit.drop_windows([LINE._replace(service="no-such")]),
    "somebody else's keys": lambda unit: unit.revoke_keys(NOW, purpose=Purpose.FEED, person="teo"),
    "a key that is not there": lambda unit: unit.use_up_key("no such", NOW),
    "the same letter": lambda unit: unit.add_delivery(kr.letter()),
    "a letter that is not there": lambda unit: unit.lease_delivery(10**6, NOW, NOW + MINUTE),
    "no letter's number": lambda unit: unit.lease_delivery(2**63, NOW, NOW + MINUTE),
}


def _furnish(store: Store) -> None:
    """Something of everything."""
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.add_readings([kr.reading()])
        unit.add_work([kr.work()])
        unit.add_events([kr.event()])
        unit.put_windows({LINE: NoDate.NO_READING})
        unit.put_key(kr.key())
        used, _ = unit.add_revisions([kr.published(), kr.published("not in any feed")])
        unit.put_feed(kr.contents(entries=(used,)))
        unit.put_shown_lines({LINE: kr.SHOWN})
        unit.add_delivery(kr.letter())
        unit.owe_feeds(["AN"])
        unit.log_change("AN", "reading", "", "84 210.5 mi")
        unit.put_line_inputs([kr.inputs()])


def _all_of(store: Store) -> tuple[object, ...]:
    with store.read() as view:
        return everything(view)  # type: ignore[arg-type]


class Interrupted(BaseException):
    """Something that happens in the middle and is not even an Exception."""


@pytest.mark.parametrize("name", WRITES)
def test_each_write_raises_the_version_by_one_and_is_undone_by_an_exception(store: Store, name: str) -> None:
    _furnish(store)
    before = _all_of(store)
    with pytest.raises(Interrupted), store.write(CHANGE) as unit:  # noqa: PT012
        WRITES[name](unit)
        raise Interrupted
    assert _all_of(store) == before
    with store.write(CHANGE) as unit:
        WRITES[name](unit)
        assert unit.version() == before[0]
    with store.read() as view:
        assert view.version() == int(str(before[0])) + 1


@pytest.mark.parametrize("name", NO_WRITES)
def test_a_unit_that_wrote_nothing_leaves_the_version_alone(store: Store, name: str) -> None:
    _furnish(store)
    before = _all_of(store)
    with store.write(CHANGE) as unit:
        NO_WRITES[name](unit)
    assert _all_of(store) == before


def test_many_writes_in_one_unit_count_as_one(store: Store) -> None:
    _furnish(store)
    with store.write(CHANGE, typed=False) as unit:
        version = unit.version()
        for write in WRITES.values():
            write(unit)
    with store.read() as view:
        assert view.version() == version + 1


def test_a_unit_sees_its_own_writes_and_a_reader_does_not_until_they_are_committed(store: Store) -> None:
    settle_in(store)
    with store.read() as earlier:
        assert earlier.readings() == ()
        with store.write(CHANGE) as unit:
            unit.add_readings([kr.reading()])
            assert len(unit.readings()) == 1
            assert earlier.readings() == ()
            with store.read() as beside:
                assert beside.readings() == ()
        assert earlier.readings() == (), "a view stays as it was"
        assert earlier.version() == 1
    with store.read() as later:
        assert len(later.readings()) == 1


def test_after_an_undone_unit_the_next_one_is_as_good_as_ever(store: Store) -> None:
    settle_in(store)
    for _ in range(20):  # more often than there are connections in any pool
        with pytest.raises(ZeroDivisionError), store.write(CHANGE) as unit:  # noqa: PT012
            unit.add_readings([kr.reading()])
            raise ZeroDivisionError
    with store.write(CHANGE) as unit:
        assert unit.add_readings([kr.reading()]) == 1


def test_units_run_one_after_the_other(store: Store) -> None:
    def add_one() -> None:
        for _ in range(10):
            with store.write(CHANGE) as unit:
                known = unit.garage()
                unit.put_garage(replace(kr.GARAGE, name=str(int(known.name) + 1 if known else 1)))

    threads = [threading.Thread(target=add_one) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with store.read() as view:
        assert view.garage() == replace(kr.GARAGE, name="40")
        assert view.version() == 40


# What is refused


@pytest.mark.parametrize(
    "write",
    [
        lambda unit: unit.add_readings([kr.reading("1"), kr.reading(mark="ZZ")]),
        lambda unit: unit.add_work([kr.work(at="1"), kr.work(line=LINE._replace(mark="ZZ"))]),
        lambda unit: unit.add_events([kr.event("tow"), kr.event(mark="ZZ")]),
        lambda unit: unit.put_booking(kr.booking(marks=("AN", "ZZ"))),
        lambda unit: unit.put_windows({LINE: NoDate.BEYOND, LINE._replace(mark="ZZ"): NoDate.BEYOND}),
    ],
    ids=["add_readings", "add_work", "add_events", "put_booking", "put_windows"],
)
def test_a_vehicle_that_is_not_there_is_named_and_nothing_is_changed(store: Store, write: Write) -> None:
    _furnish(store)
    before = _all_of(store)
    with pytest.raises(NotFound, match="“ZZ”"), store.write(CHANGE) as unit:
        write(unit)
    assert _all_of(store) == before
    with store.write(CHANGE) as unit, pytest.raises(NotFound, match="“ZZ”"):
        write(unit)
    assert _all_of(store) == before, "nor if the caller goes on"


@pytest.mark.parametrize(
    "write",
    [
        lambda unit: unit.set_reading_state(10**6, ReadingState.HELD),
        lambda unit: unit.set_reading_state(2**31, ReadingState.HELD),
        lambda unit: unit.set_reading_state(2**63, ReadingState.HELD),
        lambda unit: unit.set_delivery(replace(kr.letter(), id=10**6)),
        lambda unit: unit.set_delivery(kr.letter()),
    ],
    ids=["reading", "2**31", "2**63", "letter", "letter without a number"],
)
def test_what_is_not_there_cannot_be_changed(store: Store, write: Write) -> None:
    with store.write(CHANGE) as unit, pytest.raises(NotFound):
        write(unit)


def _with_text(bad: str) -> dict[str, Write]:
    return {
        "garage": lambda unit: unit.put_garage(replace(kr.GARAGE, name=bad)),
        "person": lambda unit: unit.put_person(replace(kr.TEO, name=bad)),
        "vehicle": lambda unit: unit.put_vehicle(replace(BELLOWS, description=bad)),
        "mark": lambda unit: unit.put_vehicle(replace(BELLOWS, mark=bad)),
        "drivers": lambda unit: unit.put_vehicle(replace(BELLOWS, drivers=(bad,))),
        "towed by": lambda unit: unit.put_vehicle(replace(BELLOWS, towed_by=("AN", bad))),
        "usual split": lambda unit: unit.put_vehicle(replace(BELLOWS, usual_split=DutySplit(((bad, 1.0),)))),
        "tag": lambda unit: unit.put_vehicle(
            replace(BELLOWS, components=(replace(kr.AXLE, facts=(replace(kr.AXLE.facts[0], value=bad),)),))
        ),
        "line": lambda unit: unit.put_vehicle(
            replace(BELLOWS, components=(replace(kr.AXLE, lines=(replace(kr.AXLE.lines[0], service=bad),)),))
        ),
        "reading": lambda unit: unit.add_readings([replace(kr.reading("5"), note=bad)]),
        "split": lambda unit: unit.add_readings([replace(kr.reading("5"), split=DutySplit(((bad, 1.0),)))]),
        "reading of": lambda unit: unit.add_readings([replace(kr.reading("5"), mark=bad)]),
        "held": lambda unit: unit.set_reading_state(1, ReadingState.HELD, bad),
        "work": lambda unit: unit.add_work([replace(kr.work(at="5"), note=bad)]),
        "finding": lambda unit: unit.add_work(
            [replace(kr.work(at="5"), findings=(replace(kr.work().findings[0], text=bad),))]
        ),
        "event": lambda unit: unit.add_events([kr.event(bad)]),
        "booking": lambda unit: unit.put_booking(replace(kr.booking(), title=bad)),
        "key": lambda unit: unit.put_key(replace(kr.key(), person=bad)),
        "key name": lambda unit: unit.put_key(replace(kr.key(), name=bad)),
        "revision": lambda unit: unit.add_revisions([kr.published(bad)]),
        "feed": lambda unit: unit.put_feed(replace(kr.contents(), etag=bad)),
        "feed of": lambda unit: unit.put_feed(replace(kr.contents(), marks=(bad,))),
        "shown": lambda unit: unit.put_shown_lines({LINE._replace(service=bad): kr.SHOWN}),
        "choice": lambda unit: unit.put_feed_choice("ines", replace(kr.CHOICE, marks=(bad,))),
        "alarm": lambda unit: unit.put_feed_choice(
            "ines", replace(kr.CHOICE, alarms=(replace(kr.CHOICE.alarms[0], name=bad),))
        ),
        "farewell": lambda unit: unit.put_farewell(bad, kr.feed()),
        "letter": lambda unit: unit.add_delivery(replace(kr.letter(period="new"), subject=bad)),
        "answer": lambda unit: unit.set_delivery(replace(kr.letter(), id=1, last_answer=bad)),
        "log": lambda unit: unit.log_change("AN", "reading", "", bad),
    }


@pytest.mark.parametrize("name", _with_text(""))
def test_text_that_one_of_the_databases_would_not_keep_is_refused_by_all(store: Store, name: str) -> None:
    _furnish(store)
    before = _all_of(store)
    for bad in ("a\0b", "\ud83d", "二\udfff"):
        with pytest.raises(BadInput), store.write(CHANGE) as unit:
            _with_text(bad)[name](unit)
        assert _all_of(store) == before


def test_a_change_whose_reason_cannot_be_kept_is_refused(store: Store) -> None:
    with pytest.raises(BadInput), store.write(Change("teo", "a\0b", NOW)) as unit:
        unit.log_change("AN", "x", "", "")
    with store.read() as view:
        assert view.log() == ()


NO_DIAL = (
    "-0.1",
    "0.05",
    "7.00000000000000000000000000000001",
    "100000000000.1",
    "1E+400",
    "1E-400",
    "NaN",
    "Infinity",
)


@pytest.mark.parametrize("where", ["reading", "work", "old end", "new start", "delivery value"])
def test_a_value_that_no_dial_shows_is_refused(store: Store, where: str) -> None:
    _furnish(store)
    before = _all_of(store)
    for value in NO_DIAL:
        _refuses(store, where, value)
        assert _all_of(store) == before


def _refuses(store: Store, where: str, value: str) -> None:
    bad, odometer = Decimal(value), ANVIL.meters[0]
    with pytest.raises(BadInput), store.write(CHANGE) as unit:  # noqa: PT012
        match where:
            case "reading":
                unit.add_readings([kr.reading("5"), kr.reading(value)])
            case "work":
                unit.add_work([kr.work(at="5"), kr.work(at=value)])
            case "old end":
                changes = (MeterChange(TODAY, bad, Decimal(0)),)
                unit.put_vehicle(replace(ANVIL, meters=(replace(odometer, changes=changes),)))
            case "new start":
                changes = (MeterChange(TODAY, Decimal(0), bad),)
                unit.put_vehicle(replace(ANVIL, meters=(replace(odometer, changes=changes),)))
            case _:
                unit.put_vehicle(replace(ANVIL, meters=(replace(odometer, delivery_value=bad),)))


@pytest.mark.parametrize("figure", [float("nan"), float("inf")])
def test_a_figure_that_is_no_number_is_refused(store: Store, figure: float) -> None:
    for vehicle in (
        replace(BELLOWS, yearly_km=figure),
        replace(BELLOWS, max_km_per_day=figure),
        replace(BELLOWS, components=(replace(kr.AXLE, fluid_capacity_l=Decimal(str(figure))),)),
    ):
        with pytest.raises(BadInput), store.write(CHANGE) as unit:
            unit.put_vehicle(vehicle)
    assert _all_of(store)[3] == ()


def test_an_instant_without_a_zone_is_refused(store: Store) -> None:
    settle_in(store)
    naive = datetime(2026, 4, 14, 9)  # noqa: DTZ001 - that is the fault
    with pytest.raises(ValueError, match="zone"), store.write(CHANGE) as unit:
        unit.add_readings([replace(kr.reading(), entered_at=naive)])
    with store.read() as view:
        assert view.readings() == ()


def test_a_dial_reading_has_a_unit(store: Store) -> None:
    settle_in(store)
    with pytest.raises(BadInput, match="unit"), store.write(CHANGE) as unit:
        unit.add_work([replace(kr.work(), unit=None)])


# Keys


def test_a_feed_key_opens_the_feed_of_its_person_and_of_nobody_else(store: Store) -> None:
    with store.write(CHANGE) as unit:
        for person in ("ines", "teo"):
            unit.put_key(kr.key(f"hash of {person}", person=person))
            unit.put_feed(kr.contents(person, person.encode()))
        unit.put_key(kr.key("without a feed", person="mira"))
    for person in ("ines", "teo"):
        body = kr.feed(person, person.encode())
        assert store.feed_by_key(f"hash of {person}", NOW) == body
        assert store.feed_stamp(f"hash of {person}", NOW) == FeedStamp(body.etag, body.modified_at)
    assert store.feed_by_key("without a feed", NOW) is None
    assert store.feed_stamp("without a feed", NOW) is None


def test_a_vehicle_and_the_garage_have_feeds_of_their_own(store: Store) -> None:
    with store.write(CHANGE) as unit:
        for number, (person, mark) in enumerate((("", "AN"), ("", ""), ("AN", ""))):
            unit.put_key(kr.key(f"hash {number}", person=person, mark=mark))
            unit.put_feed(kr.contents(person, f"{number}".encode(), mark=mark))
    for number, (person, mark) in enumerate((("", "AN"), ("", ""), ("AN", ""))):
        assert store.feed_by_key(f"hash {number}", NOW) == kr.feed(person, f"{number}".encode(), mark=mark)


def test_a_feed_is_joined_from_its_revisions_in_its_own_order(store: Store) -> None:
    entries = [kr.published(f"u{number}") for number in range(1200)]
    with store.write(CHANGE) as unit:
        numbers = unit.add_revisions(entries)
        unit.put_key(kr.key())
        unit.put_feed(kr.contents(entries=numbers[::-1]))
    parts = b"".join(entry.body for entry in reversed(entries))
    body = kr.feed(parts=parts, count=1200)
    assert store.feed_by_key("aa11", NOW) == body
    with store.read() as view:
        assert view.feed("ines") == body


def test_a_replaced_key_opens_its_farewell_and_nothing_else_until_it_runs_out(store: Store) -> None:
    farewell = kr.feed(head=b"replaced")
    with store.write(CHANGE) as unit:
        unit.put_feed(kr.contents())
        unit.put_key(replace(kr.key(expires_at=NOW + MINUTE), replaced_at=NOW))
        unit.put_key(kr.key("bb22"))
        unit.put_farewell("aa11", farewell)
    assert store.feed_by_key("aa11", NOW) == farewell
    assert store.feed_stamp("aa11", NOW) == FeedStamp(farewell.etag, farewell.modified_at)
    assert store.feed_by_key("bb22", NOW) == kr.feed()
    assert store.feed_by_key("aa11", NOW + MINUTE) is None
    assert store.feed_stamp("aa11", NOW + MINUTE) is None


def test_a_fetch_is_noted_beside_the_facts(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_feed(kr.contents())
        unit.put_key(kr.key())
    with store.read() as view:
        before = everything(view)  # type: ignore[arg-type]
    for reader, at in (("a browser", NOW), ("Thunderbird", NOW + MINUTE), ("an earlier one", NOW)):
        store.note_fetch("aa11", Fetch(at, reader))
    with store.read() as view:
        assert view.fetches() == {"aa11": Fetch(NOW + MINUTE, "Thunderbird")}
        assert everything(view) == before  # type: ignore[arg-type]


def test_any_other_key_opens_no_feed(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_feed(kr.contents())
        for purpose in set(Purpose) - {Purpose.FEED}:
            unit.put_key(kr.key(purpose.value, purpose=purpose))
        unit.put_key(kr.key("late", expires_at=NOW))
        unit.put_key(kr.key("revoked"))
        unit.use_up_key("revoked", NOW - MINUTE)
    odd = ["", "no such", "a\0", "\ud83d", "二", "' OR 1=1 --", "%", "late", "revoked", *(p.value for p in Purpose)]
    for hash_ in odd:
        assert store.feed_by_key(hash_, NOW) is None, hash_
    assert store.feed_by_key("late", NOW - timedelta(microseconds=1)) == kr.feed()


def test_a_revoked_key_opens_nothing_from_that_moment_on_also_over_a_kept_connection(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_feed(kr.contents())
        unit.put_key(kr.key())
    assert store.feed_by_key("aa11", NOW) == kr.feed()
    with store.write(CHANGE) as unit:
        assert unit.revoke_keys(NOW, purpose=Purpose.FEED, person="ines") == 1
    assert store.feed_by_key("aa11", NOW) is None


def test_a_feed_changes_for_whoever_polls_once_it_is_committed(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_key(kr.key())
        unit.put_feed(kr.contents(head=b"old"))
    with store.write(CHANGE) as unit:
        unit.put_feed(kr.contents(head=b"new"))
        assert store.feed_by_key("aa11", NOW) == kr.feed(head=b"old")
    assert store.feed_by_key("aa11", NOW) == kr.feed(head=b"new")


def test_revoking_ends_the_keys_of_that_purpose_person_and_mark_and_no_others(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_key(kr.key("mine"))
        unit.put_key(kr.key("mine too"))
        unit.put_key(kr.key("session", purpose=Purpose.SESSION))
        unit.put_key(kr.key("theirs", person="teo"))
        unit.put_key(kr.key("marked", mark="AN"))
        assert unit.revoke_keys(NOW, purpose=Purpose.FEED, person="ines") == 2
        assert unit.revoke_keys(NOW + MINUTE, purpose=Purpose.FEED, person="ines") == 0
    with store.read() as view:
        assert {one.hash for one in view.keys(None) if one.revoked_at == NOW} == {"mine", "mine too"}
        assert {one.hash for one in view.keys(None) if one.revoked_at is None} == {"session", "theirs", "marked"}


def test_a_key_is_used_up_by_one_call_and_stays_so(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_key(kr.key())
        assert unit.use_up_key("aa11", NOW)
        assert not unit.use_up_key("aa11", NOW + MINUTE)
        unit.put_key(kr.key(expires_at=NOW + MINUTE))
    with store.read() as view:
        assert view.key("aa11") == replace(kr.key(), expires_at=NOW + MINUTE, revoked_at=NOW)
        assert view.key("aa11", in_use=True) is None


# Leases


def test_a_due_letter_is_leased_to_one_sender(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.add_delivery(kr.letter())
        number = unit.deliveries()[0].id or 0
        leased = unit.lease_delivery(number, NOW, NOW + MINUTE)
        assert leased == replace(kr.letter(), id=number, state=DeliveryState.LEASED, leased_until=NOW + MINUTE)
    with store.write(CHANGE) as unit:
        assert unit.lease_delivery(number, NOW + timedelta(seconds=59), NOW + 2 * MINUTE) is None
        assert unit.deliveries() == (leased,)


def test_a_lease_that_ran_out_is_taken_over(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.add_delivery(kr.letter())
        number = unit.deliveries()[0].id or 0
        unit.lease_delivery(number, NOW, NOW + MINUTE)
        taken = unit.lease_delivery(number, NOW + MINUTE, NOW + 3 * MINUTE)
        assert taken is not None
        assert taken.leased_until == NOW + 3 * MINUTE
        assert unit.lease_delivery(number, NOW + 2 * MINUTE, NOW + 9 * MINUTE) is None


def test_a_letter_that_has_to_wait_is_not_leased_before_its_time(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.add_delivery(replace(kr.letter(), next_try_at=NOW + MINUTE))
        number = unit.deliveries()[0].id or 0
        assert unit.lease_delivery(number, NOW, NOW + 9 * MINUTE) is None
        assert unit.lease_delivery(number, NOW + MINUTE, NOW + 9 * MINUTE) is not None


@pytest.mark.parametrize("state", sorted(set(DeliveryState) - {DeliveryState.DUE, DeliveryState.LEASED}))
def test_a_settled_letter_is_never_leased(store: Store, state: DeliveryState) -> None:
    with store.write(CHANGE) as unit:
        unit.add_delivery(replace(kr.letter(), state=state))
        number = unit.deliveries()[0].id or 0
        assert unit.lease_delivery(number, NOW + 999 * MINUTE, NOW + 1000 * MINUTE) is None
        assert unit.deliveries()[0].state is state


def test_a_lease_is_ended_by_who_holds_it_and_by_nobody_else(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.add_delivery(kr.letter())
        (place,) = unit.letter_places()
        unit.lease_delivery(place.id, NOW, NOW + MINUTE)
        unit.lease_delivery(place.id, NOW + MINUTE, NOW + 3 * MINUTE)
        late = replace(place, state=DeliveryState.DUE, tries=7)
        assert unit.end_lease(late, NOW + MINUTE) is False, "it was taken over since"
        assert unit.letter_places()[0].tries == 0
        assert unit.end_lease(late, NOW + 3 * MINUTE) is True
        assert unit.end_lease(late, NOW + 3 * MINUTE) is False, "there is no lease any more"
        assert unit.letter_places() == (replace(late, leased_until=None),)


def test_letters_are_told_without_their_bytes_and_picked_by_state_kind_person_and_day(store: Store) -> None:
    later = NOW + 9 * MINUTE
    with store.write(CHANGE) as unit:
        unit.add_delivery(kr.letter(period="one"))
        sent = replace(kr.letter(period="two"), state=DeliveryState.SENT, sent_at=later, decided_at=later)
        unit.add_delivery(sent)
        unit.add_delivery(replace(kr.letter(period="two"), kind=LetterKind.PAST_LATE, person="nobody"))
        places = unit.letter_places()
        assert places == tuple(each.place for each in unit.deliveries())
        assert [p.period for p in unit.letter_places(states=(DeliveryState.SENT,))] == ["two"]
        assert [p.kind for p in unit.letter_places(kinds=(LetterKind.PAST_LATE,))] == [LetterKind.PAST_LATE]
        assert [p.person for p in unit.letter_places(people=("nobody",))] == ["nobody"]
        assert [p.period for p in unit.letter_places(since=later)] == ["two"]
        assert len(unit.letter_places(people=[f"p{n}" for n in range(600)] + ["nobody"])) == 1
        assert unit.letter_places(states=(), people=()) == ()
