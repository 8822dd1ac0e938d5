"""Past windows: given from what was visible, held against the dial, counted without flattery."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetcare.book.rows import AfterEvent, BookRow, DutyFigure, IntervalBook, IntervalRule, Limits
from fleetcare.due.backtest import Backtest, backtest
from fleetcare.due.dial_days import RealDay
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.hit_rate import (
    Z_95,
    JudgedWindow,
    Outcome,
    Verdict,
    band_of,
    hit_rate,
)
from fleetcare.due.past_days import reading_days, seen_from
from fleetcare.due.past_windows import MILESTONE_DAYS, Kind, PastWindow, windows_given
from fleetcare.due.reckon import reckon_vehicle
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import History
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import HOUR_METER, ODOMETER, Meter, MeterChange
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit, PrintedDistance
from fleetcare.usage.priors import Priors
from tests.due.by_the_law import FIRST_DAY, garage_by_the_law, runs_by_the_law
from tests.due.facts import DUTIES, FLAT, TODAY, booking, done, event, miles, monthly, reading, row, vehicle

NO_BOOK = IntervalBook({})
SLOW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
DAY_ONE = date(2024, 1, 1)


def looked_back(
    *fleet: VehicleFacts,
    rows: tuple[BookRow, ...] = (),
    priors: Priors = FLAT,
    today: date = TODAY,
    at_most: int | None = None,
) -> Backtest:
    book = IntervalBook({each.key: each for each in rows})
    return backtest(fleet, book=book, duties=DUTIES, priors=priors, today=today, at_most=at_most)


def given_on(facts: VehicleFacts, book: IntervalBook = NO_BOOK, priors: Priors = FLAT) -> tuple[PastWindow, ...]:
    days = [seen_from(facts, day) for day in reading_days(facts, today=TODAY)]
    return windows_given(days, book=book, duties=DUTIES, priors=priors)


def on_days(steps: list[tuple[int, int]], unit: MeterUnit = MeterUnit.MI) -> tuple[Reading, ...]:
    """Readings by (days after 1 January 2024, dial)."""
    return tuple(reading(DAY_ONE + timedelta(days=day), dial, unit=unit) for day, dial in steps)


def day(after: int) -> int:
    """Ordinal of so many days after 1 January 2024."""
    return DAY_ONE.toordinal() + after


OIL = row(mi=3000, months=24, key="service")
BUSY = [
    (0, 10_000), (31, 10_900), (60, 12_100), (92, 12_700), (121, 14_000), (152, 15_500), (182, 16_100), (214, 17_400),
    (243, 18_000), (275, 19_600), (304, 20_500), (336, 21_000), (365, 22_800), (396, 23_700), (427, 25_000),
]  # fmt: skip
"""Days after 1 January 2024 and miles; the readings of 2 and 31 August lie in one month."""


# The same counts by other means


def test_windows_of_services_are_those_that_reckoning_on_that_day_gives() -> None:
    """Plain loops: each day by itself through `reckon_vehicle`, facts cut by hand; each real day by straight lines.

    The season is flat, so a dial between two readings runs straight over calendar days.
    """
    facts = VehicleFacts(
        vehicle(line_on=DAY_ONE), on_days(BUSY), (done(DAY_ONE, 10_000), done(DAY_ONE + timedelta(days=200), 16_850))
    )
    found = looked_back(facts, rows=(OIL,))
    expected = {}
    for at, (after, _) in enumerate(BUSY):
        today = DAY_ONE + timedelta(days=after)
        known = replace(facts, readings=facts.readings[: at + 1], work=tuple(w for w in facts.work if w.on <= today))
        (line,) = reckon_vehicle(
            known, book=IntervalBook({OIL.key: OIL}), duties=DUTIES, priors=FLAT, today=today
        ).lines
        begin = 10_000 if len(known.work) == 1 else 16_850
        if line.window is None or BUSY[at][1] >= begin + 3000 or line.window.likely <= today or after == 243:
            continue
        assert line.window.cause == "distance"
        came = next(
            d1 + (d2 - d1) * (begin + 3000 - m1) / (m2 - m1)
            for (d1, m1), (d2, m2) in pairwise(BUSY)
            if m1 < begin + 3000 <= m2
        )
        expected[today.toordinal()] = (line.window, day(0) + came)
    services = found.of(Kind.SERVICE)
    assert len(expected) >= 6
    assert {each.given.given_on for each in services} == set(expected)
    held = 0
    for each in services:
        window, came = expected[each.given.given_on]
        dates = (each.given.early, each.given.likely, each.given.late)
        assert dates == tuple(one.toordinal() for one in (window.early, window.likely, window.late))
        assert each.real is not None
        assert each.real.on == pytest.approx(came, abs=1e-6)
        closed = window.late.toordinal() <= day(427)
        held += closed and window.early.toordinal() <= math.floor(came + 0.5) <= window.late.toordinal()
    assert found.rate(Kind.SERVICE).held == held
    assert found.rate(Kind.SERVICE).closed == sum(w.late.toordinal() <= day(427) for w, _ in expected.values())


def test_milestones_have_the_dates_of_a_service_with_just_that_distance_to_go() -> None:
    """A line whose work was done on the day, with the milestone for its interval, goes the whole way of real lines."""
    trip = booking(DAY_ONE + timedelta(days=500), DAY_ONE + timedelta(days=510), 900)
    facts = VehicleFacts(
        vehicle(laid_up=(DateSpan(date(2025, 4, 1), date(2025, 6, 1)),)), on_days(BUSY), bookings=(trip,)
    )
    windows = given_on(facts)
    assert {each.what for each in windows} == {f"{days} days ahead" for days in MILESTONE_DAYS}
    for each in windows[-8:]:
        assert each.milestone is not None
        today = date.fromordinal(each.given_on)
        dial = next(r for r in facts.readings if r.on == today)
        ahead = PrintedDistance.of(Decimal(repr(each.milestone - each.stood_at)), DistanceUnit.KM)
        line_row = replace(row(), rule=IntervalRule(Limits(ahead)))
        known = replace(
            facts,
            readings=tuple(r for r in facts.readings if r.on <= today),
            work=(done(today, int(dial.value)),),
        )
        (line,) = reckon_vehicle(
            known, book=IntervalBook({line_row.key: line_row}), duties=DUTIES, priors=FLAT, today=today
        ).lines
        assert line.window is not None
        dates = [one.toordinal() for one in (line.window.early, line.window.likely, line.window.late)]
        assert [each.early, each.likely, each.late] == dates
    # What the likely pace covers in so many days is likely covered in so many days.
    calm = [w for w in given_on(replace(facts, vehicle=vehicle(), bookings=())) if w.what == "91 days ahead"]
    assert [w.horizon for w in calm] == [91] * len(calm)


def test_counts_agree_with_plain_loops_over_the_windows() -> None:
    fleet = garage_by_the_law(7, 3, 500)
    found = looked_back(*fleet)
    closed = held = early = late = maybe = 0
    for each in found.of(Kind.MILESTONE):
        dials = next(f for f in fleet if f.vehicle.mark == each.given.mark).readings
        target = each.given.milestone
        assert target is not None
        if each.given.late > dials[-1].on.toordinal():
            continue
        closed += 1
        around = next(((a, b) for a, b in pairwise(dials) if float(a.value) < target <= float(b.value)), None)
        if around is None:
            late += 1
            continue
        a, b = around
        share = (target - float(a.value)) / float(b.value - a.value)
        came = math.floor(a.on.toordinal() + share * (b.on - a.on).days + 0.5)
        held += each.given.early <= came <= each.given.late
        early += came < each.given.early
        late += came > each.given.late
        maybe += a.on.toordinal() <= each.given.late and b.on.toordinal() >= each.given.early
    rate = found.rate(Kind.MILESTONE)
    assert closed > 50
    assert (rate.closed, rate.held, rate.before_early, rate.after_late) == (closed, held, early, late)
    assert rate.may_have_held == maybe


# Whether the share can be believed


def meant(windows: Iterable[JudgedWindow]) -> float:
    """The share that should hold: .8, and a little more because windows are told in whole days, ends included.

    That makes a window a day longer. A normal law has the density .1755/sd at 10 and 90 %, and the window between them
    is 2.563 sd long, so a day more adds about .45/length.
    """
    closed = [each.given for each in windows if each.outcome is not Outcome.OPEN]
    return 0.8 + sum(0.45 / (each.late - each.early) for each in closed) / len(closed)


@pytest.fixture(scope="module")
def true_days() -> list[tuple[Backtest, dict[JudgedWindow, bool]]]:
    """Four garages of twelve vehicles that run by the law, and whether each closed window held the true day.

    The true day is that of the daily dial, which nobody reads.
    """
    found = []
    for seed in range(4):
        fleet, dial = runs_by_the_law(seed, 12, 900)
        back = looked_back(*fleet)
        held = {}
        for each in back.windows:
            target, path = each.given.milestone, dial[:, int(each.given.mark[1:])]
            assert target is not None
            if each.outcome is not Outcome.OPEN:
                at = int(np.searchsorted(path, target))
                over = at - 1 + (target - path[at - 1]) / (path[at] - path[at - 1]) if at < len(path) else math.inf
                held[each] = each.given.early - 0.5 <= FIRST_DAY.toordinal() + over < each.given.late + 0.5
        found.append((back, held))
    return found


@pytest.mark.parametrize(("band", "deviations"), [(None, Z_95), *((band, 2.5) for band in range(4))])
def test_where_the_law_is_true_windows_hold_as_often_as_they_say(
    true_days: list[tuple[Backtest, dict[JudgedWindow, bool]]], band: int | None, deviations: float
) -> None:
    """All windows, then each band of horizons by itself, within the limits of the windows apart.

    Seen through the dial, read about once a month and taken as running straight, a few more hold: the straight line
    evens out what happened between two readings. That is less than .04 a month ahead, and less further on.
    """
    # Marks are the same in all four garages, so the windows apart are counted for each.
    parts = [[w for w in held if band is None or band_of(w) == band] for _, held in true_days]
    rates = [hit_rate(part) for part in parts]
    closed = sum(rate.closed for rate in rates)
    truly = sum(held[w] for (_, held), part in zip(true_days, parts, strict=True) for w in part) / closed
    limit = deviations * math.sqrt(0.16 / sum(rate.apart for rate in rates))
    assert truly == pytest.approx(meant(w for part in parts for w in part), abs=limit)
    by_dial = sum(rate.held for rate in rates) / closed
    assert -0.01 <= by_dial - truly <= 0.04


def test_what_chance_allows_holds_in_about_nineteen_of_twenty_garages() -> None:
    """Sixty garages of two vehicles. With 95 % each, fewer than 52 inside has a chance below .01 (binomial)."""
    rates = [looked_back(*garage_by_the_law(1000 + seed, 2, 700)).rate(Kind.MILESTONE) for seed in range(60)]
    inside = sum(
        rate.chance_allows is not None
        and rate.share is not None
        and rate.chance_allows[0] <= rate.share <= rate.chance_allows[1]
        for rate in rates
    )
    assert inside >= 52
    # As if no windows overlapped, the limits would be too tight by far.
    naive = sum(
        rate.share is not None and abs(rate.share - 0.8) <= Z_95 * math.sqrt(0.16 / rate.closed) for rate in rates
    )
    assert naive < 52


def test_windows_that_say_too_much_or_too_little_are_noticed() -> None:
    fleet = garage_by_the_law(3, 12, 900)
    narrow = replace(FLAT, psi=0.2, sig=0.05, q=0.001)
    wide = replace(FLAT, psi=20.0, sig=1.2, q=0.2)
    assert looked_back(*fleet, priors=narrow).rate(Kind.MILESTONE).verdict is Verdict.TOO_NARROW
    assert looked_back(*fleet, priors=wide).rate(Kind.MILESTONE).verdict is Verdict.TOO_WIDE


# Nothing of the future is seen


@st.composite
def histories(draw: st.DrawFn) -> list[tuple[int, int]]:
    """Days and dials, rising, with a wild one now and then."""
    steps, after, dial = [], 0, draw(st.integers(0, 50_000))
    for _ in range(draw(st.integers(1, 12))):
        wild = draw(st.sampled_from([0, 0, 0, 0, 40_000]))
        steps.append((after, dial + wild))
        after += draw(st.integers(1, 60))
        dial += draw(st.integers(0, 60)) * 30
    return steps


@SLOW
@given(history=histories(), future=histories(), cut=st.integers(0, 12), work_at=st.integers(0, 400))
def test_what_happens_later_changes_no_window_of_the_past(
    history: list[tuple[int, int]], future: list[tuple[int, int]], cut: int, work_at: int
) -> None:
    """Readings after a day are exchanged for any others, work and events are added: every window up to it stays."""
    past = history[: max(1, cut)]
    last = past[-1][0]
    other = [(last + 1 + after, dial) for after, dial in future]
    start = done(DAY_ONE, past[0][1])
    rows = (
        OIL,
        row(mi=9000, by_duty=[DutyFigure("towing", miles(4000))], key="fluid"),
        row(after=[AfterEvent("track day", distance=miles(300))], key="look"),
    )
    book = IntervalBook({each.key: each for each in rows})
    own = vehicle(services=[each.key for each in rows])
    before = VehicleFacts(own, on_days(history), (start,), (event("track day", DAY_ONE),))
    after = VehicleFacts(
        own,
        on_days([*past, *other]),
        (start, done(DAY_ONE + timedelta(days=last + 1 + work_at), past[-1][1])),
        (event("track day", DAY_ONE), event("track day", DAY_ONE + timedelta(days=last + 1))),
    )
    known = [[w for w in given_on(facts, book) if w.given_on <= day(last)] for facts in (before, after)]
    assert known[0] == known[1]


def test_that_check_can_fail() -> None:
    facts = VehicleFacts(vehicle(), on_days(BUSY))
    changed = VehicleFacts(vehicle(), on_days([*BUSY[:5], (152, 19_000), *((d, m + 3500) for d, m in BUSY[6:])]))
    assert [w for w in given_on(facts) if w.given_on <= day(152)] != [
        w for w in given_on(changed) if w.given_on <= day(152)
    ]


# What is judged, and how


def test_real_day_lies_between_the_two_readings_and_counts_duties_as_they_were() -> None:
    """Towing counts double: 1 000 mi daily, then 1 000 mi towing of which 500 fill the rest of a 2 000 mi interval.

    That is half of the 40 days between the readings of the 40th and the 80th day.
    """
    towing = DutySplit.from_parts({"towing": 1})
    rule = row(mi=2000, by_duty=[DutyFigure("towing", miles(1000))])
    first, second, third, last = on_days([(0, 0), (40, 1000), (80, 2000), (300, 7500)])
    facts = VehicleFacts(vehicle(), (first, second, replace(third, split=towing), last), (done(DAY_ONE, 0),))
    window = next(each for each in looked_back(facts, rows=(rule,)).of(Kind.SERVICE) if each.given.given_on == day(40))
    assert window.real is not None
    assert (window.real.first, window.real.last) == (day(40), day(80))
    assert window.real.on == pytest.approx(day(60))


def test_a_date_that_cuts_a_distance_is_the_day_that_came() -> None:
    """3 000 mi or 6 months; the distance would have taken longer after all."""
    rule = row(mi=3000, months=6)
    steps = [(0, 0), (31, 900), (60, 1800), (91, 1850), (152, 1900), (213, 1950), (330, 2000)]
    facts = VehicleFacts(vehicle(), on_days(steps), (done(DAY_ONE, 0),))
    windows = [w for w in looked_back(facts, rows=(rule,)).of(Kind.SERVICE) if w.given.given_on == day(60)]
    assert [w.real for w in windows] == [RealDay(date(2024, 7, 1).toordinal(), float(day(182)), day(182))]


def test_services_already_due_by_date_alone_or_not_yet_there_are_left_out() -> None:
    by_date = row(months=6, key="by-date")
    passed = row(mi=100, key="passed")
    later = row(mi=30_000, key="later")
    own = vehicle(services=("by-date", "passed", "later"), line_on=DAY_ONE)
    component = own.components[0]
    lines = tuple(
        replace(line, entered_on=date(2025, 1, 1), history=History.UNKNOWN) if line.service == "later" else line
        for line in component.lines
    )
    own = replace(own, components=(replace(component, lines=lines),))
    rows = (by_date, replace(passed, look_first=False), replace(later, look_first=False))
    windows = looked_back(VehicleFacts(own, on_days(BUSY)), rows=rows).of(Kind.SERVICE)
    assert {(w.given.line.service if w.given.line else "", w.given.given_on >= day(366)) for w in windows} <= {
        ("passed", False), ("later", True),
    }  # fmt: skip
    assert {w.given.given_on for w in windows if w.given.line and w.given.line.service == "passed"} <= {day(0)}
    assert any(w.given.line and w.given.line.service == "later" for w in windows)


# Whatever a garage may hold


def test_vehicles_that_cannot_be_judged_are_named_with_the_reason() -> None:
    no_meter = replace(vehicle(meters=()), mark="PL", towed_by=("AN",))
    pulled = Booking("b", "Tow", DateSpan(date(2025, 1, 1), date(2025, 1, 3)), ("PL",), Decimal(500), DistanceUnit.MI)
    unread = replace(vehicle(), mark="NE")
    found = looked_back(
        VehicleFacts(no_meter, bookings=(pulled,)),
        VehicleFacts(unread),
        VehicleFacts(vehicle(), on_days(BUSY)),
        rows=(OIL,),
    )
    assert [(each.mark, each.why) for each in found.not_judged] == [("PL", "no meter"), ("NE", "no reading")]
    assert {each.given.mark for each in found.windows} == {"AN"}
    assert looked_back().windows == ()


def test_one_reading_makes_windows_that_all_stay_open() -> None:
    found = looked_back(VehicleFacts(vehicle(in_service_on=date(2020, 5, 1)), on_days([(0, 30_000)])), rows=(OIL,))
    rate = found.rate(Kind.MILESTONE)
    assert (rate.closed, rate.open) == (0, len(MILESTONE_DAYS))
    assert found.next_to_close(Kind.MILESTONE) == date.fromordinal(min(w.given.late for w in found.windows))


def test_a_changed_meter_runs_on_and_a_dial_that_rolls_over_too() -> None:
    changed = Meter(
        ODOMETER, MeterUnit.MI, changes=(MeterChange(DAY_ONE + timedelta(days=160), Decimal(15_700), Decimal(12)),)
    )
    steps = [(d, m if d < 160 else m - 15_700 + 12) for d, m in BUSY]
    rolled = [(d, (m + 85_000) % 100_000) for d, m in BUSY]
    plain = looked_back(VehicleFacts(vehicle(), on_days(BUSY)))
    for meter, dials in ((changed, steps), (Meter(ODOMETER, MeterUnit.MI, digits=5, rolls_over=True), rolled)):
        found = looked_back(VehicleFacts(vehicle(meters=(meter,)), on_days(dials)))
        assert found.set_aside == 0
        assert [(w.given.early, w.given.late, w.came_on, w.outcome) for w in found.windows] == [
            (w.given.early, w.given.late, w.came_on, w.outcome) for w in plain.windows
        ]


def test_readings_that_are_held_or_taken_back_play_no_part() -> None:
    plain = VehicleFacts(vehicle(), on_days(BUSY))
    states = (ReadingState.HELD, ReadingState.TAKEN_BACK, ReadingState.SUPERSEDED)
    wild = on_days([(70, 1), (100, 99_999), (130, 500)])
    odd = tuple(replace(each, state=state) for each, state in zip(wild, states, strict=True))
    assert looked_back(replace(plain, readings=(*odd, *plain.readings))) == looked_back(plain)


def test_windows_given_on_a_reading_that_no_longer_fits_are_set_aside() -> None:
    """A dial ten times too high is used on its day; the readings after it show that it was wrong."""
    steps = [*BUSY[:3], (92, 127_000), *BUSY[4:]]
    found = looked_back(VehicleFacts(vehicle(max_km_per_day=50_000.0), on_days(steps)))
    assert found.set_aside == 4
    assert {w.given.given_on for w in found.windows}.isdisjoint({day(92)})


def test_hour_meters_are_judged_like_odometers() -> None:
    meter = Meter(HOUR_METER, MeterUnit.HOURS)
    hours = on_days([(d, m // 50) for d, m in BUSY], MeterUnit.HOURS)
    found = looked_back(VehicleFacts(vehicle(meters=(meter,)), hours, (done(DAY_ONE, 200, unit=MeterUnit.HOURS),)),
                        rows=(row(hours=60),))  # fmt: skip
    assert {w.given.meter for w in found.windows} == {HOUR_METER}
    assert found.rate(Kind.SERVICE).closed > 0
    assert found.rate(Kind.MILESTONE).closed > 10


def test_at_most_one_day_a_month_and_no_more_days_than_wanted() -> None:
    daily = on_days([(d, 10_000 + 30 * d) for d in range(0, 200, 2)])
    days = reading_days(VehicleFacts(vehicle(), daily), today=TODAY)
    assert [each.on.month for each in days] == [1, 2, 3, 4, 5, 6, 7]
    assert reading_days(VehicleFacts(vehicle(), daily), today=date(2024, 3, 31))[-1].on.month == 3
    fleet = garage_by_the_law(1, 4, 700)
    whole, part = looked_back(*fleet), looked_back(*fleet, at_most=30)
    assert (part.days, part.of_days) == (30, whole.of_days)
    dates = [{(w.given.mark, w.given.what, w.given.given_on, w.given.early, w.given.late) for w in one.windows}
             for one in (part, whole)]  # fmt: skip
    assert dates[0] < dates[1]
    assert {w.given.mark for w in part.windows} == {w.given.mark for w in whole.windows}


def test_a_vehicle_that_stands_still_gets_no_milestones() -> None:
    still = monthly(date(2025, 12, 1), 5000, 0, 14)
    found = looked_back(VehicleFacts(vehicle(), still))
    assert all(w.given.given_on < still[-1].on.toordinal() - 180 for w in found.windows)


def test_progress_is_told_up_to_the_end() -> None:
    told: list[tuple[int, int]] = []
    fleet = garage_by_the_law(1, 30, 700)
    backtest(
        fleet, book=NO_BOOK, duties=DUTIES, priors=FLAT, today=TODAY, tell=lambda done, of: told.append((done, of))
    )
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1]
    assert len(told) >= 2
