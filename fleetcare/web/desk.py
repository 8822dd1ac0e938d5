"""Who stands at which vehicle's reading desk: by a link or sticker, or as a person who came in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from fastapi import Request

from fleetcare.actions.links import LINK_OVER, open_key
from fleetcare.actions.look_ahead import look_ahead
from fleetcare.assemble import Parts
from fleetcare.errors import NotAllowed, NotFound
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.language import saying
from fleetcare.page.cards.frame import SEAL_FIELD
from fleetcare.web.form_seal import seal_of
from fleetcare.web.who import reader_of, speak_with

MOST_AT_STICKER = 4
STICKER = "sticker"
"""Who gave a reading by a link that belongs to a vehicle alone."""


@dataclass(frozen=True, slots=True)
class Desk:
    """One vehicle's reading desk: who stands at it, and under which address.

    until: last day of the link; None if it is no link or has no end. home_url: where the garage's name leads, empty for
    a link.
    """

    garage: Garage
    vehicle: Vehicle
    meter: Meter
    person: Person | None
    until: date | None
    address: str
    home_url: str
    key_hash: str = ""
    """Of the link or sticker, empty for a person who came in."""
    people: tuple[tuple[str, str], ...] = ()
    """Who may stand at a sticker, by key and first name; empty where it is known who stands here."""
    sealed: tuple[tuple[str, str], ...] = ()
    """What forms of a person who came in carry; a link is its own seal, as no other site knows it."""

    @property
    def by(self) -> str:
        """Who stands in the log."""
        return self.person.key if self.person else STICKER

    @property
    def first_name(self) -> str:
        """First name of who stands here, empty if that is not known."""
        return self.person.first_name if self.person else ""

    def action(self, step: str = "") -> str:
        """Where a form of this desk is sent to; the usual meter is not named."""
        usual = self.vehicle.odometer or self.vehicle.hour_meter
        return f"{self.address}{step}" + ("" if self.meter == usual else f"?meter={self.meter.key}")


def desk_of_key(parts: Parts, key: str, meter: str) -> Desk:
    """The desk that a link or sticker opens. Raises NotAllowed, always alike, and NotFound (meter)."""
    opened = open_key(parts.store, key, Purpose.ODOMETER, now=parts.clock.now())
    if opened.vehicle is None:
        raise NotAllowed(LINK_OVER)
    speak_with(opened.person, parts)
    zone = ZoneInfo(opened.garage.zone)
    ends = opened.key.expires_at
    return Desk(
        garage=opened.garage,
        vehicle=opened.vehicle,
        meter=_meter(opened.vehicle, meter),
        person=opened.person,
        until=None if ends is None else (ends.astimezone(zone) - timedelta(seconds=1)).date(),
        address=f"/o/{key}",
        home_url="",
        key_hash=opened.key.hash,
        people=_at_sticker(parts, opened.vehicle) if opened.person is None else (),
    )


def desk_of_person(parts: Parts, request: Request, mark: str) -> Desk:
    """The desk of who came in. Raises NotAllowed and NotFound (vehicle, meter)."""
    person = reader_of(request, parts)
    if person is None:
        # Asked before the vehicle is looked for: a stranger learns no names and no marks.
        raise NotAllowed("Readings are entered by people who came in. Come in, then send it again.")
    ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now(), marks=(mark,))
    if not ahead.outlooks:
        raise NotFound("vehicle", mark)
    vehicle = ahead.outlooks[0].vehicle
    if not may_enter(person, vehicle, ahead.garage):
        raise NotAllowed(
            saying("Readings of {name} are entered by its people. Its keeper can let you in.", name=vehicle.name)
        )
    return Desk(
        garage=ahead.garage,
        vehicle=vehicle,
        meter=_meter(vehicle, request.query_params.get("meter", "")),
        person=person,
        until=None,
        address=f"/vehicles/{vehicle.mark}/reading",
        home_url="/",
        sealed=((SEAL_FIELD, seal_of(request)),),
    )


def _at_sticker(parts: Parts, vehicle: Vehicle) -> tuple[tuple[str, str], ...]:
    """First names of the vehicle's own people, drivers first; more than a handful would be a list to search."""
    with parts.store.read() as view:
        people = {person.key: person for person in view.people()}
    keys = [key for key in dict.fromkeys((*vehicle.drivers, vehicle.keeper)) if key in people]
    return tuple((key, people[key].first_name) for key in keys[:MOST_AT_STICKER])


def _meter(vehicle: Vehicle, key: str) -> Meter:
    usual = vehicle.odometer or vehicle.hour_meter
    found = next((m for m in vehicle.meters if m.key == key), None) if key else usual
    if found is None:
        raise NotFound(saying("meter on {name}", name=vehicle.name), key or "odometer", [m.key for m in vehicle.meters])
    return found
