"""Everything kept about one vehicle, for its history: read in one consistent view. Writes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, outlooks_from, rules_in_force, vehicle_in
from fleetcare.actions.ports import Store
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage
from fleetcare.work.component_history import Happened, component_history
from fleetcare.work.found import Found
from fleetcare.work.moves import Move
from fleetcare.work.order import WorkOrder
from fleetcare.work.record import WorkDone


@dataclass(frozen=True, slots=True)
class VehicleHistory:
    """One vehicle with its past. found: as it was found on it. earlier: by component title, its life elsewhere."""

    garage: Garage
    outlook: VehicleOutlook
    work: tuple[WorkDone, ...]
    orders: tuple[WorkOrder, ...]
    found: tuple[Found, ...]
    moves: tuple[Move, ...]
    earlier: dict[str, tuple[Happened, ...]]
    names: dict[str, str]
    titles: dict[str, str]


def look_at_history(store: Store, rules: Rules, vehicle_name: str, *, now: datetime) -> VehicleHistory:
    """The history of a vehicle, whether it is still here or gone. Raises NotFound."""
    with store.read() as view:
        garage = garage_of(view)
        vehicle = vehicle_in(view, vehicle_name)
        mark = vehicle.mark
        outlook = outlooks_from(facts_of(view, (mark,)), rules_in_force(view, rules), garage_day(garage, now))[0]
        titles = {key: row.title for key, row in rules.book.rows.items()}
        moves = view.moves((mark,))
        came = {move.to_component for move in moves if move.to_mark == mark}
        earlier: dict[str, tuple[Happened, ...]] = {}
        if came:
            everything = {"work": view.work(), "found": view.found(), "events": view.events(), "moves": view.moves()}
            for component in vehicle.components:
                if component.key in came:
                    told = component_history(mark, component.key, titles=titles, **everything)  # type: ignore[arg-type]
                    earlier[component.title] = tuple(each for each in told if each.mark != mark)
        return VehicleHistory(
            garage=garage,
            outlook=outlook,
            work=view.work((mark,)),
            orders=view.orders((mark,)),
            found=view.found((mark,)),
            moves=moves,
            earlier=earlier,
            names={person.key: person.name for person in view.people()},
            titles=titles,
        )
