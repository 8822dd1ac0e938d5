"""From the facts a garage wrote to the typed tag: which names are known, and how the words of each are read.

Reading is strict and never fails: words that do not fit become no value, and `tag_doubts` says which and what to write
instead. A value that reads but cannot be (a range upside down) raises BadInput in `read_fact` and is a doubt too.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from typing import Any, NamedTuple

from fleetcare.errors import BadInput, shown
from fleetcare.fleet.component import Component, TagFact
from fleetcare.fleet.tag import (
    Basis,
    Closure,
    ClosureKind,
    Entry,
    FillRule,
    FillTo,
    Fluid,
    FrictionModifier,
    ModifierNeed,
    Tag,
    Vent,
    VentKind,
    WaitTime,
)
from fleetcare.fleet.tag_words import (
    DURATION,
    NUMBER,
    as_mm,
    as_volume,
    count_in,
    figure,
    minutes_in,
    torque_from,
)
from fleetcare.language import saying

_AXLE = ("front axle", "rear axle")
_EXPECTED: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(
        _AXLE,
        (
            "ratio",
            "ring gear",
            "stamped",
            "fluid",
            "capacity",
            "fill",
            "friction modifier",
            "closure",
            "cover bolts",
            "fill plug",
            "vent",
            "magnet",
        ),
    ),
    "transfer case": ("fluid", "capacity", "fill", "fill plug", "drain plug"),
    "gearbox": ("fluid", "capacity", "fill", "drain plug"),
    "engine": ("fluid", "capacity", "drain plug"),
    "cooling system": ("fluid", "capacity"),
    "brakes": ("fluid",),
    "hubs": ("fluid",),
    "wheels": ("wheel nuts",),
    "coupling": ("ball",),
}
"""What a sheet leaves a blank for, by kind of component, where nothing is known."""


@dataclass(frozen=True, slots=True)
class TagDoubt:
    """Something wrong with one fact: its place among the facts (-1: the component's own fields), what, what instead.

    is_fault: it cannot be. Otherwise the words are kept and only not reckoned with.
    """

    place: int
    what: str
    instead: str
    is_fault: bool = False


@dataclass(frozen=True, slots=True)
class _Known:
    """How one name is read: the field of Tag, the reader (None: does not fit), and an example to show."""

    field: str
    read: Callable[[str], Any]
    example: str


def tag_of(component: Component) -> Tag:
    """The typed tag of a component, as far as its facts can be read. Never raises."""
    tag, _ = _read(component)
    return tag


def tag_doubts(component: Component) -> tuple[TagDoubt, ...]:
    """What is wrong with the facts of a component, in their order; nothing for names that are not known here."""
    _, doubts = _read(component)
    return doubts


class _OnTag(NamedTuple):
    """All that a tag is read from. capacity: as text, since two equal figures may be written in two ways."""

    kind: str
    facts: tuple[TagFact, ...]
    fluid_grade: str
    capacity: str


def _read(component: Component) -> tuple[Tag, tuple[TagDoubt, ...]]:
    litres = component.fluid_capacity_l
    return _read_once(
        _OnTag(component.kind, component.facts, component.fluid_grade, "" if litres is None else str(litres))
    )


@lru_cache(maxsize=4096)
def _read_once(component: _OnTag) -> tuple[Tag, tuple[TagDoubt, ...]]:
    """Kept, because many components of a garage have the same tag, and pages of the whole garage read them all."""
    fields: dict[str, Any] = {}
    torques: dict[str, Entry[Any]] = {}
    others: list[TagFact] = []
    doubts: list[TagDoubt] = []
    seen: set[str] = set()
    for place, fact in enumerate(component.facts):
        name = fact.name.casefold()
        known = KNOWN_NAMES.get(name)
        if name in seen:
            doubts.append(TagDoubt(place, saying("There are two values for {name}.", name=name), "Keep the right one."))
            others.append(fact)
            continue
        try:
            value, is_torque = _value(fact)
        except BadInput as bad:
            doubts.append(
                TagDoubt(
                    place,
                    saying("{name}: {what}", name=sentence_name(fact.name), what=bad.what),
                    bad.remedy,
                    is_fault=True,
                )
            )
            others.append(fact)
            continue
        entry = Entry(name, value, Basis(fact.basis), fact.value)
        if is_torque:
            torques[name] = entry
        elif known is None:
            others.append(fact)
        else:
            fields[known.field] = entry
            if value is None and entry.basis is not Basis.UNKNOWN and fact.value:
                what = saying(
                    "{name} says {fact}, which cannot be reckoned with.",
                    name=sentence_name(fact.name),
                    fact=shown(fact.value, 60),
                )
                doubts.append(
                    TagDoubt(
                        place,
                        what,
                        saying("It is kept as words. To be read it looks like: {example}.", example=known.example),
                    )
                )
        if known is not None or is_torque:
            seen.add(name)
    doubts += _own_fields(component, fields)
    tag = Tag(component.kind, **fields, torques=torques, others=tuple(others))
    return replace(tag, blanks=_blanks(tag)), tuple(doubts)


@lru_cache(maxsize=4096)
def _value(fact: TagFact) -> tuple[Any, bool]:
    """The value of a fact, and whether it is a torque. Raises BadInput for one that reads but cannot be.

    Kept, because the same facts stand on the tags of many components of a garage.
    """
    known = KNOWN_NAMES.get(fact.name.casefold())
    unknown = Basis(fact.basis) is Basis.UNKNOWN
    if known is None:
        if unknown:
            return None, fact.name.casefold().endswith(_FASTENERS)
        torque = torque_from(fact.value)
        return torque, torque is not None
    return (None if unknown or not fact.value.strip() else known.read(fact.value.strip())), False


_FASTENERS = ("bolts", "bolt", "nuts", "nut", "plug", "plugs", "screws", "fitting")


def _own_fields(component: _OnTag, fields: dict[str, Any]) -> list[TagDoubt]:
    """Lays the component's own grade and capacity under the facts; a fact that says otherwise is a fault."""
    doubts = []
    if component.fluid_grade and "fluid" not in fields:
        fluid = _fluid(component.fluid_grade)
        fields["fluid"] = Entry("fluid", fluid, Basis.MANUAL, component.fluid_grade)
    if component.capacity:
        litres = Decimal(component.capacity)
        fact: Entry[Decimal] | None = fields.get("capacity_l")
        if fact is None:
            fields["capacity_l"] = Entry("capacity", litres, Basis.MANUAL, f"{litres.normalize():f} L")
        elif fact.value is not None and round(fact.value, 2) != round(litres, 2):
            what = saying(
                "The capacity is {litres} L in one place and {words} in another.",
                litres=f"{litres.normalize():f}",
                words=shown(fact.words, 40),
            )
            doubts.append(TagDoubt(-1, what, "Correct one of the two.", is_fault=True))
        elif fact.value is None:
            fields["capacity_l"] = replace(fact, value=litres)
    return doubts


def _blanks(tag: Tag) -> tuple[str, ...]:
    blank = []
    for name in _EXPECTED.get(tag.kind, ()):
        known = KNOWN_NAMES.get(name)
        entry: Entry[Any] | None = getattr(tag, known.field) if known else tag.torques.get(name)
        said = any(fact.name.casefold() == name and fact.value for fact in tag.others)
        if not said and (entry is None or (entry.value is None and entry.basis is Basis.UNKNOWN)):
            blank.append(name)
    return tuple(blank)


def sentence_name(name: str) -> str:
    """The name of a fact at the beginning of a sentence."""
    return name[:1].upper() + name[1:]


# One reader for each name


def _ratio(text: str) -> Decimal | None:
    found = re.fullmatch(rf"({NUMBER})(?:\s?(?::|to)\s?1)?(?:,.*)?", text)
    return figure(found[1]) if found else None


def _length(text: str) -> Decimal | None:
    found = re.fullmatch(rf"({NUMBER}|\d+/\d+|\d+ \d+/\d+)\s?(mm|cm|in|inch)(?:,.*)?", text)
    return as_mm(found[1], found[2]) if found else None


def _words(text: str) -> str:
    return text


def _fluid(text: str) -> Fluid:
    grade = re.search(r"\b(\d+W(?:-\d+)?|SAE \d+|DOT \d(?:\.\d)?)\b", text)
    service = re.search(r"\b(GL-\d|API [A-Z]{2}|ACEA [A-Z]\d)\b", text)
    rest = text
    for found in (grade, service):
        if found:
            rest = rest.replace(found[0], "", 1)
    if grade is None:
        return Fluid(text)
    return Fluid(grade[1], service[1] if service else "", " ".join(rest.split()).strip(" ,;"))


def _volume(text: str) -> Decimal | None:
    return as_volume(text)


def _fill(text: str) -> FillRule | None:
    when = next((word for word in ("cold", "warm", "hot") if re.search(rf"\b{word}\b", text)), "")
    if re.match(r"by volume( only)?\b", text):
        return FillRule(FillTo.BY_VOLUME, when=when)
    if re.match(r"to the (lower edge of the )?(hole|lip|plug)\b|level with the (hole|lip)\b", text):
        return FillRule(FillTo.THE_HOLE, when=when)
    if re.match(r"to the (upper |full |max )?marks?\b|by the (dipstick|marks)\b", text):
        return FillRule(FillTo.THE_MARK, when=when)
    length = rf"{NUMBER}|\d+ \d+/\d+|\d+/\d+"
    found = re.match(rf"({length})(?: to ({length}))? ?(mm|cm|in|inch) below the (?:hole|lip|plug)\b", text)
    if found is None:
        return None
    low = as_mm(found[1], found[3])
    return FillRule(FillTo.BELOW_THE_HOLE, low, as_mm(found[2], found[3]) if found[2] else low, when)


def _modifier(text: str) -> FrictionModifier | None:
    need = next((need for need in ModifierNeed if re.search(rf"\b{need.value}\b", text)), None)
    amount = re.search(rf"({NUMBER})\s?(mL|ml|L|US fl oz|fl oz)\b", text)
    if amount is None:
        return FrictionModifier(need) if need is not None else None
    litres = as_volume(f"{amount[1]} {amount[2]}")
    assert litres is not None  # the pattern has a figure and a unit
    return FrictionModifier(need or ModifierNeed.REQUIRED, round(litres * 1000, 1))


def _closure(text: str) -> Closure | None:
    kinds = [kind for kind in ClosureKind if re.search(rf"\b{kind.value}\b", text, re.IGNORECASE)]
    if len(kinds) != 1:
        return None
    bolts = re.search(r"\b(\w+) bolts?\b(?:,? (M\d+(?:x[\d.]+)?))?", text)
    number = count_in(bolts[1]) if bolts else None
    return Closure(kinds[0], number, (bolts[2] or "") if bolts and number else "")


def _wait(text: str) -> WaitTime | None:
    found = re.fullmatch(rf"({DURATION})(?:[ ,]+by the label)?(?:,? (?:and )?at least ({DURATION}))?", text)
    if found is None:
        return None
    return WaitTime(minutes_in(found[1]), minutes_in(found[2]) if found[2] else None)


def _vent(text: str) -> Vent | None:
    kind = next((kind for kind in VentKind if re.search(rf"\b{kind.value}\b", text)), None)
    if kind is None:
        return None
    place = re.split(rf",?\s*\b(?:{kind.value})\b", text, maxsplit=1)
    said = place[0].strip(" ,") or place[1].strip(" ,").removeprefix("on ").strip()
    return Vent(kind, said)


def _backlash(text: str) -> tuple[Decimal, Decimal] | None:
    found = re.fullmatch(rf"({NUMBER}) to ({NUMBER})\s?(mm|in|inch)(?:,.*)?", text)
    if found is None:
        return None
    low, high = as_mm(found[1], found[3]), as_mm(found[2], found[3])
    if low > high:
        raise BadInput(saying("{text_} is upside down.", text_=shown(text, 40)), remedy="Put the smaller figure first.")
    return low, high


KNOWN_NAMES: dict[str, _Known] = {
    "ratio": _Known("ratio", _ratio, "4.10"),
    "ring gear": _Known("ring_gear_mm", _length, "9.75 in"),
    "stamped": _Known("stamped", _words, "the letters and figures on the tag"),
    "fluid": _Known("fluid", _fluid, "75W-140 GL-5"),
    "capacity": _Known("capacity_l", _volume, "2.6 L"),
    "refill": _Known("refill_l", _volume, "2.4 L"),
    "fill": _Known("fill", _fill, "to the hole, cold; 6 mm below the hole; by volume only"),
    "friction modifier": _Known("friction_modifier", _modifier, "118 mL, required; forbidden; not needed"),
    "closure": _Known("closure", _closure, "cover with sealant, 10 bolts M8"),
    "open time": _Known("open_time", _wait, "5 min"),
    "wait before the final turn": _Known("before_final_turn", _wait, "1 h"),
    "wait before filling": _Known("before_filling", _wait, "24 h, at least 12 h"),
    "bolt pattern": _Known("bolt_pattern", _words, "10 bolts, crosswise"),
    "vent": _Known("vent", _vent, "left tube, hose to the frame"),
    "magnet": _Known("magnet", _words, "in the cover"),
    "backlash": _Known("backlash_mm", _backlash, "0.18 to 0.23 mm"),
}
"""Names that are read, in lower case. Any other fact that holds a torque is read as one; the rest stays words."""
