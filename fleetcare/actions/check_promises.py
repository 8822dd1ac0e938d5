"""Proves what we promise over what is stored. Each proof can fail; none changes anything."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from fleetcare.actions.gather import (
    FORECAST_NUMBERS,
    Rules,
    facts_of,
    garage_day,
    garage_of,
    outlooks_from,
    rules_in_force,
)
from fleetcare.actions.ports import LineState, ReadView, Store
from fleetcare.actions.settle import state_in_words, state_of
from fleetcare.digest.values import DeliveryState
from fleetcare.due.meter_walk import read_meter
from fleetcare.due.reckon import VehicleFacts
from fleetcare.fleet.component import LineKey
from fleetcare.language import later, saying


@dataclass(frozen=True, slots=True)
class Proof:
    """What was found to hold, and what not, in plain sentences that `tr` tells."""

    held: tuple[str, ...]
    broken: tuple[str, ...]


def check_promises(store: Store, rules: Rules, *, now: datetime) -> Proof:
    """Looks through everything stored. Raises StoreDamaged if the database itself is not whole."""
    with store.read() as view:
        facts = facts_of(view)
        proofs = (
            (
                later("every service line has a date or a reason why not, as reckoned"),
                _windows(view, rules, facts, now),
            ),
            (later("every date has its cause in the log"), _causes(view)),
            (later("no used reading contradicts another"), _readings(facts, rules)),
            (later("nobody has two letters of one kind for one period"), _letters(view)),
            (later("nobody's feed names a vehicle they have no part in"), _feeds(view)),
        )
        checked = [(what, tuple(faults)) for what, faults in proofs]
    return Proof(
        held=tuple(what for what, faults in checked if not faults),
        broken=tuple(
            saying("{what}: {fault}", what=saying(what), fault=fault) for what, faults in checked for fault in faults
        ),
    )


def _windows(view: ReadView, rules: Rules, facts: tuple[VehicleFacts, ...], now: datetime) -> Iterator[str]:
    stored = view.windows()
    rules = rules_in_force(view, rules)
    today = garage_day(garage_of(view), now)
    last_days = _last_worked_out_on(view)
    known: set[LineKey] = set()
    for each, outlook in zip(facts, outlooks_from(facts, rules, today), strict=True):
        states = {line.key: state_of(line) for line in outlook.lines}
        known.update(states)
        differing = [key for key, state in states.items() if stored.get(key) != state]
        # Without a server nobody works a new day out; then the dates are those of the last day somebody did.
        earlier: dict[LineKey, LineState] = {}
        last_on = last_days.get(each.vehicle.mark)
        if differing and last_on is not None and last_on != today:
            earlier = {line.key: state_of(line) for line in outlooks_from((each,), rules, last_on)[0].lines}
        for key in differing:
            if key not in stored:
                yield saying("{key} has neither", key=key)
            elif stored[key] != earlier.get(key):
                yield saying(
                    "{key} is stored as {stored}, not {now}",
                    key=key,
                    stored=state_in_words(stored[key]),
                    now=state_in_words(states[key]),
                )
    for key in sorted(set(stored) - known):
        yield saying("{key} is stored, but there is no such line", key=key)


def _last_worked_out_on(view: ReadView) -> dict[str, date]:
    """By mark, the day of the newest entry about a vehicle or one of its lines; each such write works it out.

    So do new numbers of the forecast, for every vehicle.
    """
    garage = garage_of(view)
    days: dict[str, date] = {}
    for entry in view.log():
        day = garage_day(garage, entry.change.at)
        if entry.what == FORECAST_NUMBERS:
            return {vehicle.mark: days.get(vehicle.mark, day) for vehicle in view.vehicles()}
        days.setdefault(entry.subject.partition("/")[0], day)
    return days


def _causes(view: ReadView) -> Iterator[str]:
    last: dict[str, str] = {}
    for entry in view.log():
        if entry.what == "due window":
            last.setdefault(entry.subject, entry.after)
    for key, state in sorted(view.windows().items()):
        if last.get(str(key)) != state_in_words(state):
            yield saying("{key} stands at {state}, which no entry explains", key=key, state=state_in_words(state))


def _readings(facts: tuple[VehicleFacts, ...], rules: Rules) -> Iterator[str]:
    for each in facts:
        for meter in each.vehicle.meters:
            for finding in read_meter(each, meter, rules.priors, as_of=date.max).findings:
                yield f"{each.vehicle.mark}, {meter.key}: {finding}"


def _letters(view: ReadView) -> Iterator[str]:
    letters = view.letter_places()
    counts = Counter((each.person, each.kind, each.period) for each in letters)
    for (person, kind, period), count in sorted(counts.items()):
        if count > 1:
            yield saying(
                "{person} has {count} of {kind} {period}", person=person, count=count, kind=kind.value, period=period
            )
    for each in letters:
        if each.state is DeliveryState.SENT and each.sent_at is None:
            yield saying(
                "{subject} to {person} counts as sent, but has no moment", subject=each.subject, person=each.person
            )


def _feeds(view: ReadView) -> Iterator[str]:
    from fleetcare.fleet.naming import marks_seen_by

    garage, vehicles = garage_of(view), view.vehicles()
    for person in view.people():
        feed = view.feed(person.key)
        seen = marks_seen_by(person, garage, vehicles)
        for vehicle in vehicles:
            if feed is not None and vehicle.mark not in seen and f"SUMMARY:{vehicle.name}: ".encode() in feed.body:
                yield saying("{person} is shown {vehicle}", person=person.key, vehicle=vehicle.name)
