"""What pulls a trailer, and where a component goes: vehicles to choose from, or to name where many are there."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr
from fleetcare.page.cards.asking import Choice, Field
from fleetcare.page.cards.ticks import TICKED_AT_MOST

TOWED_FIELD, TOWED_OTHERS_FIELD = "towed-by", "towed-others"
TO_FIELD, TO_MARK_FIELD = "to", "to-mark"
TO_TYPED = "typed"
"""Chosen, it goes to the vehicle whose mark is typed below."""


def pulled_by_fields(vehicles: Sequence[Vehicle], chosen: Collection[str], others: str) -> tuple[Field, ...]:
    """What may pull a trailer. chosen: marks that are ticked. others: marks as typed before."""
    asked = tr("Which vehicles pull it?")
    is_many = len(vehicles) > TICKED_AT_MOST
    offered = [vehicle for vehicle in vehicles if vehicle.mark in chosen] if is_many else vehicles
    ticks = Field(TOWED_FIELD, asked, "many", choices=_choices(offered, chosen))
    if not is_many:
        return (ticks,)
    if not offered:
        return (Field(TOWED_OTHERS_FIELD, asked, value=others, hint=tr("Their marks, such as BE, CA.")),)
    return (ticks, Field(TOWED_OTHERS_FIELD, tr("Others by their marks, such as BE, CA"), value=others))


def where_to_fields(
    vehicles: Sequence[Vehicle], to: str, typed: str, *, shelf: Choice | None, hint: str
) -> tuple[Field, ...]:
    """Where a component may go. to: what is chosen. typed: a mark as typed before. shelf: None on the shelf itself."""
    shelves = () if shelf is None else (shelf,)
    asked = tr("Where does it go?")
    if len(vehicles) <= TICKED_AT_MOST:
        return (Field(TO_FIELD, asked, "one", choices=(*_choices(vehicles, (to,)), *shelves), hint=hint),)
    below = Choice(TO_TYPED, tr("To the vehicle with this mark"), to == TO_TYPED)
    return (
        Field(TO_FIELD, asked, "one", choices=(below, *shelves), hint=hint),
        Field(TO_MARK_FIELD, tr("Its mark, such as BE"), value=typed),
    )


def _choices(vehicles: Sequence[Vehicle], chosen: Collection[str]) -> tuple[Choice, ...]:
    return tuple(Choice(each.mark, f"{each.name} ({each.mark})", each.mark in chosen) for each in vehicles)
