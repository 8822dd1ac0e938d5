"""What moving a bay day costs, as a drawing and in words."""

from __future__ import annotations

import re
from datetime import timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.bayplan.explain import DayPrice, Explained, Forbidden
from fleetcare.bayplan.held_days import BayHolder
from fleetcare.bayplan.plan import Visit
from fleetcare.page.cards.bay_why import cannot_sentences
from fleetcare.page.drawings.ground import EDGE, FLOOR, HEAD, HEIGHT, GroundDay, ground
from tests.page.bay_pages import LONG, bay_card, why_card
from tests.page.karst_ridge import TODAY

WIDTH = 500.0


def day(cost: float | None, *, chosen: bool = False) -> GroundDay:
    return GroundDay(cost, "25 Apr", chosen)


def numbers(path: str) -> list[float]:
    return [float(found) for found in re.findall(r"-?\d+(?:\.\d+)?", path)]


def test_a_dear_day_is_a_hill_and_one_that_cannot_be_a_wall() -> None:
    drawn = ground([day(0.5), day(0.0, chosen=True), day(None), day(1.0), day(7.0)], WIDTH, "x")
    assert drawn is not None
    base, step = HEAD + HEIGHT, (WIDTH - 2 * EDGE) / 4
    assert drawn.dots[0] == ("14", f"{base - FLOOR - 0.5 * (HEIGHT - FLOOR):.0f}")
    assert numbers(drawn.post) == [EDGE + step, base - FLOOR, base - FLOOR - 26], "the post stands in the dip"
    assert drawn.walls == ((f"{EDGE + 1.5 * step:g}", f"{step:g}"),)
    assert drawn.dots[-1][1] == drawn.dots[-2][1] == "34", "dearer than the cap is drawn as high as the cap"


def test_without_a_day_that_can_be_there_is_no_drawing() -> None:
    assert ground([day(None, chosen=True), day(0.2)], WIDTH, "x") is None
    assert ground([], WIDTH, "x") is None


@given(st.lists(st.none() | st.floats(-1, 3), max_size=60), st.sampled_from([500.0, 358.0]))
def test_everything_lies_within_and_every_day_is_drawn_once(costs: list[float | None], width: float) -> None:
    days = [day(cost) for cost in costs] + [day(0.1, chosen=True)]
    drawn = ground(days, width, "x")
    assert drawn is not None
    assert len(drawn.dots) == sum(cost is not None for cost in costs)
    xs = numbers(drawn.line)[0::2] + [float(x) for x, _ in drawn.walls] + [float(x) for x, _, _ in drawn.labels]
    assert all(0 <= x <= width for x in xs)
    assert all(HEAD - 0.1 <= y <= HEAD + HEIGHT for y in numbers(drawn.line)[1::2])
    places = [float(x) for x, _, _ in drawn.labels]
    assert all(b - a >= 58 - 0.2 for a, b in pairwise(places)), "labels stand apart"
    share = {"start": 0.0, "middle": 0.5, "end": 1.0}
    lefts = [float(x) - 58 * share[anchor] for x, anchor, _ in drawn.labels]
    assert all(b - a >= 58 - 0.2 for a, b in pairwise(lefts)), "and so do their words, whichever end they hang on"


def test_the_page_says_in_words_what_it_draws() -> None:
    card = why_card()
    assert card.why == (
        (
            "Wheel nuts, first check after fitting leads: by 9 May waiting would cost 259 more: 263 for being late "
            "(22 in 100 that it is overdue by then), less 4 of its life."
        ),
        "Wheel nuts, first check after fitting and engine oil and filter share one visit, which saves 40.",
        "By the prices alone 24 April would be better, by 21.",
    )
    assert [each.told for each in card.days][:3] == ["saves 35", "saves 28", "saves 21"]
    assert card.cannot[0] == "Closed: 4 May (Labour Day)."
    assert card.cannot[1] == "On 22 days nobody is there."
    assert card.cannot[2] == "The vehicle is away: 1 May to 2 May and 8 May."
    assert card.cannot[3] == "The bay is taken: 6 May by Pocket <the small one> (visit 7)."
    bare = why_card(compared=False)
    assert bare.why == ("Dry then.",)
    assert "not compared" in bare.cannot[0]


def test_by_what_the_bay_is_taken_is_said_in_one_sentence_with_neighbouring_days_together() -> None:
    """Two visits over one weekend, one of them on the Saturday after as well, then the bay's own calendar."""
    day_0 = TODAY - timedelta(days=1)
    anvil, pocket = BayHolder("AN", 1, "Anvil"), BayHolder("PO", 7, "Pocket")
    prices = tuple(DayPrice(day, None, Forbidden.TAKEN) for day in (5, 6, 12, 19, 20))
    held = {5: (anvil, pocket), 6: (anvil, pocket), 12: (pocket,), 19: (BayHolder(),), 20: (BayHolder(),)}
    on = {day_0 + timedelta(days=day): holders for day, holders in held.items()}
    explained = Explained(Visit("BE", 0, ()), 13, (), prices)
    (said,) = cannot_sentences(explained, day_0, TODAY, {}, on)
    assert said == (
        "The bay is taken: 18 April to 19 April by Anvil (visit 1) and Pocket (visit 7); 25 April by Pocket (visit 7); "
        "2 May to 3 May, as its calendar says."
    )
    many = {day_0 + timedelta(days=day): (BayHolder("PO", day, "Pocket"),) for day in range(5, 15)}
    explained = Explained(Visit("BE", 0, ()), 1, (), tuple(DayPrice(d, None, Forbidden.TAKEN) for d in range(5, 15)))
    (said,) = cannot_sentences(explained, day_0, TODAY, {}, many)
    assert said.endswith("23 April by Pocket (visit 10) and more days.")


def test_the_page_says_that_another_plan_is_there_to_who_may_take_it() -> None:
    told = (
        "Something has changed since: by the prices another plan is better, with three visits new, elsewhere or gone."
    )
    assert bay_card(LONG, better=3).better == told
    assert bay_card(LONG, better=0).better == ""
    assert bay_card(LONG, better=3, reader=None).better == ""
