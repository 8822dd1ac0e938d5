"""When a vehicle stands: what is asked, the spells that were told, and the forms that answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.due.outlook import VehicleOutlook
from fleetcare.due.telling import clock_question, spell_words
from fleetcare.due.vehicle_state import spell_on
from fleetcare.page.cards.frame import vehicle_url
from fleetcare.wording import sentence

LAID_UP_ANCHOR = "#laid-up"
FIRST_FIELD, LAST_FIELD, OUT_FIELD = "from", "until", "out"
_SPELLS_AT_MOST = 6
_ASKED_AT_MOST = 20


@dataclass(frozen=True, slots=True)
class LayUpForms:
    """What the forms carry. lay_up_url, let_out_url: where they are sent; the second is empty while it runs.

    first, last, out: what stands in the three fields. problem: what is wrong with the field `problem_field`. is_open:
    the first form is unfolded. seal: what both carry.
    """

    lay_up_url: str
    let_out_url: str
    first: str
    last: str
    out: str
    problem: str
    problem_field: str
    is_open: bool
    seal: str = ""


@dataclass(frozen=True, slots=True)
class LaidUpCard:
    """The part of a vehicle's page about when it stands. told: the spells, newest first. forms: for its keeper."""

    question: str
    told: tuple[str, ...]
    forms: LayUpForms | None

    @property
    def is_shown(self) -> bool:
        """True if there is anything to show."""
        return bool(self.told or self.forms)


@dataclass(frozen=True, slots=True)
class Asked:
    """A vehicle that is asked about: it seems to stand, or to run while it is laid up. `told` follows the name."""

    mark: str
    name: str
    told: str

    @property
    def url(self) -> str:
        """Where it is answered."""
        return f"{vehicle_url(self.mark)}{LAID_UP_ANCHOR}"


@dataclass(frozen=True, slots=True)
class Tried:
    """A form that was sent and could not be taken: what stood in its fields, and what is wrong."""

    first: str = ""
    last: str = ""
    out: str = ""
    problem: str = ""
    problem_field: str = ""


def laid_up_card(outlook: VehicleOutlook, *, may_tell: bool, tried: Tried | None = None, seal: str = "") -> LaidUpCard:
    """The part of a vehicle's page about when it stands. may_tell: the reader keeps it. seal: what its forms carry."""
    vehicle, today = outlook.vehicle, outlook.today
    question = question_words(outlook)
    spells = sorted(vehicle.laid_up, reverse=True)[:_SPELLS_AT_MOST]
    return LaidUpCard(
        question=f"{vehicle.name} {question}" if question else "",
        told=tuple(f"{sentence(spell_words(spell, today))}." for spell in spells),
        forms=_forms(outlook, tried or Tried(), today, seal) if may_tell else None,
    )


def question_words(outlook: VehicleOutlook) -> str:
    """What is asked of the vehicle, empty if nothing is; goes on where its name ends."""
    return clock_question(outlook.vehicle, outlook.standing, outlook.moved, outlook.today)


def asked_after(outlooks: Sequence[VehicleOutlook]) -> tuple[Asked, ...]:
    """The vehicles that are asked about, in the garage's order."""
    found = (
        Asked(outlook.vehicle.mark, outlook.vehicle.name, f" {words}")
        for outlook in outlooks
        if (words := question_words(outlook))
    )
    return tuple(found)[:_ASKED_AT_MOST]


def _forms(outlook: VehicleOutlook, tried: Tried, today: date, seal: str) -> LayUpForms:
    vehicle, standing = outlook.vehicle, outlook.standing
    now_or_next = spell_on(vehicle, today) or min(
        (spell for spell in vehicle.laid_up if spell.first > today), default=None
    )
    out = max(today, now_or_next.first) if now_or_next else today
    first = standing.since.isoformat() if standing else ""
    return LayUpForms(
        lay_up_url=f"{vehicle_url(vehicle.mark)}/lay-up{LAID_UP_ANCHOR}",
        let_out_url=f"{vehicle_url(vehicle.mark)}/let-out{LAID_UP_ANCHOR}" if now_or_next else "",
        first=_day_again(tried.first) or first,
        last=_day_again(tried.last),
        out=_day_again(tried.out) or out.isoformat(),
        problem=tried.problem,
        problem_field=tried.problem_field,
        is_open=standing is not None or tried.problem_field in (FIRST_FIELD, LAST_FIELD),
        seal=seal,
    )


def _day_again(typed: str) -> str:
    """What was typed, if a date field can show it; what it cannot show is quoted by the problem above it."""
    try:
        return date.fromisoformat(typed).isoformat()
    except ValueError:
        return ""
