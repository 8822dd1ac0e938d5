"""Commands that put a vehicle on the road: vehicle add, vehicle parts."""

from __future__ import annotations

from typing import Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, app, command, parts_of, say, show_data
from fleetcare.cli.given_words import day_of, one_of, plain
from fleetcare.cli.vehicle_words import (
    amount_of,
    answers_of,
    counts_of,
    marks_of,
    meters_of,
    name_of,
    person_key,
    split_of,
    told,
    yearly_of,
)
from fleetcare.language import tr, tr_book

vehicles = typer.Typer(help="Vehicles put on the road, changed, and sold.", rich_markup_mode=None)
app.add_typer(vehicles, name="vehicle")

By = Annotated[str, typer.Option("--by", help="Who says so, by name or key.")]
Split = Annotated[str, typer.Option("--split", help="Its usual mix in parts: towing=3,daily=1.")]
Keeper = Annotated[str | None, typer.Option("--keeper", help="Who answers for it, by name or key.")]
Driver = Annotated[list[str] | None, typer.Option("--driver", help="Who drives it; once for each.")]
TowedBy = Annotated[list[str] | None, typer.Option("--towed-by", help="A vehicle that pulls it; once for each.")]
KIND = "car, van, light truck, heavy truck, bus or trailer."


@vehicles.callback(invoke_without_command=True)
def _root(context: typer.Context) -> None:
    if context.invoked_subcommand is None:
        # Somebody who types the bare word asks what there is; that is no mistake.
        say(context.get_help())


@command("parts", vehicles)
def parts_(kind: Annotated[str, typer.Argument(help=KIND)], home: Home = None, as_json: AsJson = False) -> None:
    """Shows which parts a kind of vehicle can have, with the services that the interval book proposes for each."""
    from fleetcare.fleet.vehicle import VehicleKind
    from fleetcare.work.new_vehicle import is_asked, parts_offered

    with parts_of(home) as parts:
        offered = parts_offered(parts.rules.book, one_of(VehicleKind, kind))
    if as_json:
        show_data([{"part": p.key, "usual": p.is_usual, "services": [row.key for row in p.rows]} for p in offered])
        return
    for part in offered:
        say(part.key if part.is_usual else f"{part.key}  {tr('(not taken unless named)')}")
        for row in part.rows:
            title = tr_book(row.title)
            say(f"  {part.key}/{row.key}  {title if is_asked(row) else tr('{what}, after an event', what=title)}")


@command("add", vehicles)
def add(
    name: Annotated[str, typer.Argument(help="Its name.")],
    kind: Annotated[str, typer.Option("--kind", help=KIND)],
    mark: Annotated[str, typer.Option("--mark", help="Two to six capitals or digits; proposed if left out.")] = "",
    called: Annotated[str, typer.Option("--called", help="What people say: tow rig.")] = "",
    keeper: Keeper = None,
    driver: Driver = None,
    dial: Annotated[str, typer.Option("--dial", help="What its dial shows today, such as 84210.")] = "",
    unit: Annotated[
        str, typer.Option("--unit", help="What the dial counts: mi, km or h; none without a dial; else the garage's.")
    ] = "",
    digits: Annotated[int, typer.Option("--digits", help="Whole digits of the dial.", min=3, max=9)] = 6,
    since: Annotated[str | None, typer.Option("--in-service", help="The first day of its life.")] = None,
    yearly: Annotated[str, typer.Option("--yearly", help="Its distance in a year, roughly.")] = "",
    split: Split = "",
    towed_by: TowedBy = None,
    vin: Annotated[str, typer.Option("--vin", help="Its identification number.")] = "",
    description: Annotated[str, typer.Option("--description", help="Anything else worth knowing.")] = "",
    part: Annotated[
        list[str] | None, typer.Option("--part", help="A part it has; once for each. The usual ones if none is named.")
    ] = None,
    done: Annotated[
        list[str] | None,
        typer.Option("--done", help="When it was last done: engine/engine-oil=2026-02-01@82000, or one of both."),
    ] = None,
    new: Annotated[
        list[str] | None, typer.Option("--new", help="A service that counts from new: engine/engine-oil.")
    ] = None,
    without: Annotated[
        list[str] | None, typer.Option("--without", help="A service that it has not: gearbox/gearbox-fluid.")
    ] = None,
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Puts a vehicle on the road; of services of which nothing is said a look comes first."""
    from fleetcare.actions.add_vehicle import NewVehicle, add_vehicle
    from fleetcare.actions.gather import garage_day, garage_of
    from fleetcare.fleet.entering import checked_mark, proposed_mark
    from fleetcare.fleet.vehicle import Vehicle, VehicleKind
    from fleetcare.meter.reading import Door
    from fleetcare.work.new_vehicle import Said, components_of, parts_chosen, parts_offered

    with parts_of(home) as parts:
        who, now, book = plain(by, "by"), parts.clock.now(), parts.rules.book
        with parts.store.read() as view:
            garage, people, there = garage_of(view), view.people(), view.vehicles()
        of_kind, today = one_of(VehicleKind, kind), garage_day(garage, now)
        counts = counts_of(unit, garage.unit)
        distance = garage.unit if counts is None or counts.distance is None else counts.distance
        usual = [each.key for each in parts_offered(book, of_kind) if each.is_usual]
        chosen = parts_chosen(book, of_kind, part or usual)
        lines = {(each.key, row.key) for each in chosen for row in each.rows}
        said = Said(today, amount_of(dial, counts, "dial"), answers_of(lines, done, new, without), who)
        vehicle = Vehicle(
            mark=checked_mark(mark or proposed_mark(name, {each.mark for each in there})),
            name=name_of(name),
            kind=of_kind,
            called=plain(called, "called") or of_kind.value,
            unit=distance,
            keeper=person_key(people, keeper),
            drivers=tuple(person_key(people, each) for each in driver or ()),
            description=plain(description, "description"),
            vin=plain(vin, "vin"),
            in_service_on=day_of(since),
            entered_on=today,
            usual_split=split_of(split, parts),
            yearly_km=yearly_of(yearly, distance),
            meters=meters_of(counts, digits),
            components=components_of(chosen, said),
            towed_by=marks_of(there, towed_by),
        )
        added = add_vehicle(
            parts.store, parts.rules, NewVehicle(vehicle, said, Door.COMMAND), now=now, who=who, base_url=parts.base_url
        )
    told(
        added.vehicle,
        added.settled,
        tr("{name} ({mark}) is on the road.", name=added.vehicle.name, mark=added.vehicle.mark),
        as_json=as_json,
    )
