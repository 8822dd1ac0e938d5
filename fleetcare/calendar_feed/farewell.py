"""What a replaced address says: that it was replaced, and nothing of the garage's vehicles."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from fleetcare.calendar_feed.publishing import draft_of, press_at
from fleetcare.calendar_feed.render import feed_etag, feed_head
from fleetcare.calendar_feed.values import FEED_END, EntryKind, FeedBody, FeedEntry
from fleetcare.language import later, tr
from fleetcare.quantities import DateSpan

TITLE = later("This calendar address was replaced")
TEXT = later("Take this calendar away and put the new address in its place. The page Your calendar has it.")


def farewell(
    person: str, mark: str, *, calendar_name: str, garage_id: str, today: date, days: int, now: datetime
) -> FeedBody:
    """A calendar of one entry that holds from today for so many days; a subscriber drops what else it showed."""
    entry = FeedEntry(
        seed="address-replaced",
        kind=EntryKind.REPLACED,
        title=tr(TITLE),
        days=DateSpan(today, today + timedelta(days=days)),
        text=tr(TEXT),
    )
    press = press_at(now)
    press.next(None, draft_of(entry, garage_id=garage_id, base=""))
    (one,) = press.made
    head = feed_head(calendar_name)
    return FeedBody(person, feed_etag(head, [one.digest]), press.stamp, b"".join((head, one.body, FEED_END)), mark)
