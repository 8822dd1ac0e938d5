"""Command that writes a drawing into a file that can be sent to somebody: draw."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.language import saying

if TYPE_CHECKING:
    from fleetcare.assemble import Parts

ENDINGS = (".svg", ".png")
ROAD, VEHICLE = "road", "vehicle"


@command("draw")
def draw(
    what: Annotated[str, typer.Argument(help="“road” for the whole garage, or “vehicle”.")],
    name: Annotated[str, typer.Argument(help="With “vehicle”: its mark or name, such as AN or Anvil.")] = "",
    out: Annotated[Path | None, typer.Option("--out", help="The file to write, ending in .svg or .png.")] = None,
    night: Annotated[bool, typer.Option("--night", help="In the colours of the night.")] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Writes the road ahead, or where a vehicle's dial is heading, as a picture that needs nothing beside it."""
    file = _checked(what, name, out)
    with parts_of(home) as parts:
        svg = _road(parts, night=night) if what == ROAD else _vehicle(parts, name, night=night)
    content = svg.encode("utf-8")
    if file.suffix.lower() == ".png":
        from fleetcare.page.png import png_of

        content = png_of(svg)
    _write(file, content)
    if as_json:
        show_data({"file": str(file), "bytes": len(content)})
    else:
        say(f"Drawn: {file}")


def _checked(what: str, name: str, out: Path | None) -> Path:
    """The file, once everything that was given makes sense; before anything is read. Raises BadInput."""
    from fleetcare.errors import BadInput

    if what not in (ROAD, VEHICLE):
        raise BadInput(
            saying("“{what}” cannot be drawn.", what=what),
            remedy="Say “road”, or “vehicle” with its name.",
            field="what",
        )
    if what == VEHICLE and not name:
        raise BadInput("Which vehicle?", remedy="Give its mark or name: fleetcare draw vehicle Anvil", field="name")
    if what == ROAD and name:
        raise BadInput(
            "The road is of all vehicles.",
            remedy=saying("For one of them: fleetcare draw vehicle {name}", name=name),
            field="name",
        )
    if out is None:
        raise BadInput("Where to?", remedy=saying("Name a file: --out {what}.svg", what=what), field="out")
    if out.suffix.lower() not in ENDINGS:
        raise BadInput(
            saying("“{name}” ends in neither .svg nor .png.", name=out.name),
            remedy=saying("Try --out {what}.svg", what=what),
            field="out",
        )
    return out


def _write(file: Path, content: bytes) -> None:
    """Whole or not at all: what stood there before stays until the new one is complete. Raises BadInput."""
    import os
    import tempfile

    from fleetcare.errors import BadInput

    beside = None
    try:
        if file.is_dir():
            raise IsADirectoryError(21, "it is a folder")
        handle, beside = tempfile.mkstemp(prefix=f".{file.name}.", dir=file.parent)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        os.chmod(beside, 0o644)
        os.replace(beside, file)
    except OSError as error:
        if beside is not None:
            Path(beside).unlink(missing_ok=True)
        why = (error.strerror or "it cannot be written").lower()
        raise BadInput(
            saying("“{file}” cannot be written: {why}.", file=file, why=why),
            remedy="Name a file in a folder that is there.",
            field="out",
        ) from error


def _road(parts: Parts, *, night: bool) -> str:
    from zoneinfo import ZoneInfo

    from fleetcare.actions.look_ahead import look_ahead
    from fleetcare.errors import BadInput
    from fleetcare.page.cards.road import windows_in_order
    from fleetcare.page.cards.strip import strip_card
    from fleetcare.wording import day_in_head

    ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now())
    card = strip_card(
        ahead.outlooks,
        numbers={row[1].key: place for place, row in enumerate(windows_in_order(ahead.outlooks), start=1)},
        reader=None,
        visits=ahead.visits,
        bookings=ahead.bookings,
        work=ahead.work,
        zone=ZoneInfo(ahead.garage.zone),
        today=ahead.today,
        unit=ahead.garage.unit,
    )
    if card is None:
        raise BadInput("There is no vehicle to draw yet.", remedy="Bring some in with: fleetcare import FOLDER")
    title = f"{ahead.garage.name}, road ahead, {day_in_head(ahead.today)}"
    return parts.pages.lone_road(card.wide, title, night=night)


def _vehicle(parts: Parts, name: str, *, night: bool) -> str:
    from fleetcare.actions.look_at_dial import look_at_dial
    from fleetcare.errors import BadInput
    from fleetcare.page.cards.vehicle import heading_of
    from fleetcare.wording import day_in_head

    dial = look_at_dial(parts.store, parts.rules, name, now=parts.clock.now())
    vehicle = dial.outlook.vehicle
    card = heading_of(dial.outlook, dial.course, dial.visits, dial.bookings, dial.work, parts.rules.duties, dial.garage)
    if card is None:
        raise BadInput(
            saying("{name} has no dial with readings to draw.", name=vehicle.name),
            remedy="Its windows are on: fleetcare draw road",
        )
    title = f"{vehicle.name}: {card.title[:1].lower()}{card.title[1:]}, {day_in_head(dial.outlook.today)}"
    return parts.pages.lone_heading(card, title, night=night)
