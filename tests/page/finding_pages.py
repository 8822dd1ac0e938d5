"""Findings of the invented garage as pages: of both sorts, one that stops a vehicle, an answer not taken, none."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from fleetcare.due.cut_intervals import IntervalCut, ShortenedLine
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.findings import FindingsCard, TriedAnswer, findings_card
from fleetcare.page.render import Pages
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.found import Found
from fleetcare.work.open_findings import interval_cuts, open_findings
from fleetcare.work.record import Finding, WorkDone
from tests.page.karst_ridge import ANVIL_OUTLOOK, AXLE_FLUID, GARAGE, INES, TODAY

LOOK = Follow(FollowKind.LOOK_AGAIN, days=20, todo="drain a little")
FLAKES = Found(
    "AN", "rear-axle", "magnet", "flakes", "Debris on the magnet: flakes", date(2026, 4, 2), LOOK, by="ines",
    note="three of them", order=147, position=1,
)  # fmt: skip
CRACK = replace(FLAKES, words="Crack in the coupling", follow=Follow(FollowKind.HOLD), position=2)
PASTE = WorkDone(
    AXLE_FLUID.key, date(2026, 2, 21), by="marit", findings=(Finding("Grey paste on the magnet", date(2026, 4, 9)),)
)
BURNT = replace(
    FLAKES, kind="old-fluid", grade="burnt", words="Old fluid: burnt", position=3,
    follow=Follow(FollowKind.SHORTEN, factor=Decimal("0.5"), todo="look for what made it hot"),
)  # fmt: skip
CUTS = tuple(
    IntervalCut(each, (ShortenedLine(AXLE_FLUID.key, AXLE_FLUID.row.short, date(2026, 9, 3)),), outdone=True)
    for each in interval_cuts((BURNT,))
)
WAITING = open_findings((FLAKES, CRACK), (PASTE,))
DONE = Changed(
    "Anvil, debris on the magnet: look again by 22 April 2026.",
    tuple(f"Anvil, look again: {days} days later." for days in (12, 13)),
    "And 3 dates more.",
)


def card(
    *, none: bool = False, tried: TriedAnswer | None = None, done: Changed | None = None, may: bool = True
) -> FindingsCard:
    """The page as Ines sees it, or somebody who may not answer."""
    return findings_card(
        garage=GARAGE,
        reader=INES if may else None,
        today=TODAY,
        findings=() if none else WAITING,
        outlooks={"AN": replace(ANVIL_OUTLOOK, today=TODAY)},
        names={"ines": "Ines", "marit": "Marit"},
        may_answer={"AN"} if may else (),
        can_enter=may,
        done=done,
        cuts=() if none else CUTS,
        tried=tried,
    )


def finding_pages(made: Pages) -> dict[str, str]:
    """The pages by a short name."""
    late = TriedAnswer("0147-1", "That day is over.", "clean", (TODAY - timedelta(days=3)).isoformat())
    gone = TriedAnswer("0147-9", "Teo answered that finding at 12:40.")
    half = TriedAnswer("0147-3", "120 % is no part.", "hotter", share="120")
    return {
        "findings-cut-problem": made.findings(card(tried=half), "s3al"),
        "findings": made.findings(card(done=DONE), "s3al"),
        "findings-none": made.findings(card(none=True), "s3al"),
        "findings-stranger": made.findings(card(may=False)),
        "findings-problem": made.findings(card(tried=late), "s3al"),
        "findings-gone": made.findings(card(tried=gone), "s3al"),
    }
