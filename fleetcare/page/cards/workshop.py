"""The workshop as bay days are planned for it: hours, days off, who can do what, prices; with what is changed here."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.bayplan.orders import Order
from fleetcare.bayplan.problem import SetUp
from fleetcare.bayplan.workshop import Figure, OpenHours, WorkshopPrices
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr, tr_book, tr_count
from fleetcare.page.cards.changed import Changed, Written
from fleetcare.page.cards.frame import BAY_URL, Frame, full_frame
from fleetcare.page.cards.workshop_words import (
    GROUPS,
    LABELS,
    PROFILES,
    SECTIONS,
    clock_text,
    days_told,
    figure_text,
    week_told,
)
from fleetcare.wording import count_words, joined, sentence, weekday_words

OFF_AT_MOST = 6
"""Days off ahead that are named."""


@dataclass(frozen=True, slots=True)
class Shop:
    """What is in force, and what would be without the garage's own values.

    own: keys that the garage has of its own. off: days off ahead, with what they are called. known_skills: words that
    jobs use. names: of people, by key.
    """

    prices: WorkshopPrices
    figures: Mapping[str, Figure]
    hours: Sequence[OpenHours]
    skills: Mapping[str, Sequence[str]]
    profile: str
    country: str
    region: str
    default: WorkshopPrices
    own: Collection[str]
    off: Mapping[date, str]
    known_skills: Collection[str]
    names: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class HoursRow:
    """One spell of the week."""

    days: str
    time: str
    told: str


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One figure. default: what holds without the garage's own. is_own: it is the garage's."""

    label: str
    value: str
    default: str
    means: str
    is_own: bool


@dataclass(frozen=True, slots=True)
class WorkshopCard:
    """The page. done: what was just changed. may_change: links to the forms stand there."""

    frame: Frame
    lead: str
    done: Changed | None
    hours: tuple[HoursRow, ...]
    off_told: str
    off: tuple[str, ...]
    skills_told: str
    skills: tuple[str, ...]
    prices_told: str
    groups: tuple[tuple[str, tuple[FigureRow, ...]], ...]
    setups: tuple[FigureRow, ...]
    orders: tuple[str, ...]
    may_change: bool


def workshop_card(
    shop: Shop,
    *,
    garage: Garage,
    reader: Person,
    today: date,
    can_enter: bool,
    may_change: bool,
    done: Changed | None = None,
) -> WorkshopCard:
    """The page."""
    prices = shop.prices
    defaults = {each.name: each for each in shop.default.setups}
    return WorkshopCard(
        frame=full_frame(
            tr("The workshop"), garage=garage, reader=reader, today=today, here=BAY_URL, can_enter=can_enter
        ),
        lead=_lead(shop),
        done=done,
        hours=tuple(_hours(each, shop.names) for each in shop.hours),
        off_told=_off_told(shop),
        off=tuple(f"{sentence(weekday_words(day, today))}: {why}" for day, why in [*shop.off.items()][:OFF_AT_MOST]),
        skills_told=_skills_told(shop),
        skills=tuple(
            tr("{name}: {skills}", name=shop.names.get(key, key), skills=joined([tr_book(each) for each in words]))
            if words
            else tr("{name}: nothing that needs a skill", name=shop.names.get(key, key))
            for key, words in shop.skills.items()
        ),
        prices_told=tr(
            "Money is in the garage’s own. Where nothing is changed here, the figures of {profile} hold.",
            profile=tr(PROFILES[shop.profile]),
        ),
        groups=tuple((tr(heading), tuple(_figure(key, shop) for key in keys)) for heading, keys in GROUPS),
        setups=tuple(_setup(each, defaults.get(each.name), shop.figures) for each in prices.setups),
        orders=tuple(_order(each) for each in prices.orders),
        may_change=may_change,
    )


