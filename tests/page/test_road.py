"""The front page says what is past late, what is open, what is wanted, in that order."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from fleetcare.fleet.component import LineKey
from fleetcare.page.cards.road import ROWS_A_PAGE, RoadCard
from fleetcare.page.cards.sentences import service_title
from fleetcare.quantities import DistanceUnit
from tests.page.karst_ridge import (
    ANVIL,
    AXLE_FLUID,
    BELLOWS,
    BELLOWS_OUTLOOK,
    COUPLING,
    ENGINE_OIL,
    OUTLOOKS,
    RAFT,
    TODAY,
    TYRES,
    VENTS,
    day,
    garage_of,
    outlook,
    road_card,
)


def lead(card: RoadCard) -> str:
    return "".join(run.text for run in card.lead)


def test_opening_names_past_late_first_then_open_windows_then_readings() -> None:
    assert lead(road_card()) == (
        "Raft is 64 days past late with its wheel bearings, Raft 6 days with its coupling inspection. "
        "Two windows are open: Anvil’s axle vents and Plank’s lights and wiring. Bellows and Winch want a reading."
    )


def test_opening_of_a_calm_garage_names_the_next_window() -> None:
    card = road_card((outlook(ANVIL, AXLE_FLUID, ENGINE_OIL),))
    assert lead(card) == "Nothing is past late. The next window opens on 22 April, Anvil’s rear axle fluid."


def test_opening_with_many_past_late_counts_them() -> None:
    many = tuple(
        replace(each, lines=tuple(replace(COUPLING, key=line.key) for line in each.lines)) for each in garage_of(4)
    )
    assert lead(road_card(many)).startswith("Twelve services are past late, the longest Wagon 1’s coupling inspection")


def test_opening_without_any_window_says_so() -> None:
    assert lead(road_card((outlook(ANVIL, TYRES),))) == "No service has a date yet."


def test_single_reading_wanted_leads_to_its_page_for_those_who_may_enter() -> None:
    assert road_card((BELLOWS_OUTLOOK,)).lead[-1].url == "/vehicles/BE/reading"
    assert road_card((BELLOWS_OUTLOOK,), reader=None).lead[-1].url == "#readings-wanted"


def test_list_is_in_order_of_late_dates_and_cut_at_the_end_of_the_second_month_ahead() -> None:
    card = road_card()
    assert [(row.late, row.mark, row.state) for row in card.near] == [
        ("9 Feb", "RA", "64 days past late"),
        ("8 Apr", "RA", "6 days past late"),
        ("17 May", "PO", "at the latest"),
        ("25 May", "AN", "window open"),
        ("27 May", "PL", "window open"),
        ("9 Jun", "AN", "at the latest"),
        ("23 Jun", "BE", "at the latest"),
        ("26 Jun", "AN", "at the latest"),
    ]
    assert card.near_until == "June"
    assert [row.late for row in card.far] == ["3 Nov 2027"]


def test_every_row_has_three_dates_and_its_figures() -> None:
    row = next(row for row in road_card().near if row.late == "9 Jun")
    assert row.service == "rear axle fluid, cover reseal"
    assert row.dates == "early 22 Apr, likely 11 May"
    assert row.rod.figures == ("Goes by distance: 97 % worn by reckoning, 96 % by the last reading, zone 98 to 103 %.")


def test_dates_are_said_with_their_state_on_the_very_days_of_change() -> None:
    # The window's ends belong to it; the day after the late date is the first day past late.
    def state(shift: int) -> str:
        assert VENTS.window is not None
        moved = replace(
            VENTS.window, early=TODAY + timedelta(shift), likely=TODAY + timedelta(shift), late=TODAY + timedelta(shift)
        )
        return road_card((outlook(ANVIL, replace(VENTS, window=moved)),)).near[0].state

    assert [state(shift) for shift in (1, 0, -1)] == ["at the latest", "window open", "1 day past late"]


def test_no_window_is_lost_between_the_pages_of_the_list() -> None:
    outlooks = garage_of(45)
    seen: list[str] = []
    start = 0
    while True:
        card = road_card(outlooks, start=start)
        seen += [f"{row.mark} {row.service}" for row in (*card.near, *card.far)]
        if card.later is None:
            break
        start += ROWS_A_PAGE
        assert card.later.url == f"?start={start}"
    assert len(seen) == len(set(seen)) == 45 * 3


def test_page_beyond_the_list_shows_its_end() -> None:
    assert len(road_card(start=10**6).near) + len(road_card(start=10**6).far) == 1
    assert road_card(start=-5).near == road_card().near


def test_nothing_near_names_the_next_one() -> None:
    assert VENTS.window is not None
    far = replace(VENTS.window, early=day(9, 9), likely=day(10, 1), late=day(11, 1))
    card = road_card((outlook(ANVIL, replace(VENTS, window=far)),))
    assert card.empty == (
        "Nothing is due at the latest before July. The next is Anvil’s axle vents, early 9 September."
    )


def test_wanted_readings_show_last_time_in_the_readers_unit() -> None:
    # 83 365 mi * 1.609344 km = 134 162.96 km.
    wanted = {row.mark: row for row in road_card().wanted}
    assert wanted["BE"].last == "last read 12 March at 83\u2009365 mi"
    assert wanted["WI"].last == "no reading yet"
    assert wanted["WI"].enter is not None
    assert wanted["WI"].enter.url == "/vehicles/WI/reading?meter=hours"
    abroad = {row.mark: row for row in road_card(unit=DistanceUnit.KM).wanted}
    assert abroad["BE"].last == "last read 12 March at 134\u2009163 km"
    assert all(row.enter is None for row in road_card(reader=None).wanted)


def test_findings_wait_until_settled_the_longest_overdue_first() -> None:
    findings = road_card().findings
    assert [(each.mark, each.is_late) for each in findings] == [("AN", True), ("BE", False)]
    assert findings[0].look_again == "Look again was for 9 April, 5 days ago."
    assert findings[1].found == "Found 2 March by Teo."


def test_held_readings_are_shown_as_given() -> None:
    (held,) = road_card().held
    assert held.told == "16\u2009204 mi, read 14 April by Teo."


def test_services_without_a_date_say_why() -> None:
    told = {row.mark: row.name + row.told for row in road_card().undated}
    assert told["RA"] == "Raft, hubs after immersion: due after the next immersion."
    assert told["PL"] == "Plank, tyres: no date in sight while it does not move."
    assert told["WI"] == "Winch, winch oil: no reading yet, so there is no date."
    (bare,) = road_card((outlook(RAFT),)).undated
    assert bare.name + bare.told == "Raft has no services yet."


def test_stranger_is_asked_in_and_who_came_in_is_named() -> None:
    stranger, known = road_card(reader=None).frame, road_card().frame
    assert stranger.come_in is not None
    assert stranger.come_in.url == "/sign-in"
    assert [link.text for link in stranger.bar] == ["Pages", "Come in"]
    assert (known.person, known.come_in) == ("Ines Calloway", None)
    assert [link.text for link in known.bar] == ["Pages", "Enter a reading"]


def test_unit_switch_names_the_other_unit() -> None:
    frame = road_card().frame
    assert frame.other_unit is not None
    assert (frame.unit, frame.other_unit.text, frame.other_unit.url) == ("miles", "show km", "?unit=km")
    abroad = road_card(unit=DistanceUnit.KM).frame
    assert abroad.other_unit is not None
    assert (abroad.unit, abroad.other_unit.text, abroad.other_unit.url) == ("kilometres", "show miles", "?unit=mi")


def test_services_of_one_title_are_told_apart_by_their_component() -> None:
    front = replace(
        AXLE_FLUID,
        key=LineKey("BE", "front-axle", "axle-fluid"),
        component=replace(AXLE_FLUID.component, key="front-axle", title="Front axle"),
    )
    both = outlook(BELLOWS, AXLE_FLUID, front)
    assert service_title(both, front) == "Rear axle fluid, cover reseal, front axle"
    assert service_title(OUTLOOKS[0], AXLE_FLUID) == "Rear axle fluid, cover reseal"


def test_a_window_that_a_bay_day_covers_says_so_with_its_state() -> None:
    from tests.page.bay_pages import LONG, SHORT

    sooner = replace(LONG, lines=SHORT.lines)
    for visits, told in (
        ((SHORT,), "In the bay Sat 9 May, pencilled"),
        ((SHORT, sooner), "In the bay Sat 25 Apr, inked"),
    ):
        card = road_card(visits=visits)
        assert {(row.mark, row.bay) for row in (*card.near, *card.far) if row.bay} == {("AN", told)}
    assert not any(row.bay for row in (*road_card().near, *road_card().far))
