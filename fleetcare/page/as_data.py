"""The same facts as plain data, for `--json` and the API: one shape for both."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from fleetcare.due.backtest import Backtest, Group
from fleetcare.due.change_words import WindowChange
from fleetcare.due.hit_rate import MEANT, HitRate, JudgedWindow
from fleetcare.due.outlook import DueWindow, LineOutlook, NoDate, Step, StoodStill, VehicleOutlook
from fleetcare.due.past_windows import Kind
from fleetcare.due.vehicle_state import has_open_end
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DateSpan

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


def explain_data(outlook: VehicleOutlook, line: LineOutlook, changes: Sequence[WindowChange]) -> Data:
    """One service line with the way from readings to its dates, and what changed it last (newest first)."""
    return {
        **line_data(outlook, line),
        "standing": standing_data(outlook.standing),
        "moved_laid_up": reading_data(outlook.moved) if outlook.moved else None,
        "steps": [step_data(step) for step in line.steps],
        "changes": [change_data(change) for change in changes],
    }


def step_data(step: Step) -> Data:
    """One step: its sentence, and its figures by name. Numbers are rounded to six decimals, days are ISO text."""
    return {
        "text": step.text,
        "part": step.part or None,
        "figures": [
            {
                "name": figure.name,
                "value": figure.value.isoformat() if isinstance(figure.value, date) else round(figure.value, 6),
                "unit": figure.unit or None,
            }
            for figure in step.figures
        ],
    }


def change_data(change: WindowChange) -> Data:
    """One change of a window with its cause and by how much, and both states as `window_data` has them."""
    return {
        "at": change.at.isoformat(),
        "day": change.on.isoformat(),
        "by": change.who,
        "why": change.why,
        "change": change.told,
        "before": None if change.before is None else window_data(change.before),
        "after": None if change.after is None else window_data(change.after),
    }


def standing_data(standing: StoodStill | None) -> Data | None:
    """That a vehicle seems to stand: since which reading, by how many, at what value."""
    if standing is None:
        return None
    return {
        "meter": standing.meter,
        "since": standing.since.isoformat(),
        "last_read": standing.last_on.isoformat(),
        "readings": standing.readings,
        "value": str(standing.value),
        "unit": standing.unit.value,
    }


def spell_data(spell: DateSpan) -> Data:
    """A spell in which a vehicle is laid up; `until` is its last day, None if nobody knows it yet."""
    return {"from": spell.first.isoformat(), "until": None if has_open_end(spell) else spell.last.isoformat()}


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
        "standing": standing_data(outlook.standing),
        "moved_laid_up": reading_data(outlook.moved) if outlook.moved else None,
        "laid_up": [spell_data(spell) for spell in sorted(outlook.vehicle.laid_up)],
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


def backtest_data(found: Backtest) -> Data:
    """A garage's past windows beside what happened: counts for services and for milestones, and every window."""
    return {
        "day": found.today.isoformat(),
        "meant": MEANT,
        "past_days": found.days,
        "past_days_there_were": found.of_days,
        "set_aside": found.set_aside,
        "numbers_learned_here": found.fitted,
        "services": _kind_data(found, Kind.SERVICE),
        "milestones": _kind_data(found, Kind.MILESTONE),
        "not_judged": [{"vehicle": each.mark, "why": each.why} for each in found.not_judged],
        "windows": [past_window_data(each) for each in found.windows],
    }


def rate_data(rate: HitRate) -> Data:
    """How often windows held. Shares are of the closed ones; the limits hold in 19 of 20 cases."""
    return {
        "closed": rate.closed,
        "held": rate.held,
        "may_have_held": rate.may_have_held,
        "before_early": rate.before_early,
        "after_late": rate.after_late,
        "open": rate.open,
        "weigh_like": round(rate.apart, 1),
        "share": _rounded(rate.share),
        "wilson": _limits(rate.wilson),
        "chance_allows": _limits(rate.chance_allows),
        "off_days_median": _rounded(rate.off_median),
        "off_days_mean": _rounded(rate.off_mean),
        "off_share_median": _rounded(rate.off_share),
        "later_than_likely_days_median": _rounded(rate.lean),
        "verdict": rate.verdict.value,
    }


def past_window_data(judged: JudgedWindow) -> Data:
    """One past window; `came` is None if the day has not come by a reading, else one day between `came_after` and
    `came_by`, the two readings around it."""
    given, real = judged.given, judged.real
    return {
        "vehicle": given.mark,
        "meter": given.meter,
        "kind": given.kind.value,
        "what": given.what,
        "line": str(given.line) if given.line is not None else None,
        "given": _day_text(given.given_on),
        "readings_known": given.readings,
        "early": _day_text(given.early),
        "likely": _day_text(given.likely),
        "late": _day_text(given.late),
        "came": _day_text(judged.came_on),
        "came_after": _day_text(real.first if real is not None else None),
        "came_by": _day_text(real.last if real is not None else None),
        "outcome": judged.outcome.value,
    }


def _kind_data(found: Backtest, kind: Kind) -> Data:
    def rows(groups: Sequence[Group]) -> list[Data]:
        return [{"name": group.name, **rate_data(group.rate)} for group in groups]

    return {
        **rate_data(found.rate(kind)),
        "by_horizon": rows(found.by_horizon(kind)),
        "by_readings": rows(found.by_readings(kind)),
        "by_vehicle": rows(found.by_vehicle(kind)),
    }


def _limits(limits: tuple[float, float] | None) -> list[float] | None:
    return None if limits is None else [round(limit, 4) for limit in limits]


def _day_text(ordinal: int | None) -> str | None:
    return None if ordinal is None else date.fromordinal(ordinal).isoformat()


def _rounded(share: float | None) -> float | None:
    return None if share is None else round(share, 4)
