"""Commands that hand things out: feed, digest, link."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.errors import BadInput, shown

if TYPE_CHECKING:
    from fleetcare.digest.values import Letter
    from fleetcare.fleet.access import Purpose

Who = Annotated[str, typer.Argument(help="A person, by name or key.")]


@command("feed")
def feed(person: Who, home: Home = None) -> None:
    """Writes that person's calendar to standard output."""
    from fleetcare.actions.links import publish_feed

    parts = parts_of(home)
    try:
        body = publish_feed(parts.store, parts.rules, person, now=parts.clock.now(), base_url=parts.base_url)
    finally:
        parts.close()
    typer.echo(body, nl=False)


@command("digest")
def digest(
    person: Annotated[str | None, typer.Argument(help="A person, by name or key; all if left out.")] = None,
    send: Annotated[bool, typer.Option("--send", help="Send it now, beside the weekly one.")] = False,
    html: Annotated[bool, typer.Option("--html", help="Show the HTML twin.")] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Shows the garage letter, or sends it."""
    from fleetcare.actions.look_ahead import look_ahead
    from fleetcare.actions.send_letters import send_due_letters
    from fleetcare.actions.write_letters import send_garage_letter, write_garage_letter

    parts = parts_of(home)
    try:
        now = parts.clock.now()
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
            say(f"{written} written, {sent.sent} sent, {sent.failed} refused, {sent.put_off} put off.")
            if parts.mail_note:
                say(parts.mail_note)
            return
        letters = {name: write_garage_letter(parts.store, parts.rules, parts.desk, name, now=now) for name in names}
        if as_json:
            show_data([letter_data(name, letter) for name, letter in letters.items()])
            return
        for name, letter in letters.items():
            if letter is None:
                say(f"Nothing concerns {name} now; no letter would go out.")
            elif html:
                say(letter.html)
            else:
                say(f"Subject: {letter.subject}\nTo: {letter.to_name} <{letter.to_mail}>\n\n{letter.plain}")
    finally:
        parts.close()


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
    name: Annotated[str, typer.Argument(help="A person or a vehicle.")],
    purpose: Annotated[
        str, typer.Option("--for", help="For a person: sign-in, feed or api. A vehicle has its odometer page.")
    ] = "",
    days: Annotated[int | None, typer.Option("--days", min=1, help="Ends after so many days.")] = None,
    revoke: Annotated[bool, typer.Option("--revoke", help="End the links instead of making one.")] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Makes or ends a sign-in, feed, api or odometer link. A link is shown once; only its hash is kept."""
    from fleetcare.actions.links import make_key, publish_feed, whose
    from fleetcare.actions.links import revoke as end_links
    from fleetcare.fleet.access import PRINTED_SIGN_IN_TIME, Purpose, link_address
    from fleetcare.fleet.people import Person

    parts = parts_of(home)
    try:
        now = parts.clock.now()
        found = whose(parts.store, name)
        owner = {"person": found.key} if isinstance(found, Person) else {"mark": found.mark}
        wanted = _purposes(purpose, of_person=isinstance(found, Person))
        if revoke:
            ended = end_links(parts.store, now=now, who="command", purposes=wanted, **owner)
            if as_json:
                show_data({"ended": ended})
            else:
                say(f"{ended} links ended.")
            return
        made: dict[str, str] = {}
        for each in wanted:
            lasts = timedelta(days=days) if days else PRINTED_SIGN_IN_TIME if each is Purpose.SIGN_IN else None
            key = make_key(parts.store, parts.keys, now=now, who="command", purpose=each, lasts=lasts, **owner)
            made[each.value] = link_address(parts.base_url, each, key)
            if each is Purpose.FEED:
                publish_feed(parts.store, parts.rules, owner["person"], now=now, base_url=parts.base_url)
    finally:
        parts.close()
    if as_json:
        show_data(made)
    else:
        for what, where in made.items():
            say(f"{what}: {where}")


def _purposes(asked: str, *, of_person: bool) -> tuple[Purpose, ...]:
    from fleetcare.fleet.access import Purpose

    theirs = (Purpose.SIGN_IN, Purpose.FEED, Purpose.API) if of_person else (Purpose.ODOMETER,)
    if not asked:
        return (Purpose.SIGN_IN, Purpose.FEED) if of_person else theirs
    for purpose in theirs:
        if purpose.value == asked.strip().casefold():
            return (purpose,)
    raise BadInput(f"There is no link for {shown(asked)}.", remedy=f"It is {' or '.join(p.value for p in theirs)}.")
