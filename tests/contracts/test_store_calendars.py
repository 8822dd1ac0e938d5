"""Every store keeps calendars that are read by their URL as they were given, and drops bookings by their key."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetcare.actions.ports import Store, WriteUnit
from fleetcare.errors import BadInput
from fleetcare.fleet.busy import CalendarCopy, CalendarEvent, CalendarOwner, CalendarSource
from fleetcare.quantities import DateSpan
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, NOW, TODAY, settle_in

TRIP = CalendarEvent("a" * 32, DateSpan(date(2026, 5, 1), date(2026, 5, 4)), title="Ridge run “二”", note="900 km")
CALL = CalendarEvent(
    "b" * 32, DateSpan(TODAY, TODAY + timedelta(1)), NOW, NOW + kr.MINUTE, is_busy=False, is_single=False
)
COPY = CalendarCopy(TODAY, DateSpan(TODAY, date(2027, 1, 1)), (CALL, TRIP), date(2020, 2, 29), ("“x” is left out: y.",))
NEW = CalendarSource("an", CalendarOwner.VEHICLE, "AN", "https://calendar.example/s3cret.ics?a=%C3%A9")
FULL = replace(
    NEW,
    may_be_private=True,
    etag='W/"v1"',
    last_modified="Tue, 14 Apr 2026 10:00:00 GMT",
    tried_at=NOW,
    good_at=NOW - kr.MINUTE,
    failures=3,
    trouble="calendar.example cannot be reached.",
    copy=COPY,
)

days = st.dates(date(1950, 1, 1), date(2199, 12, 30))
spans = st.builds(lambda first, length: DateSpan(first, first + timedelta(length)), days, st.integers(1, 400))
moments = st.none() | kr.instants
events = st.builds(
    CalendarEvent, kr.text, spans, moments, moments, kr.text, kr.text, st.booleans(), st.booleans(), st.booleans()
)
copies = st.builds(
    CalendarCopy,
    days,
    spans,
    st.lists(events, max_size=3).map(tuple),
    st.none() | days,
    st.lists(kr.text, max_size=2).map(tuple),
)
sources = st.builds(
    CalendarSource,
    kr.names,
    st.sampled_from(CalendarOwner),
    kr.text,
    kr.text,
    st.booleans(),
    kr.text,
    kr.text,
    moments,
    moments,
    st.integers(0, 1000),
    kr.text,
    st.none() | copies,
)


def calendars(store: Store) -> tuple[CalendarSource, ...]:
    """Those that are kept."""
    with store.read() as view:
        return view.calendars()


def test_a_calendar_comes_back_as_it_was_given_and_the_latest_counts(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_calendar(replace(FULL, key="zz"))
        unit.put_calendar(NEW)
        assert unit.calendars() == (NEW, replace(FULL, key="zz"))
    with store.write(CHANGE) as unit:
        unit.put_calendar(FULL)
    assert calendars(store) == (FULL, replace(FULL, key="zz"))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(sources)
def test_any_calendar_comes_back_as_it_was_given(store: Store, source: CalendarSource) -> None:
    with store.write(CHANGE) as unit:
        unit.put_calendar(source)
    assert {each.key: each for each in calendars(store)}[source.key] == source


def test_a_calendar_is_taken_away_once_and_its_bookings_are_left(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.put_calendar(FULL)
        unit.put_booking(kr.booking())
        assert unit.drop_calendar("an")
        assert not unit.drop_calendar("an")
        assert unit.bookings() == (kr.booking(),)
    assert calendars(store) == ()


def test_bookings_are_dropped_by_key_and_the_others_stay(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        for key in ("a", "b", "c"):
            unit.put_booking(kr.booking(key))
        assert unit.drop_bookings(["a", "c", "no such"]) == 2
        assert unit.drop_bookings([]) == 0
    with store.read() as view:
        assert view.bookings() == (kr.booking("b"),)


def test_dropping_a_booking_forgets_what_dates_were_made_of(store: Store) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.put_booking(kr.booking(marks=("AN",)))
        unit.put_line_inputs([kr.inputs(), kr.inputs(mark="BE")])
        unit.drop_bookings([kr.booking().key])
        assert [each.mark for each in unit.line_inputs() if each.whole] == ["BE"]


WRITES: dict[str, Callable[[WriteUnit], object]] = {
    "put_calendar": lambda unit: unit.put_calendar(replace(NEW, key="new")),
    "drop_calendar": lambda unit: unit.drop_calendar("an"),
    "drop_bookings": lambda unit: unit.drop_bookings([kr.booking().key]),
}
NO_WRITES: dict[str, Callable[[WriteUnit], object]] = {
    "no such calendar": lambda unit: unit.drop_calendar("no such"),
    "no such booking": lambda unit: unit.drop_bookings(["no such"]),
}


class Interrupted(BaseException):
    """Something that happens in the middle."""


@pytest.mark.parametrize("name", [*WRITES, *NO_WRITES])
def test_each_write_counts_once_and_is_undone_by_an_exception(store: Store, name: str) -> None:
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.put_calendar(FULL)
        unit.put_booking(kr.booking())
    with store.read() as view:
        before = (view.version(), view.calendars(), view.bookings())
    write = (WRITES | NO_WRITES)[name]
    with pytest.raises(Interrupted), store.write(CHANGE) as unit:  # noqa: PT012
        write(unit)
        raise Interrupted
    with store.read() as view:
        assert (view.version(), view.calendars(), view.bookings()) == before
    with store.write(CHANGE) as unit:
        write(unit)
    with store.read() as view:
        assert view.version() == before[0] + (name in WRITES)


@pytest.mark.parametrize("bad", ["a\0b", "\ud83d"])
def test_text_that_one_of_the_databases_would_not_keep_is_refused(store: Store, bad: str) -> None:
    odd = (
        replace(NEW, url=bad),
        replace(NEW, trouble=bad),
        replace(NEW, copy=replace(COPY, notices=(bad,))),
        replace(NEW, copy=replace(COPY, events=(replace(TRIP, title=bad),))),
        replace(NEW, copy=replace(COPY, events=(replace(TRIP, note=bad),))),
    )
    for source in odd:
        with pytest.raises(BadInput), store.write(CHANGE) as unit:
            unit.put_calendar(source)
    assert calendars(store) == ()


def test_an_instant_of_another_zone_is_the_same_instant(store: Store) -> None:
    later = datetime(2026, 4, 14, 17, 0, tzinfo=UTC)
    with store.write(CHANGE) as unit:
        unit.put_calendar(replace(NEW, good_at=later.astimezone(tz=kr.NOW.tzinfo)))
    assert calendars(store)[0].good_at == later


def test_the_address_of_a_calendar_is_in_no_representation(store: Store) -> None:
    assert "s3cret" not in repr(FULL)
    assert FULL.etag not in repr(FULL)
