"""How a person of the garage comes in, and the keys of their programs: made, shown once, ended."""

from __future__ import annotations

from datetime import datetime, timedelta

from fastapi import Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from fleetcare.actions.api_keys import end_api_key
from fleetcare.actions.links import make_key, revoke
from fleetcare.actions.write_letters import write_come_in_letter
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.access import PRINTED_SIGN_IN_TIME, Purpose, Scope, link_address
from fleetcare.fleet.people import Person
from fleetcare.intake.numbers import parse_whole
from fleetcare.intake.text import clean_text
from fleetcare.language import saying, tr
from fleetcare.page.cards.person import (
    DAYS_FIELD,
    LONGEST_KEY_NAME,
    NAME_FIELD,
    SCOPE_FIELD,
    SHORT_FIELD,
    VEHICLE_FIELD,
    ShownOnce,
    person_url,
)
from fleetcare.page.drawings.code import square_code
from fleetcare.web.changed import back_to
from fleetcare.web.person_page import person_page, person_there, status_on_page
from fleetcare.web.reading_form import text_of

LONGEST_DAYS = 3660


def mail_step(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    """A link by mail."""
    mail = person_there(parts, key, now).mail
    if not mail:
        raise BadInput("No mail address is known.", remedy="Show a link to print instead.")
    write_come_in_letter(parts.store, parts.desk, mail, now=now)
    said = tr(
        "A link is on its way to {mail}. It opens once, within a quarter of an hour; then “Come in” sends another.",
        mail=mail,
    )
    return person_page(parts, request, reader, key, said=said)


def print_step(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    """A link shown once, to print."""
    person = person_there(parts, key, now)
    if person.has_left:
        raise BadInput(saying("{name} left.", name=person.name), remedy="Take them in again first.")
    secret = make_key(
        parts.store,
        parts.keys,
        now=now,
        who=reader.key,
        purpose=Purpose.SIGN_IN,
        person=key,
        lasts=PRINTED_SIGN_IN_TIME,
    )
    address = link_address(parts.base_url, Purpose.SIGN_IN, secret)
    told = tr("It opens the garage once, until this time tomorrow. Print this page, or let their phone read the code.")
    title = tr("The way in for {name}", name=person.first_name)
    once = ShownOnce(title, told, address, square_code(address))
    return person_page(parts, request, reader, key, once=once)


def sessions_step(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    """Signs every device of theirs out."""
    purposes = (Purpose.SESSION, Purpose.SIGN_IN)
    person_there(parts, key, now)
    revoke(parts.store, now=now, who=reader.key, purposes=purposes, person=key)
    return back_to(person_url(key), now)


def key_step(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    """A key for a program, shown once."""
    person = person_there(parts, key, now)
    typed = {each: text_of(form, each)[:60] for each in (NAME_FIELD, SCOPE_FIELD, VEHICLE_FIELD, DAYS_FIELD)}
    try:
        name = clean_text(typed[NAME_FIELD], field=NAME_FIELD, limit=LONGEST_KEY_NAME, required=True)
        if person.has_left:
            raise BadInput(saying("{name} left.", name=person.name), remedy="Take them in again first.")
        if typed[SCOPE_FIELD] not in [each.value for each in Scope]:
            raise BadInput("What it may do is not said.", remedy="Choose one.", field=SCOPE_FIELD)
        days = typed[DAYS_FIELD].strip()
        secret = make_key(
            parts.store,
            parts.keys,
            now=now,
            who=reader.key,
            purpose=Purpose.API,
            person=key,
            mark=typed[VEHICLE_FIELD],
            lasts=timedelta(parse_whole(days, least=1, most=LONGEST_DAYS, field=DAYS_FIELD)) if days else None,
            name=name,
            scope=Scope(typed[SCOPE_FIELD]),
        )
    except (BadInput, Clash, NotFound) as trouble:
        shown = {**typed, "problem": trouble.words()}
        return person_page(parts, request, reader, key, key_typed=shown, status=status_on_page(trouble))
    told = tr("The program sends it along as: Authorization: Bearer, then the key.")
    once = ShownOnce(tr("The key “{name}” is made", name=name), told, secret, None)
    return person_page(parts, request, reader, key, once=once)


def end_key_step(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    """Ends a key of a program."""
    end_api_key(parts.store, key, text_of(form, SHORT_FIELD), who=reader.key, now=now)
    return back_to(person_url(key), now, "#keys")
