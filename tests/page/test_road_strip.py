"""The road ahead as a drawing: where days lie, how windows are packed, that no two words run together.

The figures of the worked examples follow from the measures of the strip (a day is 1076 / 115 wide, and begins at
`146 + days since Monday of last week * 1076 / 115`); they are written down beside them so that both can be checked by
hand. 14 April 2026 is a Tuesday, so the strip begins on Monday 6 April.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jinja2 import Environment, FileSystemLoader

from fleetcare.language.templates import say_in_language
from fleetcare.page.drawings.lettering import Lettering, width_of
from fleetcare.page.drawings.road.form import PHONE, WIDE, Axis, Form
from fleetcare.page.drawings.road.given import LaneGiven, SpokenFor, VisitGiven, WindowGiven
from fleetcare.page.drawings.road.lane import Lane, Word
from fleetcare.page.drawings.road.strip import Strip, strip
from fleetcare.page.drawings.road.wedge import wedge

TODAY = date(2026, 4, 14)
GOLDEN = Path(__file__).parent / "golden"


def window(early: date, likely: date, late: date, name: str = "Axle vents", **more: object) -> WindowGiven:
    return replace(WindowGiven(early, likely, late, name, 1), **more)  # type: ignore[arg-type]


VENTS = window(date(2026, 4, 13), date(2026, 5, 4), date(2026, 5, 25), visits=frozenset({1}), number=5)
FLUID = window(
    date(2026, 4, 22), date(2026, 5, 11), date(2026, 6, 9), "Rear axle fluid", visits=frozenset({1}), number=10
)
OIL = window(date(2026, 5, 8), date(2026, 5, 12), date(2026, 5, 17), "Engine oil", number=3)
COUPLING = window(
    date(2026, 3, 11), date(2026, 3, 25), date(2026, 4, 8), "Coupling inspection", number=1,
    past_late="6 days past late", visits=frozenset({1}),
)  # fmt: skip
RESEAL = VisitGiven(
    1, datetime(2026, 4, 25, 9, tzinfo=UTC), datetime(2026, 4, 26, 13, tzinfo=UTC), True, True, "Sat 25 Apr"
)
LOOK = VisitGiven(
    1, datetime(2026, 4, 16, 9, tzinfo=UTC), datetime(2026, 4, 16, 11, tzinfo=UTC), False, False, "Thu 16 Apr"
)
ANVIL = LaneGiven(
    "AN", "Anvil", "/vehicles/AN", "113 045 mi", windows=(VENTS, FLUID), visits=(RESEAL,),
    spoken=(SpokenFor(date(2026, 5, 1), date(2026, 5, 3), "Hollow Lake hill climb"),),
)  # fmt: skip
POCKET = LaneGiven("PO", "Pocket", "/vehicles/PO", "61 266 mi", windows=(OIL,))
RAFT = LaneGiven("RA", "Raft", "/vehicles/RA", "18 579 mi", windows=(COUPLING,), visits=(LOOK,))
BELLOWS = LaneGiven("BE", "Bellows", "/vehicles/BE", "wants a reading", wants=True, looks=(date(2026, 4, 30),))
LANES = (ANVIL, BELLOWS, POCKET, RAFT)


def numbers(path: str) -> list[float]:
    """All figures of a path."""
    return [float(found) for found in re.findall(r"-?\d+(?:\.\d+)?", path)]


def words_of(drawn: Strip) -> list[Word]:
    found = [word for lane in drawn.lanes for word in (*lane.words, lane.name_at, lane.under) if word is not None]
    return [*found, *drawn.words, drawn.today_word]


@pytest.mark.parametrize(
    ("what", "places"),
    [
        (VENTS, (211.5, 408.0, 604.5)),  # 7, 28 and 49 days after 6 April
        (FLUID, (295.7, 473.5, 744.8)),  # 16, 35 and 64
        (OIL, (445.4, 482.8, 529.6)),  # 32, 36 and 41
    ],
)
def test_days_lie_where_the_measures_say(what: WindowGiven, places: tuple[float, float, float]) -> None:
    axis = Axis.around(TODAY, WIDE)
    found = (axis.x(what.early), axis.x(what.likely), axis.x(what.late))
    assert found == pytest.approx(places, abs=0.06)


def test_today_stands_in_its_day_and_a_bay_day_at_its_hour() -> None:
    drawn = strip(LANES, TODAY, WIDE)
    assert numbers(drawn.today)[0] == 224.6  # 8 days and .4
    anvil = drawn.lanes[0]
    assert numbers(anvil.posts)[0] == 327.3  # 19 days and 9 of 24 hours
    (stands,) = anvil.stands
    assert (stands.x, stands.width) == ("327.3", "10.9")  # 28 hours
    assert numbers(drawn.behind.width) == [78.6]
    assert drawn.view_box.startswith("0 0 1224 ")
    assert strip(LANES, TODAY, PHONE).view_box.startswith("0 0 358 ")


def test_a_ramp_rises_by_half_to_likely_and_ends_in_a_wall() -> None:
    drawn = wedge(211.5, 408, 604.5, 224.6, base=81, height=17, left=146)
    assert drawn.area == "M211.5 81L408 72.5L604.5 64L604.5 81Z"
    assert drawn.base == "M211.5 81H604.5"
    assert drawn.likely == "M408 81V67.5"
    assert drawn.late == "M604.5 82V63"
    # Behind today: 13.1 of 196.5 on the way to likely, so 13.1 / 196.5 * 8.5 = .57 high.
    assert drawn.used == "M211.5 81L224.6 80.4L224.6 81Z"
    assert drawn.past_late == ""


def test_a_window_past_late_is_solid_and_its_saw_runs_up_to_today() -> None:
    drawn = wedge(-97.3, 33.7, 164.7, 224.6, base=566, height=17, left=146)
    assert drawn.used == "M-97.3 566L33.7 557.5L164.7 549L164.7 566Z"
    assert drawn.past_late.startswith("M166.2 566V549L169.2 544L172.2 549")
    assert drawn.past_late.endswith("V566Z")
    assert max(numbers(drawn.past_late)[2::2]) <= 566
    long_past = wedge(-900, -800, -700, 224.6, base=566, height=17, left=146)
    assert numbers(long_past.past_late)[0] == 146, "a saw that began long ago begins at the gutter"


def test_a_window_is_never_narrower_than_eight() -> None:
    drawn = wedge(400, 400, 400, 0, base=81, height=17, left=146)
    assert numbers(drawn.base) == [392, 81, 400]


def test_words_say_what_is_past_late_behind_the_post_that_is_near() -> None:
    raft = strip(LANES, TODAY, WIDE).lanes[3]
    (said,) = [word for word in raft.words if word.kind == "past"]
    assert said.text == "Coupling inspection, 6 days past late"
    post = numbers(raft.posts)[0]
    assert float(said.x) == pytest.approx(post + 4.4 + 6, abs=0.06)
    alone = strip((replace(RAFT, visits=()),), TODAY, WIDE).lanes[0]
    (said,) = [word for word in alone.words if word.kind == "past"]
    assert float(said.x) == pytest.approx(224.6 + 6, abs=0.06)


def test_the_phone_has_numbers_in_place_of_names() -> None:
    drawn = strip(LANES, TODAY, PHONE)
    said = [word.text for lane in drawn.lanes for word in lane.words]
    assert sorted(said) == ["1", "10", "3", "5"]
    assert all(lane.name_at is None and lane.under is None for lane in drawn.lanes)


def test_only_what_lies_in_the_stretch_is_drawn() -> None:
    far = window(date(2026, 9, 1), date(2026, 9, 10), date(2026, 9, 20))
    (lane,) = strip((replace(POCKET, windows=(far,)),), TODAY, WIDE).lanes
    assert not lane.wedges
    assert not lane.words


def test_a_knob_sits_on_the_posts_that_cover_a_window_and_on_no_other() -> None:
    anvil = strip(LANES, TODAY, WIDE).lanes[0]
    assert [(knob.x, knob.is_inked) for knob in anvil.knobs] == [("327.3", True)] * 2
    other = replace(ANVIL, windows=(replace(VENTS, visits=frozenset({2})), FLUID))
    assert len(strip((other,), TODAY, WIDE).lanes[0].knobs) == 1


def test_look_again_is_a_ring_with_words_where_there_is_room() -> None:
    bellows = strip(LANES, TODAY, WIDE).lanes[1]
    assert len(bellows.rings) == 1
    assert [word.text for word in bellows.words] == ["look again"]


@pytest.mark.parametrize("form", [WIDE, PHONE], ids=["wide", "phone"])
def test_the_drawing_is_as_it_was_looked_at(form: Form) -> None:
    """A drawing that changes on purpose: look at it, then write the file anew with the text that was drawn."""
    drawn = _svg(strip(LANES, TODAY, form))
    name = "wide" if form is WIDE else "phone"
    assert drawn == (GOLDEN / f"road_{name}.svg").read_text("utf-8")


def _svg(drawn: Strip) -> str:
    templates = Path(__file__).parents[2] / "fleetcare" / "page" / "templates"
    environment = Environment(
        loader=FileSystemLoader(templates),
        trim_blocks=True,
        lstrip_blocks=True,
        autoescape=True,
        extensions=["jinja2.ext.i18n"],
    )
    say_in_language(environment)
    return str(environment.get_template("road_strip.html").module.strip(drawn))  # type: ignore[attr-defined]


# Laws


@st.composite
def lanes(draw: st.DrawFn) -> LaneGiven:
    names = st.sampled_from(["Engine oil", "Rear axle fluid", "Coupling inspection", "Belt", "Wheel bearings, repack"])
    windows = []
    for number in range(draw(st.integers(0, 7))):
        early = TODAY + timedelta(days=draw(st.integers(-200, 130)))
        likely = early + timedelta(days=draw(st.integers(0, 60)))
        late = likely + timedelta(days=draw(st.integers(0, 90)))
        past = f"{(TODAY - late).days} days past late" if late < TODAY else ""
        windows.append(WindowGiven(early, likely, late, draw(names), number + 1, past, draw(_some_visits)))
    visits = tuple(
        VisitGiven(
            number,
            begins := datetime(2026, 4, 14, 8, tzinfo=UTC) + timedelta(days=draw(st.integers(0, 120))),
            begins + timedelta(hours=draw(st.integers(1, 60))),
            draw(st.booleans()),
            draw(st.booleans()),
            f"{begins:%a} {begins.day} {begins:%b}",
        )
        for number in range(draw(st.integers(0, 3)))
    )
    spoken = []
    for _ in range(draw(st.integers(0, 3))):
        first = TODAY + timedelta(days=draw(st.integers(-20, 120)))
        spoken.append(SpokenFor(first, first + timedelta(days=draw(st.integers(0, 9))), draw(names)))
    looks = tuple(TODAY + timedelta(days=draw(st.integers(-10, 120))) for _ in range(draw(st.integers(0, 2))))
    return LaneGiven("AN", "Anvil", "/vehicles/AN", "113 045 mi", False, tuple(windows), visits, tuple(spoken), looks)


_some_visits = st.frozensets(st.integers(0, 2), max_size=2)
SIZES = {
    "named": (13, Lettering.STRIP), "past": (13, Lettering.STRONG), "number": (12.5, Lettering.STRONG),
    "bay": (13, Lettering.STRONG), "spoken": (12.5, Lettering.STRIP),
}  # fmt: skip


def spans(lane: Lane) -> list[tuple[float, float, float, str]]:
    """Of each word of a lane: where it begins and ends, on what line, and what it says."""
    found = []
    for word in lane.words:
        size, lettering = SIZES[word.kind]
        wide, x = width_of(word.text, size, lettering), float(word.x)
        begin = x if word.anchor == "start" else x - wide
        found.append((begin, begin + wide, float(word.y), word.text))
    return found


@settings(max_examples=300)
@given(lanes(), st.sampled_from([WIDE, PHONE]))
def test_no_two_words_of_a_lane_overlap_and_none_leaves_the_strip(given_lane: LaneGiven, form: Form) -> None:
    drawn = strip((given_lane,), TODAY, form)
    placed = spans(drawn.lanes[0])
    for number, (begin, end, y, text) in enumerate(placed):
        assert form.gutter - 0.1 <= begin, text
        assert end <= form.right + 0.1 or end - begin > form.right - form.gutter - 30, text
        for other_begin, other_end, other_y, other in placed[number + 1 :]:
            apart = end < other_begin + 0.1 or other_end < begin + 0.1 or abs(y - other_y) >= 8
            assert apart, (text, other)


@given(st.lists(lanes(), min_size=1, max_size=12), st.dates(date(2024, 1, 1), date(2028, 12, 31)))
def test_lanes_lie_below_each_other_and_hold_what_is_theirs(given_lanes: list[LaneGiven], today: date) -> None:
    for form in (WIDE, PHONE):
        drawn = strip(given_lanes, today, form)
        top = form.head
        for lane in drawn.lanes:
            bottom = float(lane.bottom)
            assert bottom - top >= form.least - 0.1
            for one in lane.wedges:
                y = numbers(one.base)[1]
                assert top < y - form.wedge
                assert y < bottom
            top = bottom
        begins = numbers(drawn.behind.x)[0] + numbers(drawn.behind.width)[0]
        assert form.gutter + 7 * form.per_day <= begins + 0.1 <= form.gutter + 14 * form.per_day, "in the second week"
