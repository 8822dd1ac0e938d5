"""Commands that record what happened: reading, done, event."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.cli.given_words import day_of, meter_unit_of, one_of, plain, say_moved
from fleetcare.cli.screened import say_screened
from fleetcare.cli.settle_one import settle_one
from fleetcare.errors import BadInput, BadReading
from fleetcare.language import saying, tr, tr_book

Vehicle = Annotated[str, typer.Argument(help="Mark or name of a vehicle, such as AN or Anvil.")]
On = Annotated[str | None, typer.Option("--on", help="The day, such as 2026-04-14; today if left out.")]
By = Annotated[str, typer.Option("--by", help="Who did it, by name or key.")]


@command("reading")
def reading(
    vehicle: Vehicle,
    value: Annotated[str, typer.Argument(help="What the dial shows.")],
    on: On = None,
    split: Annotated[
        str, typer.Option("--split", help="How the distance since the last reading divides: towing=300,daily=rest.")
    ] = "",
    unit: Annotated[str, typer.Option("--unit", help="km, mi or h, if it is not the dial's own.")] = "",
    hours: Annotated[bool, typer.Option("--hours", help="It is the hour meter's.")] = False,
    really: Annotated[
        str,
        typer.Option(
            "--really",
            help="Save it all the same: as-read, changed (the meter), rolled-over (the dial) or wrong-last.",
        ),
    ] = "",
    held: Annotated[
        str,
        typer.Option("--held", help="Settle the held reading of that value: right, wrong, or guess (that was meant)."),
    ] = "",
    hold: Annotated[
        bool, typer.Option("--hold", help="Keep what does not fit for its keeper, instead of asking.")
    ] = False,
    meant: Annotated[str, typer.Option("--meant", help="What the dial showed, in place of the held reading.")] = "",
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Records an odometer reading and prints what changed; or settles one that is held."""
    if held or meant:
        settle_one(vehicle, value, held or "meant", on=on, by=by, home=home, as_json=as_json, meant=meant)
        return
    from fleetcare.actions.record_reading import Doubtful, Given, Really, record_reading
    from fleetcare.intake.numbers import parse_dial
    from fleetcare.intake.splits import parse_split
    from fleetcare.meter.reading import Door, ReadingState
    from fleetcare.page.as_data import line_data, reading_data
    from fleetcare.wording import day_words, joined, meter_words

    amount, named = parse_dial(value, meter_unit_of(unit))
    with parts_of(home) as parts:
        recorded = record_reading(
            parts.store,
            parts.rules,
            Given(
                vehicle=vehicle,
                value=amount,
                on=day_of(on),
                unit=named,
                hours=hours,
                # On the command line a comma stands between the parts.
                split=(lambda gain: parse_split(split.replace(",", " "), duties=parts.rules.duties, distance=gain))
                if split
                else None,
                by=plain(by, "by"),
                door=Door.COMMAND,
                really=one_of(Really, really) if really else None,
                hold=hold,
            ),
            now=parts.clock.now(),
            base_url=parts.base_url,
        )
    if isinstance(recorded, Doubtful):
        words = {Really.CHANGED: tr(" (the meter)"), Really.ROLLED_OVER: tr(" (the dial)")}
        ways = [f"{way.value}{words.get(way, '')}" for way in recorded.ways]
        again = saying("If it is right all the same: --really {ways}.", ways=partial(joined, ways, "or"))
        raise BadReading(recorded.sentence(), remedy=again)
    outlook = recorded.settled.outlooks[0]
    if as_json:
        moved = [line_data(outlook, each.line) for each in recorded.settled.moved]
        show_data({"reading": reading_data(recorded.reading), "known": recorded.known, "moved": moved})
        return
    if recorded.known:
        say(tr("{name}: that reading stands here already.", name=recorded.vehicle.name))
        return
    shown_value = meter_words(recorded.reading.value, recorded.reading.unit)
    day = day_words(recorded.reading.on, recorded.settled.today)
    if recorded.doubt is not None:
        say(recorded.doubt.sentence(recorded.vehicle.unit))
    said = tr("Kept aside") if recorded.reading.state is ReadingState.HELD else tr("Saved")
    say(f"{said}: {recorded.vehicle.name}, {shown_value}, {day}.")
    say_screened(recorded.screened)
    say_moved(recorded.settled)


@command("done")
def done(
    vehicle: Vehicle,
    service: Annotated[str, typer.Argument(help="A service of that vehicle, such as “rear axle fluid”.")],
    at: Annotated[str, typer.Option("--at", help="What the dial showed when it was done.")] = "",
    on: On = None,
    finding: Annotated[list[str] | None, typer.Option("--finding", help="What was found; as often as needed.")] = None,
    look_again: Annotated[
        str | None, typer.Option("--look-again", help="By when to look at the findings again.")
    ] = None,
    note: Annotated[str, typer.Option("--note", help="Anything else worth keeping.")] = "",
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Closes work: the service starts anew from that day and that reading."""
    from fleetcare.actions.close_work import close_work
    from fleetcare.intake.numbers import parse_amount
    from fleetcare.page.as_data import line_data
    from fleetcare.work.record import Finding

    with parts_of(home) as parts:
        again = day_of(look_again)
        if again is not None and not finding:
            raise BadInput("There is no finding to look at again.", remedy="Say with --finding what was found.")
        closed = close_work(
            parts.store,
            parts.rules,
            now=parts.clock.now(),
            base_url=parts.base_url,
            who=plain(by, "by"),
            vehicle_name=vehicle,
            service=service,
            on=day_of(on),
            at=parse_amount(at) if at else None,
            findings=tuple(Finding(plain(text, "finding"), look_again_on=again) for text in finding or ()),
            note=plain(note, "note"),
        )
    if as_json:
        show_data({"known": closed.known, "line": line_data(closed.settled.outlooks[0], closed.line)})
        return
    if closed.known:
        say(tr("{name}: that work stands here already.", name=closed.vehicle.name))
        return
    say(tr("Done: {name}, {what}.", name=closed.vehicle.name, what=tr_book(closed.line.row.title)))
    say_moved(closed.settled)


@command("event")
def event(
    vehicle: Vehicle,
    kind: Annotated[str, typer.Argument(help="What happened, such as “immersion” or “track day”.")],
    on: On = None,
    component: Annotated[str, typer.Option("--component", help="Only this component, such as rear-axle.")] = "",
    note: Annotated[str, typer.Option("--note", help="Anything else worth keeping.")] = "",
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Records something that makes services due: a track day, an immersion, new gears, a wheel fitted."""
    from fleetcare.actions.gather import garage_day, garage_of
    from fleetcare.actions.note_event import note_event
    from fleetcare.fleet.booking import UseEvent
    from fleetcare.page.as_data import line_data

    with parts_of(home) as parts:
        now = parts.clock.now()
        with parts.store.read() as view:
            today = garage_day(garage_of(view), now)
        happened = UseEvent(vehicle, kind, day_of(on) or today, component, plain(note, "note"))
        settled = note_event(parts.store, parts.rules, happened, now=now, base_url=parts.base_url, who=plain(by, "by"))
    if as_json:
        show_data({"moved": [line_data(settled.outlooks[0], each.line) for each in settled.moved]})
        return
    say(tr("Noted: {name}, {what}.", name=settled.outlooks[0].vehicle.name, what=tr_book(kind)))
    say_moved(settled)
