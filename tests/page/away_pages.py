"""Days a vehicle is spoken for, as pages: with trips and events, for a stranger, wrong forms, nothing planned."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.page.cards.away import AwayCard, TriedSpell, away_card
from fleetcare.page.cards.changed import Changed
from fleetcare.page.render import Pages
from fleetcare.quantities import DateSpan, DistanceUnit
from tests.page.karst_ridge import ANVIL, BELLOWS, GARAGE, INES, RAFT, TODAY

CLIMB = Booking(
    "climb", "Hollow Lake hill climb", DateSpan.of_days(date(2026, 5, 1), date(2026, 5, 3)), ("AN", "RA"),
    Decimal(160), DistanceUnit.MI, "towing", "tow",
)  # fmt: skip
READ_IN = Booking("read", "Away, 40 mi", DateSpan.of_days(date(2026, 6, 1), date(2026, 6, 1)), ("AN",))
FORD = UseEvent("AN", "immersion", date(2026, 3, 2), "rear-axle", "ford to the paddock, water over the vent")
TOW = UseEvent("AN", "tow", date(2026, 4, 2))


def card(
    bookings: Sequence[Booking] = (CLIMB, READ_IN),
    events: Sequence[UseEvent] = (FORD, TOW),
    *,
    may: bool = True,
    done: Changed | None = None,
    tried: TriedSpell | None = None,
    event_tried: dict[str, str] | None = None,
) -> AwayCard:
    """Anvil's page."""
    return away_card(
        garage=GARAGE,
        reader=INES if may else None,
        today=TODAY,
        vehicle=ANVIL,
        plannable=(ANVIL, BELLOWS) if may else (),
        names={each.mark: each.name for each in (ANVIL, BELLOWS, RAFT)},
        bookings=bookings,
        states={"climb": "5tate"},
        read_in={"read"},
        events=events,
        by_sheet={TOW},
        kinds=("immersion", "tow", "track day"),
        duties={},
        can_enter=may,
        done=done,
        tried=tried,
        event_tried=event_tried,
    )


def away_pages(made: Pages) -> dict[str, str]:
    """The pages by a short name."""
    wrong = TriedSpell("climb", "It ends before it begins.", {"title": "Climb", "first": "2026-05-03"}, ("AN",))
    new = TriedSpell("", "No vehicle is ticked.", {"title": "Away"})
    done = Changed("Anvil, spoken for: Hollow Lake hill climb.", ("Anvil, rear axle fluid: 3 days earlier.",))
    odd = {"kind": "tow", "on": "2027-01-01", "problem": "That day is still to come."}
    return {
        "away": made.away(card(done=done), "s3al"),
        "away-none": made.away(card((), ()), "s3al"),
        "away-stranger": made.away(card(may=False)),
        "away-problem": made.away(card(tried=wrong, event_tried=odd), "s3al"),
        "away-new-problem": made.away(card(tried=new), "s3al"),
    }
