"""The steps a work order may take, and what each refuses. Order in, order out; nothing is stored here.

planned ──► in hand ◄──► standing        deferred: from planned, in hand and standing; taken up again by starting
               │             │            abandoned: from all but closed; nothing leads out of it
               └──► closed ◄─┘            closed: may be put back to where it stood
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from fleetcare.errors import BadStep
from fleetcare.fleet.component import LineKey
from fleetcare.language import saying
from fleetcare.work.order import (
    DialValue,
    Filled,
    Hands,
    OrderedService,
    OrderState,
    PartUsed,
    StageBegun,
    TorqueSet,
    WorkOrder,
)

_FROM = {
    OrderState.IN_HAND: (OrderState.PLANNED, OrderState.DEFERRED, OrderState.STANDING),
    OrderState.STANDING: (OrderState.IN_HAND,),
    OrderState.DEFERRED: (OrderState.PLANNED, OrderState.IN_HAND, OrderState.STANDING),
    OrderState.ABANDONED: (OrderState.PLANNED, OrderState.IN_HAND, OrderState.STANDING, OrderState.DEFERRED),
    OrderState.CLOSED: (OrderState.PLANNED, OrderState.IN_HAND, OrderState.STANDING, OrderState.DEFERRED),
}
"""From where each state can be reached."""


def may(order: WorkOrder, state: OrderState) -> bool:
    """Whether an order that stands so can get there."""
    return order.state in _FROM.get(state, ())


def started(
    order: WorkOrder,
    *,
    at: datetime,
    mechanics: Iterable[str] = (),
    start: DialValue | None = None,
    although: str = "",
) -> WorkOrder:
    """In hand: begun, taken up again after a deferral, or worked on again after it stood.

    mechanics: who works on it now, added to those before. start: what the dial shows. although: why hands go on before
    the wait is over. Raises BadStep.
    """
    _check(order, OrderState.IN_HAND)
    until = order.stands_until
    if order.state is OrderState.STANDING and until is not None and at < until and not although.strip():
        raise BadStep(
            saying(
                "Sheet {sheet} stands until {until} UTC; before that no hand goes on.",
                sheet=order.sheet,
                until=f"{until:%Y-%m-%d %H:%M}",
            ),
            remedy="Wait, or say why it can go on earlier.",
            field="although",
        )
    if order.start is not None and start is not None and start != order.start:
        raise BadStep(
            saying(
                "Sheet {sheet} began with {start} {unit}.",
                sheet=order.sheet,
                start=order.start.value,
                unit=order.start.unit,
            ),
            remedy="Leave the reading out, or give it at the end.",
            field="start",
        )
    note = f"{order.note}\nGone on before the wait was over: {although.strip()}".strip() if although.strip() else ""
    return replace(
        order,
        state=OrderState.IN_HAND,
        started_at=order.started_at or at,
        stands_until=None,
        until=None,
        reason="",
        mechanics=tuple(dict.fromkeys((*order.mechanics, *mechanics))),
        start=order.start or start,
        note=note or order.note,
    )


def standing(order: WorkOrder, *, at: datetime, until: datetime | None = None) -> WorkOrder:
    """Standing: nobody works on it, before `until` no hand goes on (None: nobody knows). Raises BadStep."""
    _check(order, OrderState.STANDING)
    if until is not None and until <= at:
        raise BadStep(
            saying("Sheet {sheet} cannot stand until a moment that is over.", sheet=order.sheet),
            remedy="Give when the next hand may follow.",
            field="until",
        )
    return replace(order, state=OrderState.STANDING, stands_until=until)


def stage_begun(order: WorkOrder, job: str, stage: str, at: datetime) -> WorkOrder:
    """With a stage begun; begun twice, the first time counts. Raises BadStep unless it is in hand or standing."""
    if order.state not in (OrderState.IN_HAND, OrderState.STANDING):
        raise BadStep(
            saying("Sheet {sheet} is {state}; no stage of it can begin.", sheet=order.sheet, state=order.state.value),
            remedy="Start it first.",
        )
    if any((each.job, each.stage) == (job, stage) for each in order.stages):
        return order
    return replace(order, stages=(*order.stages, StageBegun(job, stage, at)))


def deferred(order: WorkOrder, *, until: date, reason: str, today: date) -> WorkOrder:
    """Put off until a day, with the reason. Raises BadStep without a reason, or for a day that is not ahead."""
    _check(order, OrderState.DEFERRED)
    if not reason.strip():
        raise BadStep("Nothing is deferred without a reason.", remedy="Say why.", field="reason")
    if until <= today:
        raise BadStep(
            saying("{until} is not ahead.", until=until),
            remedy="Give the day by which it will be taken up again.",
            field="until",
        )
    return replace(order, state=OrderState.DEFERRED, until=until, reason=reason.strip(), stands_until=None)


def abandoned(order: WorkOrder, *, reason: str) -> WorkOrder:
    """Given up, with the reason. Raises BadStep."""
    _check(order, OrderState.ABANDONED)
    if not reason.strip():
        raise BadStep("Nothing is given up without a reason.", remedy="Say why.", field="reason")
    return replace(order, state=OrderState.ABANDONED, reason=reason.strip(), stands_until=None, until=None)


@dataclass(frozen=True, slots=True)
class HandIn:
    """What is written on a sheet when it is handed in.

    on: the day the work was done. done: the services that were; `left` says why each other one was not. start, end:
    what the dial showed. renewed: components whose gear set is new. signed_by: who puts the name under it.
    """

    on: date
    done: frozenset[LineKey]
    left: Mapping[LineKey, str] = field(default_factory=dict)
    start: DialValue | None = None
    end: DialValue | None = None
    fills: tuple[Filled, ...] = ()
    torques: tuple[TorqueSet, ...] = ()
    parts: tuple[PartUsed, ...] = ()
    hands: tuple[Hands, ...] = ()
    renewed: tuple[str, ...] = ()
    note: str = ""
    signed_by: str = ""
    photos: tuple[str, ...] = ()


def closed(order: WorkOrder, given: HandIn, *, at: datetime, key: str) -> WorkOrder:
    """Closed with what was handed in. key: stands for it.

    Raises BadStep: an order that is closed or given up, a wait that is not over, services that are not on the sheet, a
    service that is neither done nor left with a reason, an end below the start, a torque outside of its range without a
    word on it, nothing that was done and nothing said.
    """
    _check(order, OrderState.CLOSED)
    until = order.stands_until
    if order.state is OrderState.STANDING and until is not None and at < until:
        raise BadStep(
            saying(
                "Sheet {sheet} stands until {until} UTC; it cannot be finished before.",
                sheet=order.sheet,
                until=f"{until:%Y-%m-%d %H:%M}",
            ),
            remedy="Start it again first, and say why it can go on earlier.",
        )
    strange = sorted(str(line) for line in (given.done | set(given.left)) - set(order.lines))
    if strange:
        raise BadStep(
            saying("{strange} is not on sheet {sheet}.", strange=", ".join(strange), sheet=order.sheet),
            remedy="Close it on a sheet of its own.",
            field="done",
        )
    if both := sorted(str(line) for line in given.done & set(given.left)):
        raise BadStep(
            saying("{both} cannot be both done and left.", both=", ".join(both)),
            remedy="Say one of the two.",
            field="done",
        )
    for line in order.lines:
        if line not in given.done and not given.left.get(line, "").strip():
            raise BadStep(
                saying("Nothing is said of {component}, {service}.", component=line.component, service=line.service),
                remedy="Say that it was done, or why it was left.",
                field="left",
            )
    start = order.start or given.start
    if order.start is not None and given.start is not None and given.start != order.start:
        raise BadStep(
            saying(
                "Sheet {sheet} began with {start} {unit}, not {given}.",
                sheet=order.sheet,
                start=order.start.value,
                unit=order.start.unit,
                given=given.start.value,
            ),
            remedy="Leave the reading at the start out.",
            field="start",
        )
    if start is not None and given.end is not None:
        if start.unit is not given.end.unit:
            raise BadStep(
                saying("It began in {unit} and ends in {unit_2}.", unit=start.unit, unit_2=given.end.unit),
                remedy="Give both in one unit.",
                field="end",
            )
        if given.end.value < start.value:
            raise BadStep(
                saying(
                    "The dial shows {end} {unit} at the end and {start} at the start.",
                    end=given.end.value,
                    unit=given.end.unit,
                    start=start.value,
                ),
                remedy="A dial does not run backwards; look at it again.",
                field="end",
            )
    for torque in given.torques:
        if torque.is_outside and not torque.note.strip():
            raise BadStep(
                saying(
                    "{fastener}: {torque} {unit} is outside of {low} to {high}.",
                    fastener=torque.fastener,
                    torque=torque.value,
                    unit=torque.unit,
                    low=torque.low or saying("nothing"),
                    high=torque.high or saying("anything"),
                ),
                remedy="Set it again, or say why it is so.",
                field="torque",
            )
    if strange := sorted({*given.renewed} - set(order.components)):
        raise BadStep(
            saying("{strange} is not on sheet {sheet}.", strange=", ".join(strange), sheet=order.sheet),
            remedy="Only what it is about.",
            field="renewed",
        )
    services = tuple(
        OrderedService(line, line in given.done, "" if line in given.done else given.left[line].strip())
        for line in order.lines
    )
    return replace(
        order,
        state=OrderState.CLOSED,
        was=order.state,
        services=services,
        start=start,
        end=given.end,
        closed_on=given.on,
        closed_at=at,
        started_at=order.started_at or at,
        stands_until=None,
        until=None,
        reason="",
        fills=given.fills,
        torques=given.torques,
        parts=given.parts,
        hands=given.hands,
        mechanics=tuple(dict.fromkeys((*order.mechanics, *(each.person for each in given.hands)))),
        told=given.note.strip(),
        signed_by=given.signed_by.strip(),
        handed_in=key,
        photos=tuple(dict.fromkeys((*order.photos, *given.photos))),
    )


def put_back(order: WorkOrder) -> WorkOrder:
    """The order where it stood before it was closed; what the dial showed and what was photographed stays known.

    Raises BadStep if it is not closed.
    """
    if order.state is not OrderState.CLOSED:
        raise BadStep(
            saying("Sheet {sheet} is {state}.", sheet=order.sheet, state=order.state.value),
            remedy="Only a closed one can be put back.",
        )
    return replace(
        order,
        state=order.was or OrderState.IN_HAND,
        was=None,
        services=tuple(OrderedService(line) for line in order.lines),
        end=None,
        closed_on=None,
        closed_at=None,
        fills=(),
        torques=(),
        parts=(),
        hands=(),
        told="",
        signed_by="",
        handed_in="",
        events=(),
    )


def _check(order: WorkOrder, state: OrderState) -> None:
    if order.state is state and state is not OrderState.CLOSED:
        raise BadStep(
            saying("Sheet {sheet} is {state} already.", sheet=order.sheet, state=state.value),
            remedy="Nothing is to be done.",
        )
    if may(order, state):
        return
    if order.state is OrderState.CLOSED:
        raise BadStep(
            saying("Sheet {sheet} was handed in already.", sheet=order.sheet),
            remedy="Put it back first, if nothing builds on it yet.",
        )
    if order.state is OrderState.ABANDONED:
        raise BadStep(saying("Sheet {sheet} was given up.", sheet=order.sheet), remedy="Open a new one.")
    raise BadStep(
        saying(
            "Sheet {sheet} is {state}; it cannot be {wanted} from there.",
            sheet=order.sheet,
            state=order.state.value,
            wanted=state.value,
        ),
        remedy="Start it first." if state is OrderState.STANDING else "",
    )
