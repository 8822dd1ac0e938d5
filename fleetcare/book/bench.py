"""What must lie on the bench for a job on one component: consumables with amounts from its tag, values with their aim.

What the tag does not know stays unknown here (amount or value None) and is printed as a blank; nothing is guessed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from fleetcare.book.jobs import Caution, Consumable, FromTag, Job, Stage, ValueToReach
from fleetcare.fleet.component import Component
from fleetcare.fleet.tag import ClosureKind, FillRule, FillTo, ModifierNeed, Tag, Torque
from fleetcare.fleet.tag_reading import tag_of
from fleetcare.language import from_books, in_force, later, tr, tr_book
from fleetcare.wording import exact, grouped

_FILL_WORDS = {
    FillTo.THE_HOLE: later("to the hole"),
    FillTo.BELOW_THE_HOLE: later("below the hole"),
    FillTo.BY_VOLUME: later("by volume only"),
    FillTo.THE_MARK: later("to the mark"),
}
_CLOSURE_WORDS = {
    ClosureKind.SEALANT: (from_books("Sealant, oil proof"), "tubes"),
    ClosureKind.GASKET: (from_books("Gasket for the cover"), "pieces"),
    ClosureKind.O_RING: (from_books("O-ring for the cover"), "pieces"),
}


@dataclass(frozen=True, slots=True)
class Need:
    """Something to have ready. amount: in `unit`, None if the tag does not say. pack: what one bottle or tin holds."""

    what: str
    amount: Decimal | None
    unit: str
    pack: Decimal | None = None

    @property
    def packs(self) -> int | None:
        """How many bottles or tins to have, rounded up; None where it is sold by the piece or the amount is unknown."""
        if self.amount is None or self.pack is None:
            return None
        return math.ceil(self.amount / self.pack)

    @property
    def key(self) -> tuple[str, str]:
        """What goes together on a list: the same thing in the same unit."""
        return self.what.casefold(), self.unit


@dataclass(frozen=True, slots=True)
class Aim:
    """A value to reach, as the component has it. words: empty if nobody knows it, then it is a blank to fill in."""

    what: str
    words: str
    torque: Torque | None = None
    basis: str = ""
    """Where it is from: the basis of the tag's value, or the source of a figure that holds anywhere."""

    @property
    def is_blank(self) -> bool:
        """True if it has to be looked up and filled in."""
        return not self.words


@dataclass(frozen=True, slots=True)
class Bench:
    """A job as it is on one component: needs added up, aims, tools and cautions in the order of the stages."""

    job: Job
    tag: Tag
    needs: tuple[Need, ...]
    aims: tuple[Aim, ...]
    tools: tuple[str, ...]
    cautions: tuple[Caution, ...]


def bench(job: Job, component: Component) -> Bench:
    """What the job needs on that component."""
    tag = tag_of(component)
    return Bench(
        job,
        tag,
        needs=needs_of(job.stages, tag),
        aims=tuple(dict.fromkeys(aim for stage in job.stages for aim in aims_of(stage, tag))),
        tools=job.tools,
        cautions=job.cautions,
    )


def needs_of(stages: Iterable[Stage], tag: Tag) -> tuple[Need, ...]:
    """Every consumable of the stages once, amounts added up; in the order of the stages."""
    return added_up(need for stage in stages for use in stage.consumables for need in _needed(use, tag))


def added_up(needs: Iterable[Need]) -> tuple[Need, ...]:
    """The same thing in the same unit once, amounts added; an unknown amount makes the sum unknown. Keeps the order."""
    found: dict[tuple[str, str], Need] = {}
    for need in needs:
        there = found.get(need.key)
        if there is None:
            found[need.key] = need
            continue
        amount = None if there.amount is None or need.amount is None else there.amount + need.amount
        found[need.key] = replace(there, amount=amount, pack=there.pack or need.pack)
    return tuple(found.values())


def aims_of(stage: Stage, tag: Tag) -> tuple[Aim, ...]:
    """The values to reach in a stage, as that tag has them."""
    return tuple(_aim(value, tag) for value in stage.values)


