"""Letters about a bay day, two days ahead and when it moves, from what a plan says of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from fleetcare.digest import phrases
from fleetcare.digest.cards import ButtonCard, LetterCard, LineCard, LinkCard, SectionCard
from fleetcare.digest.envelope import dated, lead, letter_of, road, stop_lines
from fleetcare.digest.standing_words import SAFETY
from fleetcare.digest.values import Letter, LetterKind
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr
from fleetcare.wording import day_words, joined, of_vehicle, span_words, weekday_name


@dataclass(frozen=True, slots=True)
class BayDayNotice:
    """One bay day as its mechanic is told of it.

    key: names it in the plan and stays when it moves. starts_at: first hand on it, timezone-aware, in the garage's own
    zone. services: their titles, in the order of the work. hands_on_minutes: up to the first pause. then: what follows,
    in one sentence (`Then it stands 24 h while the sealant cures; Sunday 12:20 another 1 h 20.`), or nothing.
    with_names: first names of who else works on it. why: why that day, in one sentence. sheet: number of its job sheet,
    or 0. cautions: short and in the imperative. moved_from: the day it was on before.
    """

    key: str
    mark: str
    name: str
    starts_at: datetime
    services: tuple[str, ...]
    hands_on_minutes: int
    then: str = ""
    with_names: tuple[str, ...] = ()
    why: str = ""
    sheet: int = 0
    cautions: tuple[str, ...] = ()
    is_inked: bool = True
    moved_from: date | None = None

    def __post_init__(self) -> None:
        if self.starts_at.tzinfo is None:
            raise ValueError("a bay day begins in a zone")
        if not self.services:
            raise ValueError("a bay day has something to be done")


def bay_day_letter(
    *, garage: Garage, person: Person, notice: BayDayNotice, today: date, base_url: str, stop_url: str
) -> Letter:
    """The word to the mechanic, two days ahead. today: in the person's zone."""
    name, on = phrases.one_line(notice.name), notice.starts_at.date()
    weekday = weekday_name(on.weekday())
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=dated(person, today),
        subject=tr("You in the bay on {weekday}: {name}", weekday=weekday, name=name),
        lead=lead(
            person,
            [
                (
                    tr(
                        "{name} is in the bay on {day} at {starts_at}",
                        name=name,
                        day=_day(on, today),
                        starts_at=f"{notice.starts_at:%H:%M}",
                    ),
                    tr(", and you are down for it"),
                )
            ],
            tr("It is pencilled, not inked yet.") if not notice.is_inked else "",
        ),
        button=_sheet(notice, base_url),
        sections=(*_cautions(notice), _section(notice, today)),
        foot=((tr(SAFETY), None), _road_line(base_url), *stop_lines(stop_url)),
    )
    return letter_of(LetterKind.BAY_DAY, person, card, stop_url)


def bay_day_moved_letter(
    *, garage: Garage, person: Person, notice: BayDayNotice, today: date, base_url: str, stop_url: str
) -> Letter:
    """The word that a bay day moved. notice: as it is now, with `moved_from`. Raises ValueError without it."""
    if notice.moved_from is None:
        raise ValueError("a bay day that moved was on another day before")
    name, on = phrases.one_line(notice.name), notice.starts_at.date()
    was = day_words(notice.moved_from, today)
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=dated(person, today),
        subject=tr(
            "{of_vehicle} bay day moved: {day}, was {was}",
            of_vehicle=of_vehicle(name),
            day=day_words(on, today),
            was=was,
        ),
        lead=lead(
            person,
            [
                (
                    tr(
                        "{of_vehicle} bay day moved to {day} at {starts_at}",
                        of_vehicle=of_vehicle(name),
                        day=_day(on, today),
                        starts_at=f"{notice.starts_at:%H:%M}",
                    ),
                    tr("; it was {was}", was=was),
                )
            ],
            tr("It is pencilled, not inked yet.") if not notice.is_inked else "",
        ),
        button=_sheet(notice, base_url),
        sections=(*_cautions(notice), _section(notice, today)),
        foot=((tr(SAFETY), None), _road_line(base_url), *stop_lines(stop_url)),
    )
    return letter_of(LetterKind.BAY_DAY_MOVED, person, card, stop_url)


def _day(on: date, today: date) -> str:
    return f"{weekday_name(on.weekday())} {day_words(on, today)}"


def bay_day_line(notice: BayDayNotice, today: date) -> LineCard:
    """One bay day in a letter: the vehicle's mark, what is to be done, when, and with whom."""
    services = "; ".join(phrases.inside(phrases.one_line(each)) for each in notice.services)
    beside = (
        tr(", with {names}", names=joined([phrases.one_line(each) for each in notice.with_names]))
        if notice.with_names
        else ""
    )
    told = [
        tr("{day}, {time}.", day=_day(notice.starts_at.date(), today), time=f"{notice.starts_at:%H:%M}")
        if notice.is_inked
        else tr(
            "{day}, {time}, pencilled.", day=_day(notice.starts_at.date(), today), time=f"{notice.starts_at:%H:%M}"
        ),
        tr("Hands-on {span}{beside}.", span=span_words(notice.hands_on_minutes), beside=beside),
        phrases.one_line(notice.then),
    ]
    return LineCard(
        mark=notice.mark,
        title=f"{phrases.one_line(notice.name)}, {services}",
        rod=(),
        gauge="",
        worn="",
        dates=" ".join(filter(None, told)),
        standing="",
        is_past_late=False,
    )


def _section(notice: BayDayNotice, today: date) -> SectionCard:
    why = phrases.one_line(notice.why)
    return SectionCard(tr("What is to be done"), lines=(bay_day_line(notice, today),), notes=(why,) if why else ())


def _cautions(notice: BayDayNotice) -> tuple[SectionCard, ...]:
    told = tuple(phrases.one_line(each) for each in notice.cautions)
    return (SectionCard(tr("Before you begin"), notes=told),) if told else ()


def _sheet(notice: BayDayNotice, base_url: str) -> ButtonCard | None:
    if not notice.sheet:
        return None
    address = f"{base_url}/work/{notice.sheet}"
    return ButtonCard(
        tr("Open sheet {sheet}", sheet=f"{notice.sheet:04d}"), address, tr("What to do, in order, with its figures.")
    )


def _road_line(base_url: str) -> tuple[str, LinkCard]:
    return (tr("All that lies ahead:"), LinkCard(tr("the road ahead"), road(base_url)))
