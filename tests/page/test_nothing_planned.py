"""With no day planned the page says what comes first and what to do, and the command says the same."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from fleetcare.due.first_window import FirstWindow, first_window
from fleetcare.page.cards.nothing_planned import nothing_planned
from tests.page.bay_pages import bay_card
from tests.page.karst_ridge import ANVIL_OUTLOOK, TODAY


def test_an_empty_page_says_what_comes_first_and_what_its_reader_can_do() -> None:
    assert bay_card().lead == (
        "Nothing is planned, and one window is open: Anvil, axle vents, since 13 April. “Pencil the plan” looks for "
        "the days that cost least; or put a visit down yourself."
    )
    assert (
        bay_card(reader=None).lead == "Nothing is planned, and one window is open: Anvil, axle vents, since 13 April."
    )


def test_the_first_window_is_that_with_the_soonest_early_date_of_all_vehicles() -> None:
    found = first_window([replace(ANVIL_OUTLOOK, lines=ANVIL_OUTLOOK.lines[:0]), ANVIL_OUTLOOK], TODAY)
    dated = [line.window.early for line in ANVIL_OUTLOOK.lines if line.window is not None]
    assert found is not None
    assert found.opens_on == min(dated)
    assert found.open_today == sum(day <= TODAY for day in dated)
    assert first_window([replace(ANVIL_OUTLOOK, lines=())], TODAY) is None


def test_a_window_ahead_and_none_at_all_are_told() -> None:
    row = ANVIL_OUTLOOK.lines[0].row
    ahead = FirstWindow(TODAY + timedelta(days=30), "Anvil", row, 0)
    assert nothing_planned(ahead, TODAY, "Do it.").startswith(
        "Nothing is planned. The first window opens on 14 May: Anvil, "
    )
    assert nothing_planned(replace(ahead, opens_on=TODAY, open_today=3), TODAY, "") == (
        f"Nothing is planned, and three windows are open. The first is that of Anvil, {row.short}, since 14 April."
    )
    assert nothing_planned(None, TODAY, "") == "Nothing is planned, and no service has a date yet."
