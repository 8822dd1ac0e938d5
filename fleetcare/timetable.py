"""What runs when, inside the serving process. The timer only wakes; what is due is read from the store each time."""

from __future__ import annotations

import gc
import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from apscheduler.schedulers.background import BackgroundScheduler

from fleetcare.actions.fit_fleet import fit_fleet, fit_is_due
from fleetcare.actions.gather import garage_day
from fleetcare.actions.look_ahead import look_ahead
from fleetcare.actions.ports import Mailer
from fleetcare.actions.read_calendars import read_due_calendars
from fleetcare.actions.refresh import refresh
from fleetcare.actions.send_letters import send_due_letters
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.assemble import Parts
from fleetcare.clock import MachineClock, StepWatch, monotonic_s
from fleetcare.errors import MailboxTrouble
from fleetcare.replies import take_replies
from fleetcare.settings.sections import FitWhen

WAKE_EVERY_S = 30
WATCH_EVERY_S = 20.0
"""How often it is looked whether the timer sleeps longer than it may; with a half minute it is under one minute."""
SLACK = timedelta(seconds=5)
SENDING = "sending letters"
CALENDARS_EVERY_S = 60
"""How often it is looked whether a calendar's time has come."""
PLANS_EVERY_S = 60
"""How often it is looked whether something has changed that the plan of bay days rests on."""
COPIES_EVERY_S = 900
"""How often it is looked whether today's backup is there."""
REQUESTS_EVERY_S = 900.0
"""How often vehicles are looked through for readings that are wanted; it works every vehicle out."""
FIRST_COPY_AFTER = timedelta(minutes=2)

LATE_AFTER = timedelta(minutes=2)
STEP_TOLD = timedelta(hours=1)
"""A clock that was set by more than this is said; dates and letters may be wrong until it is right again."""
STEP_TOLD_FOR = timedelta(days=1)
STEP_NOTICED = timedelta(seconds=30)

log = logging.getLogger(__name__)


