"""What the commands for whole vehicles have in common: words turned into values, and what they answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fleetcare.cli.frame import say, show_data
from fleetcare.cli.given_words import one_of, say_moved
from fleetcare.errors import BadInput, shown
from fleetcare.language import saying

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date
    from decimal import Decimal

    from fleetcare.actions.settle import Settled
    from fleetcare.assemble import Parts
    from fleetcare.fleet.duty import DutySplit
    from fleetcare.fleet.people import Person
    from fleetcare.fleet.vehicle import Meter, Vehicle
    from fleetcare.quantities import DistanceUnit, MeterUnit
    from fleetcare.work.new_vehicle import Answer


def told(
    vehicle: Vehicle,
    settled: Settled,
    said: str,
    *,
    as_json: bool,
    changed: Sequence[str] = (),
    with_dates: bool = True,
) -> None:
    """What stands here now, in words or as data, and which dates moved."""
    from fleetcare.page.as_data import line_data

    if as_json:
        gone = vehicle.out_of_fleet_on
        show_data(
            {
                "mark": vehicle.mark,
                "name": vehicle.name,
                "gone": gone.isoformat() if gone else None,
                "changed": list(changed),
                "moved": [line_data(settled.outlooks[0], each.line) for each in settled.moved],
            }
        )
        return
    say(said)
    if with_dates:
        say_moved(settled)


def name_of(name: str) -> str:
    """A name. Raises BadInput for one that cannot be."""
    from fleetcare.intake.text import clean_text

    return clean_text(name, field="name", required=True)


def person_key(people: Sequence[Person], called: str | None) -> str:
    """The key of a person; empty for nobody. Raises NotFound."""
    from fleetcare.fleet.naming import person_called

    return person_called(people, called).key if called else ""


def marks_of(there: Sequence[Vehicle], called: Sequence[str] | None) -> tuple[str, ...]:
    """Marks of the vehicles called so. Raises NotFound."""
    from fleetcare.fleet.naming import vehicle_called

    return tuple(vehicle_called(there, each).mark for each in called or ())


def counts_of(unit: str, usual: DistanceUnit) -> MeterUnit | None:
    """What the dial counts; None without one. Raises BadInput."""
    from fleetcare.quantities import MeterUnit

    if unit.strip().casefold() == "none":
        return None
    return one_of(MeterUnit, unit) if unit else MeterUnit(usual.value)


def amount_of(text: str, counts: MeterUnit | None, field: str) -> Decimal | None:
    """What a dial shows, None if nothing was given. Raises BadInput."""
    from fleetcare.intake.numbers import parse_dial

    if not text:
        return None
    return parse_dial(text, counts, field=field)[0]


def yearly_of(text: str, unit: DistanceUnit) -> float | None:
    """Km in a year, None if nothing was given. Raises BadInput."""
    from fleetcare.intake.numbers import parse_amount
    from fleetcare.quantities import km_from

    if not text:
        return None
    amount = parse_amount(text, field="yearly")
    if not amount:
        raise BadInput("That is no distance of a year.", remedy="Give more than nothing.", field="yearly")
    return km_from(amount, unit)


def split_of(text: str, parts: Parts) -> DutySplit:
    """A usual mix; all daily if nothing was given. Raises BadInput."""
    from fleetcare.fleet.duty import ALL_DAILY
    from fleetcare.intake.splits import parse_split

    return parse_split(text, duties=parts.rules.duties) if text else ALL_DAILY


def meters_of(counts: MeterUnit | None, digits: int) -> tuple[Meter, ...]:
    """The one dial, or none."""
    from fleetcare.fleet.vehicle import HOUR_METER, ODOMETER, Meter
    from fleetcare.quantities import MeterUnit

    if counts is None:
        return ()
    return (Meter(HOUR_METER if counts is MeterUnit.HOURS else ODOMETER, counts, digits),)


def answers_of(
    lines: set[tuple[str, str]], done: Sequence[str] | None, new: Sequence[str] | None, without: Sequence[str] | None
) -> dict[tuple[str, str], Answer]:
    """What was said of each line. Raises BadInput for one that the vehicle does not have, or said twice."""
    from fleetcare.work.new_vehicle import Answer, Past

    found: dict[tuple[str, str], Answer] = {}
    given = [(each.partition("=")[0], _done(each)) for each in done or ()]
    given += [(each, Answer(Past.NEW)) for each in new or ()]
    given += [(each, Answer(Past.LEFT)) for each in without or ()]
    for name, answer in given:
        part, _, service = name.strip().partition("/")
        if (part, service) not in lines:
            raise BadInput(
                saying("There is no service {name} on it.", name=shown(name, 60)),
                remedy="See: fleetcare vehicle parts KIND",
                field="done",
            )
        if (part, service) in found:
            raise BadInput(saying("{name} is said twice.", name=name), remedy="Once, please.", field="done")
        found[part, service] = answer
    return found


def _done(text: str) -> Answer:
    """`engine/engine-oil=2026-02-01@82000`, with a day, a dial, or both."""
    from fleetcare.intake.dates import parse_day
    from fleetcare.intake.numbers import parse_amount
    from fleetcare.work.new_vehicle import Answer, Past

    day, _, dial = text.partition("=")[2].partition("@")
    on: date | None = parse_day(day, field="done") if day else None
    return Answer(Past.DONE, on, parse_amount(dial, field="done") if dial else None)
