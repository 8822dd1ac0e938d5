"""Command for the tags of components: tag."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.errors import BadInput, shown
from fleetcare.language import saying, tr, tr_book

if TYPE_CHECKING:
    from fleetcare.fleet.component import Component


@command("tag")
def tag(
    vehicle: Annotated[str, typer.Argument(help="Mark or name of a vehicle, such as AN or Anvil.")],
    component: Annotated[str, typer.Argument(help="Key or title of a component, such as rear-axle.")],
    name: Annotated[
        str | None, typer.Argument(help="A value, such as “cover bolts”; without it all are shown.")
    ] = None,
    value: Annotated[str | None, typer.Argument(help="What it is, such as “34 to 46 N·m, M8”.")] = None,
    basis: Annotated[str, typer.Option("--basis", help="stamped, manual, measured or unknown.")] = "manual",
    gone: Annotated[bool, typer.Option("--gone", help="Take the value away.")] = False,
    by: Annotated[str, typer.Option("--by", help="Who says so, by name or key.")] = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """What is stamped on a component or printed for it, with what is still blank; or writes one value down."""
    from fleetcare.actions.write_tag import component_called, write_tag
    from fleetcare.fleet.naming import vehicle_called
    from fleetcare.fleet.tag import Basis
    from fleetcare.fleet.tag_bands import checked_tag
    from fleetcare.intake.text import clean_text

    if basis not in [each.value for each in Basis]:
        raise BadInput(
            saying("There is no basis {basis}.", basis=shown(basis)), remedy="Say stamped, manual, measured or unknown."
        )
    if name is not None and gone == (value is not None or basis == Basis.UNKNOWN):
        raise BadInput(
            saying("It is not said what the {name} is.", name=name), remedy="Give a value, --basis unknown, or --gone."
        )
    with parts_of(home) as parts:
        if name is None:
            with parts.store.read() as view:
                found = component_called(vehicle_called(view.vehicles(), vehicle), component)
            doubts: tuple[str, ...] = ()
        else:
            written = write_tag(
                parts.store,
                parts.rules,
                lambda each, kind: checked_tag(each, kind, parts.tag_bands, parts.gear_oils),
                vehicle=vehicle,
                component=component,
                name=clean_text(name, field="fact", required=True),
                value=None if gone else clean_text(value or "", field="fact"),
                basis=Basis(basis),
                now=parts.clock.now(),
                who=clean_text(by, field="by"),
                base_url=parts.base_url,
            )
            found, doubts = written.component, tuple(f"{tr(each.what)} {tr(each.instead)}" for each in written.doubts)
    for doubt in doubts:
        typer.echo(doubt, err=True)
    if as_json:
        show_data(_data(found))
    else:
        _say_tag(found)


def _say_tag(component: Component) -> None:
    from fleetcare.page.cards.tags import still_blank, tag_values

    say(tr_book(component.title))
    for each in tag_values(component):
        say(f"- {each.name}: {each.value}")
    blanks = still_blank(component)
    if blanks:
        say(tr("Still blank: {names}.", names=", ".join(tr(name) for name in blanks)))


def _data(component: Component) -> dict[str, Any]:
    from fleetcare.page.cards.tags import still_blank

    capacity = component.fluid_capacity_l
    return {
        "component": component.key,
        "kind": component.kind,
        "title": component.title,
        "fluid_grade": component.fluid_grade,
        "fluid_capacity_l": None if capacity is None else float(capacity),
        "facts": [{"name": fact.name, "value": fact.value, "basis": fact.basis} for fact in component.facts],
        "blanks": list(still_blank(component)),
    }
