"""When a measured value will reach its limit: one line for each place that was measured twice or more.

The rate comes from the measurements, the days from the pace of the vehicle; both are unsure, and early, likely and late
say so together.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from decimal import Decimal

from fleetcare.book.rows import BookRow, IntervalRule, Limits, Status
from fleetcare.due.by_meter import ask_limit
from fleetcare.due.counted_from import CountedFrom, Origin, amount_at
from fleetcare.due.line_case import Asked, LineCase, Rules, Situation
from fleetcare.due.outlook import Cause
from fleetcare.due.pace import Amount
from fleetcare.fleet.component import Component, LineKey
from fleetcare.language import from_books, in_force, tr
from fleetcare.language.measure import told_in
from fleetcare.quantities import DistanceUnit, PrintedDistance, km_to
from fleetcare.wear.distance_limit import plain_limit
from fleetcare.wear.measured import WearRate, since_renewed, wear_rate
from fleetcare.wording import counted, day_words, grouped
from fleetcare.work.found import Found, found_what
from fleetcare.work.record import WorkDone

_PREFIX = "limit-"
_SHORT = 24


def is_measured(line: LineKey) -> bool:
    """True if the line is such a forecast and no service that could be done."""
    return line.service.startswith(_PREFIX)


def limit_cases(situation: Situation, rules: Rules) -> list[LineCase]:
    """A line for every place that was measured often enough, in order of component, kind and place."""
    groups: defaultdict[tuple[str, str, str], list[Found]] = defaultdict(list)
    for found in situation.facts.found:
        if found.value is not None and found.on <= rules.today and (found.low is None) != (found.high is None):
            groups[found.component, found.kind, found.place].append(found)
    cases = (_case(situation, rules, groups[key]) for key in sorted(groups))
    return [case for case in cases if case is not None]


def _case(situation: Situation, rules: Rules, measured: Sequence[Found]) -> LineCase | None:
    """None if there is no distance, too little was measured, or it does not get worse."""
    pace, facts = situation.distance, situation.facts
    ordered = sorted(measured, key=lambda each: (each.on, each.order, each.position))
    newest = ordered[-1]
    component = facts.vehicle.component(newest.component)
    if pace is None or component is None or newest.value is None:
        return None
    falls = newest.low is not None
    limit = newest.low if falls else newest.high
    assert limit is not None  # one of the two is there
    if (newest.value <= limit) if falls else (newest.value >= limit):
        return None  # the finding itself says that it is past it
    points: list[tuple[float, float]] = []
    for each in ordered:
        record = WorkDone(each.line, each.on, each.at, each.meter)
        amount = amount_at(pace, each.on, record)
        assert amount is not None  # there is a pace
        assert each.value is not None  # looked at above
        points.append((amount.value, float(each.value)))
    worn = since_renewed(points, falls=falls)
    rate = wear_rate(worn, falls=falls)
    if rate is None:
        return None
    left_km = rate.km_to(float(limit) if falls else -float(limit))
    if left_km <= 0:
        return None
    since = CountedFrom(
        origin=Origin.FINDING,
        on=newest.on,
        km=Amount(rate.last_km),
        hours=None,
        work=None,
        look_is_due=False,
        is_first=False,
        told=_told(newest, rate, len(worn), rules, told_in(facts.vehicle.unit)),
    )
    question = ask_limit(
        plain_limit(left_km),
        pace,
        Amount(rate.last_km),
        newest.on.toordinal(),
        situation.mix,
        facts.vehicle.usual_split,
        rules.questions,
        rules.priors,
        today=rules.today.toordinal(),
        unsure=rate.cv2,
    )
    row = _row(newest, component, limit, left_km, facts.vehicle.unit, len(worn))
    return LineCase(component, row, since, (), (Asked(Cause.DISTANCE, "distance", "", question),), (), ())


def _row(
    newest: Found, component: Component, limit: Decimal, left_km: float, unit: DistanceUnit, count: int
) -> BookRow:
    place = newest.place.replace(" ", "-")
    short = " ".join(part for part in (newest.kind, newest.place) if part)
    left = PrintedDistance.of(max(1, round(km_to(left_km, unit))), unit)
    return BookRow(
        key=f"{_PREFIX}{newest.kind}{f'-{place}' if place else ''}",
        title=from_books("{what} reaches {limit} {unit}", what=found_what(newest), limit=limit, unit=newest.unit),
        short=from_books("{what}, measured", short[:_SHORT].rstrip(), what=found_what(newest)),
        components=(component.kind,),
        vehicles=(),
        rule=IntervalRule(repeat=Limits(distance=left)),
        source=from_books("{count} measurements here", count=str(count)),
        status=Status.GARAGE,
        action=from_books("Measure it again; have the part at hand"),
        note=from_books(
            "A straight line through what was measured; the vehicle’s manual says when the part has to go."
        ),
    )


def _told(newest: Found, rate: WearRate, count: int, rules: Rules, unit: DistanceUnit) -> str:
    """`8.5 mm on 14 April; 0.2 mm every 1 000 mi by 4 measurements.`"""
    per_thousand = f"{rate.per_km * 1000.0 / km_to(1.0, unit):.2g}".replace(".", in_force().decimal)
    return tr(
        "{value} on {day}; {rate} every {distance} by {measurements}.",
        value=f"{newest.value} {newest.unit}".replace(".", in_force().decimal),
        day=day_words(newest.on, rules.today),
        rate=f"{per_thousand} {newest.unit}",
        distance=f"{grouped(1000)} {unit}",
        measurements=counted(count, "measurement", "measurements"),
    )
