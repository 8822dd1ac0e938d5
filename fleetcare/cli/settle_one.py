"""Settling a held reading from the command line: `fleetcare reading VEHICLE VALUE --held right`."""

from __future__ import annotations

from pathlib import Path

from fleetcare.cli.frame import parts_of, say, show_data
from fleetcare.cli.given_words import day_of, one_of, plain, say_moved
from fleetcare.language import later, tr

_STATES = {
    "used": later("used"),
    "held": later("kept aside"),
    "superseded": later("replaced by another"),
    "taken back": later("taken back"),
}
"""What became of a reading, by its state."""


def settle_one(
    vehicle_name: str,
    value: str,
    how: str,
    *,
    on: str | None,
    by: str,
    home: Path | None,
    as_json: bool,
    meant: str = "",
) -> None:
    """Settles the held reading of that value and says what became of it. meant: what the dial showed instead.

    Raises BadInput, BadReading, NotFound.
    """
    from fleetcare.actions.settle_held import How, held_reading, settle_held
    from fleetcare.fleet.naming import vehicle_called
    from fleetcare.intake.numbers import parse_amount, parse_dial
    from fleetcare.page.as_data import reading_data
    from fleetcare.wording import meter_words

    wanted, day = parse_amount(value), day_of(on)
    meant_value, meant_unit = parse_dial(meant, field="meant") if meant else (None, None)
    with parts_of(home) as parts:
        with parts.store.read() as view:
            vehicle = vehicle_called(view.vehicles(), vehicle_name)
            readings = view.readings((vehicle.mark,))
        came = settle_held(
            parts.store,
            parts.rules,
            mark=vehicle.mark,
            reading_id=held_reading(readings, wanted, day).id or 0,
            how=one_of(How, how),
            who=plain(by, "by"),
            now=parts.clock.now(),
            base_url=parts.base_url,
            meant=meant_value,
            meant_unit=meant_unit,
        )
    if as_json:
        instead = None if came.instead is None else reading_data(came.instead)
        show_data({"reading": reading_data(came.reading), "instead": instead})
        return
    shown = meter_words(came.reading.value, came.reading.unit)
    if came.instead is not None:
        meant = meter_words(came.instead.value, came.instead.unit)
        say(tr("Settled: {name}, {meant} in place of {shown}.", name=vehicle.name, meant=meant, shown=shown))
    else:
        say(
            tr(
                "Settled: {name}, {shown} is {state}.",
                name=vehicle.name,
                shown=shown,
                state=tr(_STATES[came.reading.state.value]),
            )
        )
    say_moved(came.settled)
