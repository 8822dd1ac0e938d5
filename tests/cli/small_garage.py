"""A small garage as files: one person, one vehicle, one meter; every day of it lies years back."""

from __future__ import annotations

from pathlib import Path

READINGS_HEAD = "vehicle,meter,date,value,unit,split,by,state,note\n"
READINGS = "Pocket,odometer,2021-01-04,10000,km,,noor,used,\nPocket,odometer,2021-02-01,11000,km,,noor,used,\n"

GARAGE = '[garage]\nname = "Small garage"\nzone = "Europe/Berlin"\nunit = "km"\nlist_keeper = "noor"\n'
PEOPLE = '[[person]]\nkey = "noor"\nname = "Noor Haddad"\nmail = "noor@small.example"\nzone = "Europe/Berlin"\n'
VEHICLE = """
[[vehicle]]
mark = "{mark}"
name = "{name}"
kind = "car"
called = "errand car"
unit = "km"
keeper = "noor"
in_service_on = 2020-05-02
entered_on = 2021-01-04

[[vehicle.meter]]
key = "odometer"
unit = "km"
digits = 6

[[vehicle.component]]
key = "engine"
kind = "engine"
title = "Engine"
services = [{{ row = "engine-oil", history = "new" }}]
"""


def write_garage(folder: Path, readings: str = READINGS, vehicles: int = 1) -> Path:
    """Writes the files into a new folder, and returns it. The first vehicle is Pocket; others are V0002, V0003 ..."""
    folder.mkdir()
    texts = [VEHICLE.format(mark="PO", name="Pocket")]
    texts += [VEHICLE.format(mark=f"V{n:04}", name=f"Errand {n}") for n in range(2, vehicles + 1)]
    (folder / "garage.toml").write_text(GARAGE, encoding="utf-8")
    (folder / "people.toml").write_text(PEOPLE, encoding="utf-8")
    (folder / "vehicles.toml").write_text("".join(texts), encoding="utf-8")
    (folder / "readings.csv").write_text(READINGS_HEAD + readings, encoding="utf-8")
    return folder
