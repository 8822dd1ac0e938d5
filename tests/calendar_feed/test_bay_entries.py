"""Time in the bay stands in calendars as it is lived: hands on, standing, hands on again, and then free."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.calendar_feed.bay_entries import bay_taken, marks_worked_on, sessions_of, taken_in_bay
from fleetcare.calendar_feed.entries import GARAGE_TOPICS, Form
from fleetcare.calendar_feed.publishing import entry_uid
from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.calendar_feed.values import EntryKind, FeedEntry
from fleetcare.fleet.bay_visit import BayVisit, VisitState, laid_end_to_end, moved_to
from fleetcare.fleet.feed_choice import Topic
from fleetcare.quantities import DateSpan
from tests.calendar_feed.bay import HANDS, RESEAL, SATURDAY, STANDS, ZONE, bay_entries_of, entries_of, visit, visits
from tests.calendar_feed.garage import GARAGE_ID, NOW, TODAY, karst_ridge, published, raw

ANVIL, RAFT, _ = karst_ridge()
LATER = timedelta(hours=6)


def titles(entries: tuple[FeedEntry, ...]) -> list[str]:
    return [entry.title for entry in entries]


def test_a_reseal_is_hands_on_standing_and_hands_on_again() -> None:
    first, stands, again = entries_of((visit(),), ANVIL)
    assert titles((first, stands, again)) == [
        "Anvil in the bay, 2 h 20",
        "Anvil stands until Sun 12:20",
        "Anvil in the bay again, 1 h 20",
    ]
    assert first.spell == (SATURDAY, SATURDAY + timedelta(minutes=140))
    assert stands.spell == (SATURDAY + timedelta(minutes=140), SATURDAY + timedelta(hours=27, minutes=20))
    assert again.spell is not None
    assert again.spell[1] == datetime(2026, 4, 26, 13, 40, tzinfo=ZONE)
    assert first.text == (
        "Anvil: axle fluid and engine oil.\nMechanic: Ines Calloway.\nThe last free weekend before the hill climb.\n"
        "Free again Sun 13:40."
    )
    assert stands.text == "Anvil: axle fluid and engine oil.\nDo not move it meanwhile. Then hands are needed again."


def test_what_is_pencilled_says_so_and_is_tentative_and_inking_it_changes_no_identity() -> None:
    pencilled = entries_of((visit(state=VisitState.PENCILLED),), ANVIL)
    inked = entries_of((visit(),), ANVIL)
    assert [entry.title for entry in pencilled] == [f"{entry.title}, pencilled" for entry in inked]
    assert {entry.tentative for entry in pencilled} == {True}
    assert {entry.tentative for entry in inked} == {False}
    assert [entry.seed for entry in pencilled] == [entry.seed for entry in inked]


def test_a_visit_that_is_rubbed_out_is_in_no_calendar() -> None:
    gone = visit(state=VisitState.RUBBED_OUT)
    assert entries_of((gone,), ANVIL) == ()
    assert taken_in_bay((gone,), ANVIL.vehicle, "Anvil", zone=ZONE, today=TODAY, rules=FeedRules()) == ()
    assert bay_taken((gone,), zone=ZONE, today=TODAY, rules=FeedRules()) == ()
    assert marks_worked_on((gone,)) == {}


def test_hands_take_the_time_of_whose_hands_they_are_and_standing_takes_nobodys() -> None:
    def blocking(form: Form) -> list[EntryKind]:
        return [entry.kind for entry in bay_entries_of(form) if entry.blocks]

    assert blocking(Form(hands="ines")) == [EntryKind.BAY_DAY, EntryKind.BAY_DAY]
    assert blocking(Form(hands="teo")) == []
    assert blocking(Form()) == []  # and a visit without a mechanic takes nobody's time


def test_a_calendar_that_many_can_see_names_no_mechanic_and_gives_no_reason() -> None:
    texts = " ".join(entry.text for entry in bay_entries_of(Form(topics=GARAGE_TOPICS, plain=True)))
    assert "Ines" not in texts
    assert "weekend" not in texts
    assert "axle fluid" in texts


def test_each_topic_can_be_left_out_alone() -> None:
    assert {entry.kind for entry in bay_entries_of(Form(topics=(Topic.BAY_DAYS,)))} == {EntryKind.BAY_DAY}
    assert {entry.kind for entry in bay_entries_of(Form(topics=(Topic.STANDING,)))} == {EntryKind.STANDING}
    assert bay_entries_of(Form(topics=(Topic.DUE,))) == ()


def test_a_short_wait_is_part_of_the_day_and_a_cure_at_the_end_is_not() -> None:
    parts = [
        (HANDS, timedelta(hours=1)),
        (STANDS, timedelta(hours=1)),
        (HANDS, timedelta(minutes=30)),
        (STANDS, timedelta(hours=24)),
    ]
    of = visit(stretches=laid_end_to_end(SATURDAY, parts))
    (session,) = sessions_of(of, ZONE)
    assert session.ends_at - session.begins_at == timedelta(hours=2, minutes=30)
    assert session.hands_on == timedelta(hours=1, minutes=30)
    hands, stands = entries_of((of,), ANVIL)
    assert hands.title == "Anvil in the bay, 1 h 30"
    assert stands.title == "Anvil stands until Sun 11:30"
    assert stands.text.endswith("Then it is free again.")


def test_bay_days_point_to_the_dates_they_are_there_for() -> None:
    """RFC 5545 3.8.4.5: RELATED-TO holds the UID of another component."""
    feed = raw(entries_of((visit(),), ANVIL))
    due = [entry_uid(GARAGE_ID, "/".join(("due", *line))) for line in visit().lines]
    for event in feed.events:
        assert sorted(prop.value for prop in event.all("RELATED-TO")) == sorted(due)


def test_taken_is_exactly_the_union_of_the_visits_on_the_minute() -> None:
    (vehicle,) = taken_in_bay(visits(), ANVIL.vehicle, "Anvil", zone=ZONE, today=TODAY, rules=FeedRules())
    assert vehicle.blocks
    assert vehicle.spell == (visit().begins_at, visit().free_at)
    bay = bay_taken(visits(), zone=ZONE, today=TODAY, rules=FeedRules())
    assert sorted(entry.spell for entry in bay if entry.spell) == sorted(
        (each.begins_at, each.free_at) for each in visits() if each.takes_place
    )
    assert {entry.title for entry in bay} == {"Bay taken"}


def test_a_vehicle_that_left_the_fleet_is_in_no_bay() -> None:
    left = replace(ANVIL, vehicle=replace(ANVIL.vehicle, out_of_fleet_on=TODAY))
    assert entries_of((visit(),), left) == ()


def test_a_moved_visit_keeps_its_identity_and_raises_its_count_and_the_rest_stays_to_the_byte() -> None:
    before = published(bay_entries_of())
    moved = visit(stretches=moved_to(visit().stretches, SATURDAY + timedelta(days=7)))
    entries = (*entries_of((moved,), ANVIL), *entries_of(visits()[1:], RAFT))
    after = published(entries, before.entries, now=NOW + LATER)
    assert {entry.uid for entry in after.entries} == {entry.uid for entry in before.entries}
    by_uid = {entry.uid: entry for entry in before.entries}
    anvil = [entry for entry in after.entries if entry.mark == "AN"]
    assert len(anvil) == 3
    assert all(entry.sequence == by_uid[entry.uid].sequence + 1 for entry in anvil)
    assert all(entry.body == by_uid[entry.uid].body for entry in after.entries if entry.mark == "RA")


def test_nothing_new_prints_nothing_new() -> None:
    before = published(bay_entries_of())
    assert published(bay_entries_of(), before.entries, now=NOW + LATER).changed == ()


chains = st.lists(
    st.tuples(st.integers(1, 600), st.integers(1, 4000)), min_size=1, max_size=6
)  # minutes of a hand and of the wait after it


@given(chains, st.booleans(), st.integers(0, 400 * 24 * 60))
def test_sessions_and_waits_lie_end_to_end_and_cover_the_visit(
    minutes: list[tuple[int, int]], ends_with_a_wait: bool, start: int
) -> None:
    parts = [
        part for hand, wait in minutes for part in ((HANDS, timedelta(minutes=hand)), (STANDS, timedelta(minutes=wait)))
    ]
    of: BayVisit = visit(
        stretches=laid_end_to_end(
            datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=start), parts if ends_with_a_wait else parts[:-1]
        )
    )
    sessions = sessions_of(of, ZONE)
    at = of.begins_at
    for session in sessions:
        assert session.begins_at == at
        assert session.ends_at > session.begins_at
        at = session.stands_until or session.ends_at
    assert at == of.free_at
    assert sum((session.hands_on for session in sessions), start=timedelta()) == of.hands_on
    days = [session.begins_at.astimezone(ZONE).date() for session in sessions]
    assert len(set(days)) == len(days)


def test_a_visit_touches_the_days_of_the_garage_and_not_those_of_utc() -> None:
    evening = datetime(2026, 4, 25, 18, 0, tzinfo=ZONE).astimezone(UTC)  # already Sunday in UTC
    (entry,) = entries_of((visit(stretches=laid_end_to_end(evening, RESEAL[:1])),), ANVIL)
    saturday = SATURDAY.astimezone(ZONE).date()
    assert entry.days == DateSpan.of_days(saturday, saturday)
