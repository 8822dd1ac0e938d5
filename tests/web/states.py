"""The states of pages: nothing there, wrong, busy; each with its words and the test that reaches it.

`tests/house/test_states.py` holds the catalogue and the tests to this table.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class State:
    """words: part of a text of the catalogue. told: part of what the test reads. file, test: where it is reached."""

    words: str
    told: str
    file: str
    test: str


STATES = {
    "no vehicle yet": State(
        "No lanes yet.",
        "No lanes yet.",
        "web/test_states.py",
        "test_each_state_has_its_words",
    ),
    "a vehicle without services": State(
        "has no services yet. Take them over from",
        "has no services yet.",
        "page/test_vehicle.py",
        "test_vehicle_that_cannot_be_reckoned_yet_says_what_is_missing",
    ),
    "one reading only": State(
        "One reading makes no pace.",
        "One reading makes no pace.",
        "page/test_vehicle.py",
        "test_vehicle_that_cannot_be_reckoned_yet_says_what_is_missing",
    ),
    "no reading at all": State(
        "has no reading. Its services by date",
        "has no reading.",
        "page/test_vehicle.py",
        "test_vehicle_that_cannot_be_reckoned_yet_says_what_is_missing",
    ),
    "never used, and no limit by months": State(
        "no date in sight while it does not move",
        "no date in sight while it does not move",
        "page/test_road.py",
        "test_services_without_a_date_say_why",
    ),
    "nothing in the stretch that is shown": State(
        "Nothing is due at the latest before",
        "Nothing is due at the latest before",
        "page/test_road.py",
        "test_nothing_near_names_the_next_one",
    ),
    "no bay day": State(
        "window is open: {name}",
        "window is open: Anvil, ",
        "web/test_states.py",
        "test_each_state_has_its_words",
    ),
    "no findings": State(
        "No findings open.",
        "No findings open.",
        "web/test_findings.py",
        "test_no_findings_open",
    ),
    "a calendar never fetched": State(
        "Nobody has fetched it yet.",
        "Nobody has fetched it yet.",
        "web/test_your_calendar.py",
        "test_the_list_says_when_an_address_was_last_fetched_and_by_what",
    ),
    "a field left empty": State(
        "Type what the dial shows, digits only.",
        "Type what the dial shows, digits only.",
        "web/test_states.py",
        "test_what_is_typed_wrong_is_said_at_its_field_and_nothing_is_lost",
    ),
    "not a number": State(
        "That is not a number: {",
        "That is not a number: “84k”.",
        "web/test_states.py",
        "test_what_is_typed_wrong_is_said_at_its_field_and_nothing_is_lost",
    ),
    "a day still to come": State(
        "That day is still to come.",
        "That day is still to come.",
        "web/test_states.py",
        "test_what_is_typed_wrong_is_said_at_its_field_and_nothing_is_lost",
    ),
    "a link used or out of time": State(
        "was used already, or its time is over.",
        "was used already, or its time is over",
        "web/test_states.py",
        "test_a_link_whose_time_is_over_says_so_and_what_to_do",
    ),
    "a link for another vehicle": State(
        "This link is for {name} alone.",
        "This link is for Bellows alone.",
        "web/test_states.py",
        "test_a_link_for_another_vehicle_says_for_which_it_is",
    ),
    "no right to see it": State(
        "can let you in.",
        "can let you in",
        "web/test_states.py",
        "test_who_has_no_right_is_told_who_can_let_them_in",
    ),
    "not found": State(
        "There is no such page",
        "There is no such page",
        "web/test_states.py",
        "test_an_address_that_is_not_there_leads_back_to_the_road",
    ),
    "the machine stumbles": State(
        "The garage’s machine stumbled",
        "The garage’s machine stumbled",
        "web/test_states.py",
        "test_a_machine_that_stumbles_says_what_was_not_saved",
    ),
    "the garage is busy": State(
        "The garage is busy just now",
        "The garage is busy just now",
        "web/test_states.py",
        "test_a_garage_that_is_busy_says_what_was_not_saved",
    ),
    "no signal when it is saved": State(
        "Kept on this phone: {digits}",
        "Kept on this phone: 84 210",
        "browser/test_without_signal.py",
        "test_digits_are_kept_and_sent_when_the_page_is_opened_again",
    ),
    "two people at once": State(
        "Here it is as it is now.",
        "Here it is as it is now.",
        "web/test_findings.py",
        "test_who_comes_second_is_told_who_was_first_and_loses_nothing",
    ),
    "a plan that cannot be": State(
        "is spoken for whenever somebody is there.",
        "is spoken for whenever somebody is there",
        "actions/test_plan_troubles.py",
        "test_a_vehicle_that_is_spoken_for_all_the_time_is_named",
    ),
    "a letter that came back": State(
        "The last letter to {key} came back",
        "The last letter to Piet came back",
        "web/test_letter_notes.py",
        "test_a_letter_that_came_back_is_told_to_keepers_until_one_arrives",
    ),
}
"""By name, in the order: nothing there, wrong, in the way."""
