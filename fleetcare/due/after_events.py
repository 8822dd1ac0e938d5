"""Limits after an event: the first event since a line was done, that took place or is booked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from fleetcare.book.rows import AfterEvent, BookRow
from fleetcare.due.counted_from import CountedFrom
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.limit import LimitOutlook, dated_limit
from fleetcare.due.outlook import Cause
from fleetcare.fleet.component import Component
from fleetcare.language import tr, tr_book
from fleetcare.usage.priors import Priors
from fleetcare.usage.rare_events import EventRate
from fleetcare.wording import counted, day_words


@dataclass(frozen=True, slots=True)
class MetEvent:
    """An event that makes a line due, on its day; booked: it comes with a booking."""

    rule: AfterEvent
    on: date
    booked: str = ""

    def words(self, today: date) -> str:
        """The event with its day: `track day on 16 May (booked: Track day)`."""
        event, day = tr_book(self.rule.event), day_words(self.on, today)
        if self.booked:
            return tr("{event} on {day} (booked: {title})", event=event, day=day, title=self.booked)
        return tr("{event} on {day}", event=event, day=day)


def events_met(facts: VehicleFacts, component: Component, row: BookRow, since: CountedFrom) -> tuple[MetEvent, ...]:
    """For each rule of the row the first event since the line was done; a booked one counts on its last day."""
    happened = [
        (event.kind, event.on, "")
        for event in facts.events
        if event.mark == facts.vehicle.mark
        and event.component in ("", component.key, component.kind)
        # What befell this vehicle before the component came to it did not befall the component.
        and (since.moved_on is None or event.component == component.key or event.on >= since.moved_on)
    ]
    booked = [
        (booking.event, booking.days.last, booking.title)
        for booking in facts.bookings
        if booking.event and facts.vehicle.mark in booking.marks
    ]
    found = []
    for rule in row.rule.after:
        days = [(on, title) for kind, on, title in (*happened, *booked) if kind == rule.event and since.follows(on)]
        if days:
            on, title = min(days)
            found.append(MetEvent(rule, on, title))
    return tuple(found)


def dated_event(met: MetEvent, row: BookRow, since: date, *, today: date, priors: Priors) -> LimitOutlook | None:
    """The limit in days after an event, or at once; None if the rule counts distance or hours only.

    It opens on the day of the event: the work cannot come before it. Within some days: the last of them is likely and
    late date at once. At once: the day of the event, with the row's give after it.
    """
    rule = met.rule
    if rule.days is None and (rule.distance is not None or rule.hours is not None):
        return None
    allowed = rule.days or 0
    give = 0 if allowed else (row.give_days if row.give_days is not None else priors.give_min_days)
    try:
        due_on = met.on + timedelta(days=allowed)
    except OverflowError:
        return None
    told = (
        tr(
            "After {event}: due within {days}, by {day}.",
            event=met.words(today),
            days=counted(allowed, "day"),
            day=day_words(due_on, today),
        )
        if allowed
        else tr("After {event}: due at once.", event=met.words(today))
    )
    return dated_limit(
        Cause.EVENT,
        due_on,
        since=met.on if allowed else min(since, met.on - timedelta(days=1)),
        today=today,
        give_days=give,
        give_before=allowed,
        told=(told,),
    )


def next_event_words(facts: VehicleFacts, row: BookRow, *, today: date, priors: Priors) -> Iterable[str]:
    """For a line that waits for its event: how often it happened, and the chance of another within a month."""
    begin = min((event.on for event in facts.events), default=None)
    for rule in row.rule.after:
        if begin is None or begin >= today:
            continue
        seen = [event for event in facts.events if event.kind == rule.event and event.on <= today]
        rate = EventRate.prior(priors).having_seen(len(seen), float((today - begin).days))
        chance = round(100 * rate.chance(1, 30.0))
        yield tr(
            "{events} of the kind {kind} since {begin}; the chance of another within 30 days is {chance} %.",
            events=counted(len(seen), "event", "events"),
            kind=tr_book(rule.event),
            begin=day_words(begin, today),
            chance=chance,
        )
