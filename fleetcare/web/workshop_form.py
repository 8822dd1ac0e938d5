"""What the forms of the workshop send: checked at each field, as the tables of the garage's own file and as words."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from fleetcare.actions.change_workshop import ValueChanged
from fleetcare.bayplan.orders import Order
from fleetcare.bayplan.problem import SetUp
from fleetcare.bayplan.workshop import FIGURES, FigureKind, OpenHours, WorkshopPrices, figure_kind
from fleetcare.errors import BadInput, NotFound, shown
from fleetcare.fleet.naming import person_called
from fleetcare.fleet.people import Person
from fleetcare.intake.chains import parse_time
from fleetcare.intake.dates import parse_day
from fleetcare.intake.numbers import parse_whole
from fleetcare.intake.sheet_words import figure
from fleetcare.intake.text import clean_text
from fleetcare.language import saying
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.workshop_forms import (
    ALSO_FIELD,
    COUNTRY_FIELD,
    DAYS_FIELD,
    FROM_FIELD,
    MOST_SPELLS,
    OPEN_FIELD,
    ORDERS_FIELD,
    PROFILE_FIELD,
    REGION_FIELD,
    SKILLS_FIELD,
    UNTIL_FIELD,
    UNUSUAL_FIELD,
    WHO_FIELD,
)
from fleetcare.page.cards.workshop_words import PROFILES, money_text, setup_cost_field, setup_minutes_field
from fleetcare.settings.days_off import DaysOff
from fleetcare.settings.own_workshop import closed_table, figure_table, hours_tables
from fleetcare.settings.workshop_file import MOST_GAP_DAYS, Workshop

MOST_LINES = 100
_LONGEST = 120


@dataclass(frozen=True, slots=True)
class Sent:
    """What a form changes: tables of the garage's own file (None: the usual again), and the words for the log."""

    tables: Mapping[str, Any]
    changes: Sequence[ValueChanged]


def hours_sent(typed: Typed, there: Workshop, usual: Workshop, people: Sequence[Person]) -> Sent:
    """The weekly hours. Raises BadInput at its field."""
    hours = tuple(each for place in range(MOST_SPELLS + 1) if (each := _spell(typed, place, there, people)) is not None)
    if not hours:
        raise BadInput(
            "The workshop would never be open.", remedy="Give at least one spell a day.", field=f"{DAYS_FIELD}.0"
        )
    if _told(hours) == _told(there.hours):
        return Sent({}, ())
    table = None if _told(hours) == _told(usual.hours) else hours_tables(hours)
    return Sent({"open": table}, (ValueChanged("open", _told(there.hours), _told(hours)),))


def _spell(typed: Typed, place: int, there: Workshop, people: Sequence[Person]) -> OpenHours | None:
    def of(name: str) -> str:
        return typed.of(f"{name}.{place}").strip()

    days = tuple(sorted({int(day) for day in typed.all_of(f"{DAYS_FIELD}.{place}") if day in "0123456" and day}))
    if not days:
        if place >= len(there.hours) and (of(FROM_FIELD) or of(UNTIL_FIELD)):
            raise BadInput("On which days?", remedy="Tick them.", field=f"{DAYS_FIELD}.{place}")
        return None
    start, end = (_minute(of(name), f"{name}.{place}") for name in (FROM_FIELD, UNTIL_FIELD))
    if end <= start:
        raise BadInput(
            "The workshop would close before it opens.",
            remedy="Give a later time; a night is two spells.",
            field=f"{UNTIL_FIELD}.{place}",
        )
    names = [name.strip() for name in of(WHO_FIELD).split(",") if name.strip()]
    try:
        keys = tuple(dict.fromkeys(person_called(people, name).key for name in names))
    except NotFound as nobody:
        raise BadInput(nobody.words(), field=f"{WHO_FIELD}.{place}") from None
    unusual = typed.has(f"{UNUSUAL_FIELD}.{place}")
    premium = round(there.prices.unusual_per_hour / 60) if unusual else 0
    return OpenHours(days, start, end, keys, premium, unusual)


def _minute(text: str, field: str) -> int:
    found = parse_time(text, field=field)
    return found.hour * 60 + found.minute


def _told(hours: Sequence[OpenHours]) -> str:
    return "; ".join(
        f"{' '.join(table['days'])} {table['from']}-{table['until']}"
        + (f" ({', '.join(table['people'])})" if "people" in table else "")
        + (" unusual" if "unusual" in table else "")
        for table in hours_tables(hours)
    )


