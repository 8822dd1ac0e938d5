"""From one version to the next (D01 to D05): a scripted summer, published every day and judged on its bytes alone."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise

import pytest

from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.calendar_feed.values import FeedBody
from fleetcare.due.outlook import ReadingWanted, VehicleOutlook
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.quantities import DateSpan
from fleetcare.work.record import Finding, WorkDone
from tests.calendar_feed.checklist import CHECKS
from tests.calendar_feed.garage import NAME, NOW, TODAY, Subscription, line, outlook, vehicle
from tests.calendar_feed.raw_feed import Block, RawFeed, day_of, moment_of, parsed, unfolded

DAYS = 150
STAMPS = {"DTSTAMP", "LAST-MODIFIED", "SEQUENCE"}


@dataclass(frozen=True, slots=True)
class Version:
    """One event of one version of the feed."""

    event: Block
    body: bytes

    @property
    def seen(self) -> list[tuple[str, str]]:
        """What a reader sees: all but the stamps."""
        return [(p.name, p.value) for p in self.event.properties if p.name not in STAMPS]

    @property
    def time(self) -> tuple[str, ...]:
        return tuple(self.event.one(name).value for name in ("DTSTART", "DTEND", "STATUS"))

    @property
    def title(self) -> str:
        return self.event.one("SUMMARY").text

    @property
    def sequence(self) -> int:
        return int(self.event.one("SEQUENCE").value)


Facts = tuple[list[VehicleOutlook], list[Booking], tuple[WorkDone, ...]]


def garage_on(day: int) -> Facts:
    """The garage on a day of the script. Every reckoned date jitters; some things happen for real."""
    noise = random.Random(day)
    asked_on = TODAY + timedelta(days=day // 30 * 30 + 5)
    wanted = ReadingWanted("odometer", asked_on, None, None) if day % 30 in range(5, 15) else None

    def around(likely: int, spread: int = 12) -> tuple[date, date, date]:
        middle = TODAY + timedelta(days=likely + noise.randint(-2, 2))
        return (middle - timedelta(days=spread), middle, middle + timedelta(days=spread + noise.randint(0, 3)))

    oil = 60 if day < 55 else 55 + 120  # done on day 55
    axle = 100 if day < 30 else 82  # towed more than expected from day 30 on
    anvil = outlook(
        vehicle("AN", "Anvil" if day < 90 else "Anvil II"),
        line(
            "AN", "oil", around(oil), last_done_on=TODAY if day < 55 else TODAY + timedelta(days=55),
            q_read=0.5 + 0.002 * day + noise.uniform(-0.01, 0.01),
        ),
        line("AN", "fluid", around(axle), component="rear-axle"),
        pace_km_per_day=46.0 * noise.uniform(0.99, 1.01),
    )  # fmt: skip
    coupling = (-35, -20, -6) if day < 40 else (320, 335, 350)  # done on day 40, long after its late date
    raft = outlook(
        vehicle("RA", "Raft"),
        line("RA", "coupling", tuple(TODAY + timedelta(days=n) for n in coupling)),  # type: ignore[arg-type]
        wanted=wanted,
    )  # fmt: skip
    outlooks: list[VehicleOutlook] = [anvil, raft]
    bookings = [
        Booking("hill", "Hill climb", DateSpan.of_days(TODAY + timedelta(days=70), TODAY + timedelta(days=72)), ("AN",))
    ]
    if day in range(20, 35) or day > 50:  # entered, called off, and on again
        start = TODAY + timedelta(days=90 if day < 60 else 91)
        bookings.append(Booking("rally", "Rally", DateSpan.of_days(start, start), ("AN", "RA")))
    settled = TODAY + timedelta(days=80) if day >= 80 else None
    finding = Finding("cover damp", TODAY + timedelta(days=60), settled)
    work = (WorkDone(LineKey("AN", "rear-axle", "fluid"), TODAY, findings=(finding,)),)
    return outlooks, bookings, work


def moment(day: int) -> datetime:
    """The clock of the script; it is set back by two days once."""
    return NOW + timedelta(days=day - 2 if day in (61, 62) else day)


@lru_cache(maxsize=1)
def history() -> tuple[FeedBody, ...]:
    """The bodies of all days."""
    calendar = Subscription()
    return tuple(
        calendar.publish(*garage_on(day), today=TODAY + timedelta(days=day), now=moment(day)) for day in range(DAYS)
    )


def versions(body: FeedBody) -> dict[str, Version]:
    """The events of a body by UID."""
    found = {}
    for block in body.body.split(b"BEGIN:VEVENT\r\n")[1:]:
        raw = b"BEGIN:VEVENT\r\n" + block.removesuffix(b"END:VCALENDAR\r\n")
        event = parsed(unfolded(raw))
        found[event.one("UID").value] = Version(event, raw)
    return found


@lru_cache(maxsize=1)
def steps() -> tuple[tuple[Version, Version], ...]:
    """Every event with itself on the next day."""
    days = [versions(body) for body in history()]
    return tuple((old[uid], new[uid]) for old, new in pairwise(days) for uid in sorted(set(old) & set(new)))


def appearances() -> Iterator[dict[str, Version]]:
    for body in history():
        yield versions(body)


def test_d01_unchanged_events_are_unchanged_to_the_byte() -> None:
    same = [(old, new) for old, new in steps() if old.seen == new.seen]
    assert len(same) > 500
    assert all(old.body == new.body for old, new in same)


def test_d02_changed_events_move_both_stamps_forward() -> None:
    changed = [(old, new) for old, new in steps() if old.seen != new.seen]
    assert len(changed) > 10
    for old, new in changed:
        for name in ("LAST-MODIFIED", "DTSTAMP"):
            assert moment_of(new.event.one(name)) > moment_of(old.event.one(name))


def test_d03_the_count_rises_with_dates_and_status_and_never_falls() -> None:
    """RFC 5546 2.1.4."""
    assert any(old.time != new.time for old, new in steps())
    for old, new in steps():
        assert new.sequence - old.sequence == (old.time != new.time)
    highest: dict[str, int] = {}
    for day in appearances():
        for uid, version in day.items():
            assert version.sequence >= highest.get(uid, 0)
            highest[uid] = version.sequence


def test_d04_no_event_returns_under_a_new_uid() -> None:
    uids: dict[str, set[str]] = {}
    gone_and_back = set()
    last_seen: dict[str, int] = {}
    for day, versions_now in enumerate(appearances()):
        for uid, version in versions_now.items():
            uids.setdefault(version.title, set()).add(uid)
            if last_seen.get(uid, day) < day - 1:
                gone_and_back.add(version.title)
            last_seen[uid] = day
    assert {"AN, RA spoken for: Rally", "Raft: odometer, please"} <= gone_and_back
    assert all(len(found) == 1 for found in uids.values()), uids


def test_d05_no_reckoned_date_moves_by_less_than_the_calm_limit() -> None:
    moves = [
        abs((day_of(new.event.one("DTSTART")) - day_of(old.event.one("DTSTART"))).days)
        for old, new in steps()
        if new.event.one("CATEGORIES").value in {"service due", "past late"}
    ]
    assert max(moves) > 0
    calm = FeedRules().calm_days
    windows = [garage_on(day)[0][0].lines[1].window for day in range(30)]
    reckoned = [window.likely for window in windows if window is not None]
    assert any(0 < abs((new - old).days) < calm for old, new in pairwise(reckoned)), "the script does not jitter"
    assert all(move == 0 or move >= calm for move in moves)


@pytest.mark.parametrize("name", CHECKS)
def test_every_version_keeps(name: str) -> None:
    for day in range(0, DAYS, 7):
        clock = max(moment(each) for each in range(day + 1))
        CHECKS[name](RawFeed(history()[day].body, clock, TODAY + timedelta(days=day), NAME))


def test_the_same_day_gives_the_same_bytes_six_hours_later() -> None:
    calendar = Subscription()
    body = calendar.publish(*garage_on(0), today=TODAY, now=NOW)
    again = calendar.publish(*garage_on(0), today=TODAY, now=NOW + timedelta(hours=6))
    assert calendar.ledger.changed == ()
    assert again is body


def test_past_late_stays_in_sight_for_thirty_days_with_five_versions_of_one_event() -> None:
    late = TODAY - timedelta(days=1)
    window = (late - timedelta(days=20), late - timedelta(days=10), late)
    calendar, found = Subscription(), []
    for day in range(30):
        of = outlook(vehicle("RA", "Raft"), line("RA", "coupling", window))
        today = TODAY + timedelta(days=day)
        calendar.publish((of,), today=today, now=NOW + timedelta(days=day))
        (one,) = calendar.ledger.current
        event = parsed(unfolded(one.body))
        assert day_of(event.one("DTSTART")) == late
        assert today + timedelta(days=1) < day_of(event.one("DTEND"))
        found.append((one.uid, one.body))
    assert len({uid for uid, _ in found}) == 1
    assert len({body for _, body in found}) <= 5


def test_sixty_noisy_readings_move_a_date_twice_at_most() -> None:
    """A steady 30 km a day read with 5 % of noise, 9 000 km to go, the pace taken from all readings so far."""
    noise = random.Random(5545)
    calendar = Subscription()
    starts, driven = [], 0.0
    for reading in range(1, 61):
        driven += 4 * 30 * noise.uniform(0.95, 1.05)
        today = TODAY + timedelta(days=4 * reading)
        left = (9000 - driven) / (driven / (4 * reading))
        likely = today + timedelta(days=round(left))
        of = outlook(
            vehicle("AN", "Anvil"),
            line("AN", "oil", (likely - timedelta(days=10), likely, likely + timedelta(days=10))),
        )
        calendar.publish((of,), today=today, now=NOW + timedelta(days=4 * reading))
        (one,) = calendar.ledger.current
        starts.append(day_of(parsed(unfolded(one.body)).one("DTSTART")))
        assert starts[-1] <= likely + timedelta(days=3)
    assert sum(old != new for old, new in pairwise(starts)) <= 2
