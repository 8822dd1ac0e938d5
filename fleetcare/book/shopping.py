"""What to buy: the consumables of several jobs added up, against what lies on the shelf."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from fleetcare.book.bench import Need
from fleetcare.errors import BadInput
from fleetcare.language import saying
from fleetcare.quantities import L_PER

_GRAMS = {"g": Decimal(1), "kg": Decimal(1000)}


@dataclass(frozen=True, slots=True)
class ShelfItem:
    """Something on the shelf: how much there is, in `unit`; pack: what one bottle or tin of it holds.

    what: as jobs call it (`Friction modifier`), or a fluid by its grade alone (`75W-140 GL-5`).
    """

    what: str
    amount: Decimal
    unit: str = "pieces"
    pack: Decimal | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if not self.what.strip():
            raise BadInput("Something on the shelf has no name.", remedy="Say what it is.", field="item")
        if not self.amount.is_finite() or not 0 <= self.amount <= 1_000_000:
            raise BadInput(
                saying("{what}: {amount} cannot lie on the shelf.", what=self.what, amount=self.amount),
                remedy="Give nought or more.",
                field="amount",
            )
        if self.pack is not None and not (self.pack.is_finite() and 0 < self.pack <= 1_000_000):
            raise BadInput(
                saying("{what}: a pack of {pack} is none.", what=self.what, pack=self.pack),
                remedy="Give what one pack holds.",
                field="pack",
            )

    @property
    def key(self) -> str:
        """Two items with one key are the same."""
        return " ".join(self.what.casefold().split())


@dataclass(frozen=True, slots=True)
class Wanted:
    """Something a job needs, for which service of which vehicle, and the day by which it should be there."""

    need: Need
    mark: str
    service: str
    by: date


@dataclass(frozen=True, slots=True)
class ToBuy:
    """One line of the list. needed, buy: in `unit`, None where a tag does not say how much; on_shelf: in `unit`.

    buy is nought where the shelf has enough. packs: how many to buy, rounded up; None where it is sold by the piece.
    """

    what: str
    unit: str
    needed: Decimal | None
    on_shelf: Decimal
    buy: Decimal | None
    pack: Decimal | None
    packs: int | None
    used_for: tuple[tuple[str, str], ...]
    """Mark and service of everything that needs it, in the order of their days."""
    by: date
    """The first day it is needed."""


def shopping_list(wanted: Iterable[Wanted], shelf: Sequence[ShelfItem] = ()) -> tuple[ToBuy, ...]:
    """Everything wanted once, amounts added up, what lies on the shelf taken off; by first day, then by name.

    Litres and millilitres, grams and kilograms are added up as one. What lies on the shelf is given to what is needed
    first, so nothing on it is counted twice.
    """
    groups: dict[tuple[str, str], list[Wanted]] = {}
    for each in sorted(wanted, key=_place):
        unit, _ = _base(each.need.unit)
        groups.setdefault((" ".join(each.need.what.casefold().split()), unit), []).append(each)
    left = {item.key: item.amount for item in shelf}
    by_key = {item.key: item for item in shelf}
    found = [_line(group, by_key, left) for group in groups.values()]
    return tuple(sorted(found, key=lambda line: (line.by, line.what.casefold())))


def _place(wanted: Wanted) -> tuple[date, str, str, str, str, Decimal, Decimal]:
    need = wanted.need
    nought = Decimal(-1)
    return wanted.by, wanted.mark, wanted.service, need.what, need.unit, need.amount or nought, need.pack or nought


def drawn_down(shelf: Sequence[ShelfItem], used: Iterable[Need]) -> tuple[tuple[ShelfItem, ...], tuple[Need, ...]]:
    """The shelf after some of it was used, and what was used that was not there; amounts never fall below nought."""
    left = {item.key: item.amount for item in shelf}
    by_key = {item.key: item for item in shelf}
    short: list[Need] = []
    for need in used:
        if need.amount is None:
            continue
        item = _on_shelf(need.what, need.unit, by_key)
        there = Decimal(0) if item is None else converted(left[item.key], item.unit, need.unit)
        taken = min(there, need.amount)
        if item is not None:
            left[item.key] -= converted(taken, need.unit, item.unit)
        if taken < need.amount:
            short.append(replace(need, amount=need.amount - taken))
    return tuple(replace(item, amount=max(Decimal(0), left[item.key])) for item in shelf), tuple(short)


def converted(amount: Decimal, unit: str, other: str) -> Decimal:
    """An amount in another unit of the same kind; the same figure where the units are the same."""
    if unit == other:
        return amount
    return _plain(amount * _base(unit)[1] / _base(other)[1])


def _line(group: Sequence[Wanted], shelf: dict[str, ShelfItem], left: dict[str, Decimal]) -> ToBuy:
    first = group[0].need
    unit = first.unit
    amounts = [None if w.need.amount is None else converted(w.need.amount, w.need.unit, unit) for w in group]
    known = [amount for amount in amounts if amount is not None]
    needed = _plain(sum(known, Decimal(0))) if len(known) == len(amounts) else None
    item = _on_shelf(first.what, unit, shelf)
    there = Decimal(0) if item is None else converted(left[item.key], item.unit, unit)
    taken = min(there, sum(known, Decimal(0)))
    if item is not None:
        left[item.key] -= converted(taken, unit, item.unit)
    buy = None if needed is None else _plain(max(Decimal(0), needed - taken))
    packs = [converted(w.need.pack, w.need.unit, unit) for w in group if w.need.pack is not None]
    pack = packs[0] if packs else None
    if item is not None and item.pack is not None:
        pack = converted(item.pack, item.unit, unit)
    return ToBuy(
        what=first.what,
        unit=unit,
        needed=needed,
        on_shelf=_plain(there),
        buy=buy,
        pack=pack,
        packs=None if buy is None or pack is None else math.ceil(buy / pack),
        used_for=tuple(dict.fromkeys((w.mark, w.service) for w in group)),
        by=group[0].by,
    )


def _on_shelf(what: str, unit: str, shelf: dict[str, ShelfItem]) -> ShelfItem | None:
    """What of the shelf is that thing: by its name, or a fluid by the grade behind the comma; in a unit of its kind."""
    name = " ".join(what.casefold().split())
    grade = name.partition(", ")[2]
    found = shelf.get(name) or (shelf.get(grade) if grade else None)
    return found if found is not None and _base(found.unit)[0] == _base(unit)[0] else None


def _base(unit: str) -> tuple[str, Decimal]:
    """The unit that amounts of that kind are added up in, and how much of it one `unit` is."""
    if unit in L_PER:
        return "L", Decimal(repr(L_PER[unit]))
    return ("g", _GRAMS[unit]) if unit in _GRAMS else (unit, Decimal(1))


def _plain(amount: Decimal) -> Decimal:
    """Without closing noughts and never in powers of ten, to a millionth."""
    figure = round(amount, 6).normalize()
    return figure if figure == 0 or figure.as_tuple().exponent <= 0 else figure.quantize(Decimal(1))  # type: ignore[operator]
