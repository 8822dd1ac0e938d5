"""Command that says how pages look to a person: look."""

from __future__ import annotations

from typing import Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.cli.given_words import one_of, plain
from fleetcare.language import later, tr

_UNITS = {"km": later("distances in kilometres"), "mi": later("distances in miles")}
_LIGHTS = {
    "device": later("pages by day or by night as the device asks"),
    "day": later("pages by day"),
    "night": later("pages by night"),
}


@command("look")
def look(
    person: Annotated[str, typer.Argument(help="A person, by name or key.")],
    unit: Annotated[str, typer.Option("--unit", help="Distances in km or mi; the dials keep their own.")] = "",
    light: Annotated[str, typer.Option("--light", help="Pages by day, night, or as the device asks: device.")] = "",
    by: Annotated[str, typer.Option("--by", help="Who says so, by name or key.")] = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Shows how pages look to a person, kilometres or miles and by day or night, or changes it."""
    from fleetcare.actions.choose_look import Look, choose_look
    from fleetcare.fleet.people import Light
    from fleetcare.quantities import DistanceUnit

    wanted = Look(one_of(DistanceUnit, unit) if unit else None, one_of(Light, light) if light else None)
    with parts_of(home) as parts:
        came = choose_look(
            parts.store,
            parts.rules,
            person,
            wanted,
            now=parts.clock.now(),
            who=plain(by, "by"),
            base_url=parts.base_url,
        )
    if as_json:
        show_data({"person": came.key, "unit": came.unit.value, "light": came.light.value})
    else:
        say(f"{came.name}: {tr(_UNITS[came.unit.value])}, {tr(_LIGHTS[came.light.value])}.")
