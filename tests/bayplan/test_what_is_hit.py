"""Which vehicles a change hits: none by the passing of a day, the order of what is told, or a drift of the forecast."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.bayplan.open_shifts import BAY, Taken
from fleetcare.bayplan.what_is_hit import (
    DRIFT_DAYS,
    MOST_FOR_ROOM,
    Hit,
    LineNote,
    PlanNotes,
    VehicleNote,
    hit_at_first,
    hit_by,
)
from fleetcare.fleet.bay_visit import BayVisit, Stretch, StretchKind
from fleetcare.fleet.component import LineKey

TODAY = date(2026, 4, 14)
AT = datetime(2026, 4, 14, 15, tzinfo=UTC)
MARKS = ("AN", "BE", "LA", "NE")


def line(mark: str, service: str = "engine-oil") -> LineKey:
    return LineKey(mark, "engine", service)


def days_from(likely: int, spread: int = 10) -> tuple[date, date, date]:
    on = TODAY + timedelta(days=likely)
    return on - timedelta(days=spread), on, on + timedelta(days=spread)


def notes_of(**lines: LineNote) -> PlanNotes:
    return PlanNotes({mark: VehicleNote({line(mark): note}) for mark, note in lines.items()})


def hits(was: PlanNotes, now: PlanNotes, today: date = TODAY) -> dict[str, Hit]:
    return hit_by(was, now, at=AT, today=today)


placed = st.builds(
    lambda likely, spread, has: LineNote(days_from(likely, spread), likely <= 180, has),
    st.integers(-60, 300),
    st.integers(0, 40),
    st.booleans(),
)
undated = st.builds(lambda has: LineNote(None, is_in_time=False, has_visit=has), st.booleans())
vehicles = st.builds(
    lambda own: VehicleNote({line("AN", f"s{at}"): each for at, each in enumerate(own)}),
    st.lists(placed | undated, max_size=4),
)
garages = st.builds(PlanNotes, st.dictionaries(st.sampled_from(MARKS), vehicles))


@given(garages, st.integers(0, 400))
def test_nothing_changed_hits_nobody_however_many_days_pass(notes: PlanNotes, days: int) -> None:
    assert hits(notes, notes, TODAY + timedelta(days=days)) == {}


@given(garages, st.integers(0, 60))
def test_what_is_overdue_and_so_due_today_on_every_day_is_no_news(notes: PlanNotes, days: int) -> None:
    """A forecast names no day before the one it is made on; so a past date that moves along with today says nothing."""
    later = TODAY + timedelta(days=days)

    def forecast_on(day: date) -> PlanNotes:
        def moved(note: LineNote) -> LineNote:
            if note.days is None:
                return note
            early, likely, late = (max(each, day) for each in note.days)
            return replace(note, days=(early, likely, late))

        return PlanNotes(
            {
                mark: VehicleNote({key: moved(note) for key, note in own.lines.items()})
                for mark, own in notes.vehicles.items()
            }
        )

    assert hits(forecast_on(TODAY), forecast_on(later), later) == {}


@given(garages, garages)
def test_the_order_in_which_vehicles_and_services_are_told_does_not_matter(was: PlanNotes, now: PlanNotes) -> None:
    def backwards(notes: PlanNotes) -> PlanNotes:
        turned = {}
        for mark, own in reversed(list(notes.vehicles.items())):
            turned[mark] = replace(own, lines=dict(reversed(list(own.lines.items()))))
        return PlanNotes(turned, notes.room)

    assert list(hits(was, now).items()) == list(hits(backwards(was), backwards(now)).items())


@given(garages, garages, st.sampled_from(MARKS))
def test_whether_a_vehicle_is_hit_hangs_on_nothing_of_another(was: PlanNotes, now: PlanNotes, mark: str) -> None:
    def alone(notes: PlanNotes) -> PlanNotes:
        return PlanNotes({key: own for key, own in notes.vehicles.items() if key == mark})

    assert hits(was, now).get(mark) == hits(alone(was), alone(now)).get(mark)


@given(st.integers(20, 170), st.integers(1, 15), st.integers(-12, 12), st.booleans())
def test_dates_that_move_are_news_beyond_the_drift_of_a_forecast(
    likely: int, spread: int, by: int, has_visit: bool
) -> None:
    was = notes_of(AN=LineNote(days_from(likely, spread), is_in_time=True, has_visit=has_visit))
    now = notes_of(AN=LineNote(days_from(likely + by, spread), is_in_time=True, has_visit=has_visit))
    assert hits(was, now) == ({"AN": Hit.DATES} if abs(by) > DRIFT_DAYS else {})


def test_a_drift_of_a_day_each_day_is_news_once_it_has_come_to_more_than_two() -> None:
    """What is held against is what the vehicle was planned with, not the day before."""
    was = notes_of(AN=LineNote(days_from(60), is_in_time=True, has_visit=True))
    found = [
        bool(hits(was, notes_of(AN=LineNote(days_from(60 + day), is_in_time=True, has_visit=True)), TODAY))
        for day in range(1, 5)
    ]
    assert found == [False, False, True, True]


def test_a_date_set_by_law_does_not_drift() -> None:
    was = notes_of(AN=LineNote(days_from(60, 0), is_in_time=True, has_visit=True))
    now = notes_of(AN=LineNote(days_from(61, 0), is_in_time=True, has_visit=True))
    assert hits(was, now) == {"AN": Hit.DATES}


def test_what_comes_into_the_time_that_is_planned_or_loses_its_visit_has_no_day() -> None:
    beyond = LineNote(days_from(181), is_in_time=False, has_visit=False)
    assert hits(notes_of(AN=beyond), notes_of(AN=replace(beyond, is_in_time=True))) == {"AN": Hit.NO_DAY}
    planned = LineNote(days_from(60), is_in_time=True, has_visit=True)
    assert hits(notes_of(AN=planned), notes_of(AN=replace(planned, has_visit=False))) == {"AN": Hit.NO_DAY}
    # It was left before, at a price that somebody saw; that it still is is no news.
    left = replace(planned, has_visit=False)
    assert hits(notes_of(AN=left), notes_of(AN=left)) == {}
    # Work that was done comes due again far ahead.
    assert hits(notes_of(AN=planned), notes_of(AN=LineNote(days_from(300), False, False))) == {}


def test_a_person_may_pencil_what_has_no_date() -> None:
    by_hand = LineNote(None, is_in_time=False, has_visit=True)
    assert hits(PlanNotes({"AN": VehicleNote({})}), notes_of(AN=by_hand)) == {}
    dated = LineNote(days_from(60), is_in_time=True, has_visit=True)
    assert hits(notes_of(AN=dated), notes_of(AN=by_hand)) == {"AN": Hit.DATES}


def visit_of(mark: str, days: int = 20) -> BayVisit:
    begins = AT + timedelta(days=days)
    return BayVisit(mark, 1, (line(mark),), (Stretch(StretchKind.HANDS_ON, begins, begins + timedelta(hours=2)),))


def test_a_visit_that_cannot_be_is_news_once() -> None:
    fine = VehicleNote({line("AN"): LineNote(days_from(60), is_in_time=True, has_visit=True)})
    broken = replace(fine, broken=frozenset({visit_of("AN")}))
    assert hits(PlanNotes({"AN": fine}), PlanNotes({"AN": broken})) == {"AN": Hit.BROKEN}
    assert hits(PlanNotes({"AN": broken}), PlanNotes({"AN": broken})) == {}
    elsewhere = replace(fine, broken=frozenset({visit_of("AN", 30)}))
    assert hits(PlanNotes({"AN": broken}), PlanNotes({"AN": elsewhere})) == {"AN": Hit.BROKEN}


def test_a_booking_that_is_gone_frees_its_vehicle_and_one_that_is_over_does_not() -> None:
    def note(*away: Taken) -> PlanNotes:
        lines = {line("AN"): LineNote(days_from(60), is_in_time=True, has_visit=True)}
        return PlanNotes({"AN": VehicleNote(lines, frozenset(away))})

    ahead = Taken("AN", AT + timedelta(days=3), AT + timedelta(days=5))
    over = Taken("AN", AT - timedelta(days=5), AT - timedelta(days=3))
    assert hits(note(ahead), note()) == {"AN": Hit.FREE}
    assert hits(note(over), note()) == {}
    assert hits(note(), note(ahead)) == {}, "away from its visit, or that visit is broken"


def test_room_that_comes_free_is_tried_for_what_has_no_day_the_latest_first() -> None:
    left = {f"V{at}": LineNote(days_from(100 - at), is_in_time=True, has_visit=False) for at in range(40)}
    was = replace(notes_of(**left), room=frozenset({Taken(BAY, AT, AT + timedelta(days=1))}))
    found = hits(was, notes_of(**left))
    assert set(found.values()) == {Hit.ROOM}
    assert set(found) == {f"V{at}" for at in range(40 - MOST_FOR_ROOM, 40)}
    assert hits(notes_of(**left), was) == {}, "room that is taken helps nobody"


def test_a_vehicle_of_which_nothing_is_known_is_planned_if_anything_of_it_is() -> None:
    due = LineNote(days_from(60), is_in_time=True, has_visit=False)
    far = LineNote(days_from(400), is_in_time=False, has_visit=False)
    assert hits(PlanNotes({}), notes_of(AN=due, BE=far)) == {"AN": Hit.UNKNOWN}
    assert hit_at_first(notes_of(AN=due, BE=far)) == {"AN": Hit.NO_DAY}


@given(garages, garages)
def test_what_was_planned_anew_is_not_hit_again(was: PlanNotes, now: PlanNotes) -> None:
    planned = was.with_vehicles(hits(was, now), now)
    assert hits(planned, now) == {}
