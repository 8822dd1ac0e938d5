"""One service more or less for a vehicle, or a dial more: what is asked, and what came of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from fleetcare.book.rows import BookRow
from fleetcare.due.more_services import ServicesOf
from fleetcare.due.telling import rule_words
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import HOUR_METER, Meter, Vehicle
from fleetcare.language import tr, tr_book
from fleetcare.page.cards.asking import AskCard, Choice, Field, Group, with_problem
from fleetcare.page.cards.edit_vehicle import DIAL_MORE, SERVICE_LESS, SERVICE_MORE, STAND_FIELD
from fleetcare.page.cards.frame import ROAD_URL, Link, bare_frame, vehicle_plate, vehicle_url
from fleetcare.page.cards.new_vehicle import past_words
from fleetcare.page.cards.typed import Typed
from fleetcare.quantities import MeterUnit
from fleetcare.wording import sentence, unit_name
from fleetcare.work.new_vehicle import Past

SERVICE_FIELD, PAST_FIELD, ON_FIELD, AT_FIELD = "service", "past", "on", "at"
OWN = "own"
"""Stands for a service that is in no book yet; the component behind a point: `rear-axle.own`."""
TITLE_FIELD, SHORT_FIELD, DISTANCE_FIELD, MONTHS_FIELD = "title", "short", "distance", "months"
HOURS_FIELD, REASON_FIELD = "hours", "reason"
UNIT_FIELD, DIGITS_FIELD, VALUE_FIELD, OFF_FIELD = "dial", "digits", "value", "off"


def service_value(component: str, service: str) -> str:
    """What the form sends for one service of one component."""
    return f"{component}.{service}"


def add_service_card(
    vehicle: Vehicle,
    typed: Typed,
    *,
    garage: Garage,
    today: date,
    services: Sequence[ServicesOf],
    stand: str,
    may_add_row: bool,
) -> AskCard:
    """A service more: one of the book's for one of the components, and when it was last done.

    may_add_row: the reader may put a service of the garage's own into the book, with an interval of its own.
    """
    chosen = typed.of(SERVICE_FIELD)
    groups = []
    for each in services:
        key = each.component.key
        choices = [
            Choice(
                service_value(key, row.key),
                tr_book(row.title),
                chosen == service_value(key, row.key),
                f"{sentence(rule_words(row.rule))}.",
            )
            for row in each.offered
        ]
        if may_add_row:
            own = service_value(key, OWN)
            choices.append(Choice(own, tr("One of our own"), chosen == own, tr("With the interval given below.")))
        if choices:
            field = Field(
                SERVICE_FIELD, tr_book(each.component.title), "one", choices=tuple(choices), slug=f"service-{key}"
            )
            is_open = any(choice.is_chosen for choice in choices)
            title = tr_book(each.component.title)
            heading = tr("{part}, {count}", part=title, count=len(each.offered)) if each.offered else title
            groups.append(Group((field,), heading, is_folded=len(services) > 1, is_open=is_open))
    if may_add_row:
        groups.append(_own_row(vehicle, typed, is_open=chosen.endswith(f".{OWN}")))
    groups.append(Group((_past(vehicle, typed, today),)))
    marked, problem = with_problem(tuple(groups), typed.problem_field, typed.problem)
    said = tr("What is carried already is not offered. Figures are a start; the vehicle’s own manual decides.")
    card = _card(
        tr("A service more for {name}", name=vehicle.name), tr("Add this service"), vehicle, garage, today, stand
    )
    return replace(
        card, action_url=f"{vehicle_url(vehicle.mark)}{SERVICE_MORE}", groups=marked, problem=problem, said=(said,)
    )


def _own_row(vehicle: Vehicle, typed: Typed, *, is_open: bool) -> Group:
    unit = unit_name(vehicle.unit)
    fields = (
        Field(TITLE_FIELD, tr("Title, such as Winch rope, look and respool"), value=typed.of(TITLE_FIELD)),
        Field(SHORT_FIELD, tr("Short name, at most 24 letters, such as winch rope"), value=typed.of(SHORT_FIELD)),
        Field(DISTANCE_FIELD, tr("Distance, {unit}", unit=unit), "digits", typed.of(DISTANCE_FIELD)),
        Field(MONTHS_FIELD, tr("Months"), "digits", typed.of(MONTHS_FIELD)),
        Field(HOURS_FIELD, tr("Running hours"), "digits", typed.of(HOURS_FIELD)),
        Field(REASON_FIELD, tr("Why this garage has it"), value=typed.of(REASON_FIELD)),
    )
    told = tr("It comes into the Handbook as a row of this garage’s own. Whichever of the figures comes first counts.")
    return Group(fields, tr("A service of our own"), told, is_folded=True, is_open=is_open)


def _past(vehicle: Vehicle, typed: Typed, today: date) -> Field:
    meter = vehicle.odometer or vehicle.hour_meter
    chosen = typed.of(PAST_FIELD) or Past.UNKNOWN.value
    then = [Field(ON_FIELD, tr("On"), "day", typed.of(ON_FIELD), latest=today.isoformat())]
    if meter is not None:
        in_hours = meter.unit is MeterUnit.HOURS
        label = tr("At, in hours") if in_hours else tr("At, in {unit}", unit=meter.unit.value)
        then.append(Field(AT_FIELD, label, "digits", typed.of(AT_FIELD)))
    choices = tuple(
        Choice(past.value, past_words(past), past.value == chosen) for past in (Past.UNKNOWN, Past.DONE, Past.NEW)
    )
    hint = tr("Not knowing is a good answer: a look comes first, then the interval.")
    return Field(PAST_FIELD, tr("When was it last done?"), "past", hint=hint, choices=choices, then=tuple(then))


def drop_service_card(
    vehicle: Vehicle, typed: Typed, *, garage: Garage, today: date, services: Sequence[ServicesOf], stand: str
) -> AskCard:
    """A service less: one of those that are carried."""
    chosen = typed.of(SERVICE_FIELD)
    groups = []
    for each in services:
        key = each.component.key
        choices = tuple(
            Choice(service_value(key, row.key), tr_book(row.title), chosen == service_value(key, row.key))
            for row in each.carried
        )
        slug = f"service-{key}"
        groups.append(Group((Field(SERVICE_FIELD, tr_book(each.component.title), "one", choices=choices, slug=slug),)))
    marked, problem = with_problem(tuple(groups), typed.problem_field, typed.problem)
    said = (
        tr("It is due no more. What was done of it stays in the history, and counts again if it is added once more."),
        tr("Leave on what the law or the vehicle’s own manual asks for."),
    )
    card = _card(tr("A service less for {name}", name=vehicle.name), tr("Take it off"), vehicle, garage, today, stand)
    return replace(
        card, action_url=f"{vehicle_url(vehicle.mark)}{SERVICE_LESS}", groups=marked, problem=problem, said=said
    )


def dial_card(
    vehicle: Vehicle, typed: Typed, *, garage: Garage, today: date, stand: str, unread: Sequence[str]
) -> AskCard:
    """A dial more, with what it shows; or one taken off again that nobody ever read. unread: keys of those."""
    chosen = typed.of(UNIT_FIELD)
    kinds = [] if vehicle.hour_meter else [(MeterUnit.HOURS.value, tr("An hour meter"))]
    if vehicle.odometer is None:
        kinds += [(MeterUnit.KM.value, tr("An odometer in km")), (MeterUnit.MI.value, tr("An odometer in miles"))]
    kinds += [(f"{OFF_FIELD}.{key}", _take_off(key)) for key in unread]
    fields = [
        Field(
            UNIT_FIELD,
            tr("Which dial?"),
            "one",
            choices=tuple(Choice(value, words, value == chosen) for value, words in kinds),
        ),
        Field(VALUE_FIELD, tr("What it shows today, if at hand"), "digits", typed.of(VALUE_FIELD)),
        Field(DIGITS_FIELD, tr("Digits of the dial, without tenths"), "digits", typed.of(DIGITS_FIELD, "6")),
    ]
    marked, problem = with_problem((Group(tuple(fields)),), typed.problem_field, typed.problem)
    said = tr("A dial that was changed for another one is told with its next reading; it is not a dial more.")
    card = _card(tr("A dial more for {name}", name=vehicle.name), tr("Save the dial"), vehicle, garage, today, stand)
    return replace(
        card, action_url=f"{vehicle_url(vehicle.mark)}{DIAL_MORE}", groups=marked, problem=problem, said=(said,)
    )


def _take_off(key: str) -> str:
    if key == HOUR_METER:
        return tr("Take the hour meter off again: nobody has read it")
    return tr("Take the odometer off again: nobody has read it")


def _card(heading: str, button: str, vehicle: Vehicle, garage: Garage, today: date, stand: str) -> AskCard:
    return AskCard(
        frame=bare_frame(heading, garage=garage, today=today, home_url=ROAD_URL),
        heading=heading,
        action_url="",
        button=button,
        groups=(),
        plate=vehicle_plate(vehicle),
        hidden=((STAND_FIELD, stand),),
        back=Link(tr("Back to {name}", name=vehicle.name), vehicle_url(vehicle.mark)),
    )


def added_words(title: str, row: BookRow, past: Past) -> tuple[str, ...]:
    """What is another now. title: of the component."""
    told = tr("{part}: {service} is added.", part=tr_book(title), service=tr_book(row.title))
    return (told, tr("Nobody knows when it was last done: a look comes first.")) if past is Past.UNKNOWN else (told,)


def dropped_words(title: str, row: BookRow) -> tuple[str, ...]:
    """The same of a service that was taken off."""
    return (
        tr("{part}: {service} is taken off.", part=tr_book(title), service=tr_book(row.title)),
        tr("What was done of it stays in the history."),
    )


def dial_words(meter: Meter, *, is_off: bool) -> tuple[str, ...]:
    """The same of a dial."""
    name = tr("the hour meter") if meter.unit is MeterUnit.HOURS else tr("the odometer")
    told = tr("{name} is taken off.", name=name) if is_off else tr("{name} is added.", name=name)
    return (sentence(told),)
