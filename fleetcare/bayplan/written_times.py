"""A visit as somebody wrote it down, with its own times in place of those of the job book."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fleetcare.bayplan.garage_problem import LONGEST_WAIT_MIN, Wanted
from fleetcare.bayplan.problem import Wait
from fleetcare.bayplan.workshop import WorkshopPrices
from fleetcare.fleet.bay_visit import BayVisit, StretchKind


def as_written(wanted: Iterable[Wanted], visit: BayVisit) -> tuple[Wanted, ...]:
    """The services with the hands and the waits of this visit, in minutes: all of them with the first of its services,
    and one minute for each of the others, which are done along with it.

    A person's figure has bringing in, set-ups and fluids in it, so that nothing of that is added.
    """
    lead, *others = visit.lines
    hands: list[int] = []
    waits: list[Wait] = []
    for each in visit.stretches:
        minutes = max(1, round(each.lasts.total_seconds() / 60))
        if each.kind is StretchKind.HANDS_ON:
            hands.append(minutes)
        else:
            waits.append(Wait(minutes, max(minutes, LONGEST_WAIT_MIN)))
    if len(hands) == len(waits):  # it stands at the end: a last look lets it go
        hands.append(1)
    hands[0] = max(1, hands[0] - len(others))
    whole = (*zip(hands, waits, strict=False), (hands[-1], None))
    return tuple(
        replace(each, parts=whole if each.line == lead else ((1, None),), set_ups=(), fluid="")
        if each.line in visit.lines
        else each
        for each in wanted
    )


def for_written_times(prices: WorkshopPrices) -> WorkshopPrices:
    """The prices with whole shifts to work in and no time for bringing in: who wrote the times had both in mind."""
    return replace(prices, shift_share=1.0, arrive_minutes=0)
