"""A vehicle in words before it is saved: what it is, its dial, its mix, and what its lines begin with."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr
from fleetcare.page.cards.past import mix_words
from fleetcare.wording import day_words, distance_words, meter_words
from fleetcare.work.new_vehicle import Past, Said


def vehicle_in_words(
    vehicle: Vehicle, said: Said, keeper: str, duties: Mapping[str, DutyCycle], today: date
) -> tuple[str, ...]:
    """One sentence for each thing that will be so. keeper: the name of who keeps it."""
    meter = vehicle.odometer or vehicle.hour_meter
    facts = {"name": vehicle.name, "called": vehicle.called, "mark": vehicle.mark, "keeper": keeper}
    told = [
        tr("{name}, {called}, mark {mark}, kept by {keeper}.", **facts)
        if keeper
        else tr("{name}, {called}, mark {mark}.", **facts)
    ]
    if meter is None:
        told.append(tr("It has no dial and goes by date."))
    elif said.dial is None:
        told.append(tr("What its dial shows is still to be read."))
    else:
        told.append(tr("Its dial shows {value} today.", value=meter_words(said.dial, meter.unit)))
    if vehicle.in_service_on is not None:
        told.append(tr("In service since {day}.", day=day_words(vehicle.in_service_on, today)))
    if vehicle.yearly_km is not None:
        told.append(tr("About {distance} a year.", distance=distance_words(vehicle.yearly_km, vehicle.unit)))
    told.append(tr("Usual mix: {mix}.", mix=mix_words(vehicle.usual_split, duties)))
    lines = [line for component in vehicle.components for line in component.lines]
    pasts = [said.answers[key].past for key in said.answers]
    done, new = pasts.count(Past.DONE), pasts.count(Past.NEW)
    told.append(tr("Parts: {parts}; services: {services}.", parts=len(vehicle.components), services=len(lines)))
    if done:
        told.append(tr("With a day or a dial: {count}.", count=done))
    if new:
        told.append(tr("Counted from new: {count}.", count=new))
    if len(lines) > done + new:
        told.append(tr("Of the others a look comes first, or they wait for an event."))
    return tuple(told)
