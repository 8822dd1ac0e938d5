"""The garage learns its own numbers: stored with what they rest on, in force at once and everywhere, or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import pytest

from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.fit_fleet import FIT_EVERY, FitCame, fit_fleet, fit_is_due
from fleetcare.actions.gather import outlooks_of, rules_in_force
from fleetcare.actions.look_ahead import look_ahead
from fleetcare.actions.ports import Change
from fleetcare.actions.refresh import refresh
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.errors import BadInput
from fleetcare.usage.learned import LEARNED, FitBasis, Fitted, FleetNumbers
from fleetcare.usage.priors import Priors
from tests.actions.garages import BASE_URL, DEMO_NOW, BreakingStore, Broken, Stage, demo, log_of, small
from tests.stand_ins import MemoryStore

LATER = DEMO_NOW + timedelta(days=40)
BASIS = FitBasis(21, 340, 26, 0.5, 0.4, 0.5, 0.45, False)


def fit(stage: Stage, *, now: datetime = DEMO_NOW, who: str = "teo") -> FitCame:
    return fit_fleet(stage.store, stage.rules, now=now, base_url=BASE_URL, who=who)


@cache
def _fitted() -> tuple[Stage, FitCame]:
    stage = demo()
    return stage, fit(stage)


def fitted_demo() -> tuple[Stage, FitCame]:
    """The demo garage after one fit, to be used up."""
    stage, came = _fitted()
    store = MemoryStore()
    store._memory = stage.store._memory
    return Stage(store, stage.rules, stage.keys), came


def shown(outlooks: Sequence[VehicleOutlook]) -> dict[str, object]:
    return {str(line.key): line.window or line.no_date for outlook in outlooks for line in outlook.lines}


def put(stage: Stage, fit: Fitted) -> None:
    with stage.store.write(Change("test", "a fit", fit.at)) as unit:
        unit.add_fit(fit)


# Stored, and in force


def test_a_fit_is_stored_with_its_day_who_asked_and_what_it_rests_on() -> None:
    stage, came = fitted_demo()
    with stage.store.read() as view:
        stored = view.newest_fit()
    assert stored is not None
    assert stored == came.stored
    assert (stored.at, stored.who) == (DEMO_NOW, "teo")
    assert stored.numbers == came.lesson.numbers is not None
    # Eight of the nine vehicles have an odometer; the trailer has none.
    assert (stored.basis.vehicles, came.lesson.at_hand.vehicles) == (8, 8)
    assert stored.basis.after < stored.basis.before
    assert stored.basis.others_after < stored.basis.others_before


def test_it_stands_in_the_log_with_the_numbers_before_and_after() -> None:
    stage, came = fitted_demo()
    (entry,) = log_of(stage.store, "forecast numbers")
    assert (entry.subject, entry.change.who, entry.change.why) == ("forecast", "teo", "forecast fitted to this garage")
    assert came.lesson.numbers is not None
    assert entry.before == FleetNumbers.of(Priors()).words()
    assert entry.after.startswith(came.lesson.numbers.words())
    assert "from 8 vehicles" in entry.after
    moved = [each for each in log_of(stage.store, "due window") if each.change == entry.change]
    assert len(moved) == came.moved > 0, "each date that moved has the fit for its cause"


def test_every_vehicle_is_worked_out_by_the_new_numbers() -> None:
    before = demo()
    stage, _ = fitted_demo()
    with before.store.read() as old, stage.store.read() as new:
        assert new.windows() != old.windows()
        stored = {str(key): state for key, state in new.windows().items()}
    ahead = look_ahead(stage.store, stage.rules, now=DEMO_NOW)
    assert shown(ahead.outlooks) == stored
    assert all(
        "; fitted to this garage on 14 April 2026 from 8 vehicles and" in each.basis
        for each in ahead.outlooks
        if each.readings_used
    )
    proof = check_promises(stage.store, stage.rules, now=DEMO_NOW)
    assert proof.broken == ()


def test_a_day_on_which_only_the_numbers_changed_still_counts_as_worked_out() -> None:
    """Without a server dates are those of the last day somebody wrote; a fit is such a day, for every vehicle."""
    stage = demo()
    fit(stage, now=DEMO_NOW + timedelta(days=1))
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW + timedelta(days=3)).broken == ()


def test_what_is_worked_out_later_goes_by_the_numbers_in_force() -> None:
    stage, _ = fitted_demo()
    refresh(stage.store, stage.rules, now=DEMO_NOW, base_url=BASE_URL, why="started")
    with stage.store.read() as view:
        mine = outlooks_of(view, rules_in_force(view, stage.rules), DEMO_NOW.date())
        stored = {str(key): state for key, state in view.windows().items()}
    assert shown(mine) == stored
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW).broken == ()


def test_the_same_garage_learns_the_same_twice() -> None:
    again = fit(demo())
    _, came = _fitted()
    assert again.lesson == came.lesson
    assert again.stored == came.stored


def test_a_second_fit_begins_from_the_shipped_numbers_again_and_names_the_first_as_before() -> None:
    stage, came = fitted_demo()
    again = fit(stage, now=LATER)
    assert again.lesson.before == came.lesson.before
    entries = log_of(stage.store, "forecast numbers")
    assert came.lesson.numbers is not None
    assert [entry.before for entry in entries] == [FleetNumbers.of(Priors()).words(), came.lesson.numbers.words()]
    with stage.store.read() as view:
        newest = view.newest_fit()
    assert newest is not None
    assert newest.at == LATER


# Not enough, not better, not alone


def test_with_too_little_to_go_by_nothing_changes() -> None:
    stage = small()
    with stage.store.read() as view:
        version = view.version()
    came = fit(stage)
    assert (came.lesson.basis, came.stored, came.moved) == (None, None, 0)
    assert came.lesson.at_hand.with_three == 0
    with stage.store.read() as view:
        assert view.version() == version


def test_without_a_garage_it_is_said() -> None:
    empty = MemoryStore()
    with pytest.raises(BadInput):
        fit_fleet(empty, demo().rules, now=DEMO_NOW, base_url=BASE_URL, who="teo")
    assert not fit_is_due(empty, DEMO_NOW, first_look_today=True)


def test_who_stores_first_wins_and_the_other_changes_nothing() -> None:
    stage = demo()
    theirs = Fitted(DEMO_NOW, "another process", None, BASIS)
    done: list[str] = []

    def another_process(what: str, *_: int) -> None:
        if what == "learning" and not done:
            done.append(what)
            put(stage, theirs)

    came = fit_fleet(stage.store, stage.rules, now=DEMO_NOW, base_url=BASE_URL, who="me", progress=another_process)
    assert done
    assert came.stored is None
    assert came.moved == 0
    with stage.store.read() as view:
        newest = view.newest_fit()
    assert newest is not None
    assert newest.who == "another process"
    assert log_of(stage.store, "forecast numbers") == []


@pytest.mark.parametrize("breaks_at", [1, 2])
def test_a_fit_that_breaks_before_it_is_stored_leaves_everything_as_it_was(breaks_at: int) -> None:
    stage = demo()
    with stage.store.read() as view:
        before = (view.version(), view.windows(), view.log())
    with pytest.raises(Broken):
        fit_fleet(BreakingStore(stage.store, breaks_at), stage.rules, now=DEMO_NOW, base_url=BASE_URL, who="teo")
    with stage.store.read() as view:
        assert (view.version(), view.windows(), view.log()) == before
        assert view.newest_fit() is None


@pytest.mark.parametrize("breaks_at", [3, 4, 5])
def test_a_fit_that_breaks_while_vehicles_are_worked_out_is_made_good_by_the_next_pass(breaks_at: int) -> None:
    stage = demo()
    with pytest.raises(Broken):
        fit_fleet(BreakingStore(stage.store, breaks_at), stage.rules, now=DEMO_NOW, base_url=BASE_URL, who="teo")
    refresh(stage.store, stage.rules, now=DEMO_NOW, base_url=BASE_URL, why="started")
    whole, _ = fitted_demo()
    with stage.store.read() as view, whole.store.read() as wanted:
        assert view.newest_fit() is not None
        assert view.windows() == wanted.windows()
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW).broken == ()


def test_shipped_numbers_that_serve_as_well_are_in_force_and_said() -> None:
    stage = demo()
    put(stage, Fitted(DEMO_NOW, "teo", None, BASIS))
    with stage.store.read() as view:
        rules = rules_in_force(view, stage.rules)
    assert FleetNumbers.of(rules.priors) == FleetNumbers.of(stage.rules.priors)
    assert not rules.priors.fitted
    words = look_ahead(stage.store, stage.rules, now=DEMO_NOW).outlooks[0].basis
    served = "which on 14 April 2026 served 21 vehicles and 340 readings as well as any of their own"
    assert words.endswith(f"; with the shipped numbers, {served}")


# Which numbers count


def test_numbers_that_the_garage_set_itself_win_over_learned_ones_and_those_over_shipped_ones() -> None:
    stage = demo()
    numbers = FleetNumbers(m0=3.0, s0=0.4, psi=1.0, sig=0.3, tau=70.0, q=0.01, season=(1.0,) * 12)
    put(stage, Fitted(DEMO_NOW, "teo", numbers, BASIS))
    rules = replace(
        stage.rules, priors=replace(stage.rules.priors, tau=55.0, nu=9.0), own_numbers=frozenset({"tau", "nu"})
    )
    with stage.store.read() as view:
        found = rules_in_force(view, rules)
        assert rules_in_force(view, found) == found, "asked twice, the same"
    assert {name: getattr(found.priors, name) for name in (*LEARNED, "season", "nu", "clip")} == {
        **{name: getattr(numbers, name) for name in LEARNED},
        "season": (1.0,) * 12,
        "tau": 55.0,
        "nu": 9.0,
        "clip": Priors().clip,
    }
    assert found.priors.fitted
    every = replace(rules, own_numbers=frozenset({*LEARNED, "season"}))
    with stage.store.read() as view:
        assert rules_in_force(view, every) == every


def test_the_day_of_a_fit_is_the_garages_day() -> None:
    stage = demo()
    night = datetime(2026, 11, 4, 3, 0, tzinfo=UTC)  # still the evening of the third in Denver
    put(stage, Fitted(night, "teo", FleetNumbers.of(Priors()), BASIS))
    with stage.store.read() as view:
        words = rules_in_force(view, stage.rules).priors.fitted_words
    assert words == "fitted to this garage on 3 November 2026 from 21 vehicles and 340 readings"


# When it is time


def at(hour: int, *, days: int = 0) -> datetime:
    """That hour of the night or day in Denver, six hours behind UTC in April and May."""
    return datetime(2026, 4, 14, 6, 30, tzinfo=UTC) + timedelta(days=days, hours=hour)


@pytest.mark.parametrize(
    ("now", "first_look", "due"),
    [
        (at(3), False, True),
        (at(4), False, True),
        (at(2), True, False),
        (at(5), True, False),
        (at(12), True, False),
        # The readings came in on 14 April at nine; a day later a night has gone by without a fit.
        (at(8, days=1), True, False),
        (at(9, days=1), True, True),
        (at(9, days=1), False, False),
    ],
)
def test_a_garage_without_a_fit_waits_for_the_night_or_for_the_day_after_a_night_that_was_missed(
    now: datetime, first_look: bool, due: bool
) -> None:
    assert fit_is_due(demo().store, now, first_look_today=first_look) is due


@pytest.mark.parametrize(
    ("after", "hour", "first_look", "due"),
    [
        (FIT_EVERY - timedelta(days=1), 3, True, False),
        (FIT_EVERY, 3, False, True),
        (FIT_EVERY, 12, True, False),
        (FIT_EVERY + timedelta(days=1), 12, True, True),
        (FIT_EVERY + timedelta(days=1), 12, False, False),
    ],
)
def test_a_fit_is_made_again_after_a_month_at_night_or_by_day_if_the_night_was_missed(
    after: timedelta, hour: int, first_look: bool, due: bool
) -> None:
    stage = demo()
    put(stage, Fitted(at(3), "teo", None, BASIS))
    assert fit_is_due(stage.store, at(hour) + after, first_look_today=first_look) is due
