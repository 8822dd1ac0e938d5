"""Command that a garage begins with: init."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, home_folder, parts_of, say, show_data
from fleetcare.cli.given_words import one_of, plain
from fleetcare.errors import BadInput
from fleetcare.language import in_force, tr

if TYPE_CHECKING:
    from fleetcare.assemble import Parts
    from fleetcare.fleet.people import Person


@command("init")
def init(
    keeper: Annotated[
        str, typer.Option("--keeper", help="First name and surname of who keeps the list, the first person there.")
    ] = "",
    mail: Annotated[str, typer.Option("--mail", help="Their mail address, for letters and for coming in.")] = "",
    garage: Annotated[str, typer.Option("--garage", help="What the garage is called; else after who keeps it.")] = "",
    zone: Annotated[
        str, typer.Option("--zone", help="Its time zone, such as Europe/Vienna; else that of this machine.")
    ] = "",
    unit: Annotated[str, typer.Option("--unit", help="Distances in km or mi; the dials keep their own.")] = "km",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Makes a home: settings, an own interval book, an empty database; with --keeper a garage that goes on by pages."""
    from fleetcare.page.cards.come_in import BEGIN_COMMAND
    from fleetcare.settings.new_home import write_new_home

    if not keeper and (mail or garage or zone):
        raise BadInput("Nothing says who keeps the garage.", remedy='Give --keeper "First name Surname", too.')
    folder = home_folder(home)
    written = write_new_home(folder)
    with parts_of(home) as parts:  # The database is made when it is first opened.
        first = _begun(parts, keeper, mail, garage, zone, unit) if keeper else None
        link = _way_in(parts, first) if first else ""
        serve = f"fleetcare serve --home {folder}" if home else "fleetcare serve"
    if as_json:
        begun = {"person": first.key, "sign-in": link} if first else {}
        show_data({"home": str(folder), "written": [str(path) for path in written], **begun})
        return
    say(tr("Home: {folder}", folder=folder))
    for path in written:
        say(f"  {path.relative_to(folder)}")
    if first:
        say(tr("{name} keeps the list.", name=first.name))
        say(tr("Next: {command}", command=serve))
        say(tr("Then come in, within a day, and put a vehicle on the road: {address}", address=link))
        return
    say(tr("Next, to go on by pages: {command}", command=BEGIN_COMMAND))
    command = "fleetcare import FOLDER"
    say(tr("Or put your garage into files as in demo_fleet and bring them in with: {command}", command=command))


def _begun(parts: Parts, keeper: str, mail: str, garage: str, zone: str, unit: str) -> Person:
    from fleetcare.actions.keep_people import FIRST_ROLES, Given, begin_garage
    from fleetcare.clock import machine_zone
    from fleetcare.quantities import DistanceUnit

    name = plain(keeper, "keeper")
    spoken = in_force().code
    given = Given(
        name,
        mail=mail.strip(),
        zone=zone.strip() or machine_zone(),
        unit=one_of(DistanceUnit, unit),
        roles=FIRST_ROLES,
        # Whoever begins in another language than the garage's own goes on being answered in it.
        language="" if spoken == parts.tongues.garage else spoken,
    )
    called = plain(garage, "garage") if garage.strip() else tr("{name}’s garage", name=name)
    return begin_garage(
        parts.store,
        parts.rules,
        parts.keys,
        called,
        given,
        now=parts.clock.now(),
        who="command",
        base_url=parts.base_url,
    )


def _way_in(parts: Parts, person: Person) -> str:
    from fleetcare.actions.links import make_key
    from fleetcare.fleet.access import PRINTED_SIGN_IN_TIME, Purpose, link_address

    key = make_key(
        parts.store,
        parts.keys,
        now=parts.clock.now(),
        who="command",
        purpose=Purpose.SIGN_IN,
        lasts=PRINTED_SIGN_IN_TIME,
        person=person.key,
    )
    return link_address(parts.base_url, Purpose.SIGN_IN, key)
