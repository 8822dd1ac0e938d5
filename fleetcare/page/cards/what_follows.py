"""What follows from a sheet that was filled in, before it is saved; and what is decided otherwise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.follow_words import follow_words
from fleetcare.page.cards.frame import Frame, Plate, bare_frame, vehicle_plate
from fleetcare.page.cards.hand_in import STEP, Choice
from fleetcare.page.cards.sheet import sheet_url
from fleetcare.work.findings import FollowKind
from fleetcare.work.found import Judged, found_words
from fleetcare.work.order import WorkOrder

BY_BOOK, NOTHING, LOOK, CUT, HOLD = "book", "nothing", "look", "cut", "hold"
_DECISIONS = ("other", "days", "share", "reason")
"""Fields of what is decided otherwise, each with a point and the place of its finding."""


@dataclass(frozen=True, slots=True)
class FollowAsked:
    """A finding with what follows by the book, and the choice to decide otherwise."""

    place: int
    words: str
    means: str
    by_book: str
    source: str
    choices: tuple[Choice, ...]
    days: str
    share: str
    reason: str


@dataclass(frozen=True, slots=True)
class ReviewCard:
    """What follows, before it is saved. hidden: everything that was typed, carried along."""

    frame: Frame
    plate: Plate
    sheet: str
    address: str
    problem: str
    done: tuple[str, ...]
    left: tuple[str, ...]
    remarks: tuple[str, ...]
    findings: tuple[FollowAsked, ...]
    hidden: tuple[tuple[str, str], ...]


def review_card(
    *,
    garage: Garage,
    today: date,
    order: WorkOrder,
    after: WorkOrder,
    vehicle: Vehicle,
    judged: Sequence[Judged],
    remarks: Sequence[str],
    titles: Mapping[str, str],
    typed: Mapping[str, str],
    problem: str = "",
) -> ReviewCard:
    """What follows from a sheet that was filled in. after: the order as it would be. typed: carried along."""
    on = after.closed_on or today
    carried = without_decisions(typed)
    return ReviewCard(
        frame=bare_frame(
            tr("What follows, sheet {sheet}", sheet=order.sheet), garage=garage, today=today, home_url="/"
        ),
        plate=vehicle_plate(vehicle),
        sheet=order.sheet,
        address=sheet_url(order.number),
        problem=problem,
        done=tuple(_title(titles, s.line.service) for s in after.services if s.done),
        left=tuple(f"{_title(titles, s.line.service)}: {s.left_because}" for s in after.services if not s.done),
        remarks=tuple(map(tr, remarks)),
        findings=tuple(_follow(place, each, typed, on, today) for place, each in enumerate(judged)),
        hidden=tuple((name, value) for name, value in carried.items() if name != STEP),
    )


def without_decisions(typed: Mapping[str, str]) -> dict[str, str]:
    """What was typed on the form, without what was decided otherwise on the page of what follows."""
    return {name: value for name, value in typed.items() if name.partition(".")[0] not in _DECISIONS}


def _title(titles: Mapping[str, str], service: str) -> str:
    return tr_book(titles.get(service, service.replace("-", " ")))


def _follow(place: int, each: Judged, typed: Mapping[str, str], on: date, today: date) -> FollowAsked:
    chosen = typed.get(f"other.{place}", BY_BOOK)
    follows_none = each.by_book.kind is FollowKind.NOTHING
    choices = [
        Choice(BY_BOOK, tr("As the book says"), chosen == BY_BOOK),
        *([] if follows_none else [Choice(NOTHING, tr("Nothing follows"), chosen == NOTHING)]),
        Choice(LOOK, tr("Look again, in so many days"), chosen == LOOK),
        Choice(CUT, tr("Cut the next interval to a part, in per cent"), chosen == CUT),
        *([] if each.by_book.kind is FollowKind.HOLD else [Choice(HOLD, tr("Do not drive"), chosen == HOLD)]),
    ]
    return FollowAsked(
        place=place,
        words=tr_book(found_words(each.found)),
        means=tr_book(each.means),
        by_book=follow_words(each.by_book, on, today),
        source=tr_book(each.source),
        choices=tuple(choices),
        days=typed.get(f"days.{place}", ""),
        share=typed.get(f"share.{place}", ""),
        reason=typed.get(f"reason.{place}", ""),
    )