def closed_sent(typed: Typed, there: Workshop) -> Sent:
    """The days off. Raises BadInput at its field."""
    also = []
    for line in _lines(typed, ALSO_FIELD):
        day, _, why = line.partition(" ")
        also.append(
            (parse_day(day, field=ALSO_FIELD), clean_text(why, field=ALSO_FIELD, limit=_LONGEST, required=True))
        )
    opened = tuple(parse_day(line, field=OPEN_FIELD) for line in _lines(typed, OPEN_FIELD))
    country, region = (typed.of(field).strip().upper() for field in (COUNTRY_FIELD, REGION_FIELD))
    off = DaysOff(country[:8], region[:8], tuple(dict(also).items()), opened)
    if off == there.days_off:
        return Sent({}, ())
    return Sent({"closed": closed_table(off)}, (ValueChanged("closed", _off_told(there.days_off), _off_told(off)),))


def off_fields(off: DaysOff) -> dict[str, str]:
    """The days off as they stand in the fields."""
    return {
        ALSO_FIELD: "\n".join(f"{day.isoformat()} {why}" for day, why in off.also),
        OPEN_FIELD: "\n".join(day.isoformat() for day in off.open_on),
    }


def _off_told(off: DaysOff) -> str:
    def days(given: Sequence[date]) -> str:
        return " ".join(day.isoformat() for day in given)

    told = [" ".join(each for each in (off.country, off.region) if each)]
    told += [days([day for day, _ in off.also])] if off.also else []
    told += [f"open {days(off.open_on)}"] if off.open_on else []
    return "; ".join(each for each in told if each)


def skills_sent(typed: Typed, there: Workshop, people: Sequence[Person]) -> Sent:
    """What each of these people can do; what is said of others stays. Raises BadInput at its field."""
    skills = {key: tuple(words) for key, words in there.skills.items()}
    for person in people:
        field = f"{SKILLS_FIELD}.{person.key}"
        if not typed.has(field):
            continue
        given = [clean_text(each, field=field, limit=_LONGEST) for each in typed.of(field).split(",")]
        words = tuple(dict.fromkeys(each for each in given if each))
        if words or person.key in skills:
            skills[person.key] = words
    if not any(skills.values()):
        skills = {}
    if skills == there.skills:
        return Sent({}, ())
    table = {key: list(words) for key, words in skills.items()} or None
    return Sent({"skills": table}, (ValueChanged("skills", _who(there.skills), _who(skills)),))


def _who(skills: Mapping[str, Sequence[str]]) -> str:
    return "; ".join(f"{key}: {', '.join(words)}" for key, words in skills.items())


def prices_sent(typed: Typed, there: Workshop, usual: Mapping[str, WorkshopPrices], own: Mapping[str, Any]) -> Sent:
    """The figures that are another now. usual: the shipped prices of each profile. Raises BadInput at its field."""
    tables, changes = dict[str, Any](), list[ValueChanged]()
    profile = typed.of(PROFILE_FIELD, there.profile)
    if profile not in PROFILES:
        raise BadInput("Nothing is said of whose figures hold.", remedy="Choose one.", field=PROFILE_FIELD)
    if profile != there.profile:
        tables["profile"] = None if profile == next(iter(PROFILES)) else profile
        changes.append(ValueChanged("profile", there.profile, profile))
    values = dict[str, Any]()
    for key in FIGURES:
        if not typed.has(key):
            continue
        default, before = getattr(usual[profile], key), getattr(there.prices, key)
        value = _figure(typed.of(key), key) if typed.of(key).strip() else default
        if value == before:
            continue
        values[key] = value
        tables[key] = None if value == default else figure_table(_in_file(key, value), own.get(key))
        changes.append(ValueChanged(key, _in_log(key, before), _in_log(key, value)))
    setups = tuple(_setup(typed, each) for each in there.prices.setups)
    for before_, after in zip(there.prices.setups, setups, strict=True):
        if after != before_:
            changes.append(ValueChanged(after.name, _setup_told(before_), _setup_told(after)))
    if setups != there.prices.setups:
        tables["setup"] = _setup_tables(setups, usual[profile].setups, own.get("setup"))
    try:
        replace(there.prices, **values, setups=setups)
    except BadInput as bad:
        is_share = bad.field in FIGURES and figure_kind(bad.field) is FigureKind.SHARE
        raise BadInput(
            saying("{given} cannot be.", given=shown(typed.of(bad.field))),
            remedy="Give it in per cent, from 10 to 100." if is_share else bad.remedy,
            field=bad.field,
        ) from None
    return Sent(tables, changes)


