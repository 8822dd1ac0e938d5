"""The forms that change the workshop: hours, days off, who can do what, prices, orders."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.bayplan.orders import Order
from fleetcare.bayplan.workshop import FigureKind, OpenHours, figure_kind
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr, tr_book, tr_count
from fleetcare.page.cards.asking import AskCard, Choice, Field, Group, with_problem
from fleetcare.page.cards.frame import BAY_URL, WORKSHOP_URL, Link, full_frame
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.workshop import Shop
from fleetcare.page.cards.workshop_words import (
    GROUPS,
    LABELS,
    PROFILES,
    clock_text,
    figure_text,
    hours_told,
    setup_cost_field,
    setup_minutes_field,
)
from fleetcare.wording import joined, sentence, weekday_name

HOURS, CLOSED, SKILLS, PRICES, ORDERS = "hours", "closed", "skills", "prices", "orders"
SHOWN_FIELD, PROFILE_FIELD = "shown", "profile"
DAYS_FIELD, FROM_FIELD, UNTIL_FIELD, WHO_FIELD, UNUSUAL_FIELD = "days", "from", "until", "who", "unusual"
COUNTRY_FIELD, REGION_FIELD, ALSO_FIELD, OPEN_FIELD = "country", "region", "also", "open_on"
SKILLS_FIELD, ORDERS_FIELD = "skills", "orders"
MOST_SPELLS = 20
"""Spells of a week that one form can hold."""


@dataclass(frozen=True, slots=True)
class Around:
    """What the forms stand in. shown: the state of the garage's own values that a form was shown in."""

    garage: Garage
    reader: Person
    today: date
    shown: str


def hours_form(shop: Shop, around: Around, typed: Typed) -> AskCard:
    """The weekly hours: a group for each spell, and one that is empty."""
    count = len(shop.hours)
    groups = [_spell(place, each, shop, typed) for place, each in enumerate(shop.hours)]
    if count < MOST_SPELLS:
        groups.append(_spell(count, None, shop, typed))
    said = tr("A spell without a day is taken away.")
    return _form(tr("Opening hours"), HOURS, tuple(groups), around, typed, said=(said,), anchor="hours")


def _spell(place: int, each: OpenHours | None, shop: Shop, typed: Typed) -> Group:
    def field(name: str) -> str:
        return f"{name}.{place}"

    is_typed = any(typed.has(field(name)) for name in (DAYS_FIELD, FROM_FIELD, UNTIL_FIELD))
    there = {str(day) for day in each.weekdays} if each is not None and not is_typed else set()
    chosen = set(typed.all_of(field(DAYS_FIELD))) | there
    unusual = typed.has(field(UNUSUAL_FIELD)) or (each is not None and each.is_unusual and not is_typed)
    who = "" if each is None else ", ".join(shop.names.get(key, key) for key in each.people)
    fields = (
        Field(
            field(DAYS_FIELD),
            tr("Days"),
            "many",
            choices=tuple(Choice(str(day), weekday_name(day), str(day) in chosen) for day in range(7)),
        ),
        Field(
            field(FROM_FIELD),
            tr("From, such as 09:00"),
            value=typed.of(field(FROM_FIELD), "" if each is None else clock_text(each.start)),
        ),
        Field(
            field(UNTIL_FIELD),
            tr("Until, such as 17:00"),
            value=typed.of(field(UNTIL_FIELD), "" if each is None else clock_text(each.end)),
        ),
        Field(
            field(WHO_FIELD),
            tr("Who works then"),
            value=typed.of(field(WHO_FIELD), who),
            hint=tr("Names with commas between. Nobody named: every mechanic."),
        ),
        Field(
            field(UNUSUAL_FIELD),
            tr("What it costs"),
            "many",
            choices=(Choice("yes", tr("Outside usual hours: an hour of it costs more"), unusual),),
        ),
    )
    heading = tr("More hours") if each is None else hours_told(each)
    return Group(fields, heading, is_folded=True, is_open=each is None and not shop.hours)


def closed_form(shop: Shop, around: Around, off: Mapping[str, str], typed: Typed) -> AskCard:
    """Public holidays and the garage's own days off. off: what stands in the four fields, by field."""
    fields = (
        Field(
            COUNTRY_FIELD,
            tr("Country, two letters"),
            value=typed.of(COUNTRY_FIELD, shop.country),
            hint=tr("As in ISO 3166: US, DE. Empty: public holidays are open as usual."),
        ),
        Field(
            REGION_FIELD,
            tr("Region"),
            value=typed.of(REGION_FIELD, shop.region),
            hint=tr("Its letters within the country: NY, NW. Empty: holidays of the whole country alone."),
        ),
        Field(
            ALSO_FIELD,
            tr("Closed besides"),
            "area",
            typed.of(ALSO_FIELD, off.get(ALSO_FIELD, "")),
            tr("A line for each day, with why: 2026-12-24 inventory."),
        ),
        Field(
            OPEN_FIELD,
            tr("Open although it is a holiday"),
            "area",
            typed.of(OPEN_FIELD, off.get(OPEN_FIELD, "")),
            tr("A line for each day: 2026-06-04."),
        ),
    )
    return _form(tr("Days off"), CLOSED, (Group(fields),), around, typed, anchor="closed")


