"""When a vehicle stands: what its page and the front page ask, and the forms that answer."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

from fleetcare.due.vehicle_state import UNTIL_FURTHER_NOTICE
from fleetcare.page.cards.laid_up import Tried
from fleetcare.page.render import Pages
from fleetcare.quantities import DateSpan
from tests.page.karst_ridge import (
    ANVIL_OUTLOOK,
    CHANGES,
    FORGOTTEN,
    OUTLOOKS,
    STANDS,
    TODAY,
    day,
    road_card,
    vehicle_card,
)
from tests.page.test_vehicle import shown


def test_what_changed_a_date_last_stands_under_its_chain_with_day_cause_and_by_how_much() -> None:
    fluid = next(each for each in vehicle_card(changes=CHANGES).services if each.title.startswith("Rear axle"))
    assert fluid.changes == (
        "13 April, the reading of 31 March: 12 days earlier.",
        "9 April, a new day: 1 day later.",
        "4 April, rear axle fluid done on 2 April: 3 weeks later, the limit is now the date.",
    )
    page = Pages().vehicle(vehicle_card(changes=CHANGES))
    assert page.index("used up by reading") < page.index("What changed it last:") < page.index("12 days earlier")
    assert "What changed it last" not in Pages().vehicle(vehicle_card())


def test_a_vehicle_that_stands_is_asked_about_once_on_its_page_and_not_in_every_chain() -> None:
    page = shown(Pages().vehicle(vehicle_card(STANDS)))
    assert page.count("Anvil stands since 3 February? Three readings show 112 640 mi. If it is laid up, say") == 1
    assert "stands since" not in shown(Pages().vehicle(vehicle_card()))


def test_only_who_may_answer_gets_the_forms_and_they_carry_the_first_day_alike() -> None:
    reader_page = Pages().vehicle(vehicle_card(STANDS))
    assert "<form" not in reader_page
    assert "Answer it" not in reader_page
    card = vehicle_card(STANDS, may_lay_up=True).laid_up
    assert card.forms is not None
    assert (card.forms.first, card.forms.last, card.forms.is_open) == ("2026-02-03", "", True)
    assert card.forms.let_out_url == "", "it is not laid up, so it cannot be let out"
    page = Pages().vehicle(vehicle_card(STANDS, may_lay_up=True))
    assert '<form action="/vehicles/AN/lay-up#laid-up" method="post">' in page
    assert re.findall(r'<input id="(\w+)" type="date" name="(\w+)"', page) == [("from", "from"), ("until", "until")]
    assert '<a href="#laid-up">Answer it</a>' in page
    unasked = vehicle_card(may_lay_up=True).laid_up.forms
    assert unasked is not None
    assert (unasked.first, unasked.is_open) == ("", False)


def test_a_vehicle_that_is_laid_up_can_be_let_out_and_one_that_runs_all_the_same_is_asked_about() -> None:
    card = vehicle_card(FORGOTTEN, may_lay_up=True)
    assert card.laid_up.told == ("From 3 February until further notice.", "From 1 December 2024 to 28 February 2025.")
    forms = card.laid_up.forms
    assert forms is not None
    assert (forms.let_out_url, forms.out) == ("/vehicles/AN/let-out#laid-up", TODAY.isoformat())
    told = "is laid up from 3 February until further notice, yet it moved by 31 March? If it runs again, let it out"
    assert told in card.laid_up.question
    assert card.notes == (), "that it is laid up is said by the question"


def test_that_it_is_laid_up_is_said_with_its_end_if_anybody_knows_it() -> None:
    def notes(spell: DateSpan) -> tuple[str, ...]:
        vehicle = replace(ANVIL_OUTLOOK.vehicle, laid_up=(spell,))
        return vehicle_card(replace(ANVIL_OUTLOOK, vehicle=vehicle, held=())).notes

    assert notes(DateSpan(TODAY, UNTIL_FURTHER_NOTICE)) == ("Anvil is laid up until further notice.",)
    assert notes(DateSpan(TODAY, TODAY + timedelta(days=3))) == ("Anvil is laid up until 16 April.",)


def test_a_spell_to_come_can_be_taken_back_on_its_first_day() -> None:
    vehicle = replace(ANVIL_OUTLOOK.vehicle, laid_up=(DateSpan(day(11, 1), day(12, 1)),))
    forms = vehicle_card(replace(ANVIL_OUTLOOK, vehicle=vehicle), may_lay_up=True).laid_up.forms
    assert forms is not None
    assert forms.out == "2026-11-01"


def test_what_cannot_be_taken_is_told_at_its_field_with_what_was_typed() -> None:
    tried = Tried(first="2026-05-01", last="2026-04-01", problem="The end comes first.", problem_field="until")
    page = Pages().vehicle(vehicle_card(may_lay_up=True, tried=tried))
    assert '<p class="err" id="until-problem" role="alert">The end comes first.</p>' in page
    field = re.search(r'<input id="until"[^>]*>', page)
    assert field is not None
    assert 'aria-invalid="true" aria-describedby="until-problem"' in field[0]
    assert 'value="2026-04-01"' in field[0]
    assert page.count("aria-invalid") == 1
    assert "<details open>" in page


def test_the_front_page_asks_after_each_of_them_and_leads_to_where_it_is_answered() -> None:
    page = Pages().road(road_card((STANDS, FORGOTTEN)))
    assert page.count('href="/vehicles/AN#laid-up"') == 2
    assert "Laid up or not" in page
    assert "Laid up or not" not in Pages().road(road_card(OUTLOOKS))


def test_of_a_vehicle_that_is_gone_nobody_says_when_it_stands() -> None:
    gone = replace(ANVIL_OUTLOOK, vehicle=replace(ANVIL_OUTLOOK.vehicle, out_of_fleet_on=TODAY))
    assert vehicle_card(ANVIL_OUTLOOK, may_lay_up=True).laid_up.forms is not None
    card = vehicle_card(gone, may_lay_up=True)
    assert card.laid_up.forms is None
    assert [link.url for link in card.manage] == ["/vehicles/AN/sell"]
