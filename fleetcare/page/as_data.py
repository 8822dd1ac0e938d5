"""The same facts as plain data, for `--json` and the API: one shape for both."""

from __future__ import annotations

from typing import Any

from fleetcare.due.outlook import DueWindow, LineOutlook, NoDate, VehicleOutlook
from fleetcare.meter.reading import Reading

Data = dict[str, Any]
"""What `json` takes: text, numbers, true, false, None, lists and dictionaries of these; days as ISO text."""


def line_data(outlook: VehicleOutlook, line: LineOutlook) -> Data:
    """One service line. Wear shares are of the interval, 1 means due; the three dates are None without a window."""
    window = line.window
    return {
        "vehicle": outlook.vehicle.mark,
        "name": outlook.vehicle.name,
        "component": line.key.component,
        "service": line.key.service,
        "title": line.row.title,
        **window_data(line.window or line.no_date),
        "state": state_words(line),
        "days_past_late": window.days_past_late(line.today) if window else 0,
        "wear_by_reading": _rounded(line.q_read),
        "wear": _rounded(line.q_now),
        "last_done": line.last_done_on.isoformat() if line.last_done_on else None,
    }


def window_data(state: DueWindow | NoDate | None) -> Data:
    """The three dates with their cause, or the reason why there are none."""
    if isinstance(state, DueWindow):
        return {
            "early": state.early.isoformat(),
            "likely": state.likely.isoformat(),
            "late": state.late.isoformat(),
            "limit": state.cause.value,
            "no_date": None,
        }
    return {"early": None, "likely": None, "late": None, "limit": None, "no_date": state.value if state else None}


def state_words(line: LineOutlook) -> str:
    """`window ahead`, `window open`, `past late`, or why there is no date."""
    if line.window is None:
        return line.no_date.value if line.no_date else ""
    if line.window.is_past_late(line.today):
        return "past late"
    return "window open" if line.window.is_open(line.today) else "window ahead"


def vehicle_data(outlook: VehicleOutlook) -> Data:
    """One vehicle without its lines."""
    return {
        "vehicle": outlook.vehicle.mark,
        "name": outlook.vehicle.name,
        "called": outlook.vehicle.called,
        "unit": outlook.vehicle.unit.value,
        "last_reading": reading_data(outlook.last_reading) if outlook.last_reading else None,
        "reckoned": str(outlook.reckoned_dial) if outlook.reckoned_dial is not None else None,
        "pace_km_per_day": round(outlook.pace_km_per_day, 3) if outlook.pace_km_per_day is not None else None,
        "basis": outlook.basis,
        "mix": dict(outlook.mix.shares),
        "reading_wanted_since": outlook.wanted.since.isoformat() if outlook.wanted else None,
    }


def reading_data(reading: Reading) -> Data:
    """One reading as it was given."""
    return {
        "vehicle": reading.mark,
        "meter": reading.meter,
        "date": reading.on.isoformat(),
        "value": str(reading.value),
        "unit": reading.unit.value,
        "split": dict(reading.split.shares) if reading.split else None,
        "state": reading.state.value,
        "by": reading.by,
    }


def _rounded(share: float | None) -> float | None:
    return None if share is None else round(share, 4)