@dataclass
class Round:
    """One pass over everything that may be due. Safe to run as often as one likes, in any number of processes."""

    parts: Parts
    ticks_s: Callable[[], float] = monotonic_s
    """Seconds that only run forward, whatever the clock is set to."""
    wake_sender: Callable[[], None] = field(default=lambda: None)
    """Called when letters were written, so that they need not wait for the next wake."""
    look_at_plan: Callable[[], None] = field(default=lambda: None)
    """Called now and then, so that the plan of bay days is worked out again when it has to be."""
    _worked_out_on: date | None = field(default=None, init=False)
    _looked_at_s: float = field(default=float("-inf"), init=False)
    _fit_asked_on: date | None = field(default=None, init=False)
    _fit_done_on: date | None = field(default=None, init=False)
    _sending: tuple[threading.Lock, threading.Lock] = field(
        default_factory=lambda: (threading.Lock(), threading.Lock()), init=False
    )
    _steps: StepWatch = field(init=False)
    _stepped: tuple[timedelta, float] | None = field(default=None, init=False)
    last_run_at: datetime | None = field(default=None, init=False)
    last_trouble: str = field(default="", init=False)

    last_send_trouble: str = field(default="", init=False)
    last_copy_trouble: str = field(default="", init=False)
    last_reply_trouble: str = field(default="", init=False)

    def __post_init__(self) -> None:
        self._steps = StepWatch(self.parts.clock, self.ticks_s)

    def run(self) -> None:
        """Everything in turn: `look`, then `send`."""
        self.look()
        self.send()

    def look(self) -> None:
        """Works out a new day, writes letters that are due, learns the numbers once a month."""
        parts = self.parts
        self._mind_the_clock()
        now = parts.clock.now()
        try:
            self._work_out_a_new_day(now)
            if parts.settings.letters.enabled and self._write(now):
                self.wake_sender()
            if parts.settings.forecast.fit is FitWhen.MONTHLY:
                self._fit(now)
            self.last_trouble = ""
        except Exception as trouble:
            # The timer must outlive any single failure; the next round tries again, and /readyz says that one failed.
            self.last_trouble = type(trouble).__name__
            log.exception("the round failed; it is tried again in %s s", WAKE_EVERY_S)
        self.last_run_at = now

    def send(self) -> None:
        """Sends the letters that wait.

        In a round of its own, of which two may run at a time and never three: while one waits long for a mail server's
        last answer, the next wake goes on with the letters of other people over a second connection.
        """
        parts = self.parts
        if not parts.settings.letters.enabled:
            return
        first, second = self._sending
        if first.acquire(blocking=False):
            self._send(parts.mailer, first)
        elif second.acquire(blocking=False):
            self._send(parts.second_mailer, second)

    def _send(self, mailer: Mailer, lane: threading.Lock) -> None:
        parts = self.parts
        try:
            send_due_letters(parts.store, mailer, parts.clock, lease=parts.letter_lease)
            self.last_send_trouble = ""
        except Exception as trouble:
            self.last_send_trouble = type(trouble).__name__
            log.exception("sending letters failed; it is tried again in %s s", WAKE_EVERY_S)
        finally:
            lane.release()

    def _mind_the_clock(self) -> None:
        step = self._steps.step()
        if abs(step) > STEP_NOTICED:
            log.warning("the clock of the machine was set by %s", step)
        if abs(step) > STEP_TOLD:
            self._stepped = (step, self.ticks_s())

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

    def bring_feeds_up(self) -> None:
        """Has calendars show what was entered while somebody waited. A poll that comes sooner does it itself."""
        try:
            self.parts.bring_feeds_up()
        except Exception:
            # They are still owed it; the next wake or the next poll tries again.
            log.exception("calendars could not be brought up to date; it is tried again in %s s", WAKE_EVERY_S)

    def take_replies(self) -> None:
        """Takes the answers that lie in the mailbox. In a round of its own: it waits for another server."""
        try:
            take_replies(self.parts)
            self.last_reply_trouble = ""
        except Exception as trouble:
            # The mails stay where they are, marked as not read.
            self.last_reply_trouble = str(trouble) if isinstance(trouble, MailboxTrouble) else type(trouble).__name__
            log.exception("answers by mail could not be taken; it is tried again")

    def keep_copy(self) -> None:
        """Makes the day's backup. In a round of its own: a large garage takes a while to copy."""
        try:
            self.parts.keep_daily_copy()
            self.last_copy_trouble = ""
        except Exception as trouble:
            self.last_copy_trouble = type(trouble).__name__
            log.exception("the daily backup could not be made; it is tried again in %s s", COPIES_EVERY_S)

    def troubles(self) -> tuple[str, ...]:
        """What keeps the round from its work, for /readyz; empty if nothing does."""
        now = self.parts.clock.now()
        if self.last_run_at is None or abs(now - self.last_run_at) > LATE_AFTER:
            return ("the timetable has not run for two minutes",)
        failed = (
            ("the last round failed", self.last_trouble),
            ("letters could not be sent", self.last_send_trouble),
            ("the daily backup could not be made", self.last_copy_trouble),
            ("answers by mail could not be taken", self.last_reply_trouble),
        )
        return (*(f"{what}: {trouble}" for what, trouble in failed if trouble), *self._step_told())

    def _step_told(self) -> tuple[str, ...]:
        if self._stepped is None or self.ticks_s() - self._stepped[1] > STEP_TOLD_FOR.total_seconds():
            return ()
        hours = self._stepped[0].total_seconds() / 3600
        which = "forward" if hours > 0 else "back"
        return (f"the clock of this machine was set {which} by {abs(hours):.1f} h; see that it is right",)

    def _work_out_a_new_day(self, now: datetime) -> None:
        with self.parts.store.read() as view:
            garage = view.garage()
        if garage is None:
            return
        today = garage_day(garage, now)
        if today != self._worked_out_on:
            why = "the start of the program" if self._worked_out_on is None else "a new day"
            # Readers first: calendars and letters are then made of the same.
            self._look_ahead_for_readers(now)
            kept = self.parts.kept_outlooks
            refresh(self.parts.store, self.parts.rules, now=now, base_url=self.parts.base_url, why=why, kept=kept)
            self._worked_out_on = today
            # It is kept until something is written about a vehicle: of 2,000 vehicles, each pass of the collector
            # through it held a page up for half a second.
            gc.unfreeze()
            gc.collect()
            gc.freeze()

    def _look_ahead_for_readers(self, now: datetime) -> None:
        """Works out where vehicles stand for the pages of the whole garage, rather than when the first is opened."""
        look_ahead(self.parts.store, self.parts.rules, now=now, kept=self.parts.kept_outlooks)

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

    def _write(self, now: datetime) -> int:
        # Monotonic time: a clock that was set back must not keep the requests waiting.
        tick_s = self.ticks_s()
        look = tick_s - self._looked_at_s >= REQUESTS_EVERY_S
        if look:
            self._looked_at_s = tick_s
        parts = self.parts
        return write_due_letters(
            parts.store, parts.rules, parts.desk, now=now, with_requests=look, kept=parts.kept_outlooks
        )


