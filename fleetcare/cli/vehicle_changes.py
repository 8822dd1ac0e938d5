"""Commands that change a vehicle that is here: vehicle edit, vehicle sell."""

from __future__ import annotations

from typing import Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of
from fleetcare.cli.given_words import day_of, one_of, plain
from fleetcare.cli.vehicle_words import marks_of, name_of, person_key, split_of, told, yearly_of
from fleetcare.cli.vehicles import KIND, By, Driver, Keeper, Split, TowedBy, vehicles
from fleetcare.errors import BadInput
from fleetcare.language import tr

Called = Annotated[str, typer.Argument(help="Mark or name of a vehicle, such as AN or Anvil.")]


@command("edit", vehicles)
def edit(
    vehicle: Called,
    name: Annotated[str | None, typer.Option("--name", help="Its name.")] = None,
    kind: Annotated[str | None, typer.Option("--kind", help=KIND)] = None,
    called: Annotated[str | None, typer.Option("--called", help="What people say: tow rig.")] = None,
    keeper: Keeper = None,
    driver: Driver = None,
    vin: Annotated[str | None, typer.Option("--vin", help="Its identification number.")] = None,
    since: Annotated[str | None, typer.Option("--in-service", help="Its first day; empty: not known.")] = None,
    yearly: Annotated[str | None, typer.Option("--yearly", help="Its distance in a year; empty: not known.")] = None,
    split: Split = "",
    towed_by: TowedBy = None,
    description: Annotated[str | None, typer.Option("--description", help="Anything else worth knowing.")] = None,
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Changes what is known of a vehicle, and says which dates moved by it. What is not named stays."""
    from fleetcare.actions.edit_vehicle import edit_vehicle
    from fleetcare.actions.gather import garage_day, garage_of, vehicle_in
    from fleetcare.fleet.vehicle import VehicleKind
    from fleetcare.fleet.vehicle_changes import SAME, Changes
    from fleetcare.page.cards.edit_vehicle import changed_words

    with parts_of(home) as parts:
        with parts.store.read() as view:
            garage, people, there, found = garage_of(view), view.people(), view.vehicles(), vehicle_in(view, vehicle)
        now = parts.clock.now()
        changes = Changes(
            name=SAME if name is None else name_of(name),
            kind=SAME if kind is None else one_of(VehicleKind, kind),
            called=SAME if called is None else plain(called, "called") or found.kind.value,
            keeper=SAME if keeper is None else person_key(people, keeper),
            drivers=SAME if driver is None else tuple(person_key(people, each) for each in driver if each),
            vin=SAME if vin is None else plain(vin, "vin"),
            in_service_on=SAME if since is None else day_of(since or None),
            yearly_km=SAME if yearly is None else yearly_of(yearly, found.unit),
            usual_split=split_of(split, parts) if split else SAME,
            towed_by=SAME if towed_by is None else marks_of(there, [each for each in towed_by if each]),
            description=SAME if description is None else plain(description, "description"),
        )
        edited = edit_vehicle(
            parts.store,
            parts.rules,
            changes,
            vehicle=found.mark,
            now=now,
            who=plain(by, "by"),
            base_url=parts.base_url,
        )
        today = garage_day(garage, now)
    names = {each.key: each.name for each in people}
    changed = changed_words(edited.changed, edited.vehicle, today=today, names=names, duties=parts.rules.duties)
    said = "\n".join(changed) or tr("{name}: it stood here so before.", name=edited.vehicle.name)
    told(edited.vehicle, edited.settled, said, as_json=as_json, changed=[each.field for each in edited.changed])


@command("sell", vehicles)
def sell(
    vehicle: Called,
    on: Annotated[str | None, typer.Option("--on", help="The day from which it is gone; today if left out.")] = None,
    take_back: Annotated[bool, typer.Option("--take-back", help="It is here after all.")] = False,
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Says that a vehicle is sold or given away: nothing is due any more, its history stays; or takes that back."""
    from fleetcare.actions.sell_vehicle import sell_vehicle, take_back_sale

    if take_back and on is not None:
        raise BadInput("A day does not go with --take-back.", remedy="Leave one of the two out.")
    with parts_of(home) as parts:
        who, now, base_url = plain(by, "by"), parts.clock.now(), parts.base_url
        if take_back:
            left = take_back_sale(parts.store, parts.rules, vehicle=vehicle, now=now, who=who, base_url=base_url)
        else:
            left = sell_vehicle(
                parts.store, parts.rules, vehicle=vehicle, on=day_of(on), now=now, who=who, base_url=base_url
            )
    name, gone = left.vehicle.name, left.vehicle.out_of_fleet_on
    if take_back:
        said = tr("{name} is here after all.", name=name)
    elif left.known:
        said = tr("{name}: that stands here already.", name=name)
    else:
        ended = tr(
            "Bay days rubbed out: {visits}; stickers and links ended: {links}.", visits=left.visits, links=left.links
        )
        said = f"{tr('{name} is gone since {gone}.', name=name, gone=gone)} {ended}"
    told(left.vehicle, left.settled, said, as_json=as_json, with_dates=take_back)
