"""What somebody types about a vehicle, field by field: text into values, each trouble named after its field."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import date
from decimal import Decimal

from starlette.datastructures import FormData, QueryParams

from fleetcare.book.rows import IntervalBook
from fleetcare.errors import BadInput, FleetcareError, shown
from fleetcare.fleet.duty import ALL_DAILY, DutyCycle, DutySplit
from fleetcare.fleet.entering import checked_mark, refuse_mixed_up, refuse_odd_days, refuse_shelf, refuse_taken
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import HOUR_METER, ODOMETER, Meter, Vehicle, VehicleKind
from fleetcare.intake.dates import parse_day
from fleetcare.intake.numbers import parse_dial, parse_whole
from fleetcare.intake.text import clean_text
from fleetcare.language import saying
from fleetcare.page.cards.entry import MOST_PARTS, PART_FIELD
from fleetcare.page.cards.frame import SEAL_FIELD
from fleetcare.page.cards.new_vehicle import (
    AT_PREFIX,
    CALLED_FIELD,
    DESCRIPTION_FIELD,
    DIAL_FIELD,
    DIGITS_FIELD,
    KEEPER_FIELD,
    KIND_FIELD,
    MARK_FIELD,
    NAME_FIELD,
    NO_DIAL,
    ON_PREFIX,
    PARTS_FIELD,
    PAST_PREFIX,
    SINCE_FIELD,
    UNIT_FIELD,
    VIN_FIELD,
    YEARLY_FIELD,
)
from fleetcare.page.cards.pulled_by import TOWED_FIELD, TOWED_OTHERS_FIELD
from fleetcare.page.cards.typed import Typed
from fleetcare.quantities import DistanceUnit, MeterUnit, km_from
from fleetcare.web.typed_marks import marks_typed
from fleetcare.work.new_vehicle import Answer, PartOffered, Past, Said, is_asked, line_field, parts_chosen

MOST_FIELDS = 800
LONGEST_VALUE = 2000
MOST_A_YEAR = Decimal(10_000_000)
STEP_OF = {
    NAME_FIELD: 1, KIND_FIELD: 1, CALLED_FIELD: 1, KEEPER_FIELD: 1,
    MARK_FIELD: 2, UNIT_FIELD: 2, DIAL_FIELD: 2, DIGITS_FIELD: 2, SINCE_FIELD: 2, YEARLY_FIELD: 2, TOWED_FIELD: 2,
    TOWED_OTHERS_FIELD: 2,
    PARTS_FIELD: 3,
    VIN_FIELD: 5, DESCRIPTION_FIELD: 5,
}  # fmt: skip
"""The step at which a field is asked; a line of the vehicle is asked at the fourth."""


def typed_in(given: FormData | QueryParams) -> Typed:
    """Everything that was typed, in order, without the seal and without files."""
    pairs = [
        (name, value[:LONGEST_VALUE])
        for name, value in given.multi_items()
        if isinstance(value, str) and name != SEAL_FIELD
    ]
    return Typed(tuple(pairs[:MOST_FIELDS]))


def step_of(field: str) -> int:
    """The step at which that field is asked for."""
    if field.startswith(PART_FIELD):
        return 2
    return STEP_OF.get(field, 4 if "." in field else 5)


def first_of(typed: Typed, *, keepers: Collection[str], reader: str) -> tuple[str, VehicleKind, str, str]:
    """Name, kind, what it is called and who keeps it. Raises BadInput."""
    name = clean_text(typed.of(NAME_FIELD), field=NAME_FIELD, required=True)
    kind = kind_of(typed.of(KIND_FIELD))
    called = clean_text(typed.of(CALLED_FIELD), field=CALLED_FIELD) or kind.value
    return name, kind, called, keeper_of(typed.of(KEEPER_FIELD) or reader, keepers)


def kind_of(text: str) -> VehicleKind:
    """The kind with that value. Raises BadInput."""
    try:
        return VehicleKind(text)
    except ValueError:
        raise BadInput("What is it?", remedy="Choose what comes nearest.", field=KIND_FIELD) from None


def keeper_of(key: str, keepers: Collection[str]) -> str:
    """The key, if that person may keep it. Raises BadInput."""
    if key and key not in keepers:
        raise BadInput(
            saying("{key} keeps no vehicle here.", key=shown(key, 40)), remedy="Choose somebody.", field=KEEPER_FIELD
        )
    return key


def vehicle_begun(
    typed: Typed,
    first: tuple[str, VehicleKind, str, str],
    *,
    garage: Garage,
    duties: Collection[str],
    others: Sequence[Vehicle],
    today: date,
) -> tuple[Vehicle, Decimal | None]:
    """The vehicle without its parts, and what its dial shows. Raises BadInput."""
    name, kind, called, keeper = first
    mark = checked_mark(typed.of(MARK_FIELD).strip().upper())
    refuse_shelf(mark)
    unit = typed.of(UNIT_FIELD)
    if unit not in {*(each.value for each in MeterUnit), NO_DIAL}:
        raise BadInput("What does the dial count?", remedy="Choose one.", field=UNIT_FIELD)
    meter = None if unit == NO_DIAL else MeterUnit(unit)
    distance = garage.unit if meter is None or meter.distance is None else meter.distance
    vehicle = Vehicle(
        mark=mark,
        name=name,
        kind=kind,
        called=called,
        unit=distance,
        keeper=keeper,
        description=clean_text(typed.of(DESCRIPTION_FIELD), field=DESCRIPTION_FIELD),
        vin=clean_text(typed.of(VIN_FIELD), field=VIN_FIELD),
        in_service_on=day_of(typed.of(SINCE_FIELD), SINCE_FIELD),
        entered_on=today,
        usual_split=mix_of(typed, duties) or ALL_DAILY,
        yearly_km=yearly_of(typed.of(YEARLY_FIELD), distance),
        meters=() if meter is None else (_meter(meter, typed.of(DIGITS_FIELD)),),
        towed_by=towed_of(typed, others),
    )
    if any(other.mark == mark for other in others):
        taken = next(other for other in others if other.mark == mark)
        raise BadInput(
            saying("The mark {mark} is that of {name}.", mark=mark, name=taken.name),
            remedy="Choose another one.",
            field=MARK_FIELD,
        )
    at_its_field(lambda: refuse_taken(vehicle, others), NAME_FIELD)
    at_its_field(lambda: refuse_mixed_up(vehicle, others), MARK_FIELD)
    refuse_odd_days(vehicle, today)
    return vehicle, dial_of(typed.of(DIAL_FIELD), meter)


def parts_of_form(typed: Typed, book: IntervalBook, kind: VehicleKind) -> tuple[PartOffered, ...]:
    """The parts that were ticked. Raises BadInput."""
    found: list[PartOffered] = []
    at_its_field(lambda: found.extend(parts_chosen(book, kind, typed.all_of(PARTS_FIELD))), PARTS_FIELD)
    if not found:
        raise BadInput("Tick at least one part.", remedy="Its services follow from it.", field=PARTS_FIELD)
    return tuple(found)


def said_of(typed: Typed, parts: Iterable[PartOffered], dial: Decimal | None, *, today: date, by: str) -> Said:
    """What is known of each line. Raises BadInput that names the line's own field."""
    answers = {}
    for part in parts:
        for row in part.rows:
            if not is_asked(row):
                continue
            where = line_field(part.key, row.key)
            past = typed.of(f"{PAST_PREFIX}{where}") or Past.UNKNOWN.value
            if past not in {each.value for each in Past}:
                raise BadInput("Done when?", remedy="Choose one.", field=f"{PAST_PREFIX}{where}")
            answer = Answer(Past(past))
            if answer.past is Past.DONE:
                on = day_of(typed.of(f"{ON_PREFIX}{where}"), f"{ON_PREFIX}{where}")
                at = typed.of(f"{AT_PREFIX}{where}").strip()
                shown_then = parse_dial(at, field=f"{AT_PREFIX}{where}")[0] if at else None
                answer = Answer(Past.DONE, on, shown_then)
            answers[part.key, row.key] = answer
    return Said(today, dial, answers, by)


