"""Past windows of the invented garage, as a garage of some size, a small one and an empty one would see them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache

from fleetcare.book.rows import IntervalBook
from fleetcare.due.backtest import Backtest, backtest
from fleetcare.due.dial_days import RealDay
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.hit_rate import JudgedWindow
from fleetcare.due.past_windows import Kind, PastWindow
from fleetcare.fleet.people import Person
from fleetcare.fleet.vehicle import ODOMETER, Vehicle
from fleetcare.page.cards.trust import TrustCard, trust_card
from tests.due.by_the_law import garage_by_the_law
from tests.due.facts import DUTIES, FLAT, done, row
from tests.due.facts import vehicle as with_services
from tests.page.karst_ridge import ANVIL, BELLOWS, GARAGE, INES, PLANK, TODAY

OIL = row(mi=4000, months=24, key="service")
BOOK = IntervalBook({OIL.key: OIL})
WITH_OIL = with_services()


@cache
def looked_back(vehicles: int = 6, days: int = 900) -> tuple[Backtest, tuple[Vehicle, ...]]:
    """A garage whose vehicles run by the pace law, each with an oil change every two hundred days."""
    fleet = []
    for facts in garage_by_the_law(5, vehicles, days):
        own = replace(facts.vehicle, components=WITH_OIL.components)
        work = tuple(
            replace(done(facts.readings[0].on + timedelta(days=at)), line=done(TODAY).line._replace(mark=own.mark))
            for at in range(0, days, 200)
        )
        fleet.append(VehicleFacts(own, facts.readings, work))
    found = backtest(fleet, book=BOOK, duties=DUTIES, priors=FLAT, today=TODAY)
    return found, tuple(facts.vehicle for facts in fleet)


def a_window(early: int, likely: int, late: int, *, given_on: date = date(2026, 1, 2), mark: str = "AN") -> PastWindow:
    """A milestone's window by days after it was given."""
    on = given_on.toordinal()
    return PastWindow(
        Kind.MILESTONE, mark, ODOMETER, "30 days ahead", None, on, 4, 0.0, on + early, on + likely, on + late, 1000.0
    )


def small_garage() -> Backtest:
    """Two closed windows and one open, of Anvil; Plank has no meter."""
    until = date(2026, 4, 1).toordinal()
    came = a_window(0, 0, 0).given_on
    windows = (
        JudgedWindow(a_window(20, 30, 42), RealDay(came + 20, came + 28.0, came + 50), until),
        JudgedWindow(a_window(20, 30, 42, given_on=date(2026, 2, 3)), None, until),
        JudgedWindow(a_window(50, 91, 140), None, until),
    )
    return replace(backtest([VehicleFacts(PLANK)], book=BOOK, duties=DUTIES, priors=FLAT, today=TODAY), windows=windows)


def card_of(found: Backtest, vehicles: tuple[Vehicle, ...], *, reader: Person | None = INES) -> TrustCard:
    """The page made of it."""
    return trust_card(garage=GARAGE, reader=reader, found=found, vehicles=vehicles, can_enter=reader is not None)


def trust_cards() -> dict[str, TrustCard]:
    """The page by what the garage has behind it."""
    nothing = backtest([], book=BOOK, duties=DUTIES, priors=FLAT, today=TODAY)
    return {
        "trust": card_of(*looked_back()),
        "trust-small": card_of(small_garage(), (ANVIL, BELLOWS, PLANK), reader=None),
        "trust-empty": card_of(nothing, ()),
    }