def _figure(text: str, key: str) -> float:
    """A figure as it is typed: a share in per cent, money with its cents."""
    kind = figure_kind(key)
    if kind is FigureKind.COUNT:
        return parse_whole(text.strip(), least=0, most=100_000, field=key)
    if kind is FigureKind.SHARE:
        return float(figure(text.strip().removesuffix("%"), key, places=1) / 100)
    if kind is FigureKind.WEIGHT:
        return float(figure(text, key))
    return int(figure(text, key, places=2) * 100)


def _in_file(key: str, value: float) -> Decimal | int:
    kind = figure_kind(key)
    if kind is FigureKind.COUNT:
        return int(value)
    return Decimal(money_text(int(value))) if kind is FigureKind.MONEY else Decimal(f"{round(value, 3):g}")


def _in_log(key: str, value: float) -> str:
    kind = figure_kind(key)
    if kind is FigureKind.MONEY:
        return money_text(int(value))
    return f"{round(value * 100, 1):g} %" if kind is FigureKind.SHARE else f"{round(value, 3):g}"


def _setup(typed: Typed, there: SetUp) -> SetUp:
    minutes_field, cost_field = setup_minutes_field(there.name), setup_cost_field(there.name)
    if not typed.has(minutes_field):
        return there
    minutes = parse_whole(typed.of(minutes_field).strip(), least=0, most=10_000, field=minutes_field)
    return SetUp(there.name, minutes, int(figure(typed.of(cost_field), cost_field, places=2) * 100))


def _setup_told(each: SetUp) -> str:
    return f"{each.minutes} min {money_text(each.cents)}"


def _setup_tables(setups: Sequence[SetUp], usual: Sequence[SetUp], there: Any) -> list[dict[str, Any]] | None:
    """The set-ups that differ from the shipped ones; the garage's own words on one stay."""
    words = {each.get("name"): each for each in there if isinstance(each, dict)} if isinstance(there, list) else {}
    shipped = {each.name: each for each in usual}
    return [
        {
            "name": each.name,
            "minutes": each.minutes,
            "cost": Decimal(money_text(each.cents)),
            **{name: said for name, said in words.get(each.name, {}).items() if name in ("means", "status")},
        }
        for each in setups
        if each != shipped.get(each.name)
    ] or None


def orders_sent(typed: Typed, there: Workshop, shorts: Collection[str]) -> Sent:
    """What comes after what. shorts: of every service of the book. Raises BadInput at its field."""
    found = list[Order]()
    for line in _lines(typed, ORDERS_FIELD):
        parts = [part.strip() for part in line.split(",")]
        if len(parts) not in (2, 3) or not parts[0] or not parts[1]:
            raise BadInput(
                saying("{line} is no order.", line=shown(line)),
                remedy="Write what is done first, a comma, and what comes then.",
                field=ORDERS_FIELD,
            )
        first, then = (_short(part, shorts) for part in parts[:2])
        gap = parse_whole(parts[2], least=0, most=MOST_GAP_DAYS, field=ORDERS_FIELD) if len(parts) == 3 else 0
        found.append(Order(first, then, gap))
    orders = tuple({(each.first, each.then): each for each in found}.values())
    if orders == there.prices.orders:
        return Sent({}, ())
    tables = [{"first": each.first, "then": each.then, "gap_days": each.gap_days} for each in orders] or None
    return Sent({"order": tables}, (ValueChanged("order", _in_order(there.prices.orders), _in_order(orders)),))


def _short(given: str, shorts: Collection[str]) -> str:
    found = next((short for short in shorts if short.casefold() == given.casefold()), None)
    if found is None:
        nobody = NotFound("service", given, shorts)
        raise BadInput(nobody.words(), field=ORDERS_FIELD)
    return found


def _in_order(orders: Sequence[Order]) -> str:
    return "; ".join(f"{each.first}, {each.then}, {each.gap_days}" for each in orders)


def _lines(typed: Typed, field: str) -> list[str]:
    lines = [line.strip() for line in typed.of(field).splitlines() if line.strip()]
    if len(lines) > MOST_LINES:
        raise BadInput(
            saying("{lines} lines are more than can be taken.", lines=len(lines)),
            remedy=saying("Give {most} at most.", most=MOST_LINES),
            field=field,
        )
    return lines
