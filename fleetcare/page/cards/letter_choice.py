"""When a person's letters come: the day and hour of the weekly one, the zone, and the hours they are left alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.people import Garage, Person
from fleetcare.language import Tongue, tr
from fleetcare.page.cards.frame import LETTERS_URL, Frame, full_frame
from fleetcare.wording import weekday_name

DAY_FIELD, HOUR_FIELD, ZONE_FIELD, FROM_FIELD, UNTIL_FIELD = "day", "hour", "zone", "from", "until"
LANGUAGE_FIELD = "language"
NEVER = "never"


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing to choose from a list."""

    field: str
    label: str
    options: tuple[tuple[str, str], ...]
    chosen: str


@dataclass(frozen=True, slots=True)
class LetterChoiceCard:
    """The page. told: how it is now, or what was changed. zone: what stands in that field; problem: what is wrong."""

    frame: Frame
    seal: str
    told: str
    saved: bool
    mail: str
    choices: tuple[Choice, ...]
    quiet: tuple[Choice, ...]
    zone: str
    problem: str


def letter_choice_card(
    *,
    garage: Garage,
    reader: Person,
    today: date,
    seal: str,
    told: str,
    can_enter: bool,
    saved: bool = False,
    typed: Mapping[str, str] | None = None,
    problem: str = "",
    tongues: Sequence[Tongue] = (),
) -> LetterChoiceCard:
    """The page for one person. typed: what was sent and could not be taken, by field. tongues: to choose from."""
    given = typed or {}
    weekday = NEVER if reader.letter_weekday is None else str(reader.letter_weekday)
    hours = tuple((str(hour), f"{hour:02d}:00") for hour in range(24))
    days = (
        *((str(number), tr("{weekday}s", weekday=weekday_name(number))) for number in range(7)),
        (NEVER, tr("never")),
    )

    spoken = (("", tr("as the browser asks")), *((each.code, each.name) for each in tongues))

    def choice(field: str, label: str, options: Sequence[tuple[str, str]], now: str) -> Choice:
        return Choice(field, label, tuple(options), given.get(field, now))

    return LetterChoiceCard(
        frame=full_frame(
            tr("Your letters"), garage=garage, reader=reader, today=today, here=LETTERS_URL, can_enter=can_enter
        ),
        seal=seal,
        told=told,
        saved=saved,
        mail=reader.mail,
        choices=(
            choice(DAY_FIELD, tr("The garage letter comes on"), days, weekday),
            choice(HOUR_FIELD, tr("at"), hours, str(reader.letter_hour)),
            *(
                [choice(LANGUAGE_FIELD, tr("The language of pages, letters and calendar"), spoken, reader.language)]
                if len(spoken) > 2
                else []
            ),
        ),
        quiet=(
            choice(FROM_FIELD, tr("from"), hours, str(reader.quiet_from)),
            choice(UNTIL_FIELD, tr("until; the same hour twice means no such hours"), hours, str(reader.quiet_until)),
        ),
        zone=given.get(ZONE_FIELD, reader.zone),
        problem=problem,
    )
