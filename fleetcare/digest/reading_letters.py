"""The letters that ask for one reading: the first, a second and gentler one, and the word to the keeper."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fleetcare.digest import phrases
from fleetcare.digest.cards import ButtonCard, LetterCard, LinkCard
from fleetcare.digest.envelope import FootLine, dated, lead, letter_of, road, stop_lines, vehicle_address
from fleetcare.digest.values import Letter, LetterKind
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import later, tr, tr_count
from fleetcare.wording import day_words, joined, meter_words, of_vehicle

STANDING_STILL = later("Read it while the vehicle stands, never on the move.")


def reading_letter(
    *,
    garage: Garage,
    person: Person,
    outlook: VehicleOutlook,
    link: str,
    link_until: date,
    base_url: str,
    stop_url: str,
    today: date,
    reply_to: str = "",
) -> Letter:
    """The request to read one meter. outlook: with `wanted`; without it the odometer is asked for all the same.

    reply_to: the address that an answer by mail is taken at; empty if none is.
    """
    meter = _meter(outlook)
    clause = (
        phrases.reading_clause([outlook], today) if outlook.wanted else (tr("please read its {meter}", meter=meter), "")
    )
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=dated(person, today),
        subject=tr("{name_of}: what does the {meter} show?", name_of=phrases.name_of(outlook), meter=meter),
        lead=lead(person, [clause], tr("The dates of its services are reckoned from it; it takes half a minute.")),
        button=reading_button(outlook, link, link_until, today, reply_to),
        foot=(
            (tr(STANDING_STILL), None),
            _road(base_url),
            (tr("This letter comes once a month while a reading is wanted."), None),
            *stop_lines(stop_url),
        ),
    )
    return letter_of(LetterKind.READING, person, card, stop_url, reply_to)


def reading_again_letter(
    *,
    garage: Garage,
    person: Person,
    outlook: VehicleOutlook,
    link: str,
    link_until: date,
    base_url: str,
    stop_url: str,
    today: date,
    reply_to: str = "",
) -> Letter:
    """The second request of the month, which leaves it to its reader. outlook: with `wanted`, as for the first."""
    name, meter = phrases.name_of(outlook), _meter(outlook)
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=dated(person, today),
        subject=tr("{name}: its {meter}, when you pass by", name=name, meter=meter),
        lead=lead(
            person,
            [
                (
                    tr("when you next pass {name}, please read its {meter}", name=name, meter=meter),
                    _since(outlook, today),
                )
            ],
            tr("If you cannot get to it, leave it; nobody asks you again this month."),
        ),
        button=reading_button(outlook, link, link_until, today, reply_to),
        foot=((tr(STANDING_STILL), None), _road(base_url), *stop_lines(stop_url)),
    )
    return letter_of(LetterKind.READING_AGAIN, person, card, stop_url, reply_to)


def reading_missing_letter(
    *,
    garage: Garage,
    person: Person,
    outlook: VehicleOutlook,
    asked: Sequence[str],
    link: str,
    link_until: date,
    base_url: str,
    stop_url: str,
    today: date,
    reply_to: str = "",
) -> Letter:
    """The word to the keeper that a reading is still wanted. asked: first names of who was asked; may be empty."""
    name, meter = phrases.name_of(outlook), _meter(outlook)
    who = tr_count(
        "{names} was asked twice. ",
        "{names} were asked twice. ",
        len(asked),
        names=joined([phrases.one_line(each) for each in asked]),
    )
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=dated(person, today),
        subject=tr("{name}: its {meter} is still to be read", name=name, meter=meter),
        lead=lead(
            person,
            [
                (
                    tr("{of_vehicle} {meter} is still to be read", of_vehicle=of_vehicle(name), meter=meter),
                    _since(outlook, today),
                )
            ],
            tr(
                "{who}Until then its dates rest on reckoning alone, and their windows grow wider.",
                who=who if asked else "",
            ),
        ),
        button=reading_button(outlook, link, link_until, today, reply_to),
        foot=(
            (
                tr("If {name} stands, say so, and its dates wait:", name=name),
                LinkCard(tr("all of {name}", name=name), _page(base_url, outlook)),
            ),
            (tr(STANDING_STILL), None),
            *stop_lines(stop_url),
        ),
    )
    return letter_of(LetterKind.READING_MISSING, person, card, stop_url, reply_to)


def reading_button(outlook: VehicleOutlook, link: str, link_until: date, today: date, reply_to: str = "") -> ButtonCard:
    """Where the reading is entered, with last time's figure and the end of the link; never what is expected."""
    name, wanted = phrases.name_of(outlook), outlook.wanted
    last = ""
    if wanted is not None and wanted.last_value is not None:
        last = tr(
            "Last time {reading}", reading=meter_words(wanted.last_value, phrases.meter_unit(outlook, wanted.meter))
        )
        last += tr(", on {day}. ", day=day_words(wanted.last_on, today)) if wanted.last_on is not None else ". "
    if reply_to:
        last += tr("Or answer this letter with the figure alone in the first line.") + " "
    until = day_words(link_until, today)
    return ButtonCard(
        tr("Enter {of_vehicle} reading", of_vehicle=of_vehicle(name)),
        link,
        tr("{last}The link is yours, for {name} alone, until {until}.", last=last, name=name, until=until),
    )


def _meter(outlook: VehicleOutlook) -> str:
    return "odometer" if outlook.wanted is None else phrases.meter_name(outlook, outlook.wanted.meter)


def _since(outlook: VehicleOutlook, today: date) -> str:
    last_on = None if outlook.wanted is None else outlook.wanted.last_on
    return (
        tr(": there is no reading yet")
        if last_on is None
        else tr(": the last one is from {day}", day=day_words(last_on, today))
    )


def _page(base_url: str, outlook: VehicleOutlook) -> str:
    return vehicle_address(base_url, outlook.vehicle.mark)


def _road(base_url: str) -> FootLine:
    return (tr("All that lies ahead:"), LinkCard(tr("the road ahead"), road(base_url)))
