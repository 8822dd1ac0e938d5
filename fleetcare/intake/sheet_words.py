"""What somebody writes on a sheet, as words, into values: fills, torques, parts, time, findings and what follows.

fill      COMPONENT = LITRES                     rear-axle=2.6
torque    COMPONENT / FASTENER = VALUE [UNIT]    rear-axle/cover bolts=40, rear-axle/fill plug=30 lb·ft
part      WHAT [= AMOUNT [UNIT]] [@ COST]        sealant=1 tube @ 12.90
hands     PERSON = MINUTES                       Teo=140
finding   COMPONENT / KIND [/ PLACE] = GRADE     rear-axle/pattern/drive side=toe, brakes/pads/front left=4.5
follows   nothing | do not drive | look again [500 mi] [or] [28 days] | shorten 0.5
"""

from __future__ import annotations

import re
from decimal import Decimal

from fleetcare.errors import BadInput, shown
from fleetcare.intake.numbers import parse_decimal, parse_whole
from fleetcare.intake.text import clean_text
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit, TorqueUnit
from fleetcare.work.findings import FindingBook, Follow, FollowKind
from fleetcare.work.found import Seen
from fleetcare.work.order import Filled, PartUsed, TorqueSet

_TORQUE_UNITS = {
    **{unit.value.casefold(): unit for unit in TorqueUnit},
    "nm": TorqueUnit.NM,
    "n.m": TorqueUnit.NM,
    "lb.ft": TorqueUnit.LBF_FT,
    "lb ft": TorqueUnit.LBF_FT,
    "lbf ft": TorqueUnit.LBF_FT,
    "ft lb": TorqueUnit.LBF_FT,
}
_FIGURE = re.compile(r"([0-9][0-9 .,]*)\s*(.*)")
_LOOK = re.compile(
    r"look again(?:\s+(?:after\s+)?(?P<far>[0-9.,]+)\s*(?P<unit>km|mi))?(?:\s*(?:or|,)?\s*(?P<days>[0-9]+)\s*days?)?"
)
_SHORTEN = re.compile(r"shorten(?: the next interval)?(?: to)?\s+(?P<factor>[0-9.,]+)")


def figure(text: str, field: str, *, places: int = 3) -> Decimal:
    """A figure with a point or a comma before its decimals. Raises BadInput."""
    given = text.strip()
    return parse_decimal(given, decimal_comma="," in given and "." not in given, places=places, field=field)


def fill_from(text: str, *, what: str = "", taken_out: Decimal | None = None) -> Filled:
    """`rear-axle=2.6`. what: the fluid. Raises BadInput."""
    where, value = _halves(text, "fill", "rear-axle=2.6")
    return Filled(where, clean_text(what, field="fluid_grade"), figure(value, "fill"), taken_out)


def torque_from(text: str, note: str = "") -> TorqueSet:
    """`rear-axle/cover bolts=40`; in N·m unless another unit is named. Raises BadInput."""
    where, value = _halves(text, "torque", "rear-axle/cover bolts=40")
    component, _, fastener = (part.strip() for part in where.partition("/"))
    if not fastener:
        raise BadInput(
            saying("{text_} does not say what was tightened.", text_=shown(text)),
            remedy="Write rear-axle/cover bolts=40.",
            field="torque",
        )
    found = _FIGURE.fullmatch(value)
    unit = TorqueUnit.NM if found is None or not found[2] else _TORQUE_UNITS.get(found[2].strip().casefold())
    if found is None or unit is None:
        known = ", ".join(unit.value for unit in TorqueUnit)
        raise BadInput(
            saying("{value} is no torque.", value=shown(value)),
            remedy=saying("Write a figure in {known}.", known=known),
            field="torque",
        )
    return TorqueSet(component, fastener, figure(found[1], "torque"), unit, note=clean_text(note, field="note"))


def part_from(text: str) -> PartUsed:
    """`sealant=1 tube @ 12.90`, or the name alone for one piece. Raises BadInput."""
    told, _, cost = text.partition("@")
    what, _, amount = (part.strip() for part in told.partition("="))
    unit, count = "pieces", Decimal(1)
    if amount:
        found = _FIGURE.fullmatch(amount)
        if found is None:
            raise BadInput(
                saying("{amount} is no amount.", amount=shown(amount)), remedy="Write sealant=1 tube.", field="part"
            )
        count, unit = figure(found[1], "part"), found[2].strip() or unit
    paid = figure(cost, "part", places=2) if cost.strip() else None
    return PartUsed(clean_text(what, field="name", required=True), count, clean_text(unit), paid)


def hands_from(text: str) -> tuple[str, int]:
    """`Teo=140`: who, and minutes. Raises BadInput."""
    who, minutes = _halves(text, "hands", "Teo=140")
    return who, parse_whole(minutes, least=1, most=86_400, field="hands")


def seen_from(text: str, book: FindingBook, note: str = "") -> Seen:
    """`rear-axle/magnet=flakes`; a figure in place of the grade where it is measured. Raises BadInput, NotFound."""
    where, grade = _halves(text, "finding", "rear-axle/magnet=flakes")
    component, _, rest = (part.strip() for part in where.partition("/"))
    kind, _, place = (part.strip() for part in rest.partition("/"))
    if not kind:
        raise BadInput(
            saying("{text_} does not say what was found where.", text_=shown(text)),
            remedy="Write rear-axle/magnet=flakes.",
            field="finding",
        )
    known = book.kind(kind)
    said = clean_text(note, field="note")
    if known.measure is not None:
        bare = grade.removesuffix(known.measure.unit).strip()
        return Seen(component, known.key, place=place, value=figure(bare, "finding"), note=said)
    return Seen(component, known.key, grade, place, note=said)


def follow_from(text: str) -> Follow:
    """`nothing`, `do not drive`, `look again 500 mi or 28 days`, `shorten 0.5`. Raises BadInput."""
    given = " ".join(text.casefold().split())
    if given in (FollowKind.NOTHING.value, FollowKind.HOLD.value):
        return Follow(FollowKind(given))
    look = _LOOK.fullmatch(given)
    if look is not None and (look["far"] or look["days"]):
        return Follow(
            FollowKind.LOOK_AGAIN,
            figure(look["far"], "follow") if look["far"] else None,
            DistanceUnit(look["unit"]) if look["unit"] else DistanceUnit.KM,
            int(look["days"]) if look["days"] and len(look["days"]) < 6 else None,
        )
    cut = _SHORTEN.fullmatch(given)
    if cut is not None:
        return Follow(FollowKind.SHORTEN, factor=figure(cut["factor"], "follow"))
    raise BadInput(
        saying("{text_} cannot follow.", text_=shown(text)),
        remedy="Write nothing, do not drive, look again 500 mi or 28 days, or shorten 0.5.",
        field="follow",
    )


def share_in(text: str, field: str) -> Decimal:
    """A part in per cent, with or without the sign: `50`, `50 %`. Raises BadInput."""
    return figure(text.strip().removesuffix("%").strip(), field, places=1)


def _halves(text: str, field: str, like: str) -> tuple[str, str]:
    name, sign, value = (part.strip() for part in text.partition("="))
    if not sign or not name or not value:
        raise BadInput(
            saying("{text_} cannot be read.", text_=shown(text)),
            remedy=saying("Write it like {like}.", like=like),
            field=field,
        )
    return clean_text(name, field=field, limit=200), clean_text(value, field=field, limit=200)