def _needed(use: Consumable, tag: Tag) -> tuple[Need, ...]:
    if use.from_tag is None:
        return (Need(use.what, use.amount, use.unit, use.pack),)
    if use.from_tag is FromTag.REFILL:
        fluid = tag.fluid.value if tag.fluid is not None else None
        grade = "" if fluid is None else " ".join(filter(None, (fluid.grade, fluid.service_class, fluid.note)))
        return (
            Need(
                from_books("{what}, {grade}", what=use.what, grade=grade) if grade else use.what,
                tag.refill,
                "L",
                use.pack,
            ),
        )
    if use.from_tag is FromTag.FRICTION_MODIFIER:
        return _modifier(use, tag)
    if use.from_tag is FromTag.CLOSURE:
        closure = tag.closure.value if tag.closure is not None else None
        if closure is None:
            return (Need(from_books("What closes it: sealant, gasket or O-ring"), None, "pieces"),)
        what, unit = _CLOSURE_WORDS[closure.kind]
        return (Need(what, Decimal(1), unit),)
    torque = tag.torques.get(use.tag_name.casefold())
    count = torque.value.count if torque is not None and torque.value is not None else None
    return (Need(use.what, None if count is None else Decimal(count), use.unit),)


def _modifier(use: Consumable, tag: Tag) -> tuple[Need, ...]:
    entry = tag.friction_modifier
    if entry is None or entry.value is None:
        # only an axle that may have a limited slip is asked about; the blank says that somebody has to know first
        asked = from_books("{what}: required, forbidden or not needed", what=use.what)
        return (Need(asked, None, "mL", use.pack),) if _asks(tag) else ()
    if entry.value.need is not ModifierNeed.REQUIRED:
        return ()
    return (Need(use.what, entry.value.amount_ml, "mL", use.pack),)


def _asks(tag: Tag) -> bool:
    return "friction modifier" in tag.blanks or tag.friction_modifier is not None


def _aim(value: ValueToReach, tag: Tag) -> Aim:
    if not value.tag_name:
        return Aim(value.what, tr_book(value.say) or range_words(value), basis=value.source)
    name = value.tag_name.casefold()
    torque = tag.torques.get(name)
    if torque is not None:
        words = "" if torque.value is None else torque_words(torque.value)
        return Aim(value.what, words, torque.value, torque.basis.words)
    if name == "fill" and tag.fill is not None:
        return Aim(value.what, fill_words(tag.fill.value) if tag.fill.value else "", basis=tag.fill.basis.words)
    if name == "backlash" and tag.backlash_mm is not None:
        ends = tag.backlash_mm.value
        words = "" if ends is None else f"{span_from(exact(ends[0]), exact(ends[1]))} mm"
        return Aim(value.what, words, basis=tag.backlash_mm.basis.words)
    said = next((fact for fact in tag.others if fact.name.casefold() == name and fact.basis != "unknown"), None)
    return Aim(value.what, said.value if said else "", basis=said.basis if said else "")


def torque_words(torque: Torque) -> str:
    """A torque in words: `34 to 46 N·m, aim 40`; a single figure is its own aim."""
    if torque.low == torque.high:
        return f"{_as_printed(torque.low)} {torque.unit}"
    return tr(
        "{range} {unit}, aim {aim}",
        range=span_from(_as_printed(torque.low), _as_printed(torque.high)),
        unit=torque.unit,
        aim=exact(torque.aim),
    )


def fill_words(fill: FillRule) -> str:
    """To where it is filled: `6 mm below the hole`, `to the hole, cold`."""
    text = tr(_FILL_WORDS[fill.to])
    if fill.to is FillTo.BELOW_THE_HOLE and fill.low_mm is not None:
        high = fill.high_mm if fill.high_mm is not None else fill.low_mm
        span = grouped(high) if high == fill.low_mm else span_from(grouped(fill.low_mm), grouped(high))
        text = f"{span} mm {text}"
    return f"{text}, {tr_book(fill.when)}" if fill.when else text


def range_words(value: ValueToReach) -> str:
    """A figure that holds whatever the component: `54 to 68 N·m`, `0.7 kg`."""
    ends = [end for end in (value.low, value.high) if end is not None]
    told = [exact(end) for end in dict.fromkeys(ends)]
    return f"{span_from(*told) if len(told) == 2 else ''.join(told)} {value.unit}".strip()


def span_from(low: str, high: str) -> str:
    """`34 to 46`."""
    return tr("{low} to {high}", low=low, high=high)


def _as_printed(figure: Decimal) -> str:
    """A figure with the digits it was printed with."""
    return str(figure).replace(".", in_force().decimal)
