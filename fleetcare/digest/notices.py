"""Letters about what happened once: a service past late, a finding, and letters that did not arrive."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.digest import phrases
from fleetcare.digest.cards import LetterCard, LinkCard, SectionCard
from fleetcare.digest.concerns import MOST_ELSEWHERE, OpenFinding, ServiceAhead
from fleetcare.digest.envelope import dated, lead, letter_of, road, stop_lines, vehicle_address
from fleetcare.digest.standing_words import SAFETY, rod_words
from fleetcare.digest.values import DeliveryState, Letter, LetterKind, LetterPlace
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import later, tr, tr_book
from fleetcare.wording import count_words, counted_words, day_words, days_words, sentence

STANDS_UNTIL_SEEN = later(
    "If it may touch the brakes, the steering, the wheels, the coupling or the fuel, leave "
    "the vehicle standing until somebody qualified has seen it."
)
SUBJECT_ROOM = 60
"""Signs of a finding that a subject has room for."""


def past_late_letter(
    *,
    garage: Garage,
    person: Person,
    services: Sequence[ServiceAhead],
    today: date,
    base_url: str,
    stop_url: str,
) -> Letter:
    """The word to the keeper that services went past their late date. services: not empty, most urgent first."""
    told, more = services[:MOST_ELSEWHERE], len(services) - len(services[:MOST_ELSEWHERE])
    first = services[0]
    lines = tuple(phrases.line_card(each, today) for each in told)
    html_foot, plain_foot = rod_words(any(line.rod for line in lines))
    names = list(dict.fromkeys(phrases.name_of(each.outlook) for each in services))
    if len(services) == 1:
        days = days_words(first.window.days_past_late(today))
        clause = (tr("{called} is {days} past late", called=phrases.called(first), days=days), "")
        subject = tr("{names} is past late: {service}", names=names[0], service=tr_book(first.line.row.short))
    else:
        clause = (
            tr("{services} services are past late", services=count_words(len(services))),
            phrases.named_after_colon(services),
        )
        subject = tr(
            "{services} past late: {some}",
            services=counted_words(len(services), "service", "services").capitalize(),
            some=phrases.some(names),
        )
    only = names[0] if len(names) == 1 else ""
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=dated(person, today),
        subject=subject,
        lead=lead(person, [clause], tr("This is said once; the garage letter goes on naming what is past late.")),
        sections=(
            SectionCard(
                tr("Past late"),
                lines=lines,
                notes=(tr("{further} more past late.", further=count_words(more).capitalize()),) if more else (),
                link=LinkCard(tr("All of {only}", only=only), vehicle_address(base_url, first.outlook.vehicle.mark))
                if only
                else LinkCard(tr("See the road ahead"), road(base_url)),
            ),
        ),
        foot=((tr(SAFETY), None), *stop_lines(stop_url)),
        html_foot=html_foot,
        plain_foot=plain_foot,
    )
    return letter_of(LetterKind.PAST_LATE, person, card, stop_url)


def finding_letter(
    *,
    garage: Garage,
    person: Person,
    outlook: VehicleOutlook,
    findings: Sequence[OpenFinding],
    by: str,
    today: date,
    base_url: str,
    stop_url: str,
) -> Letter:
    """The word to the keeper of what was found on one vehicle. findings: not empty. by: first name of who found it."""
    name, first = phrases.name_of(outlook), findings[0]
    what = phrases.one_line(first.finding.text).rstrip(".")
    found = tr(
        "{things} on {name} {word} a second look",
        things=counted_words(len(findings), "thing", "things"),
        name=name,
        word=tr("wants") if len(findings) == 1 else tr("want"),
    )
    who = tr(", {one_line} says", one_line=phrases.one_line(by)) if by else ""
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=dated(person, today),
        subject=tr("Finding on {name}: {shortened}", name=name, shortened=_shortened(what))
        if len(findings) == 1
        else tr(
            "{findings} on {name}: {shortened}",
            findings=counted_words(len(findings), "finding", "findings").capitalize(),
            name=name,
            shortened=_shortened(what),
        ),
        lead=lead(person, [(found, f"{who}: {what}")] if len(findings) == 1 else [(found, who)]),
        sections=(
            SectionCard(
                tr("What was found"),
                notes=tuple(phrases.finding_note(each, today) for each in findings),
                link=LinkCard(tr("All of {name}", name=name), vehicle_address(base_url, outlook.vehicle.mark)),
            ),
        ),
        foot=(
            (tr(STANDS_UNTIL_SEEN), None),
            (tr(SAFETY), None),
            *stop_lines(stop_url),
        ),
    )
    return letter_of(LetterKind.FINDING, person, card, stop_url)


def not_delivered_letter(
    *,
    garage: Garage,
    person: Person,
    lost: Sequence[LetterPlace],
    names: Mapping[str, str],
    today: date,
    base_url: str,
) -> Letter:
    """The word to who keeps the list that letters did not arrive. lost: not empty. names: of people, by key."""
    readers = list(dict.fromkeys(phrases.one_line(names.get(each.person, each.person)) for each in lost))
    told, more = lost[:MOST_ELSEWHERE], len(lost) - len(lost[:MOST_ELSEWHERE])
    notes = [_lost_note(each, names, ZoneInfo(garage.zone), today) for each in told]
    if more:
        notes.append(tr("{further} more.", further=count_words(more).capitalize()))
    came_back = any(each.state is DeliveryState.FAILED for each in lost)
    clause = tr("{letters} did not arrive", letters=counted_words(len(lost), "letter", "letters"))
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=dated(person, today),
        subject=tr(
            "{letters} did not arrive: {some}",
            letters=sentence(counted_words(len(lost), "letter", "letters")),
            some=phrases.some(readers),
        ),
        lead=lead(
            person, [(clause, "")], tr("What they said, and still holds, is in the next letter to the same reader.")
        ),
        sections=(
            SectionCard(
                tr("What did not arrive"),
                notes=(
                    *notes,
                    *((tr("An address that does not work is put right in people.toml."),) if came_back else ()),
                ),
                link=LinkCard(tr("See the road ahead"), road(base_url)),
            ),
        ),
        foot=((tr("This letter comes to who keeps the list, once for each letter that is lost."), None),),
    )
    return letter_of(LetterKind.NOT_DELIVERED, person, card, "")


def _lost_note(lost: LetterPlace, names: Mapping[str, str], zone: ZoneInfo, today: date) -> str:
    name = phrases.one_line(names.get(lost.person, lost.person))
    on = day_words(lost.decided_at.astimezone(zone).date(), today)
    what = phrases.one_line(lost.subject) or lost.kind.value
    how = tr("came back") if lost.state is DeliveryState.FAILED else tr("could not be handed over in time")
    said = phrases.one_line(lost.last_answer).rstrip(".")
    return tr(
        "To {name} at {one_line}, {on}: “{what}” {how}{value}.",
        name=name,
        one_line=phrases.one_line(lost.to_mail),
        on=on,
        what=what,
        how=how,
        value=f": {said}" if said else "",
    )


def _shortened(text: str) -> str:
    if len(text) <= SUBJECT_ROOM:
        return text
    return f"{text[:SUBJECT_ROOM].rpartition(' ')[0] or text[:SUBJECT_ROOM]} …"