class _Scheduler(BackgroundScheduler):  # type: ignore[misc]
    """APScheduler with a watch beside it, in a thread of its own.

    APScheduler reckons its waits by the clock of the machine: set back by a day, it would sleep for a day. And a job
    must not touch the timer that runs it, which holds its locks while it ends.
    """

    def __init__(self, watch_every_s: float) -> None:
        super().__init__(timezone="UTC")
        self._watch_every_s = watch_every_s
        self._is_over, self._look_up = threading.Event(), threading.Event()
        self._send_now = False
        self._watch = threading.Thread(target=self._mind, name="timetable watch", daemon=True)

    def start(self, paused: bool = False) -> None:
        """Starts the timer and the watch."""
        super().start(paused)
        self._watch.start()

    def shutdown(self, wait: bool = True) -> None:
        """Ends both, the watch first."""
        self._is_over.set()
        self._look_up.set()
        self._watch.join()
        super().shutdown(wait)

    def wake(
        self, what: Callable[[], None], every_s: int, first: datetime, *, key: str | None = None, side_by_side: int = 1
    ) -> None:
        """Has it called every so many seconds from a first moment on; a late or missed wake is made good by the next.

        side_by_side: so many calls of it may run at a time.
        """
        self.add_job(
            what,
            "interval",
            id=key,
            seconds=every_s,
            next_run_time=first,
            misfire_grace_time=None,
            coalesce=True,
            max_instances=side_by_side,
        )

    def send_now(self) -> None:
        """Has letters sent at once. Any thread may call it, a job too; it only leaves word."""
        self._send_now = True
        self._look_up.set()

    def _mind(self) -> None:
        while not self._is_over.is_set():
            self._look_up.wait(self._watch_every_s)
            self._look_up.clear()
            if self._is_over.is_set():
                return
            # The clock of APScheduler, not that of the round.
            now = MachineClock().now()
            if self._send_now:
                self._send_now = False
                self.modify_job(SENDING, next_run_time=now)
            for job in self.get_jobs():
                # Further away than its own interval: the clock was set back.
                if job.next_run_time is not None and job.next_run_time - now > job.trigger.interval + SLACK:
                    self.modify_job(job.id, next_run_time=now)


def start_timetable(round_: Round, *, watch_every_s: float = WATCH_EVERY_S) -> BackgroundScheduler:
    """Wakes the round each half minute until `shutdown` is called on what is returned. The first pass runs at once.

    The half minutes are of time that only runs forward: a clock that is set back does not keep the round asleep.
    """
    scheduler = _Scheduler(watch_every_s)
    round_.wake_sender = scheduler.send_now
    at_once = round_.parts.clock.now()
    # Not while a start has everything else to do.
    later = at_once + FIRST_COPY_AFTER
    scheduler.wake(round_.look, WAKE_EVERY_S, at_once)
    scheduler.wake(round_.send, WAKE_EVERY_S, at_once, key=SENDING, side_by_side=2)
    scheduler.wake(round_.bring_feeds_up, WAKE_EVERY_S, at_once + timedelta(seconds=WAKE_EVERY_S / 2))
    scheduler.wake(round_.read_calendars, CALENDARS_EVERY_S, at_once)
    scheduler.wake(lambda: round_.look_at_plan(), PLANS_EVERY_S, later)
    scheduler.wake(round_.keep_copy, COPIES_EVERY_S, later)
    if round_.parts.settings.replies.is_read:
        scheduler.wake(round_.take_replies, 60 * round_.parts.settings.replies.every_minutes, at_once)
    scheduler.start()
    return scheduler
