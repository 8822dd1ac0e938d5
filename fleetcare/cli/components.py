"""Commands for components: component fit, component move, component history."""

from __future__ import annotations

from typing import Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, app, command, parts_of, say, show_data
from fleetcare.cli.given_words import day_of, plain, say_moved
from fleetcare.errors import BadInput, shown
from fleetcare.language import saying, tr, tr_book

components = typer.Typer(
    help="Components that go from one vehicle to another, and their history wherever they were.",
    rich_markup_mode=None,
)
app.add_typer(components, name="component")

Vehicle = Annotated[str, typer.Argument(help="Mark or name of the vehicle it is on, such as AN or Anvil.")]
Component = Annotated[str, typer.Argument(help="Its key or title, such as rear-axle.")]


@components.callback(invoke_without_command=True)
def _root(context: typer.Context) -> None:
    if context.invoked_subcommand is None:
        # Somebody who types the bare word asks what there is; that is no mistake.
        say(context.get_help())


@command("fit", components)
def fit(
    vehicle: Annotated[str, typer.Argument(help="Mark or name of the vehicle it was fitted to, such as AN or Anvil.")],
    part: Annotated[str, typer.Argument(help="A component it takes the place of, or a part of `vehicle parts`.")],
    on: Annotated[str | None, typer.Option("--on", help="The day it was fitted; today if left out.")] = None,
    dial: Annotated[str, typer.Option("--dial", help="What the dial showed then, such as 84210.")] = "",
    used: Annotated[bool, typer.Option("--used", help="It was not new: a look at it comes first.")] = False,
    keep: Annotated[
        bool, typer.Option("--keep", help="The one before it is put on the shelf; else it is gone.")
    ] = False,
    note: Annotated[str, typer.Option("--note", help="Anything worth keeping.")] = "",
    by: Annotated[str, typer.Option("--by", help="Who did it, by name or key.")] = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Says that a component was fitted: in the place of one that goes, or one more; its services begin there."""
    from fleetcare.actions.fit_component import Fitting, fit_component
    from fleetcare.intake.numbers import parse_dial

    shown_value = parse_dial(dial, field="dial")[0] if dial else None
    with parts_of(home) as parts:
        given = Fitting(vehicle, part, day_of(on), not used, keep, plain(note, "note"), shown_value)
        fitted = fit_component(
            parts.store, parts.rules, given, now=parts.clock.now(), who=plain(by, "by"), base_url=parts.base_url
        )
    old = fitted.old
    if as_json:
        show_data(
            {
                "vehicle": fitted.vehicle.mark,
                "component": fitted.component.key,
                "on": fitted.on.isoformat(),
                "services": [line.service for line in fitted.component.lines],
                "old": None if old is None else f"{old.to_mark}/{old.to_component}" if keep else "gone",
            }
        )
        return
    age = tr("of unknown age") if used else tr("new")
    say(tr("Fitted: {component} of {mark}, {age}.", component=fitted.component.key, mark=fitted.vehicle.mark, age=age))
    if old is not None:
        shelf = tr("The one before it is on the shelf as {key}.", key=old.to_component)
        say(shelf if keep else tr("The one before it is gone."))
    blank = tr(
        "Its tag is blank. Write down what is stamped on it or printed for it: {command}", command="fleetcare tag"
    )
    say(blank)
    say_moved(fitted.settled)


@command("move", components)
def move(
    vehicle: Vehicle,
    component: Component,
    to: Annotated[str, typer.Argument(help="The vehicle it goes to.")],
    on: Annotated[str | None, typer.Option("--on", help="The day it was moved; today if left out.")] = None,
    key: Annotated[str, typer.Option("--as", help="What it is called there, if not the same.")] = "",
    swap: Annotated[bool, typer.Option("--swap", help="The one that is there comes back in its place.")] = False,
    note: Annotated[str, typer.Option("--note", help="Anything worth keeping.")] = "",
    by: Annotated[str, typer.Option("--by", help="Who did it, by name or key.")] = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Moves a component to another vehicle; its services go on where they were."""
    from fleetcare.actions.move_component import Moving, move_component
    from fleetcare.intake.toml_models import is_key

    if key and not is_key(key):
        raise BadInput(
            saying("{key} cannot be a key.", key=shown(key, 40)), remedy="Use lower case letters, digits and hyphens."
        )
    with parts_of(home) as parts:
        given = Moving(vehicle, component, to, day_of(on), key, swap, plain(note, "note"))
        moves, settled = move_component(
            parts.store, parts.rules, given, now=parts.clock.now(), who=plain(by, "by"), base_url=parts.base_url
        )
    if as_json:
        show_data(
            [
                {
                    "on": each.on.isoformat(),
                    "from": f"{each.from_mark}/{each.from_component}",
                    "to": f"{each.to_mark}/{each.to_component}",
                }
                for each in moves
            ]
        )
        return
    for each in moves:
        say(
            tr(
                "Moved: {component} of {mark} is {there} of {other}.",
                component=each.from_component,
                mark=each.from_mark,
                there=each.to_component,
                other=each.to_mark,
            )
        )
    say_moved(settled)


@command("history", components)
def history(vehicle: Vehicle, component: Component, home: Home = None, as_json: AsJson = False) -> None:
    """Everything done on a component and found on it, on whatever vehicle it was at the time."""
    from fleetcare.actions.move_component import history_of_component
    from fleetcare.fleet.naming import vehicle_called
    from fleetcare.wording import meter_words

    with parts_of(home) as parts, parts.store.read() as view:
        found = vehicle_called(view.vehicles(), vehicle)
        happened = history_of_component(view, parts.rules.book, found, component)
    if as_json:
        show_data(
            [
                {
                    "on": each.on.isoformat(),
                    "vehicle": each.mark,
                    "what": each.what,
                    "at": None if each.at is None else str(each.at),
                    "unit": each.unit.value if each.unit is not None else None,
                    "by": each.by or None,
                    "note": each.note or None,
                }
                for each in happened
            ]
        )
        return
    if not happened:
        say(tr("Nothing is recorded of it yet."))
    for each in happened:
        at = ""
        if each.at is not None and each.unit is not None:
            at = tr(" at {reading}", reading=meter_words(each.at, each.unit))
        said = "; ".join(part for part in (each.by and tr("by {who}", who=each.by), each.note) if part)
        say(f"{each.on}  {each.mark}  {tr_book(tr(each.what))}{at}{f' ({said})' if said else ''}")
