"""Stickers for the glovebox: a long-lived link of one vehicle, which opens its reading page and nothing else."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from fleetcare.actions.gather import garage_of
from fleetcare.actions.ports import Change, ReadView, Store
from fleetcare.chance import KeyMaker, key_hash
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound
from fleetcare.fleet.access import AccessKey, Fetch, Purpose
from fleetcare.fleet.naming import answers_for, vehicle_called
from fleetcare.fleet.people import Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying

STICKER_NAME = "sticker"
MADE_MEANWHILE = "The stickers are not as this page showed them: some were made or ended meanwhile. Choose anew."


@dataclass(frozen=True, slots=True)
class Sticker:
    """One sticker in use, without its key. short: tells it from others. used: when a reading came in by it last."""

    mark: str
    short: str
    made_at: datetime
    used: Fetch | None


def stickers_of(store: Store, person: Person, *, now: datetime) -> tuple[tuple[Vehicle, tuple[Sticker, ...]], ...]:
    """The vehicles this person answers for that have a meter, each with its stickers in use, oldest first."""
    with store.read() as view:
        return _stickers_in(view, person, now)


def stand_of(stickers: tuple[tuple[Vehicle, tuple[Sticker, ...]], ...]) -> str:
    """What a form of these stickers carries, so that it makes none if it is sent twice."""
    return key_hash(",".join(each.short for _, held in stickers for each in held))[:16]


def make_stickers(
    store: Store, keys: KeyMaker, person: Person, marks: Collection[str], *, stand: str, now: datetime
) -> tuple[tuple[Vehicle, str], ...]:
    """A new sticker for each of these vehicles, with its key, which is told this once. Those in use stay in use.

    stand: what `stand_of` said of the stickers the person saw. Raises BadInput if none is named, NotFound, NotAllowed
    for a vehicle of others, and Clash if the stickers are no longer as they were.
    """
    if not marks:
        raise BadInput("No vehicle is ticked.", remedy="Tick at least one.", field="vehicle")
    with store.write(Change(person.key, "new stickers", now)) as unit:
        stickers_now = _stickers_in(unit, person, now)
        mine = {vehicle.mark for vehicle, _ in stickers_now}
        everyone = unit.vehicles()
        wanted = [vehicle_called(everyone, mark) for mark in dict.fromkeys(marks)]
        for vehicle in wanted:
            if vehicle.mark not in mine:
                raise NotAllowed(saying("Stickers of {name} are made by its keeper.", name=vehicle.name))
        if stand_of(stickers_now) != stand:
            raise Clash(MADE_MEANWHILE)
        made = tuple((vehicle, keys.new_key()) for vehicle in wanted)
        for vehicle, key in made:
            unit.put_key(AccessKey(key_hash(key), Purpose.ODOMETER, "", vehicle.mark, now, name=STICKER_NAME))
            unit.log_change(vehicle.mark, "sticker", "", "made")
        return made


def end_sticker(store: Store, person: Person, short: str, *, now: datetime) -> Vehicle:
    """Ends one sticker at once. Raises NotFound, alike for one that is not there and one of others."""
    with store.write(Change(person.key, "sticker ended", now)) as unit:
        mine = {vehicle.mark: vehicle for vehicle, _ in _stickers_in(unit, person, now)}
        key = next((k for k in _in_use(unit, now) if _short(k) == short and k.mark in mine), None)
        if key is None:
            raise NotFound("sticker", short)
        unit.use_up_key(key.hash, now)
        unit.log_change(key.mark, "sticker", "in use", "ended")
        return mine[key.mark]


def _stickers_in(view: ReadView, person: Person, now: datetime) -> tuple[tuple[Vehicle, tuple[Sticker, ...]], ...]:
    garage, used = garage_of(view), view.fetches()
    held: dict[str, list[Sticker]] = {}
    for key in _in_use(view, now):
        held.setdefault(key.mark, []).append(Sticker(key.mark, _short(key), key.made_at, used.get(key.hash)))
    return tuple(
        (v, tuple(held.get(v.mark, ()))) for v in view.vehicles() if v.meters and answers_for(person, v, garage)
    )


def _in_use(view: ReadView, now: datetime) -> list[AccessKey]:
    """Links of vehicles that belong to no person, without an end or with one ahead, oldest first."""
    return [k for k in view.keys(Purpose.ODOMETER) if k.mark and not k.person and k.opens(Purpose.ODOMETER, now)]


def _short(key: AccessKey) -> str:
    return key.hash[:12]
