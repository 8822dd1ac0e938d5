"""What runs when, inside the serving process. The timer only wakes; what is due is read from the store each time."""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from apscheduler.schedulers.background import BackgroundScheduler

from fleetcare.actions.fit_fleet import fit_fleet, fit_is_due
from fleetcare.actions.gather import garage_day
from fleetcare.actions.read_calendars import read_due_calendars
from fleetcare.actions.refresh import refresh
from fleetcare.actions.send_letters import send_due_letters
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.assemble import Parts
from fleetcare.clock import monotonic_s
from fleetcare.settings.settings import FitWhen

WAKE_EVERY_S = 30
CALENDARS_EVERY_S = 60
"""How often it is looked whether a calendar's time has come."""
REQUESTS_EVERY_S = 900.0
"""How often vehicles are looked through for readings that are wanted; it works every vehicle out."""

LATE_AFTER = timedelta(minutes=2)

log = logging.getLogger(__name__)


@dataclass
class Round:
    """One pass over everything that may be due. Safe to run as often as one likes, in any number of processes."""

    parts: Parts
    _worked_out_on: date | None = field(default=None, init=False)
    _looked_at_s: float = field(default=float("-inf"), init=False)
    _fit_asked_on: date | None = field(default=None, init=False)
    _fit_done_on: date | None = field(default=None, init=False)
    last_run_at: datetime | None = field(default=None, init=False)
    last_trouble: str = field(default="", init=False)

    def run(self) -> None:
        """Works out a new day, writes letters that are due, sends those that wait, learns the numbers once a month."""
        parts = self.parts
        now = parts.clock.now()
        try:
            self._work_out_a_new_day(now)
            if parts.settings.letters.enabled:
                self._write(now)
                send_due_letters(parts.store, parts.mailer, parts.clock)
            if parts.settings.forecast.fit is FitWhen.MONTHLY:
                self._fit(now)
            self.last_trouble = ""
        except Exception as trouble:
            # The timer must outlive any single failure; the next round tries again, and /readyz says that one failed.
            self.last_trouble = type(trouble).__name__
            log.exception("the round failed; it is tried again in %s s", WAKE_EVERY_S)
        self.last_run_at = now

    def read_calendars(self) -> None:
        """Reads the calendars whose time has come. In a round of its own: it waits for other people's servers."""
        parts, given = self.parts, self.parts.settings.calendars
        if not given.enabled:
            return
        try:
            read_due_calendars(
                parts.store,
                parts.rules,
                parts.calendar_desk,
                clock=parts.clock,
                base_url=parts.base_url,
                every=timedelta(minutes=given.every_minutes),
            )
        except Exception:
            # A calendar that cannot be read is no failure here; this is the store, or a fault of ours.
            log.exception("reading calendars failed; it is tried again in %s s", CALENDARS_EVERY_S)

    def troubles(self) -> tuple[str, ...]:
        """What keeps the round from its work, for /readyz; empty if nothing does."""
        now = self.parts.clock.now()
        if self.last_run_at is None or now - self.last_run_at > LATE_AFTER:
            return ("the timetable has not run for two minutes",)
        return (f"the last round failed: {self.last_trouble}",) if self.last_trouble else ()

    def _work_out_a_new_day(self, now: datetime) -> None:
        with self.parts.store.read() as view:
            garage = view.garage()
        if garage is None:
            return
        today = garage_day(garage, now)
        if today != self._worked_out_on:
            why = "the start of the program" if self._worked_out_on is None else "a new day"
            refresh(self.parts.store, self.parts.rules, now=now, base_url=self.parts.base_url, why=why)
            self._worked_out_on = today

    def _fit(self, now: datetime) -> None:
        """Once a day at most: where there is not enough to go by, tomorrow is soon enough to look again."""
        parts, today = self.parts, self._worked_out_on
        if today is None or today == self._fit_done_on:
            return
        is_due = fit_is_due(parts.store, now, first_look_today=today != self._fit_asked_on)
        self._fit_asked_on = today
        if is_due:
            fit_fleet(parts.store, parts.rules, now=now, base_url=parts.base_url, who="timetable")
            self._fit_done_on = today

    def _write(self, now: datetime) -> None:
        # Monotonic time: a clock that was set back must not keep the requests waiting.
        tick_s = monotonic_s()
        look = tick_s - self._looked_at_s >= REQUESTS_EVERY_S
        if look:
            self._looked_at_s = tick_s
        parts = self.parts
        write_due_letters(parts.store, parts.rules, parts.desk, now=now, with_requests=look)


def start_timetable(round_: Round) -> BackgroundScheduler:
    """Wakes the round each half minute until `shutdown` is called on what is returned. The first pass runs at once."""
    scheduler = BackgroundScheduler(timezone="UTC")
    scheduler.add_job(
        round_.run,
        "interval",
        seconds=WAKE_EVERY_S,
        next_run_time=round_.parts.clock.now(),
        # A late or missed wake is made good by the next one; two never run at a time.
        misfire_grace_time=None,
        coalesce=True,
        max_instances=1,
    )
    scheduler.add_job(
        round_.read_calendars,
        "interval",
        seconds=CALENDARS_EVERY_S,
        next_run_time=round_.parts.clock.now(),
        misfire_grace_time=None,
        coalesce=True,
        max_instances=1,
    )
    scheduler.start()
    return scheduler
