"""The rod is drawn to measure and never says other than the dates."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.page.drawings.dipstick import (
    LEAST_ZONE,
    PHONE,
    SMALL,
    WIDE,
    RodForm,
    Standing,
    dipstick,
    dipstick_label,
)

FORMS = (WIDE, PHONE, SMALL)

# Worked examples on the wide rod for one day: share by reading and today, share a day, days to early and late, and
# where reading, today, early and late lie. X(q) = 12 + 380 q by hand: .9748 * 380 + 12 = 382.4.
EXAMPLES = [
    ("axle vents", 0.8925, 0.8925, 0.005476, -1, 41, (351.2, 351.2, 349.1, 436.5)),
    ("rear axle fluid", 0.9617, 0.9748, 0.000940, 8, 56, (377.4, 382.4, 385.3, 402.4)),
    ("engine oil", 0.6545, 0.7253, 0.005060, 43, 73, (260.7, 287.6, 370.3, 428.0)),
    ("engine oil", 0.6022, 0.7573, 0.004698, 40, 70, (240.9, 299.8, 371.2, 424.7)),
    ("coupling", 1.0541, 1.0541, 0.002738, -34, -6, (412.5, 412.5, 377.2, 406.3)),
]


@pytest.mark.parametrize(("name", "read", "now", "per_day", "early", "late", "places"), EXAMPLES)
def test_worked_examples_lie_where_they_should_to_a_tenth(
    name: str, read: float, now: float, per_day: float, early: int, late: int, places: tuple[float, ...]
) -> None:
    shares = (read, now, now + per_day * early, now + per_day * late)
    # 240.9 was worked out from a share with more digits than the four printed (they give 240.84).
    assert [WIDE.x_of(share) for share in shares] == pytest.approx(places, abs=0.1)


@pytest.mark.parametrize(("name", "read", "now", "per_day", "early", "late", "places"), EXAMPLES)
def test_what_is_drawn_is_what_was_worked_out(
    name: str, read: float, now: float, per_day: float, early: int, late: int, places: tuple[float, ...]
) -> None:
    standing = Standing.PAST_LATE if late < 0 else Standing.OPEN if early <= 0 else Standing.AHEAD
    drawn = dipstick(
        q_read=read,
        q_now=now,
        q_early=now + per_day * early,
        q_late=now + per_day * late,
        standing=standing,
        form=WIDE,
    )
    assert drawn.zone is not None
    assert float(drawn.zone.x) == pytest.approx(places[2], abs=0.1)
    assert float(drawn.zone.x) + float(drawn.zone.width) == pytest.approx(places[3], abs=0.11)
    assert float(drawn.early.split()[0].removeprefix("M")) == pytest.approx(places[2], abs=0.1)
    assert (drawn.past_late != "") == (standing is Standing.PAST_LATE)
    edge = float(drawn.edge.split()[0].removeprefix("M"))
    # Past late the saw is at least 8 wide, so the edge moves from 412.5 to 414.3.
    assert edge == pytest.approx(414.3 if standing is Standing.PAST_LATE else places[1], abs=0.1)


@pytest.mark.parametrize(
    ("form", "nought", "whole", "end"), [(WIDE, 12, 392, 468), (PHONE, 12, 257, 306), (SMALL, 8, 226.33, 270)]
)
def test_scale_runs_from_tip_to_120_percent(form: RodForm, nought: float, whole: float, end: float) -> None:
    assert form.x_of(0) == nought
    assert form.x_of(1) == pytest.approx(whole, abs=0.01)
    assert form.x_of(1.2) == pytest.approx(end)
    assert form.x_of(7) == form.x_of(1.2)
    assert form.x_of(-1) == nought


def test_wide_rod_has_the_measures_of_its_parts() -> None:
    drawn = dipstick(q_read=0.5, q_now=0.6, q_early=0.9, q_late=1.1, standing=Standing.AHEAD, form=WIDE)
    assert drawn.view_box == "0 0 520 36"
    assert drawn.blade.startswith("M10 14H351L354 10H430L433 14H476V22")
    assert drawn.hole == ("392", "18", "2.6")
    assert drawn.neck == "M476 18H500"
    assert drawn.ring == ("509", "18", "8")
    assert drawn.edge == "M240 11V25"
    assert drawn.late == "M430 6V30"


shares = st.floats(0, 1.6)


@st.composite
def services(draw: st.DrawFn) -> tuple[float, float, float, int, int]:
    """Share by reading, share today, share a day, days to early and late."""
    read, grown = draw(shares), draw(st.floats(0, 0.4))
    early, length = draw(st.integers(-300, 600)), draw(st.integers(0, 500))
    return read, read + grown, draw(st.floats(0.00005, 0.02)), early, early + length


@given(services(), st.sampled_from(FORMS))
def test_wear_stands_in_the_zone_exactly_when_today_lies_in_the_window(
    service: tuple[float, float, float, int, int], form: RodForm
) -> None:
    read, now, per_day, early, late = service
    standing = Standing.PAST_LATE if late < 0 else Standing.OPEN if early <= 0 else Standing.AHEAD
    drawn = dipstick(
        q_read=read,
        q_now=now,
        q_early=now + per_day * early,
        q_late=now + per_day * late,
        standing=standing,
        form=form,
    )
    assert drawn.zone_x is not None
    assert drawn.now_x is not None
    left, right = drawn.zone_x
    assert (left <= drawn.now_x <= right) == (standing is Standing.OPEN)
    assert (drawn.now_x > right) == (standing is Standing.PAST_LATE) == bool(drawn.past_late)
    assert right - left >= LEAST_ZONE - 1e-9
    assert right <= form.end
    if drawn.past_late:
        assert drawn.now_x - right >= LEAST_ZONE - 1e-9


@given(st.floats(0.3, 0.9), st.floats(0.0005, 0.01), st.integers(1, 60), st.integers(0, 60), st.integers(0, 60))
def test_surer_forecast_never_makes_a_wider_zone(
    now: float, per_day: float, early: int, length: int, sooner: int
) -> None:
    def width(days: int) -> float:
        drawn = dipstick(
            q_read=now,
            q_now=now,
            q_early=now + per_day * early,
            q_late=now + per_day * (early + days),
            standing=Standing.AHEAD,
            form=WIDE,
        )
        assert drawn.zone_x is not None
        return drawn.zone_x[1] - drawn.zone_x[0]

    assert width(min(length, sooner)) <= width(max(length, sooner)) + 1e-9


@given(services(), st.sampled_from(FORMS))
def test_coordinates_have_one_decimal_and_stay_on_the_sheet(
    service: tuple[float, float, float, int, int], form: RodForm
) -> None:
    read, now, per_day, early, late = service
    standing = Standing.PAST_LATE if late < 0 else Standing.OPEN if early <= 0 else Standing.AHEAD
    drawn = dipstick(
        q_read=read,
        q_now=now,
        q_early=now + per_day * early,
        q_late=now + per_day * late,
        standing=standing,
        form=form,
    )
    paths = (drawn.blade, drawn.wet, drawn.past_late, drawn.edge, drawn.early, drawn.late, drawn.off_the_rod)
    numbers = re.findall(r"-?\d+(?:\.\d+)?", " ".join(paths))
    assert all(len(number.partition(".")[2]) <= 1 for number in numbers)
    assert all(-6 <= float(number) <= form.width for number in numbers)


def test_no_date_in_sight_leaves_only_the_hole() -> None:
    drawn = dipstick(q_read=0.4, q_now=0.4, q_early=None, q_late=None, standing=Standing.NO_DATE, form=SMALL)
    assert drawn.zone is None
    assert drawn.early == drawn.late == drawn.past_late == ""
    assert drawn.label == "Wear 40 percent. No date in sight."


def test_wear_off_the_rod_fills_the_blade_and_is_broken() -> None:
    drawn = dipstick(q_read=1.1, q_now=1.31, q_early=1.0, q_late=1.1, standing=Standing.PAST_LATE, form=WIDE)
    assert drawn.off_the_rod
    assert drawn.edge == ""
    assert "L476 10V26" in drawn.past_late


def test_label_says_it_all_again() -> None:
    assert dipstick_label(0.9617, 0.9748, 0.9823, 1.0274) == (
        "Wear 97 percent by reckoning, 96 percent by the last reading. Due window from 98 to 103 percent."
    )
    assert dipstick_label(1.0541, 1.0541, 0.961, 1.0377) == "Wear 105 percent. Due window from 96 to 104 percent."
    assert dipstick_label(None, None, None, None) == "Wear cannot be said without a reading."
