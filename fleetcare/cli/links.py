"""Commands that hand things out: feed, digest, link."""

from __future__ import annotations

from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_bytes, show_data
from fleetcare.errors import BadInput, NotFound, shown
from fleetcare.language import saying, tr, tr_count
from fleetcare.wording import joined

if TYPE_CHECKING:
    from fleetcare.assemble import Parts
    from fleetcare.digest.values import Letter
    from fleetcare.fleet.access import Purpose
    from fleetcare.fleet.feed_choice import FeedChoice

T = TypeVar("T")


@command("feed")
def feed(
    name: Annotated[str, typer.Argument(help="A person; a vehicle or bay, for when it is taken; or garage.")],
    kinds: Annotated[
        str,
        typer.Option(
            "--kinds", help="What it holds: due,bay-days,standing,spoken-for,readings,look-again,laid-up; or all."
        ),
    ] = "",
    dates: Annotated[str, typer.Option("--dates", help="Which dates of a due service: early,likely,late.")] = "",
    vehicles: Annotated[str, typer.Option("--vehicles", help="Which vehicles, by mark or name; or all.")] = "",
    alarms: Annotated[str, typer.Option("--alarms", help="Alarms before a date: day,week,fortnight; or off.")] = "",
    choices: Annotated[bool, typer.Option("--choices", help="Show what it holds instead.")] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Writes a calendar to standard output, or chooses what that person's calendar holds."""
    from fleetcare.actions.links import choose_feed, feed_choice, publish_feed

    with parts_of(home) as parts:
        now = parts.clock.now()
        owner = _owner(parts, name)
        if not (kinds or dates or vehicles or alarms or choices):
            body = publish_feed(parts.store, parts.rules, **owner, now=now, base_url=parts.base_url)
            typer.echo(body, nl=False)
            return
        if "person" not in owner:
            raise BadInput("Only a person can choose.", remedy="Name one; other calendars hold what they hold.")
        choice = _chosen(parts, feed_choice(parts.store, owner["person"]), kinds, dates, vehicles, alarms)
        choose_feed(parts.store, parts.rules, owner["person"], choice, now=now, who="command", base_url=parts.base_url)
        choice = feed_choice(parts.store, owner["person"])
    held = {
        "kinds": [topic.value for topic in choice.topics],
        "dates": [which.value for which in choice.dates],
        "vehicles": list(choice.marks) or "all",
        "alarms": [alarm.name for alarm in choice.alarms] or "off",
    }
    if as_json:
        show_data(held)
    else:
        for what, which in held.items():
            say(f"{what}: {which if isinstance(which, str) else ', '.join(which)}")


@command("digest")
def digest(
    person: Annotated[str | None, typer.Argument(help="A person, by name or key; all if left out.")] = None,
    send: Annotated[bool, typer.Option("--send", help="Send it now, beside the weekly one.")] = False,
    html: Annotated[bool, typer.Option("--html", help="Show the HTML twin.")] = False,
    raw: Annotated[
        bool,
        typer.Option("--raw", help="This week's letter to one person, byte for byte as it goes out."),
    ] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Shows the garage letter, or sends it."""
    from fleetcare.actions.look_ahead import look_ahead
    from fleetcare.actions.send_letters import send_due_letters
    from fleetcare.actions.write_letters import garage_message, send_garage_letter, write_garage_letter

    if raw and (person is None or send or html or as_json):
        raise BadInput("Bytes are shown of one person's letter alone.", remedy="Give --raw with a name, nothing else.")
    with parts_of(home) as parts:
        now = parts.clock.now()
        if raw and person is not None:
            message = garage_message(parts.store, parts.rules, parts.desk, person, now=now)
            if message is None:
                raise BadInput(saying("Nothing concerns {person} now; no letter would go out.", person=shown(person)))
            show_bytes(message)
            return
        if person is None:
            names = [p.key for p in look_ahead(parts.store, parts.rules, now=now, marks=()).people if p.mail]
        else:
            names = [person]
        if send:
            written = sum(send_garage_letter(parts.store, parts.rules, parts.desk, name, now=now) for name in names)
            sent = send_due_letters(parts.store, parts.mailer, parts.clock)
            if as_json:
                show_data({"written": written, "sent": sent.sent, "refused": sent.failed, "put_off": sent.put_off})
                return
            say(
                tr(
                    "{written} written, {sent} sent, {refused} refused, {put_off} put off.",
                    written=written,
                    sent=sent.sent,
                    refused=sent.failed,
                    put_off=sent.put_off,
                )
            )
            if parts.mail_note:
                say(parts.mail_note)
            return
        letters = {name: write_garage_letter(parts.store, parts.rules, parts.desk, name, now=now) for name in names}
        if as_json:
            show_data([letter_data(name, letter) for name, letter in letters.items()])
            return
        for name, letter in letters.items():
            if letter is None:
                say(tr("Nothing concerns {person} now; no letter would go out.", person=name))
            elif html:
                say(letter.html)
            else:
                say(tr("Subject: {subject}", subject=letter.subject))
                say(tr("To: {whom}", whom=f"{letter.to_name} <{letter.to_mail}>"))
                say()
                say(letter.plain)


def letter_data(name: str, letter: Letter | None) -> dict[str, str | None]:
    """One letter as `digest --json` prints it; only the name if nothing concerns that person."""
    if letter is None:
        return {"person": name, "to": None, "subject": None, "plain": None, "html": None}
    return {
        "person": name,
        "to": letter.to_mail,
        "subject": letter.subject,
        "plain": letter.plain,
        "html": letter.html,
    }


@command("link")
def link(
    name: Annotated[str, typer.Argument(help="A person, a vehicle, bay, or garage.")],
    purpose: Annotated[
        str,
        typer.Option(
            "--for",
            help="For a person: sign-in, feed or api. A vehicle has its odometer page, and busy: a feed of the days it "
            "is taken, as has the bay. The garage has a feed without personal data.",
        ),
    ] = "",
    called: Annotated[str, typer.Option("--name", help="Which address of the feed: phone, laptop ...")] = "",
    days: Annotated[int | None, typer.Option("--days", min=1, help="Ends after so many days.")] = None,
    revoke: Annotated[bool, typer.Option("--revoke", help="End the links instead, or the one with that name.")] = False,
    rotate: Annotated[bool, typer.Option("--rotate", help="A new address in place of the one with that name.")] = False,
    rename: Annotated[str, typer.Option("--rename", help="Another name for the address with that name.")] = "",
    as_list: Annotated[
        bool, typer.Option("--list", help="Show the addresses of the feed and their last fetch.")
    ] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Makes, names, replaces or ends a sign-in, feed, api or odometer link. It is shown once; only its hash is kept."""
    from fleetcare.actions.links import make_key, publish_feed
    from fleetcare.actions.links import revoke as end_links
    from fleetcare.fleet.access import SIGN_IN_TIME, Purpose, link_address

    if sum((revoke, rotate, bool(rename), as_list)) > 1:
        raise BadInput("That is more than one thing to do with a link.", remedy="Give one of them at a time.")
    with parts_of(home) as parts:
        now = parts.clock.now()
        owner = _owner(parts, name)
        if rotate or rename or as_list or (revoke and called):
            _about_addresses(parts, owner, called=called, rotate=rotate, rename=rename, revoke=revoke, as_json=as_json)
            return
        wanted = _purposes(purpose, owner)
        if revoke:
            ended = end_links(parts.store, now=now, who="command", purposes=wanted, **owner)
            if as_json:
                show_data({"ended": ended})
            else:
                say(tr_count("{number} link ended.", "{number} links ended.", ended, number=ended))
            return
        made: dict[str, str] = {}
        for each in wanted:
            lasts = timedelta(days=days) if days else SIGN_IN_TIME if each is Purpose.SIGN_IN else None
            given = called if each is Purpose.FEED else ""
            key = make_key(
                parts.store,
                parts.keys,
                now=now,
                who="command",
                purpose=each,
                lasts=lasts,
                name=given,
                person=owner.get("person", ""),
                mark=owner.get("mark", ""),
            )
            made[each.value] = link_address(parts.base_url, each, key)
            if each is Purpose.FEED:
                publish_feed(parts.store, parts.rules, **owner, now=now, base_url=parts.base_url)
    if as_json:
        show_data(made)
    else:
        for what, where in made.items():
            say(f"{what}: {where}")


def _about_addresses(
    parts: Parts,
    owner: dict[str, str],
    *,
    called: str,
    rotate: bool,
    rename: str,
    revoke: bool,
    as_json: bool,
) -> None:
    """What is done with one address of a feed, or the list of them."""
    from fleetcare.actions.links import feed_addresses, rename_feed_key, revoke_feed_key, rotate_feed_key
    from fleetcare.fleet.access import Purpose, link_address

    now = parts.clock.now()
    if rotate:
        key = rotate_feed_key(parts.store, parts.keys, called or "calendar", now=now, who="command", **owner)
        where = link_address(parts.base_url, Purpose.FEED, key)
        if as_json:
            show_data({"feed": where})
        else:
            say(f"feed: {where}")
            say(tr("The old address says for 30 days that it was replaced."))
        return
    if rename:
        rename_feed_key(parts.store, called or "calendar", rename, now=now, who="command", **owner)
    elif revoke:
        revoke_feed_key(parts.store, called, now=now, who="command", **owner)
    there = [
        {
            "name": each.name,
            "short": each.short,
            "made": f"{each.made_at:%Y-%m-%d}",
            "replaced": None if each.replaced_at is None else f"{each.replaced_at:%Y-%m-%d}",
            "fetched": None if each.fetch is None else f"{each.fetch.at:%Y-%m-%dT%H:%MZ}",
            "by": None if each.fetch is None else each.fetch.reader,
        }
        for each in feed_addresses(parts.store, now=now, **owner)
    ]
    if as_json:
        show_data(there)
        return
    for one in there:
        fetched = tr("never fetched")
        if one["fetched"]:
            fetched = tr("last fetched {moment} by {reader}", moment=one["fetched"], reader=tr(one["by"] or ""))
        replaced = tr(", replaced {day}", day=one["replaced"]) if one["replaced"] else ""
        say(f"{one['name'] or one['short']}: {tr('made {day}', day=one['made'])}{replaced}, {fetched}")
    if not there:
        say(tr("There is no address."))


def _owner(parts: Parts, name: str) -> dict[str, str]:
    """Whose links are meant: a person's, a vehicle's, the bay's, or (neither) the garage's. Raises NotFound."""
    from fleetcare.actions.links import GARAGE, whose
    from fleetcare.fleet.access import BAY
    from fleetcare.fleet.people import Person

    try:
        found = whose(parts.store, name)
    except NotFound:
        if name.strip().casefold() == GARAGE:
            return {}
        if name.strip().casefold() == BAY:
            return {"mark": BAY}
        raise
    return {"person": found.key} if isinstance(found, Person) else {"mark": found.mark}


def _chosen(parts: Parts, before: FeedChoice, kinds: str, dates: str, vehicles: str, alarms: str) -> FeedChoice:
    """A choice with what was given on the command line in place of what was chosen before."""
    from dataclasses import replace

    from fleetcare.fleet.feed_choice import Topic, WindowDate

    known = {alarm.name: alarm for alarm in parts.rules.feeds.alarms}
    topics = {topic.value: topic for topic in Topic}
    which = {each.value: each for each in WindowDate}
    return replace(
        before,
        topics=_picked(kinds, topics, "kind of entry", everything="all") if kinds else before.topics,
        dates=_picked(dates, which, "date") if dates else before.dates,
        marks=before.marks if not vehicles else () if vehicles == "all" else tuple(_words(vehicles)),
        alarms=before.alarms if not alarms else () if alarms == "off" else _picked(alarms, known, "alarm"),
    )


def _picked(given: str, known: dict[str, T], what: str, everything: str = "") -> tuple[T, ...]:
    """The things named, each once, in the order they are known in."""
    words = _words(given.casefold())
    for word in words:
        if word not in known and word != everything:
            raise BadInput(
                saying("There is no {what} called {word}.", what=what, word=shown(word)),
                remedy=saying("It is {known}.", known=partial(joined, list(known), "or")),
            )
    return tuple(thing for word, thing in known.items() if word in words or (everything and everything in words))


def _words(given: str) -> list[str]:
    return [word.strip() for word in given.split(",") if word.strip()]


def _purposes(asked: str, owner: dict[str, str]) -> tuple[Purpose, ...]:
    from fleetcare.fleet.access import BAY, Purpose

    if "person" in owner:
        theirs = {each.value: each for each in (Purpose.SIGN_IN, Purpose.FEED, Purpose.API)}
        usual: tuple[Purpose, ...] = (Purpose.SIGN_IN, Purpose.FEED)
    elif owner.get("mark") == BAY:
        theirs = {"busy": Purpose.FEED, Purpose.FEED.value: Purpose.FEED}
        usual = (Purpose.FEED,)
    elif "mark" in owner:
        theirs = {Purpose.ODOMETER.value: Purpose.ODOMETER, "busy": Purpose.FEED}
        usual = (Purpose.ODOMETER,)
    else:
        theirs = {Purpose.FEED.value: Purpose.FEED}
        usual = (Purpose.FEED,)
    if not asked:
        return usual
    if (purpose := theirs.get(asked.strip().casefold())) is not None:
        return (purpose,)
    raise BadInput(
        saying("There is no link for {asked}.", asked=shown(asked)),
        remedy=saying("It is {theirs}.", theirs=partial(joined, list(theirs), "or")),
    )