def workshop_changed(entries: Sequence[Written], *, looks_again: bool) -> Changed | None:
    """What the lines of one change say. looks_again: pencilled days are planned anew without being asked."""
    if not entries:
        return None
    told = []
    for entry in entries:
        label = LABELS.get(entry.what)
        if entry.what in SECTIONS:
            told.append(tr("Changed: {what}.", what=tr(SECTIONS[entry.what])))
        elif entry.what == "profile":
            told.append(tr("Changed: whose figures hold."))
        else:
            name = tr_book(entry.what) if label is None else tr(label)
            told.append(tr("{name}: {after}, it was {before}.", name=name, after=entry.after, before=entry.before))
    then = (
        tr("Pencilled days are looked at anew by it; inked ones stay.")
        if looks_again
        else tr("The next plan goes by it; what is pencilled stays until then.")
    )
    return Changed(" ".join(told), still=then)


def _lead(shop: Shop) -> str:
    days = {day for each in shop.hours for day in each.weekdays}
    bays = tr_count(
        "{number} bay is open on {days} for {hours} a week.",
        "{number} bays are open on {days} for {hours} a week.",
        shop.prices.bays,
        number=sentence(count_words(shop.prices.bays)) if shop.prices.bays > 1 else tr("One"),
        days=days_told(sorted(days)),
        hours=week_told(shop.hours),
    )
    return f"{bays} {tr('Bay days are planned by what stands here.')}"


def _hours(each: OpenHours, names: Mapping[str, str]) -> HoursRow:
    who = joined([names.get(key, key) for key in each.people]) if each.people else tr("every mechanic")
    told = tr("{who}; outside usual hours", who=who) if each.is_unusual else who
    return HoursRow(
        days_told(each.weekdays), tr("{start} to {end}", start=clock_text(each.start), end=clock_text(each.end)), told
    )


def _off_told(shop: Shop) -> str:
    where = ", ".join(each for each in (shop.country, shop.region) if each)
    public = (
        tr("Public holidays of {where} are closed.", where=where) if where else tr("Public holidays are open as usual.")
    )
    if not shop.off:
        return f"{public} {tr('No day off is known ahead.')}"
    return f"{public} {tr('The next days off:')}"


def _skills_told(shop: Shop) -> str:
    if not shop.skills:
        return tr("Nobody has said what each person can do, so everybody may do everything.")
    told = tr("A job that wants a skill is planned only for people who have it.")
    known = {each.casefold() for each in shop.known_skills}
    idle = sorted({each for words in shop.skills.values() for each in words if each.casefold() not in known})
    if idle:
        told = f"{told} {tr('No job asks for: {skills}.', skills=joined(idle))}"
    return told


def _figure(key: str, shop: Shop) -> FigureRow:
    figure = shop.figures.get(key)
    return FigureRow(
        label=tr(LABELS[key]),
        value=figure_text(key, getattr(shop.prices, key)),
        default=figure_text(key, getattr(shop.default, key)),
        means=tr_book(figure.means) if figure is not None else "",
        is_own=key in shop.own,
    )


def _setup(each: SetUp, default: SetUp | None, figures: Mapping[str, Figure]) -> FigureRow:
    def told(one: SetUp) -> str:
        return tr("{minutes} min, {cost}", minutes=one.minutes, cost=figure_text("arrive", one.cents))

    figure = figures.get(each.name)
    return FigureRow(
        label=sentence(tr_book(each.name)),
        value=told(each),
        default="" if default is None else told(default),
        means=tr_book(figure.means) if figure is not None else "",
        is_own=each != default,
    )


def _order(each: Order) -> str:
    first, then = tr_book(each.first), tr_book(each.then)
    if not each.gap_days:
        return tr("{first}, then {then}", first=first, then=then)
    return tr_count(
        "{first}, then {then} a day later at the soonest",
        "{first}, then {then} {days} days later at the soonest",
        each.gap_days,
        first=first,
        then=then,
        days=each.gap_days,
    )
