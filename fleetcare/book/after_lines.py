"""Events after which a service is due as lines of text, as `intake.after_events` reads them back."""

from __future__ import annotations

from collections.abc import Sequence

from fleetcare.book.rows import AfterEvent


def after_event_lines(events: Sequence[AfterEvent]) -> str:
    """An event on each line: `immersion: 5 days`; of a printed pair the primary figure."""
    return "\n".join(_line(event) for event in events)


def _line(event: AfterEvent) -> str:
    limits = []
    if event.distance is not None and event.distance.figure is not None:
        limits.append(f"{event.distance.figure.normalize():f} {event.distance.primary.value}")
    if event.days is not None:
        limits.append(f"{event.days} {'day' if event.days == 1 else 'days'}")
    if event.hours is not None:
        limits.append(f"{event.hours.normalize():f} h")
    return f"{event.event}: {', '.join(limits)}" if limits else event.event
