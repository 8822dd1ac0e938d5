"""Proves what we promise over what is stored. Each proof can fail; none changes anything."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, outlooks_from
from fleetcare.actions.ports import ReadView, Store
from fleetcare.actions.settle import state_in_words, state_of
from fleetcare.digest.values import DeliveryState
from fleetcare.due.reckon import VehicleFacts
from fleetcare.meter.checking import check_meter


@dataclass(frozen=True, slots=True)
class Proof:
    """What was found to hold, and what not, in plain sentences."""

    held: tuple[str, ...]
    broken: tuple[str, ...]


def check_promises(store: Store, rules: Rules, *, now: datetime) -> Proof:
    """Looks through everything stored. Raises StoreDamaged if the database itself is not whole."""
    with store.read() as view:
        facts = facts_of(view)
        proofs = (
            ("every service line has a date or a reason why not, as reckoned today", _windows(view, rules, facts, now)),
            ("every date has its cause in the log", _causes(view)),
            ("no used reading contradicts another", _readings(facts)),
            ("nobody has two letters of one kind for one period", _letters(view)),
            ("nobody's feed names a vehicle they have no part in", _feeds(view)),
        )
        checked = [(what, tuple(faults)) for what, faults in proofs]
    return Proof(
        held=tuple(what for what, faults in checked if not faults),
        broken=tuple(f"{what}: {fault}" for what, faults in checked for fault in faults),
    )


def _windows(view: ReadView, rules: Rules, facts: tuple[VehicleFacts, ...], now: datetime) -> Iterator[str]:
    stored = view.windows()
    lines = [
        line for outlook in outlooks_from(facts, rules, garage_day(garage_of(view), now)) for line in outlook.lines
    ]
    for line in lines:
        if line.key not in stored:
            yield f"{line.key} has neither"
        elif stored[line.key] != state_of(line):
            yield f"{line.key} is stored as {state_in_words(stored[line.key])}, not {state_in_words(state_of(line))}"
    for key in sorted(set(stored) - {line.key for line in lines}):
        yield f"{key} is stored, but there is no such line"


def _causes(view: ReadView) -> Iterator[str]:
    last: dict[str, str] = {}
    for entry in view.log():
        if entry.what == "due window":
            last.setdefault(entry.subject, entry.after)
    for key, state in sorted(view.windows().items()):
        if last.get(str(key)) != state_in_words(state):
            yield f"{key} stands at {state_in_words(state)}, which no entry explains"


def _readings(facts: tuple[VehicleFacts, ...]) -> Iterator[str]:
    for each in facts:
        for meter in each.vehicle.meters:
            for finding in check_meter(each.readings, meter, max_km_per_day=each.vehicle.max_km_per_day).findings:
                yield f"{each.vehicle.mark}, {meter.key}: {finding}"


def _letters(view: ReadView) -> Iterator[str]:
    counts = Counter((d.person, d.kind, d.period) for d in view.deliveries())
    for (person, kind, period), count in sorted(counts.items()):
        if count > 1:
            yield f"{person} has {count} of {kind.value} {period}"
    for delivery in view.deliveries(DeliveryState.SENT):
        if delivery.sent_at is None:
            yield f"{delivery.subject} to {delivery.person} counts as sent, but has no moment"


def _feeds(view: ReadView) -> Iterator[str]:
    from fleetcare.fleet.naming import marks_seen_by

    garage, vehicles = garage_of(view), view.vehicles()
    for person in view.people():
        feed = view.feed(person.key)
        seen = marks_seen_by(person, garage, vehicles)
        for vehicle in vehicles:
            if feed is not None and vehicle.mark not in seen and f"SUMMARY:{vehicle.name}: ".encode() in feed.body:
                yield f"{person.key} is shown {vehicle.name}"
