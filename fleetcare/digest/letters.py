"""The weekly letter of the garage, and the way in."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime

from fleetcare.digest import phrases
from fleetcare.digest.bay_day import BayDayNotice, bay_day_line
from fleetcare.digest.cards import ButtonCard, LetterCard, LinkCard, SectionCard
from fleetcare.digest.concerns import MOST_ELSEWHERE, Concerns, Kept, ServiceAhead, concerns_of
from fleetcare.digest.envelope import FootLine, dated, lead, letter_of, road, stop_lines, vehicle_address
from fleetcare.digest.moments import zone_of
from fleetcare.digest.reading_letters import reading_button
from fleetcare.digest.standing_words import SAFETY, rod_words
from fleetcare.digest.values import Letter, LetterKind
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import later_count, tr
from fleetcare.wording import count_words, counted_words, day_words, weekday_name, weekday_words
from fleetcare.work.record import WorkDone


def garage_letter(
    *,
    garage: Garage,
    person: Person,
    outlooks: Sequence[VehicleOutlook],
    kept: Collection[str],
    work: Sequence[WorkDone],
    bookings: Sequence[Booking],
    today: date,
    base_url: str,
    reading_links: Mapping[str, str],
    link_until: date,
    stop_url: str,
    change_url: str = "",
    missed: str = "",
    ahead: Sequence[ServiceAhead] | None = None,
    bay_days: Sequence[BayDayNotice] = (),
) -> Letter | None:
    """The weekly letter to one person, or None if nothing concerns them.

    outlooks: all vehicles in the garage's order. kept: marks of those the person keeps or drives. reading_links: mark
    to signed link, for the vehicles whose reading is asked of this person. today: in the person's zone.
    change_url: page where another day or hour is chosen, if there is one. missed: a sentence about letters before this
    one that were not written or did not arrive. ahead: `services_ahead` of the outlooks, if it is known already.
    bay_days: those the person is down for, soonest first.
    """
    concerns = concerns_of(
        person,
        garage=garage,
        outlooks=outlooks,
        kept=kept,
        work=work,
        bookings=bookings,
        reading_links=reading_links,
        today=today,
        ahead=ahead,
        has_bay_days=bool(bay_days),
    )
    if concerns is None:
        return None
    buttons = [reading_button(each.outlook, each.reading_link, link_until, today) for each in concerns.readings_wanted]
    sections = [SectionCard(tr("You in the bay"), lines=tuple(bay_day_line(each, today) for each in bay_days))]
    sections += [_kept_section(each, person, concerns, base_url) for each in concerns.kept]
    sections += [_left_out_section(concerns, base_url), _elsewhere_section(concerns, base_url)]
    html_foot, plain_foot = rod_words(any(line.rod for section in sections for line in section.lines))
    after = " ".join(filter(None, (phrases.elsewhere_sentence(concerns.past_late_elsewhere), missed)))
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=dated(person, today),
        subject=tr(
            "Garage letter, {day}: {summary}", day=day_words(today, today), summary=_summary(concerns, len(bay_days))
        ),
        lead=lead(person, _clauses(concerns, len(bay_days)), after),
        button=buttons[0] if buttons else None,
        more_links=tuple(buttons[1:]),
        sections=tuple(section for section in sections if section.lines or section.notes),
        foot=((tr(SAFETY), None), *_rhythm(person, stop_url, change_url)),
        html_foot=html_foot,
        plain_foot=plain_foot,
    )
    return letter_of(LetterKind.GARAGE, person, card, stop_url)


def come_in_letter(*, garage: Garage, person: Person, link: str, until: datetime) -> Letter:
    """The link that lets somebody in. until: instant its time is over; shown in the person's own zone.

    Raises BadInput if the person's zone is unknown.
    """
    local = until.astimezone(zone_of(person))
    name = phrases.one_line(garage.name)
    card = LetterCard(
        garage=phrases.garage_title(garage),
        dated=tr("For {name}", name=phrases.one_line(person.name)),
        subject=tr("Your way in to {name}{word}", name=name, word="" if "garage" in name.casefold() else tr(" garage")),
        lead=lead(person, [(tr("here is the link that lets you in"), "")], ""),
        button=ButtonCard(
            tr("Come in"),
            link,
            tr(
                "It works once, until {local} on {day}. Do not pass it on: whoever has it comes in as you.",
                local=f"{local:%H:%M}",
                day=weekday_words(local.date(), local.date()),
            ),
        ),
        foot=((tr("If you did not ask for it, leave it: nobody comes in without this letter."), None),),
    )
    return letter_of(LetterKind.COME_IN, person, card, "")


def _clauses(concerns: Concerns, bay_days: int) -> list[tuple[str, str]]:
    """What is wanted of the reader, the most urgent first."""
    today = concerns.today
    clauses = []
    if concerns.readings_wanted:
        clauses.append(phrases.reading_clause([each.outlook for each in concerns.readings_wanted], today))
    if concerns.past_late:
        clauses.append(phrases.past_late_clause(concerns.past_late, today))
    if with_findings := [each for each in concerns.kept if each.findings]:
        clauses.append(phrases.finding_clause(with_findings, today))
    if with_held := [each for each in concerns.kept if each.held]:
        clauses.append(phrases.held_clause(with_held))
    if asked_after := [each for each in concerns.kept if each.is_asked_after]:
        clauses.append(phrases.clock_clause(asked_after))
    if concerns.open:
        clauses.append(phrases.open_clause(concerns.open, today))
    if bay_days:
        clauses.append((tr("you are down for {days}", days=counted_words(bay_days, "bay day", "bay days")), ""))
    return clauses or [phrases.nothing_clause(concerns)]


def _summary(concerns: Concerns, bay_days: int) -> str:
    """The subject after its date: at most two things, the most urgent first."""
    findings = sum(len(each.findings) for each in concerns.kept)
    held = sum(len(each.held) for each in concerns.kept)
    asked = sum(each.is_asked_after for each in concerns.kept)
    counts = (
        (len(concerns.readings_wanted), later_count("reading wanted", "readings wanted")),
        (len(concerns.past_late), later_count("service past late", "services past late")),
        (bay_days, later_count("bay day for you", "bay days for you")),
        (findings, later_count("second look wanted", "second looks wanted")),
        (held, later_count("reading to settle", "readings to settle")),
        (asked, later_count("vehicle laid up or not", "vehicles laid up or not")),
        (len(concerns.open), later_count("window open", "windows open")),
        (len(concerns.past_late_elsewhere), later_count("service past late elsewhere", "services past late elsewhere")),
    )
    said = [counted_words(count, one, more) for count, (one, more) in counts if count]
    return ", ".join(said[:2]) or tr(
        "{windows} ahead", windows=counted_words(len(concerns.services), "window", "windows")
    )


def _kept_section(kept: Kept, person: Person, concerns: Concerns, base_url: str) -> SectionCard:
    today, vehicle = concerns.today, kept.outlook.vehicle
    notes = [phrases.finding_note(each, today) for each in kept.findings]
    notes += [phrases.held_note(each, today) for each in kept.held]
    notes.append(phrases.clock_note(kept.outlook, today))
    if not kept.reading_link and kept.says_something:
        notes.append(phrases.last_read_note(kept.outlook, today))
    if kept.spoken_for and kept.says_something:
        notes.append(phrases.spoken_for_note(kept.spoken_for, today))
    name = phrases.name_of(kept.outlook)
    keeps = vehicle.keeper == person.key
    return SectionCard(
        heading=tr("{name}, which you keep", name=name) if keeps else tr("{name}, which you drive", name=name),
        lines=tuple(phrases.line_card(each, today) for each in kept.services),
        notes=tuple(filter(None, notes)),
        link=LinkCard(tr("All of {name}", name=name), vehicle_address(base_url, vehicle.mark)),
    )


def _left_out_section(concerns: Concerns, base_url: str) -> SectionCard:
    count = concerns.services_left_out
    said = tr("{number} more of your services come up within eight weeks.", number=count_words(count).capitalize())
    return SectionCard(
        tr("More of yours"), notes=(said,) if count else (), link=LinkCard(tr("All of them"), road(base_url))
    )


def _elsewhere_section(concerns: Concerns, base_url: str) -> SectionCard:
    """The rest of the garage: what is past late, and what is open."""
    told = concerns.past_late_elsewhere[:MOST_ELSEWHERE]
    more = len(concerns.past_late_elsewhere) - len(told)
    notes = [
        tr("{further} more past late.", further=count_words(more).capitalize()) if more else "",
        phrases.windows_open_sentence(concerns.open_elsewhere, concerns.today, MOST_ELSEWHERE),
    ]
    return SectionCard(
        heading=tr("Elsewhere in the garage"),
        lines=tuple(phrases.line_card(each, concerns.today) for each in told),
        notes=tuple(filter(None, notes)),
        link=LinkCard(tr("See the road ahead"), road(base_url)),
    )


def _rhythm(person: Person, stop_url: str, change_url: str) -> tuple[FootLine, ...]:
    """When the letter comes, and how to change or stop it."""
    if person.letter_weekday is None:
        return ((tr("This letter was asked for; none comes by itself."), None),)
    comes = tr(
        "This letter comes on {weekday}s, if there is something to say.", weekday=weekday_name(person.letter_weekday)
    )
    change = ((comes, LinkCard(tr("Other day or hour"), change_url)),) if change_url else ((comes, None),)
    return (*change, *stop_lines(stop_url))
