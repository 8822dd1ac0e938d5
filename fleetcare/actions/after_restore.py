"""The last step of a restore from a backup: calendars are taken up again so that no reader takes news for old."""

from __future__ import annotations

from datetime import datetime

from fleetcare.actions.gather import Rules, garage_of
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.renew_feeds import renew_feeds
from fleetcare.calendar_feed.publishing import next_era


def feeds_after_restore(store: Store, rules: Rules, *, now: datetime, base_url: str, who: str = "restore") -> int:
    """Publishes every calendar anew above everything that may have been published since the backup was made.

    Nobody knows how often entries were revised since, so every SEQUENCE goes on from the next thousand and every
    LAST-MODIFIED is now; UIDs stay. Whoever puts a backup back calls this once, before the first poll. Returns the era.
    """
    with store.write(Change(who, "taken up again from a backup", now)) as unit:
        era = next_era(unit.feed_era(), unit.revisions().values())
        unit.put_feed_era(era)
        if unit.garage() is not None:
            renew_feeds(unit, rules, garage_of(unit), touched=None, outlooks=(), now=now, base_url=base_url)
        unit.log_change("garage", "calendars", "", f"taken up again, era {era}")
    return era
