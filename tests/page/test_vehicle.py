"""The page about one vehicle says when each service is due and why, what is stamped on it, read, found and done."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from fleetcare.due.outlook import Cause, NoDate
from fleetcare.fleet.component import Component, TagFact
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import HOUR_METER
from fleetcare.page.cards.past import ReadingRow, mix_words
from fleetcare.page.cards.rod import figures
from fleetcare.page.cards.service_row import ServiceRow, no_date_words
from fleetcare.page.cards.tags import PlateValue, tag_values
from fleetcare.page.cards.vehicle import CAUTION, SERVICES_A_PAGE
from fleetcare.page.render import Pages
from fleetcare.quantities import DateSpan, MeterUnit
from fleetcare.wording import THIN_SPACE
from tests.page.karst_ridge import (
    ANVIL_OUTLOOK,
    ANVIL_READINGS,
    BELLOWS_OUTLOOK,
    DUTIES,
    OUTLOOKS,
    PLANK,
    TODAY,
    TYRES,
    VENTS,
    crowded,
    day,
    garage_of,
    outlook,
    road_card,
    vehicle_card,
    vehicles_card,
)

DUTY = {each.key: each for each in DUTIES}


def narrow(text: str) -> str:
    """The text with plain spaces between groups of digits."""
    return text.replace(THIN_SPACE, " ")


def shown(page: str) -> str:
    """The words of a page without its tags."""
    return narrow(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", page)))


def test_plate_carries_last_reading_reckoned_dial_pace_and_mix() -> None:
    card = vehicle_card()
    assert card.plate.called == "tow rig, keeper Ines"
    # 46.53 km a day are 28.91 mi a day, times 365.2425 / 12 = 30.4369 days: 880.0 mi.
    assert [(each.name, narrow(each.value)) for each in card.figures] == [
        ("read 31 March", "112 640 mi"),
        ("reckoned today", "113 045 mi"),
        ("pace", "880 mi a month"),
        ("mix ahead", "towing 5 : daily 3"),
    ]
    assert vehicle_card(outlook(PLANK), readings=()).figures == ()


def test_services_stand_by_late_date_and_those_without_one_say_why() -> None:
    rows = vehicle_card().services
    assert [(row.title, row.late) for row in rows] == [
        ("Axle vents, front and rear", "25 May"),
        ("Rear axle fluid, cover reseal", "9 Jun"),
        ("Engine oil and filter", "26 Jun"),
        ("Wheel nuts, first check after fitting", ""),
    ]
    vents, fluid, _, nuts = rows
    assert (vents.state, fluid.state) == ("Window open.", "Window ahead.")
    assert (fluid.early, fluid.likely, fluid.last_done) == ("22 Apr", "11 May", "Last done 21 January 2024.")
    assert nuts.state == "Due after the next wheel fitted; none is waiting."
    assert nuts.rod is None
    raft = vehicle_card(OUTLOOKS[3], readings=()).services
    assert [(row.state, row.is_past_late) for row in raft[:2]] == [
        ("64 days past late.", True),
        ("6 days past late.", True),
    ]


@pytest.mark.parametrize("reason", NoDate)
def test_every_reason_for_having_no_date_is_a_sentence(reason: NoDate) -> None:
    told = no_date_words(replace(TYRES, no_date=reason), "Plank")
    assert told.endswith(".")
    assert told[0].isupper()


def test_figure_that_this_garage_changed_or_that_is_not_from_a_source_says_so_beside_it() -> None:
    vents, fluid, *_ = vehicle_card().services
    assert fluid.known == "From memory, changed by this garage."
    assert vents.known == ""


def test_reasons_are_the_steps_of_the_forecast_or_else_the_row_with_its_source() -> None:
    vents, fluid, *_ = vehicle_card().services
    assert [step.split(" ")[0] for step in fluid.steps] == ["Counted", "Distance", "Early"]
    assert (fluid.action, fluid.note) == ("Drain, reseal, fill.", "")
    assert len(vents.steps) == 1
    assert "Source:" in vents.steps[0]
    page = shown(Pages().vehicle(vehicle_card()))
    assert "How this date came about: Rear axle fluid, cover reseal" in page
    assert "Counted from the work of 21 January 2024, when the dial showed 83 312 mi." in page


def test_unknown_history_is_not_given_figures_of_wear() -> None:
    # What the rod of such a line counts is the days to the look, not wear.
    assert VENTS.window is not None
    unknown = replace(VENTS, window=replace(VENTS.window, cause=Cause.UNKNOWN_HISTORY))
    assert figures(unknown) == "History unknown, a look comes first."
    assert "worn" in figures(VENTS)


def test_caution_names_manual_law_and_technician_on_every_vehicle_page() -> None:
    assert all(word in CAUTION for word in ("manual", "local law", "qualified technician"))
    for card in (vehicle_card(), vehicle_card(outlook(PLANK), readings=())):
        assert CAUTION in shown(Pages().vehicle(card)).replace("&#39;", "'")


def test_tags_hold_what_is_known_in_the_order_of_a_stamped_plate_and_nothing_else() -> None:
    front, rear = vehicle_card().tags
    assert (front.title, rear.title) == ("Front axle", "Rear axle, limited slip")
    assert [(each.name, each.value) for each in front.values] == [
        ("ratio, stamped", "4.10"), ("capacity", "1.7 L"), ("fluid", "75W-90 GL-5")
    ]  # fmt: skip
    assert [each.name for each in rear.values] == [
        "ratio, source unknown", "capacity", "fluid", "friction modifier", "cover"
    ]  # fmt: skip


def test_small_capacity_is_not_rounded_and_a_fact_of_that_name_takes_its_place() -> None:
    hub = Component("hub", "hub", "Hub", fluid_capacity_l=Decimal("0.125"))
    assert tag_values(hub) == (PlateValue("capacity", "0.125 L"),)
    told = replace(
        hub, facts=(TagFact("capacity", "125 mL to the hole", "measured"), TagFact("plug", "a"), TagFact("plug", "b"))
    )
    assert [(each.name, each.value) for each in tag_values(told)] == [
        ("capacity, measured", "125 mL to the hole"), ("plug", "a"), ("plug", "b")
    ]  # fmt: skip


def test_readings_of_twelve_months_stand_newest_first_and_say_what_became_of_them() -> None:
    rows = vehicle_card().readings
    assert [(row.day, narrow(row.value), row.by) for row in rows] == [
        ("9 Apr", "112 900 mi", "guest"),
        ("2 Apr", "212 640 mi", "Teo"),
        ("31 Mar", "112 640 mi", "Ines"),
        ("31 Mar", "112 604 mi", "Teo"),
        ("28 Feb", "111 380 mi", "Ines"),
    ]
    assert [row.kept for row in rows] == [
        "Taken back.",
        "Kept aside until somebody settles it.",
        "",
        "Another reading stands in its place: figures exchanged.",
        "",
    ]
    assert [row.mix for row in rows] == ["", "as usual", "towing 75 %, daily 25 %", "", "towing 2 : daily 1"]


def test_hours_have_no_mix() -> None:
    hours = replace(ANVIL_READINGS[1], split=None, unit=MeterUnit.HOURS, meter=HOUR_METER)
    assert [row.mix for row in vehicle_card(readings=(hours,)).readings] == [""]


def test_reading_kept_aside_is_shown_however_old_it_is() -> None:
    old = replace(ANVIL_READINGS[0], on=day(1, 2, 2020))
    rows = vehicle_card(replace(ANVIL_OUTLOOK, held=(old,)), readings=(old, *ANVIL_READINGS[1:])).readings
    assert rows[-1].day == "2 Jan 2020"


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        ({"towing": 5, "daily": 3}, "towing 5 : daily 3"),
        ({"daily": 9}, "all daily"),
        ({"towing": 1, "track": 1, "daily": 1}, "daily 1 : towing 1 : track 1"),
        ({"towing": 61, "daily": 39}, "towing 61 %, daily 39 %"),
        ({"plough": 1}, "all plough"),
    ],
)
def test_mix_is_told_in_small_parts_or_else_in_shares(parts: dict[str, float], told: str) -> None:
    assert mix_words(DutySplit.from_parts(parts), DUTY) == told


def test_findings_and_last_work_are_listed_with_day_and_person() -> None:
    card = vehicle_card()
    assert [each.text for each in card.findings] == ["Grey paste on the axle magnet, no flakes."]
    assert [(each.head, each.told) for each in card.settled] == [
        ("Loose clip.", "Found 21 February, settled 1 March.")
    ]  # fmt: skip
    assert [(each.head, each.told) for each in card.work] == [("21 February", "engine oil and filter, by Marit.")]


def test_only_those_who_may_enter_are_led_to_the_reading_page() -> None:
    assert [link.url for link in vehicle_card().enter] == ["/vehicles/AN/reading"]
    assert vehicle_card().frame.bar[-1].url == "/vehicles/AN/reading"
    stranger = vehicle_card(BELLOWS_OUTLOOK, reader=None, readings=())
    assert stranger.enter == ()
    assert [run.url for run in stranger.lead] == [""] * len(stranger.lead)
    assert "/reading" not in Pages().vehicle(stranger)


def test_vehicle_that_cannot_be_reckoned_yet_says_what_is_missing() -> None:
    bellows = replace(BELLOWS_OUTLOOK, readings_used=1)
    assert vehicle_card(bellows, readings=()).notes == (
        (
            "One reading makes no pace. Until the second one the dates come from the yearly distance that was given: "
            f"10{THIN_SPACE}000 mi."
        ),
    )
    assert vehicle_card(OUTLOOKS[5], readings=()).notes[0].startswith("Winch has no reading.")
    laid_up = replace(BELLOWS_OUTLOOK.vehicle, laid_up=(DateSpan(TODAY, TODAY + timedelta(days=3)),))
    assert vehicle_card(replace(BELLOWS_OUTLOOK, vehicle=laid_up), readings=()).notes == (
        "Bellows is laid up until 16 April.",
    )
    gone = replace(BELLOWS_OUTLOOK.vehicle, out_of_fleet_on=day(3, 3))
    assert vehicle_card(replace(BELLOWS_OUTLOOK, vehicle=gone), readings=()).notes == (
        "Bellows is out of the fleet since 3 March.",
    )
    assert "Plank has no services yet." in vehicle_card(outlook(PLANK), readings=()).services_told


def test_readings_kept_aside_are_said_before_the_dates() -> None:
    assert vehicle_card().notes == ("One reading is kept aside and not used until somebody settles it.",)
    two = replace(ANVIL_OUTLOOK, held=ANVIL_READINGS[:2])
    assert vehicle_card(two).notes == ("Two readings are kept aside and not used until somebody settles them.",)


def test_many_services_and_readings_are_turned_page_by_page_and_none_is_lost() -> None:
    whole, readings = crowded()
    seen: list[ServiceRow] = []
    days: list[ReadingRow] = []
    for start in range(0, 60, SERVICES_A_PAGE):
        card = vehicle_card(whole, readings=readings, start=start)
        seen += card.services
        assert (card.later is None) == (start + SERVICES_A_PAGE >= 51)
        assert len(Pages().vehicle(card).encode()) < 100_000
    for start in range(0, 365, 60):
        days += vehicle_card(whole, readings=readings, readings_start=start).readings
    assert (len(seen), len(days)) == (51, 365)


def test_list_of_vehicles_names_what_comes_first() -> None:
    rows = {row.mark: row for row in vehicles_card().rows}
    assert rows["AN"].next == "Next: axle vents, by 25 May at the latest, window open."
    assert narrow(rows["BE"].last) == "Read 12 March at 83 365 mi, wants a reading."
    assert (rows["RA"].next, rows["RA"].is_past_late) == ("Past late by 64 days: wheel bearings.", True)
    assert (rows["WI"].last, rows["WI"].next) == ("No reading yet, wants a reading.", "No date in sight.")
    assert (rows["PL"].last, rows["PL"].url) == ("By date alone.", "/vehicles/PL")


def test_list_of_vehicles_is_searched_and_turned() -> None:
    many = garage_of(250)
    assert [row.name for row in vehicles_card(many, find="wagon 17 ").rows][:2] == ["Wagon 17", "Wagon 170"]
    assert vehicles_card(many, find="plough").told == "No vehicle here is called “plough”."
    last = vehicles_card(many, start=200)
    assert (len(last.rows), last.told, last.later) == (50, "201 to 250 of 250.", None)
    assert vehicles_card(()).told == "No vehicle is here yet."


def test_names_on_the_front_page_lead_to_the_vehicle() -> None:
    page = Pages().road(road_card())
    for mark, name in (("AN", "Anvil"), ("BE", "Bellows"), ("PO", "Pocket"), ("WI", "Winch")):
        assert f'<a class="v" href="/vehicles/{mark}">{name}</a>' in page
