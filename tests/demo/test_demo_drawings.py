"""The drawings of the demo garage agree with its figures: every dipstick, and every dial with what lies ahead."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

import pytest

from fleetcare.due.dial_course import DialCourse, dial_course
from fleetcare.due.outlook import LineOutlook
from fleetcare.page.cards.rod import rod, standing
from fleetcare.page.drawings.dipstick import LEAST_ZONE, PHONE, SMALL, WIDE, RodForm, Standing
from fleetcare.page.drawings.fan import WIDE_FAN
from fleetcare.settings.forecast_file import load_priors
from fleetcare.usage.priors import Priors
from tests.book.shipped import CONFIG
from tests.demo.garage_files import TODAY
from tests.demo.test_demo_windows import facts, lines, outlooks

FORMS = (WIDE, PHONE, SMALL)
NAMES = ("Anvil", "Bellows", "Nettle", "Thistle", "Bramble", "Lantern", "Pocket", "Raft", "Plank")


def course_of(name: str, priors: Priors | None = None) -> DialCourse | None:
    since, until = WIDE_FAN.days(TODAY)
    known = priors or load_priors(CONFIG / "forecast.toml")
    (of,) = (each for each in facts() if each.vehicle.name == name)
    return dial_course(of, known, today=TODAY, since=since, until=until)


def drawable() -> list[LineOutlook]:
    """Lines with a window and a share of wear, which is what a zone is drawn from."""
    return [line for line in lines().values() if line.window is not None and line.q_now is not None]


def test_the_demo_has_lines_of_every_standing() -> None:
    assert {standing(line) for line in lines().values()} >= {Standing.AHEAD, Standing.OPEN, Standing.PAST_LATE}
    assert len(drawable()) > 30


@pytest.mark.parametrize("form", FORMS, ids=["wide", "phone", "small"])
def test_wear_stands_in_the_zone_of_every_line_exactly_when_today_lies_in_its_window(form: RodForm) -> None:
    for line in drawable():
        drawn, window = rod(line, form).drawing, line.window
        assert window is not None
        assert drawn.zone_x is not None, line.key
        assert drawn.now_x is not None, line.key
        left, right = drawn.zone_x
        assert (left <= drawn.now_x <= right) == (window.early <= TODAY <= window.late), line.key
        assert (drawn.now_x > right) == (window.late < TODAY) == bool(drawn.past_late), line.key
        assert right - left >= LEAST_ZONE - 1e-9, line.key


def test_the_zone_of_every_line_is_the_window_seen_along_the_wear() -> None:
    """q_early = q_now + r (early - today), and the same for late; where the rod has room for it, it is drawn there."""
    checked = 0
    for line in drawable():
        window = line.window
        assert window is not None
        assert line.q_now is not None
        if line.per_day is None:
            continue
        for share, day in ((line.q_early, window.early), (line.q_late, window.late)):
            along = line.q_now + line.per_day * (day - TODAY) / timedelta(days=1)
            assert share == pytest.approx(along, abs=1e-9), line.key
        drawn = rod(line, WIDE).drawing
        assert drawn.zone_x is not None
        assert line.q_early is not None
        assert line.q_late is not None
        has_room = line.q_early >= 0 and line.q_late <= 1.2
        is_wide = WIDE.per_share * (line.q_late - line.q_early) >= LEAST_ZONE
        if has_room and is_wide and standing(line) is Standing.AHEAD and line.q_now < line.q_early - 1 / 380:
            assert drawn.zone_x == pytest.approx((WIDE.x_of(line.q_early), WIDE.x_of(line.q_late)), abs=0.1), line.key
            checked += 1
    assert checked > 10


@pytest.mark.parametrize("name", NAMES)
def test_the_course_of_every_dial_begins_at_its_last_reading_and_never_falls(name: str) -> None:
    course, outlook = course_of(name), outlooks()[name]
    if not outlook.vehicle.meters:
        assert course is None
        return
    assert course is not None
    assert outlook.last_reading is not None
    last, first = course.points[-1], course.ahead[0]
    assert last.on == first.on == outlook.last_reading.on
    assert (first.quiet, first.likely, first.busy) == pytest.approx((last.value,) * 3)
    if not course.counted_on:
        assert last.value == pytest.approx(float(outlook.last_reading.value))
    for earlier, later in pairwise(course.points):
        assert earlier.on < later.on
        assert earlier.value <= later.value
    for before, after in pairwise(course.ahead):
        assert after.quiet <= after.likely <= after.busy
        assert before.quiet <= after.quiet
        assert before.likely <= after.likely
        assert before.busy <= after.busy
    assert course.ahead[-1].on == WIDE_FAN.days(TODAY)[1]


def test_the_likely_course_passes_through_what_is_reckoned_today() -> None:
    """Between two told days the course runs nearly straight; the dial shows whole miles."""
    for name in ("Anvil", "Lantern", "Pocket"):
        course, outlook = course_of(name), outlooks()[name]
        assert course is not None
        assert outlook.reckoned_dial is not None
        after = next(day for day in course.ahead if day.on > TODAY)
        before = [day for day in course.ahead if day.on <= TODAY][-1]
        share = (TODAY - before.on) / (after.on - before.on)
        on_line = before.likely + share * (after.likely - before.likely)
        assert on_line == pytest.approx(float(outlook.reckoned_dial), abs=15)


def test_a_longer_look_ahead_changes_nothing_before_it() -> None:
    since, until = WIDE_FAN.days(TODAY)
    (of,) = (each for each in facts() if each.vehicle.name == "Anvil")
    short = dial_course(of, Priors(), today=TODAY, since=since, until=until)
    long = dial_course(of, Priors(), today=TODAY, since=since, until=until + timedelta(days=100))
    assert short is not None
    assert long is not None
    told = {day.on: day for day in long.ahead}
    assert all(told[day.on] == day for day in short.ahead[:-1])


def test_a_changed_dial_in_the_time_shown_is_counted_on() -> None:
    """Somewhere in the demo a dial was changed or began anew; drawn is what was driven in all."""
    changed = 0
    for of in facts():
        first = min((reading.on for reading in of.readings), default=None)
        if first is None or not of.vehicle.meters:
            continue
        course = dial_course(of, Priors(), today=TODAY, since=first, until=TODAY + timedelta(days=30))
        assert course is not None
        values = [point.value for point in course.points]
        assert values == sorted(values)
        changed += course.counted_on
    assert changed > 0