def duties_in_order(duties: Iterable[DutyCycle]) -> tuple[DutyCycle, ...]:
    """Severe duties first, daily use last, as the mix is drawn."""
    return tuple(sorted(duties, key=lambda duty: (not duty.severe, duty.key)))


def day_of(text: str, field: str) -> date | None:
    """The day, None if nothing was given. Raises BadInput."""
    return parse_day(text.strip(), field=field) if text.strip() else None


def dial_of(text: str, meter: MeterUnit | None) -> Decimal | None:
    """What the dial shows, None if nothing was given. Raises BadInput."""
    if not text.strip():
        return None
    if meter is None:
        raise BadInput(
            "It has no dial, and something was typed here.", remedy="Choose one of the two.", field=DIAL_FIELD
        )
    return parse_dial(text, meter if text.strip()[-1:].isalpha() else None, field=DIAL_FIELD)[0]


def yearly_of(text: str, unit: DistanceUnit) -> float | None:
    """Km in a year, None if nothing was given. Raises BadInput."""
    if not text.strip():
        return None
    amount = parse_dial(text, field=YEARLY_FIELD)[0]
    if not 0 < amount <= MOST_A_YEAR:
        raise BadInput(
            "That cannot be the distance of a year.", remedy="Leave it empty, or look again.", field=YEARLY_FIELD
        )
    return km_from(amount, unit)


def mix_of(typed: Typed, duties: Collection[str]) -> DutySplit | None:
    """The usual mix, None if no part was chosen. Raises BadInput."""
    counts: dict[str, float] = {}
    for name, value in typed.pairs:
        if not name.startswith(PART_FIELD):
            continue
        duty = name.removeprefix(PART_FIELD)
        if duty not in duties or value not in {str(count) for count in range(MOST_PARTS + 1)}:
            raise BadInput(
                saying("{value} is no part of {duty}.", value=shown(value, 20), duty=shown(duty, 20)),
                remedy="Choose none, or 1 to 4.",
                field=name,
            )
        counts[duty] = float(value)
    return DutySplit.from_parts(counts) if any(counts.values()) else None


def towed_of(typed: Typed, others: Iterable[Vehicle]) -> tuple[str, ...]:
    """Marks of vehicles that are here, ticked or typed. Raises BadInput."""
    there = {other.mark for other in others}
    marks = typed.all_of(TOWED_FIELD)
    for mark in marks:
        if mark not in there:
            raise BadInput(
                saying("There is no vehicle {mark}.", mark=shown(mark, 20)),
                remedy="Choose one of these.",
                field=TOWED_FIELD,
            )
    more = marks_typed(typed.of(TOWED_OTHERS_FIELD), there, field=TOWED_OTHERS_FIELD)
    return tuple(dict.fromkeys((*marks, *more)))


def at_its_field(check: Callable[[], None], field: str) -> None:
    """Runs a check whose error names no field, and names it."""
    try:
        check()
    except BadInput as bad:
        raise BadInput(bad.what, remedy=bad.remedy, field=bad.field or field) from None
    except FleetcareError as error:
        raise BadInput(error.said, field=field) from None


def _meter(unit: MeterUnit, digits: str) -> Meter:
    whole = parse_whole(digits, least=3, most=9, field=DIGITS_FIELD) if digits.strip() else 6
    return Meter(HOUR_METER if unit is MeterUnit.HOURS else ODOMETER, unit, whole)
