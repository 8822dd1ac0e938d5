"""Bay days and shared calendars of the invented garage, as pages."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from fleetcare.bayplan.explain import DayPrice, Explained, Forbidden, Reason, ReasonKind
from fleetcare.bayplan.held_days import BayHolder
from fleetcare.bayplan.impossible import NoDay, NoDayKind
from fleetcare.bayplan.plan import BayPlan, Visit
from fleetcare.bayplan.plan_changes import Cause, LastPlan, PlanChange
from fleetcare.bayplan.port import Answer, Outcome
from fleetcare.book.shopping import ShelfItem, ToBuy
from fleetcare.due.first_window import first_window
from fleetcare.fleet.access import BAY, Fetch
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState, laid_end_to_end
from fleetcare.fleet.people import Person
from fleetcare.page.cards.bay_days import NEW_ANCHOR, BayDaysCard, TriedVisit, bay_days_card
from fleetcare.page.cards.bay_undo import BayUndo, moved_back, put_back
from fleetcare.page.cards.bay_why import BayWhyCard, bay_why_card
from fleetcare.page.cards.calendar_choice import (
    Tried,
)
from fleetcare.page.cards.letter_choice import LetterChoiceCard, letter_choice_card
from fleetcare.page.cards.proposal import ProposalCard, no_proposal_card, proposal_card, working_card
from fleetcare.page.cards.shared_calendars import GARAGE_OWNER, SharedCalendarsCard, shared_calendars_card
from fleetcare.page.cards.shopping import ShoppingCard, TriedItem, shopping_card
from fleetcare.page.cards.your_calendar import (
    Address,
)
from fleetcare.page.render import Pages
from tests.page.karst_ridge import ANVIL, ANVIL_OUTLOOK, GARAGE, INES, TODAY

HANDS, STANDS = StretchKind.HANDS_ON, StretchKind.STANDING
SATURDAY = datetime(2026, 4, 25, 13, tzinfo=UTC)
RESEAL = ((HANDS, timedelta(minutes=140)), (STANDS, timedelta(hours=25)), (HANDS, timedelta(minutes=80)))
FIRST, SECOND = (line.key for line in ANVIL_OUTLOOK.lines[:2])
LONG = BayVisit("AN", 1, (FIRST,), laid_end_to_end(SATURDAY, RESEAL), VisitState.INKED, "ines", "Dry then.")
SHORT = BayVisit("AN", 2, (SECOND,), laid_end_to_end(SATURDAY + timedelta(days=14), RESEAL[:1]))
MADE = datetime(2026, 3, 2, 12, tzinfo=UTC)


def bay_card(
    *visits: BayVisit,
    reader: Person | None = INES,
    chosen: bool = False,
    tried: TriedVisit | None = None,
    better: int = 0,
    is_replanned: bool = False,
    undo: BayUndo | None = None,
) -> BayDaysCard:
    """The page of these visits. better: how many of them a better plan would change. is_replanned: one was taken."""
    later = SATURDAY + timedelta(days=7)
    changes = (
        PlanChange("AN", 1, SATURDAY, later, Cause.AWAY),
        PlanChange("AN", 2, SATURDAY, SATURDAY + timedelta(hours=1), Cause.PRICE),
        PlanChange("AN", 3, None, later, Cause.NEW),
        PlanChange("AN", 4, SATURDAY, None, Cause.JOINED),
    )
    return bay_days_card(
        garage=GARAGE,
        reader=reader,
        today=TODAY,
        seal="s3al",
        visits=visits,
        notices={("AN", 2): ("Anvil is spoken for then: Hollow Lake hill climb.",)},
        outlooks={"AN": ANVIL_OUTLOOK},
        people={"ines": "Ines Calloway"},
        sheets={("AN", 1): 147},
        plannable={"AN"} if reader else (),
        mechanics=[INES],
        choices=[("AN", "AN Anvil"), ("BE", "BE Bellows")] if reader else [],
        chosen=ANVIL_OUTLOOK if chosen else None,
        can_enter=reader is not None,
        tried=tried,
        undo=undo,
        first_window=first_window([ANVIL_OUTLOOK], TODAY),
        better=better,
        last_plan=LastPlan("ines", SATURDAY - timedelta(days=12), changes) if is_replanned else None,
        names={"AN": "Anvil"},
        may_propose=reader is not None,
    )


def shared_card(tried: Tried | None = None) -> SharedCalendarsCard:
    """The page of who keeps the list."""
    board = Address("aaaa1111", "wall board", MADE, None, None, Fetch(MADE, "a browser"))
    gone = replace(board, short="bbbb2222", replaced_at=MADE, expires_at=MADE + timedelta(days=30), fetch=None)
    return shared_calendars_card(
        garage=GARAGE,
        reader=INES,
        today=TODAY,
        form_key="f0rm",
        vehicles=[ANVIL],
        addresses={GARAGE_OWNER: [board, gone], BAY: [replace(board, short="cccc3333")], "AN": []},
        can_enter=True,
        tried=tried,
    )


def letters_card(problem: str = "") -> LetterChoiceCard:
    """When Ines gets her letters, just saved or wrong."""
    return letter_choice_card(
        garage=GARAGE,
        reader=INES,
        today=TODAY,
        seal="s3al",
        told="Now: Tuesdays at 07:00.",
        can_enter=True,
        saved=not problem,
        typed={"zone": "<Mars>"} if problem else None,
        problem=problem,
    )


def shop_card(tried: TriedItem | None = None, *, reader: Person | None = INES, empty: bool = False) -> ShoppingCard:
    """What to buy for the next weeks."""
    oil, sealant = "75W-140 GL-5", "Sealant"
    used = (("AN", "Rear axle: fluid change and cover reseal"), ("BE", "Rear axle: fluid change"))
    lines = (
        ToBuy(oil, "L", Decimal("5.2"), Decimal(1), Decimal("4.2"), Decimal(1), 5, used, TODAY),
        ToBuy(sealant, "pieces", None, Decimal(0), None, None, None, used[:1], TODAY + timedelta(days=11)),
        ToBuy("Wipes", "pieces", Decimal(4), Decimal(40), Decimal(0), None, None, used, TODAY),
    )
    return shopping_card(
        garage=GARAGE,
        reader=reader,
        today=TODAY,
        lines=() if empty else lines,
        until=TODAY + timedelta(days=28),
        on=None,
        weeks=4,
        days=(TODAY + timedelta(days=11),),
        without_job=("Raft’s coupling",),
        shelf=() if empty else (ShelfItem(oil, Decimal(1), "L", Decimal(1)), ShelfItem("Wipes <soft>", Decimal(40))),
        may_count=reader is not None,
        can_enter=reader is not None,
        tried=tried,
    )


def explained_long() -> Explained:
    """The long visit on its Saturday, day 12 from the Monday before today; two days cheaper, walls between."""
    plan_visit = Visit("AN", 0, ())
    prices = tuple(
        DayPrice(day, None, Forbidden.TAKEN)
        if day == 23
        else DayPrice(day, None, Forbidden.NOBODY)
        if day % 7 < 4
        else DayPrice(day, None, Forbidden.AWAY)
        if day in (18, 19, 25)
        else DayPrice(day, (day - 9) * 700)
        for day in range(1, 40)
        if day != 12
    )
    reasons = (
        Reason(ReasonKind.LEADS, 25_942, (str(FIRST),), 26, 26_300, 219_000),
        Reason(ReasonKind.TOGETHER, 4_000, (str(FIRST), str(SECOND))),
        Reason(ReasonKind.NEXT_BEST, -2_100, (), 11),
        Reason(ReasonKind.TOLD, 500, (str(FIRST),)),
    )
    return Explained(plan_visit, 12, reasons, prices)


def why_card(*, reader: Person | None = INES, compared: bool = True) -> BayWhyCard:
    """The long visit weighed."""
    return bay_why_card(
        garage=GARAGE,
        reader=reader,
        today=TODAY,
        visit=replace(LONG, reason="") if compared else LONG,
        outlook=ANVIL_OUTLOOK,
        explained=explained_long() if compared else None,
        day_0=TODAY - timedelta(days=1),
        cap_cents=30_000,
        closed={TODAY + timedelta(days=20): "Labour Day"},
        held={TODAY + timedelta(days=22): (BayHolder("PO", 7, "Pocket <the small one>"),)},
        is_as_written=False,
        may_plan=reader is not None,
        may_plan_all=reader is not None,
        can_enter=reader is not None,
    )


def proposed(*, is_wished: bool = False) -> ProposalCard:
    """A plan in which one visit moves, one is new, one stays and one goes; made around the first if that is wished."""
    moved = replace(
        LONG, number=3, stretches=laid_end_to_end(SATURDAY + timedelta(days=7), RESEAL), reason="It is <late>."
    )
    stays = replace(SHORT, number=4)
    plan = BayPlan("x", ())
    return proposal_card(
        garage=GARAGE,
        reader=INES,
        today=TODAY,
        can_enter=True,
        visits=(moved, stays, replace(SHORT, number=5)),
        gone=(replace(SHORT, number=6),),
        before=(replace(LONG, number=3), stays, replace(SHORT, number=6)),
        left=(FIRST,),
        answer=Answer(Outcome.FOUND, plan, 123_456, 120_000, 3.0),
        outlooks={"AN": ANVIL_OUTLOOK},
        stand="abc",
        wished=replace(LONG, number=3) if is_wished else None,
        wished_on=(SATURDAY + timedelta(days=7)).date() if is_wished else None,
        extra_cents=2_340,
        barred={FIRST: NoDay(NoDayKind.TOO_LONG, "", figures=(1_000_000, 408))} if is_wished else {},
        clashes=((LONG, replace(SHORT, number=7)),) if is_wished else (),
    )


def bay_pages(made: Pages) -> dict[str, str]:
    """These pages by a short name."""
    typed = {"day": "2026-05-02", "time": "nine", "takes": "90", "hands": "ines", "why": "<why>"}
    wrong = TriedVisit(NEW_ANCHOR, "“nine” is no time of day.", "time", typed, ("rear-axle/rear-axle-fluid",))
    moved = TriedVisit("#AN-1", "Anvil is in the bay already.", "day", {"day": "2026-05-02", "time": "09:00"})
    zone = ZoneInfo(GARAGE.zone)
    out = put_back(replace(LONG, number=4, state=VisitState.RUBBED_OUT), "Anvil", VisitState.INKED, zone, TODAY)
    was = (SATURDAY - timedelta(days=7)).astimezone(zone)
    elsewhere = moved_back(LONG, "Anvil", was, zone, TODAY, day_field="day", time_field="time")
    return {
        "bay-days": made.bay_days(bay_card(LONG, SHORT)),
        "bay-days-better": made.bay_days(bay_card(LONG, SHORT, better=3)),
        "bay-days-changed": made.bay_days(bay_card(LONG, SHORT, is_replanned=True)),
        "bay-days-stranger": made.bay_days(bay_card(LONG, reader=None)),
        "bay-days-empty": made.bay_days(bay_card()),
        "bay-days-new": made.bay_days(bay_card(SHORT, chosen=True)),
        "bay-days-wrong": made.bay_days(bay_card(SHORT, chosen=True, tried=wrong)),
        "bay-days-older": made.bay_days(bay_card(SHORT, tried=TriedVisit("", "It was changed <meanwhile>.", "", {}))),
        "bay-days-rubbed-out": made.bay_days(bay_card(SHORT, undo=out)),
        "bay-days-elsewhere": made.bay_days(bay_card(LONG, undo=elsewhere)),
        "bay-days-moved": made.bay_days(bay_card(LONG, tried=moved)),
        "bay-why": made.bay_why(why_card(), "s3al"),
        "bay-why-stranger": made.bay_why(why_card(reader=None)),
        "bay-why-not-compared": made.bay_why(why_card(compared=False), "s3al"),
        "proposal": made.proposal(proposed(), "s3al"),
        "proposal-wished": made.proposal(proposed(is_wished=True), "s3al"),
        "proposal-working": made.proposal(
            working_card(garage=GARAGE, reader=INES, today=TODAY, can_enter=True, seconds=7, best_cents=123_456), "s3al"
        ),
        "proposal-none": made.proposal(
            no_proposal_card(
                garage=GARAGE, reader=INES, today=TODAY, can_enter=True, problem="Nobody here is a <mechanic>."
            ),
            "s3al",
        ),
        "shopping": made.shopping(shop_card(), "s3al"),
        "shopping-stranger": made.shopping(shop_card(reader=None)),
        "shopping-empty": made.shopping(shop_card(empty=True), "s3al"),
        "shopping-wrong": made.shopping(shop_card(TriedItem("Wipes <soft>", "Not a number.", "amount", {})), "s3al"),
        "shopping-new-wrong": made.shopping(
            shop_card(TriedItem("", "Not a number.", "amount", {"what": "<b>", "amount": "x"})), "s3al"
        ),
        "letters": made.letter_choice(letters_card()),
        "letters-wrong": made.letter_choice(letters_card(problem="There is no such zone.")),
        "shared-calendars": made.shared_calendars(shared_card()),
        "shared-calendars-wrong": made.shared_calendars(
            shared_card(Tried(BAY, "name", "Give the address a name.", "x"))
        ),
    }
