"""Entering, doubting, saving and taking back a reading."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import HOUR_METER
from fleetcare.meter.reading import ReadingState
from fleetcare.page.cards.choose import choose_card
from fleetcare.page.cards.doubt import GuessKind, Reason
from fleetcare.page.cards.message import trouble_card
from fleetcare.page.cards.saved import split_words
from fleetcare.quantities import MeterUnit
from tests.page.karst_ridge import (
    BELLOWS_LAST,
    BELLOWS_NOW,
    GARAGE,
    INES,
    OUTLOOKS,
    POCKET,
    RAFT,
    TODAY,
    WINCH,
    doubt_card,
    entry_card,
    garage_of,
    saved_card,
)


def test_last_time_stands_above_and_what_is_expected_is_shown_nowhere() -> None:
    card = entry_card()
    assert card.heading == "What does the odometer show?"
    assert card.last_label == "Last time, 12 March"
    assert card.last_words == "83\u2009365 miles"
    assert card.now_label == "Now, 14 April"
    assert card.typed == ""
    assert card.tail == "This link is Teo’s, for Bellows alone, until 21 April."


def test_mix_is_filled_in_as_last_time_and_said_in_words() -> None:
    card = entry_card()
    assert [(part.title, part.chosen) for part in card.parts] == [("towing", 3), ("track", 0), ("daily", 1)]
    assert card.hint.endswith("Filled in as last time, three parts towing to one daily.")


def test_first_reading_has_no_drum_above_and_no_link_has_no_tail() -> None:
    card = entry_card(POCKET, last=None, until=None)
    assert card.last is None
    assert card.tail == ""
    assert "as it is usually used" in card.hint


def test_hour_meter_counts_hours_and_asks_for_no_mix_and_a_trailer_has_a_hub_odometer() -> None:
    card = entry_card(WINCH, last=None, meter=HOUR_METER)
    assert (card.heading, card.unit, card.units, card.parts) == ("What does the hour meter show?", "h", (), ())
    assert entry_card(RAFT, last=None).heading == "What does the hub odometer show?"


def test_what_was_typed_comes_back_with_the_problem_at_its_field() -> None:
    card = entry_card(typed="84k", problem="Digits only, please.")
    assert (card.typed, card.problem_field, card.day_is_open) == ("84k", "odo", False)
    late = entry_card(typed="84210", problem="That day is still to come.", problem_field="on", day_typed="2026-05-01")
    assert (late.day, late.day_is_open) == ("2026-05-01", True)


def why(**changed: object) -> str:
    return "".join(run.text for run in doubt_card(**changed).why)


def test_exchanged_digits_are_offered_the_other_way_round() -> None:
    card = doubt_card()
    assert card.heading == "Did you mean 84\u2009210?"
    assert why() == (
        "48\u2009210 is lower than last time, and an odometer does not run backwards. With the first two digits the "
        "other way round it is 84\u2009210: 845 mi in 33 days, which is what Bellows usually does."
    )
    assert card.typed.swap_path
    assert card.guess_words == "84\u2009210 mi"


@pytest.mark.parametrize(
    ("kind", "places", "typed", "told"),
    [
        (GuessKind.EXCHANGED, (1, 2), 82410, "With the second and third digits the other way round it is 84\u2009210"),
        (GuessKind.EXCHANGED, (3, 4), 84201, "With the last two digits the other way round it is 84\u2009210"),
        (GuessKind.DIGIT_MISSING, (3,), 8421, "With one digit more it would be 84\u2009210"),
        (GuessKind.DIGIT_TOO_MANY, (5,), 842100, "With one digit less it would be 84\u2009210"),
        (GuessKind.TENTHS, (5,), 842103, "Without the tenths it is 84\u2009210"),
        (GuessKind.ONE_DIGIT, (1,), 89210, "With a 4 in second place it is 84\u2009210"),
        (GuessKind.ONE_DIGIT, (0,), 34210, "With an 8 in first place it is 84\u2009210"),
        (GuessKind.OTHER_UNIT, (), 135523, "In miles that is 84\u2009210"),
    ],
)
def test_each_kind_of_guess_has_its_sentence(kind: GuessKind, places: tuple[int, ...], typed: int, told: str) -> None:
    assert told in why(guess_kind=kind, places=places, typed=Decimal(typed), gain=Decimal(typed - 83365))


def test_a_missing_digit_marks_no_digit_that_was_typed() -> None:
    card = doubt_card(guess_kind=GuessKind.DIGIT_MISSING, places=(3,), typed=Decimal(8421))
    assert not any(each.odd for each in card.typed.digits)


def test_without_a_good_guess_the_first_way_is_missing() -> None:
    facts: dict[str, object] = {
        "typed": Decimal(984210), "gain": Decimal(900845), "guess": None, "guess_kind": None, "guess_gain": None,
    }  # fmt: skip
    card = doubt_card(places=(), **facts)
    assert (card.heading, card.guess) == ("Is that right?", "")
    assert why(places=(), **facts) == (
        "984\u2009210 would make 900\u2009845 mi in 33 days, and that is not what Bellows usually does."
    )
    assert Reason.IT_DOES in [each.value for each in card.reasons]


def test_a_lower_reading_cannot_be_said_to_have_really_been_run() -> None:
    assert [each.value for each in doubt_card().reasons] == [Reason.CHANGED, Reason.WRONG_LAST, Reason.OTHER_UNIT]


def test_saved_page_says_what_the_reading_gave() -> None:
    card = saved_card()
    assert card.heading == "Saved: 84\u2009210 mi"
    assert card.told == (
        "845 mi in 33 days, towing 3 : daily 1. That is one mile off the reckoning. "
        "One likely date moved and the windows are tighter. Thank you, Teo."
    )
    oil, fluid = card.windows
    assert (oil.early, oil.likely, oil.late) == ("Early 24 May", "likely 5 Jun", "late 23 Jun")
    assert (oil.was, fluid.was) == ("Likely was 7 Jun.", "")
    assert card.take_back_until == "until tomorrow 08:00"
    assert card.next_reading == "The next reading is wanted on 14 May."


def test_first_reading_says_what_the_dates_rest_on() -> None:
    # 16 093.44 km are 10 000 mi exactly (1.609 344 km to the mile).
    assert saved_card(previous=None, used=1).told.endswith(
        "One reading makes no pace. Until the second one the dates come from the yearly distance you gave: "
        "10\u2009000 mi. Thank you, Teo."
    )


def test_held_reading_moves_no_dates_and_says_who_settles_it() -> None:
    card = saved_card(replace(BELLOWS_NOW, state=ReadingState.HELD))
    assert card.heading == "Kept aside: 84\u2009210 mi"
    assert "until Ines settles it" in card.told
    assert card.windows == ()


def test_gain_is_in_the_unit_of_the_new_reading() -> None:
    # 135 523 km less 83 365 mi (134 162.96 km) are 1 360 km.
    given = replace(BELLOWS_NOW, value=Decimal(135523), unit=MeterUnit.KM, split=None)
    assert saved_card(given).told.startswith("1\u2009360 km in 33 days.")
    assert saved_card(replace(BELLOWS_NOW, on=BELLOWS_LAST.on, value=Decimal(1))).told.startswith("That is")


def test_splits_are_told_in_the_smallest_parts_that_give_them() -> None:
    assert split_words(DutySplit.from_parts({"towing": 300, "daily": 100})) == "towing 3 : daily 1"
    assert split_words(DutySplit.from_parts({"daily": 5})) == "all daily"
    assert split_words(DutySplit.from_parts({"a": 617, "b": 383})) == "a 62 %, b 38 %"


def test_vehicles_that_want_a_reading_come_first_and_those_without_a_dial_not_at_all() -> None:
    card = choose_card(garage=GARAGE, reader=INES, outlooks=OUTLOOKS, today=TODAY)
    assert [choice.mark for choice in card.choices] == ["BE", "WI", "AN", "PO", "RA"]
    assert card.choices[1].told == "hour meter, no reading yet, wants a reading"
    assert not card.has_find


def test_large_garage_can_be_searched_and_paged() -> None:
    outlooks = garage_of(230)
    first = choose_card(garage=GARAGE, reader=INES, outlooks=outlooks, today=TODAY)
    assert (len(first.choices), first.told, first.has_find) == (100, "1 to 100 of 230.", True)
    assert first.later is not None
    assert first.later.url == "?start=100"
    found = choose_card(garage=GARAGE, reader=INES, outlooks=outlooks, today=TODAY, find=" wagon 23")
    assert [choice.name for choice in found.choices] == ["Wagon 23", "Wagon 230"]
    none = choose_card(garage=GARAGE, reader=INES, outlooks=outlooks, today=TODAY, find="sleigh")
    assert none.told == "No vehicle here is called “sleigh”."


def test_trouble_says_what_was_lost_and_whom_to_tell() -> None:
    card = trouble_card(garage=GARAGE, today=TODAY, mark="7K3", reading_is_lost=True, list_keeper_name="Ines")
    assert card.told == "Your reading was not saved. Write it down and try in a minute."
    assert card.mark == "tell Ines: 7K3"


def test_only_a_dial_that_was_near_its_nines_is_said_to_have_rolled_over() -> None:
    """83 365 to 48 210 is a slip; to 12 it may be a dial of five digits that began anew."""
    assert Reason.ROLLED_OVER not in [each.value for each in doubt_card().reasons]
    assert Reason.ROLLED_OVER in [each.value for each in doubt_card(typed=Decimal(12)).reasons]
