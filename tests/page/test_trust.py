"""The page that says how good the dates were: its words, its tables, its pictures."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from fleetcare.due.backtest import Backtest, Group, NotJudged
from fleetcare.due.hit_rate import HitRate, Outcome, hit_rate
from fleetcare.due.past_windows import Kind
from fleetcare.page.as_data import backtest_data
from fleetcare.page.cards.trust_words import about_sentences, lead_sentences, row_of, verdict_sentences
from fleetcare.page.drawings.past_windows import CENTRE, ROOM, ROWS_AT_MOST, WIDTH, PastRow, past_windows
from fleetcare.page.render import Pages
from tests.page.karst_ridge import ANVIL, PLANK
from tests.page.past_garage import card_of, looked_back, small_garage, trust_cards

MANY = HitRate(126, 101, 110, 13, 12, 40, 126.0, 5.0, 6.4, 0.2, 2.0)


def words(*sentences: str) -> str:
    """Sentences with plain blanks."""
    return " ".join(sentences).replace("\u2009", " ")


def of_rate(rate: HitRate) -> Backtest:
    """A garage with that count of milestones and nothing else."""

    class Counted(Backtest):
        __slots__ = ()

        def rate(self, kind: Kind) -> HitRate:
            return rate if kind is Kind.MILESTONE else hit_rate([])

    whole = small_garage()
    return Counted(whole.today, whole.windows, (), 10, 10, 0, fitted=False)


@pytest.mark.parametrize(
    ("held", "share", "consequence"),
    [
        (101, 80, "So the dates can be believed as they stand."),
        (80, 63, "That is less than chance allows: the windows are too narrow, so go by the early date."),
        (120, 95, "That is more than chance allows: the windows are wider than they need be."),
    ],
)
def test_verdict_is_one_plain_sentence_with_what_chance_allows(held: int, share: int, consequence: str) -> None:
    assert words(*lead_sentences(of_rate(replace(MANY, held=held)))) == (
        f"Of 126 past windows for milestones {held} held: {share} %, where 80 % are meant and chance allows 73 to "
        f"87 %. {consequence}"
    )


def test_verdict_says_which_way_it_misses_and_how_far_off_the_likely_date_was() -> None:
    told = words(*verdict_sentences(of_rate(replace(MANY, apart=58.3)), Kind.MILESTONE))
    assert "these weigh like 58 that do not overlap" in told
    assert "13 days came before the early date and twelve after the late one." in told
    assert "off by 5 days in the middle case and 6 days on average; in the middle case that is 20 % of the days" in told
    assert "Half the days came 2 days after it or more." in told
    assert "up to 110 held" in told


def test_with_too_little_history_what_is_wanting_is_said_and_no_share() -> None:
    small = small_garage()
    told = words(*lead_sentences(small), *verdict_sentences(small, Kind.MILESTONE))
    assert "%" not in told
    assert "Only 2 past windows closed so far; that is too little" in told
    assert "2 past windows for milestones have closed so far. A share is told from 20 on." in told
    # Given on 2 January and late after 140 days: 22 May.
    assert "1 window is still open. The next late date is 22 May; a reading on that day or after it" in told
    nothing = words(*verdict_sentences(small, Kind.SERVICE))
    assert nothing.startswith("No past window for services has closed so far.")
    assert "It takes readings over some months" in nothing


def test_rows_tell_a_share_only_where_there_are_windows_enough() -> None:
    row = row_of(Group("about a month ahead", MANY), "About a month ahead")
    assert words(row.held, row.chance) == "101 of 126 held, 80 % 73 to 87 % by chance"
    assert (row.missed, row.off) == ("13 before early and 12 after late", "off by 5 days, 20 % of the way")
    few = row_of(Group("x", replace(MANY, closed=19, held=19, before_early=0, after_late=0)), "x")
    assert (few.held, few.chance, few.missed) == ("19 of 19 held", "", "no misses")
    assert row_of(Group("x", hit_rate([])), "x").held == "none closed, 0 open"


def test_what_it_rests_on_is_said_and_who_was_not_judged() -> None:
    found = replace(
        small_garage(), days=400, of_days=3000, set_aside=1, fitted=True,
        not_judged=tuple(NotJudged(f"X{number}", "no reading") for number in range(10)),
    )  # fmt: skip
    told = words(*about_sentences(found, {"X0": "Anvil"}))
    assert "Looked back from 400 past days on which a dial was read" in told
    assert "taken evenly from 3 000." in told
    assert "learned from this garage’s own readings" in told
    assert "1 window rested on a reading that is not used any more" in told
    assert "Not judged, because there is no reading: Anvil, X1, X2, X3, X4, X5, X6, X7 and 2 more." in told
    assert "learned" not in words(*about_sentences(small_garage(), {}))


def test_page_shows_services_and_milestones_apart_with_a_picture_for_each_horizon() -> None:
    found, vehicles = looked_back()
    card = card_of(found, vehicles)
    assert [part.title for part in card.parts] == ["Services", "Milestones"]
    for part, kind in zip(card.parts, Kind, strict=True):
        closed = [group for group in found.by_horizon(kind) if group.rate.closed]
        assert len(part.panels) == len(closed) >= 3
        for panel, group in zip(part.panels, closed, strict=True):
            assert panel.told.startswith(f"{group.rate.held} of {group.rate.closed} held")
            assert panel.told.split(";")[0] in panel.drawing.label
        assert [table.title for table in part.tables] == ["By how far ahead", "By readings known", "By vehicle"]
        assert [row.name for row in part.tables[2].rows] == [vehicle.name for vehicle in vehicles]


def test_small_and_empty_garages_have_their_words() -> None:
    cards = trust_cards()
    assert cards["trust-empty"].lead == ("No vehicle is here yet, so there is nothing to look back on.",)
    assert cards["trust-empty"].parts == ()
    assert "Not judged, because there is no meter: Plank." in cards["trust-small"].about
    assert [part.title for part in cards["trust-small"].parts] == ["Services", "Milestones"]


def test_page_of_many_vehicles_stays_under_100_kb() -> None:
    found, vehicles = looked_back()
    many = tuple(replace(vehicles[0], mark=f"W{n}", name=f"Wagon with a rather long name {n}") for n in range(300))
    windows = tuple(
        replace(window, given=replace(window.given, mark=vehicle.mark))
        for vehicle in many
        for window in found.windows[:30]
    )
    card = card_of(replace(found, windows=windows), many)
    assert "These are 40 of 300" in card.parts[1].tables[2].more
    assert len(Pages().trust(card).encode()) < 100_000


# The picture


def numbers(path: str, command: str) -> list[tuple[float, float]]:
    """The places after each such command of a path."""
    return [(float(x), float(y)) for x, y in re.findall(rf"{command}(-?[\d.]+) (-?[\d.]+)", path)]


def test_bars_stand_against_the_day_in_order_of_their_likely_dates() -> None:
    """Scale to 20 days, the next round number after 16: a day is 252/20 = 12.6 wide, the day itself at 260."""
    rows = [PastRow(-6, 4, 16, missed=False), PastRow(-10, -2, 5, missed=False), PastRow(4, 8, 16, missed=True)]
    drawing = past_windows(rows, "three")
    assert drawing.reach_days == 20
    assert numbers(drawing.likely, "M") == [(CENTRE - 2 * 12.6, 6), (CENTRE + 4 * 12.6, 18), (CENTRE + 8 * 12.6, 30)]
    assert numbers(drawing.early, "M")[0] == (CENTRE - 10 * 12.6, 6)
    assert numbers(drawing.late, "M")[0] == (CENTRE + 5 * 12.6, 6)
    # Only the last missed: from its early end back to the day.
    assert drawing.misses == f"M{CENTRE + 4 * 12.6:.1f} 35H260"
    assert (drawing.rows, drawing.label) == (3, "three")


def test_a_day_that_had_not_come_lies_further_right_than_the_picture_goes() -> None:
    drawing = past_windows([PastRow(-30, -20, -10, missed=True, not_come=True)], "")
    assert drawing.reach_days == 30
    # From late, ten days before: 260 - 84, through the day to the right edge.
    assert drawing.misses == "M176 11H512"


def test_what_sticks_out_runs_to_the_edge_without_an_end() -> None:
    rows = [PastRow(-9, 0, 9, missed=False)] * 19 + [PastRow(-200, -90, 4, missed=False)]
    drawing = past_windows(rows, "")
    assert drawing.reach_days == 10
    assert len(numbers(drawing.early, "M")) == 19
    assert len(numbers(drawing.late, "M")) == 20
    assert min(x for x, _ in numbers(drawing.bars, "M")) == CENTRE - ROOM > 0
    assert CENTRE + ROOM < WIDTH


def test_of_many_windows_some_are_drawn_evenly_the_outermost_among_them() -> None:
    rows = [PastRow(day - 10, day, day + 10, missed=abs(day) > 10) for day in range(-50, 51)]
    drawing = past_windows(rows, "")
    assert drawing.rows == ROWS_AT_MOST
    likely = [x for x, _ in numbers(drawing.likely, "M")]
    assert likely == sorted(likely)
    # Scale to 60 days: 252/60 = 4.2 a day; the first and the last of 101.
    assert likely[0] == pytest.approx(260 - 50 * 4.2)
    assert likely[-1] == pytest.approx(260 + 50 * 4.2)


# The data


def test_data_counts_what_the_windows_say() -> None:
    found, _ = looked_back()
    data = backtest_data(found)
    for key, kind in (("services", "service"), ("milestones", "milestone")):
        mine = [window for window in data["windows"] if window["kind"] == kind]
        outcomes = [window["outcome"] for window in mine]
        assert data[key]["held"] == outcomes.count("held")
        assert data[key]["open"] == outcomes.count("open")
        assert data[key]["closed"] == len(mine) - outcomes.count("open")
        assert data[key]["share"] == pytest.approx(outcomes.count("held") / data[key]["closed"], abs=1e-4)
        assert sum(row["closed"] for row in data[key]["by_vehicle"]) == data[key]["closed"]
        low, high = data[key]["wilson"]
        assert low < data[key]["share"] < high
    assert {window["outcome"] for window in data["windows"]} == {each.value for each in Outcome}
    for window in data["windows"]:
        assert window["given"] < window["likely"] <= window["late"]
        assert window["came"] is None or window["came_after"] <= window["came"] <= window["came_by"]


def test_names_of_vehicles_are_never_markup() -> None:
    wicked = replace(ANVIL, name="<b>Anvil")
    page = Pages().trust(card_of(small_garage(), (wicked, PLANK)))
    assert "&lt;b&gt;Anvil" in page
    assert "<b>Anvil" not in page
