"""The odometer with its fan: where days and values lie, what stands beside it, that it never says what is not so.

The months of 14 April 2026 on the wide form are June 2025 to December 2026: 579 days on 1030, so a day is 1.77893 wide
and begins at `76 + days since 1 June * 1.77893`. The phone shows November to August: 304 days on 292, from 58 on.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import Environment, FileSystemLoader

from fleetcare.due.dial_course import CourseDay, DialCourse, DialPoint
from fleetcare.language.templates import say_in_language
from fleetcare.page.cards.heading import HeadingCard, heading_card, round_to
from fleetcare.page.drawings.fan import HEAD, PHONE_FAN, WIDE_FAN, AheadGiven, Fan, FanForm, ReadGiven, fan, grid_steps
from fleetcare.page.drawings.mix_bar import HEIGHT, MixPart, mix_bar
from fleetcare.page.drawings.road.given import LaneGiven
from fleetcare.quantities import MeterUnit
from fleetcare.wording import THIN_SPACE
from tests.page.karst_ridge import ANVIL_COURSE, ANVIL_OUTLOOK, DUTIES, TODAY, day
from tests.page.test_road_strip import FLUID, RESEAL, VENTS

GOLDEN = Path(__file__).parent / "golden"
LANE = LaneGiven("AN", "Anvil", "/vehicles/AN", "", windows=(VENTS, FLUID), visits=(RESEAL,))
BARE = LaneGiven("AN", "Anvil", "/vehicles/AN", "")
DUTY = {each.key: each for each in DUTIES}
FORMS = (WIDE_FAN, PHONE_FAN)


def figures(path: str) -> list[float]:
    """All figures of a path."""
    return [float(found) for found in re.findall(r"-?\d+(?:\.\d+)?", path)]


def card(course: DialCourse = ANVIL_COURSE, lane: LaneGiven = LANE) -> HeadingCard:
    made = heading_card(ANVIL_OUTLOOK, course, lane, DUTY)
    assert made is not None
    return made


def plain(text: str) -> str:
    return text.replace(THIN_SPACE, " ")


def words(drawn: Fan, kind: str) -> list[str]:
    return [plain(word.text) for word in drawn.words if word.kind == kind]


def drawn_from(readings: list[ReadGiven], ahead: list[AheadGiven], form: FanForm) -> Fan | None:
    return fan(
        readings,
        ahead,
        BARE,
        today=TODAY,
        form=form,
        read_words="",
        course_names=("busy", "likely", "quiet"),
        round_to=1,
        label="",
    )


@pytest.mark.parametrize(
    ("form", "on", "place"),
    [
        (WIDE_FAN, date(2025, 6, 1), 76.0),
        (WIDE_FAN, date(2025, 6, 30), 127.6),  # 29 days
        (WIDE_FAN, date(2026, 3, 31), 615.0),  # 303 days
        (WIDE_FAN, date(2027, 1, 1), 1106.0),
        (PHONE_FAN, date(2025, 11, 1), 58.0),
        (PHONE_FAN, date(2026, 3, 31), 202.1),  # 150 days of .96053
        (PHONE_FAN, date(2026, 9, 1), 350.0),
    ],
)
def test_days_lie_where_the_measures_say(form: FanForm, on: date, place: float) -> None:
    assert form.axis(TODAY).x(on) == pytest.approx(place, abs=0.1)


def test_worked_example_lies_where_it_should_to_a_tenth() -> None:
    """Least 103 560 + 16/46 of 1340 = 104 055.7 on 1 June (at the edge), most 122 340: a step of 4000 from 100 000 on.

    290 for 24 000, so a mile is .0120833 high: 112 640 stands at 304 - 12 640 * .0120833 = 151.3.
    """
    made = card().wide
    assert words(made, "axis")[:7] == [
        "100 000", "104 000", "108 000", "112 000", "116 000", "120 000", "124 000",
    ]  # fmt: skip
    edge, first = figures(made.course)[:2], figures(made.course)[2:4]
    # 17 of 46 days from 15 May to 1 June: 103 560 + 17/46 * 1340 = 104 055.2, which is 304 - 4055.2 * .0120833 = 255.0.
    assert edge == pytest.approx([76.0, 255.0], abs=0.1)
    assert first == pytest.approx([127.6, 244.8], abs=0.1)  # 304 - 4900 * .0120833
    assert (made.dots[-1]) == ("615", "151.3")
    # Busy 122 340 at the right end: 304 - 22 340 * .0120833 = 34.1; likely 20 610: 55.0; quiet 18 760: 77.3.
    assert figures(made.likely)[-2:] == pytest.approx([1106.0, 55.0], abs=0.1)
    ends = [figures(part)[-1] for part in made.edges.split("M")[1:]]
    assert ends == pytest.approx([34.1, 77.3], abs=0.1)


def test_what_the_courses_come_to_stands_at_the_right_end_and_in_a_sentence() -> None:
    made = card()
    assert words(made.wide, "course") == ["busy 122 300", "likely 120 600", "quiet 118 800"]
    assert plain(made.told[0]) == (
        "By 1 January 2027 it will likely show 120 600 mi. With 1 chance in 10 it is more than 122 300 mi, "
        "the busy course, and with 1 in 10 less than 118 800 mi, the quiet one."
    )
    assert made.phone is not None
    assert [word.split()[0] for word in words(made.phone, "course")] == ["busy", "quiet"]


def test_mix_lies_under_its_span_with_severe_use_at_the_bottom() -> None:
    made = card().wide
    assert [bar.words for bar in made.bars] == ["3 : 1", "1 : 2", "2 : 1", "75 : 25"]
    towing, daily = made.bars[1].cells
    assert (towing.pattern, daily.pattern) == ("chevrons", "dots")
    # One part of three of 44, standing on the bottom at 304 + 26 + 44 = 374.
    assert (float(towing.height), float(towing.y) + float(towing.height)) == pytest.approx((14.7, 374.0), abs=0.1)
    assert float(daily.y) == pytest.approx(330.0, abs=0.1)
    assert [(key.pattern, key.title) for key in card().duties] == [("chevrons", "towing"), ("dots", "daily")]


def test_a_changed_dial_is_said_and_not_told_as_what_it_shows() -> None:
    told = " ".join(card(replace(ANVIL_COURSE, counted_on=True)).told)
    assert "changed or began anew" in told
    assert "show 120" not in told


def test_hours_have_no_mix() -> None:
    points = tuple(replace(point, split=None) for point in ANVIL_COURSE.points)
    made = card(replace(ANVIL_COURSE, unit=MeterUnit.HOURS, points=points))
    assert made.duties == ()
    assert made.wide.bars == ()
    assert all("mix" not in told for told in made.told)


def test_without_a_course_or_with_a_single_point_there_is_no_section() -> None:
    assert heading_card(ANVIL_OUTLOOK, None, LANE, DUTY) is None
    alone = DialCourse(MeterUnit.MI, (DialPoint(day(4, 1), 10.0, None),), ())
    assert heading_card(ANVIL_OUTLOOK, alone, LANE, DUTY) is None


def test_figures_are_no_finer_than_what_they_are_unsure_of() -> None:
    def of(spread: float) -> DialCourse:
        return replace(ANVIL_COURSE, ahead=(CourseDay(TODAY, 100.0, 100.0, 100.0 + spread),))

    assert [round_to(of(spread)) for spread in (40.0, 400.0, 4000.0)] == [1, 10, 100]


@given(st.floats(0, 2e6), st.floats(0, 1e6))
def test_grid_holds_the_values_in_few_round_steps(least: float, span: float) -> None:
    low, step, count = grid_steps(least, least + span)
    assert 1 <= count <= 6
    assert 0 <= low <= least
    assert least + span <= low + step * count + 1e-6 * step
    assert step >= 1
    assert step == pytest.approx(round(step))


gains = st.lists(st.floats(0, 3000), min_size=2, max_size=30)


@given(gains, st.floats(0.1, 80), st.floats(0, 0.9), st.sampled_from(FORMS), st.integers(0, 60))
def test_line_never_falls_and_the_likely_course_lies_in_the_band(
    gained: list[float], pace: float, doubt: float, form: FanForm, back: int
) -> None:
    value, on, readings = 1000.0, TODAY - timedelta(days=12 * len(gained) + back), []
    for each in gained:
        value, on = value + each, on + timedelta(days=12)
        readings.append(ReadGiven(on, value))
    ahead = [
        AheadGiven(on + timedelta(days=n), value + n * pace * (1 - doubt), value + n * pace, value + n * pace * 2)
        for n in range(0, 400, 20)
    ]
    drawn = drawn_from(readings, ahead, form)
    assert drawn is not None
    course = figures(drawn.course)
    assert course[0::2] == sorted(course[0::2])
    assert course[1::2] == sorted(course[1::2], reverse=True)
    busy, quiet = (figures(part) for part in drawn.edges.split("M")[1:])
    likely = figures(drawn.likely)
    assert busy[0::2] == quiet[0::2] == likely[0::2]
    assert all(b - 0.1 <= m <= q + 0.1 for b, m, q in zip(busy[1::2], likely[1::2], quiet[1::2], strict=True))
    for path in (course, busy, quiet):
        assert all(form.left - 0.1 <= x <= form.right + 0.1 for x in path[0::2])
        assert all(HEAD - 0.1 <= y <= form.base + 0.1 for y in path[1::2])


@given(st.floats(0, 4000), st.floats(0, 4000))
def test_figures_at_the_right_end_never_run_together(more: float, less: float) -> None:
    readings = [ReadGiven(day(1, 1), 6000.0), ReadGiven(day(3, 31), 8000.0)]
    ahead = [AheadGiven(day(3, 31), 8000, 8000, 8000), AheadGiven(day(1, 1, 2027), 12000 - less, 12000, 12000 + more)]
    drawn = drawn_from(readings, ahead, WIDE_FAN)
    assert drawn is not None
    places = [float(word.y) for word in drawn.words if word.kind == "course"]
    assert len(places) == 3
    assert all(below - above >= 16.9 for above, below in pairwise(places))


@given(st.lists(st.floats(0.01, 1), min_size=1, max_size=6))
def test_parts_of_a_bar_fill_it(shares: list[float]) -> None:
    parts = [MixPart(str(place), share / sum(shares), "dots") for place, share in enumerate(shares)]
    cells = mix_bar(parts, "", left=10, right=40, top=100).cells
    assert sum(float(cell.height) for cell in cells) == pytest.approx(HEIGHT, abs=0.06 * len(shares))
    assert min(float(cell.y) for cell in cells) == pytest.approx(100, abs=0.1)


@pytest.mark.parametrize("name", ["wide", "phone"])
def test_drawing_is_what_it_was(name: str) -> None:
    """Whoever changes the drawing on purpose looks at it, and writes the new one into `golden`."""
    made = card()
    drawn = made.wide if name == "wide" else made.phone
    assert drawn is not None
    assert _svg(drawn) == (GOLDEN / f"fan_{name}.svg").read_text("utf-8")


def _svg(drawn: Fan) -> str:
    templates = Path(__file__).parents[2] / "fleetcare" / "page" / "templates"
    environment = Environment(
        loader=FileSystemLoader(templates),
        trim_blocks=True,
        lstrip_blocks=True,
        autoescape=True,
        extensions=["jinja2.ext.i18n"],
    )
    say_in_language(environment)
    return str(environment.get_template("fan.html").module.fan(drawn))  # type: ignore[attr-defined]
