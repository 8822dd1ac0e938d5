"""What the dates of lines are made of, kept packed beside them, so that a whole fleet is worked out by columns.

A part of `settle` and of `refresh`, and like `settle` no action itself. What is kept here is made of the other tables
and can be made again at any time; it is written in the transaction that writes the dates it belongs to.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import lru_cache

from fleetcare.actions.gather import Rules
from fleetcare.actions.ports import PackedInputs, ReadView, WriteUnit
from fleetcare.book.rows import IntervalBook
from fleetcare.due.columns import FORM, known_paces, packed
from fleetcare.due.pace import KnownPace
from fleetcare.due.reckon import WorkedOut
from fleetcare.fleet.duty import DutyCycle
from fleetcare.usage.learned import FleetNumbers
from fleetcare.usage.priors import Priors


def rules_mark(rules: Rules) -> str:
    """Stands for the book, the duties and the numbers of the settings: inputs packed under others are made anew.

    The same whether what the garage learned is laid over the rules or not: that has its own number (`fit_number`).
    """
    return _mark_of(_Same.of(rules))


def fit_number(view: ReadView) -> int:
    """The number of the fit in force, 0 before any."""
    newest = view.newest_fit()
    return 0 if newest is None else newest.id or 0


def inputs_of(worked_out: Iterable[WorkedOut], mark: str, fit: int) -> dict[str, PackedInputs]:
    """The packed inputs by vehicle. mark: of the rules; fit: number of what was learned, 0 for nothing."""
    return {
        each.outlook.vehicle.mark: PackedInputs(
            each.outlook.vehicle.mark, mark, each.inputs.whole, packed(each.inputs, fit)
        )
        for each in worked_out
    }


def keep_inputs(unit: WriteUnit, now: Mapping[str, PackedInputs], before: Mapping[str, PackedInputs]) -> None:
    """Writes those that changed."""
    unit.put_line_inputs([inputs for mark, inputs in sorted(now.items()) if before.get(mark) != inputs])


def stored_inputs(view: ReadView, marks: Iterable[str] | None = None) -> dict[str, PackedInputs]:
    """What is kept for these vehicles (all if None), by mark."""
    return {each.mark: each for each in view.line_inputs(marks)}


def known_from(stored: Mapping[str, PackedInputs], mark: str, fit: int) -> dict[str, tuple[KnownPace, ...]]:
    """How far the paces of these vehicles were worked out before, under the rules of that mark and fit."""
    return {each.mark: known_paces(each.numbers, fit) for each in stored.values() if each.rules == mark}


@dataclass(frozen=True)
class _Same:
    """What a mark is made of, as a key: the book and the duties by identity, as they are large and there are few."""

    book: IntervalBook = field(compare=False)
    duties: Mapping[str, DutyCycle] = field(compare=False)
    book_id: int
    duties_id: int
    numbers: Priors

    @classmethod
    def of(cls, rules: Rules) -> _Same:
        """Without what was learned; what the garage set itself is kept."""
        shipped = FleetNumbers.of(Priors())
        learned = {f.name: getattr(shipped, f.name) for f in fields(shipped) if f.name not in rules.own_numbers}
        numbers = replace(rules.priors, **learned, fitted=False, fitted_words="")
        return cls(rules.book, rules.duties, id(rules.book), id(rules.duties), numbers)


@lru_cache(maxsize=4)
def _mark_of(key: _Same) -> str:
    # The cache keeps book and duties alive, so that their identities are not given to others.
    told = repr((FORM, sorted(key.book.rows.items()), sorted(key.duties.items()), key.numbers))
    return hashlib.sha256(told.encode()).hexdigest()[:32]