def skills_form(shop: Shop, around: Around, people: Sequence[Person], typed: Typed) -> AskCard:
    """What each person can do. people: those who are asked about."""
    fields = tuple(
        Field(
            f"{SKILLS_FIELD}.{person.key}",
            person.name,
            value=typed.of(f"{SKILLS_FIELD}.{person.key}", ", ".join(shop.skills.get(person.key, ()))),
        )
        for person in people
    )
    known = joined([f"“{tr_book(each)}”" if tr_book(each) == each else each for each in sorted(shop.known_skills)])
    said = (
        tr("Words with commas between. Jobs ask for: {skills}.", skills=known)
        if known
        else tr("Words with commas between."),
        tr("Once one skill is said, a job that wants one is planned only for people who have it. All empty: anybody."),
    )
    return _form(tr("Who can do what"), SKILLS, (Group(fields),), around, typed, said=said, anchor="skills")


def prices_form(shop: Shop, around: Around, typed: Typed) -> AskCard:
    """The figures, each with its meaning and what holds without the garage's own."""
    profile = typed.of(PROFILE_FIELD, shop.profile)
    whose = Field(
        PROFILE_FIELD,
        tr("Whose figures hold where nothing is changed here"),
        "one",
        choices=tuple(Choice(key, sentence(tr(words)), key == profile) for key, words in PROFILES.items()),
    )
    groups = [Group((whose,))]
    for heading, keys in GROUPS:
        fields = tuple(_figure(key, shop, typed) for key in keys)
        is_open = any(key in shop.own for key in keys)
        groups.append(Group(fields, tr(heading), is_folded=True, is_open=is_open))
    setups = tuple(field for place, _ in enumerate(shop.prices.setups) for field in _setup(place, shop, typed))
    groups.append(Group(setups, tr("Work that services of one visit share"), is_folded=True))
    said = tr("Money is in the garage’s own. An empty field is the usual figure again.")
    return _form(
        tr("What bay days are weighed by"), PRICES, tuple(groups), around, typed, said=(said,), anchor="prices"
    )


def _figure(key: str, shop: Shop, typed: Typed) -> Field:
    figure, usual = shop.figures.get(key), figure_text(key, getattr(shop.default, key))
    means = tr_book(figure.means) if figure is not None else ""
    hint = tr("{means} Usual: {usual}.", means=means, usual=usual)
    kind = figure_kind(key)
    label = tr("{label}, money", label=tr(LABELS[key])) if kind is FigureKind.MONEY else tr(LABELS[key])
    there = figure_text(key, getattr(shop.prices, key))
    return Field(key, label, "digits", typed.of(key, there), hint.strip())


def _setup(place: int, shop: Shop, typed: Typed) -> tuple[Field, Field]:
    each = shop.prices.setups[place]
    name, figure = sentence(tr_book(each.name)), shop.figures.get(each.name)
    means = tr_book(figure.means) if figure is not None else ""
    minutes, cost = setup_minutes_field(each.name), setup_cost_field(each.name)
    return (
        Field(
            minutes,
            tr("{name}, minutes", name=name),
            "digits",
            typed.of(minutes, str(each.minutes)),
            means,
            slug=f"minutes-{place}",
        ),
        Field(
            cost,
            tr("{name}, money", name=name),
            "digits",
            typed.of(cost, figure_text("arrive", each.cents)),
            slug=f"cost-{place}",
        ),
    )


def orders_form(orders: Sequence[Order], around: Around, shorts: Collection[str], typed: Typed) -> AskCard:
    """What comes after what. shorts: some short names of services, to choose from in words."""
    there = "\n".join(f"{each.first}, {each.then}, {each.gap_days}" for each in orders)
    field = Field(
        ORDERS_FIELD,
        tr("Orders"),
        "area",
        typed.of(ORDERS_FIELD, there),
        tr(
            "A line for each: what is done first, what comes then, and days between: drive axle oil, wheel bearings, 0."
        ),
    )
    said = (
        tr("Services are named as on pages."),
        tr_count(
            "This garage has {number} of them: {names}.",
            "This garage has {number} of them, such as {names}.",
            len(shorts),
            number=len(shorts),
            names=joined([*shorts][:4]),
        ),
    )
    return _form(tr("What comes after what"), ORDERS, (Group((field,)),), around, typed, said=said, anchor=ORDERS)


def _form(
    heading: str,
    what: str,
    groups: tuple[Group, ...],
    around: Around,
    typed: Typed,
    *,
    said: tuple[str, ...] = (),
    anchor: str,
) -> AskCard:
    marked, problem = with_problem(groups, typed.problem_field, typed.problem)
    return AskCard(
        frame=full_frame(
            heading, garage=around.garage, reader=around.reader, today=around.today, here=BAY_URL, can_enter=False
        ),
        heading=heading,
        action_url=f"{WORKSHOP_URL}/{what}",
        button=tr("Save the change"),
        groups=marked,
        said=said,
        problem=problem,
        hidden=((SHOWN_FIELD, around.shown),),
        back=Link(tr("The workshop"), f"{WORKSHOP_URL}#{anchor}"),
        foot=tr("Bay days are planned by it from then on; inked ones stay."),
    )
