"""The same with letters: whatever is read, corrected or changed between, each letter is one, and comes once.

Beside what `ReadingMachine` keeps: a letter is written once for each person and period and never changes; it is with
the mail server at least once if that works in its time, twice only where the answer to it was lost, and never after a
refusal for good.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, rule

from fleetcare.actions.send_letters import send_due_letters
from fleetcare.actions.write_letters import write_due_letters
from fleetcare.digest.values import Delivery, DeliveryState, LetterKind
from fleetcare.errors import DeliveryFailed
from fleetcare.fleet.people import Person
from tests.actions.garages import person, small
from tests.actions.test_reading_machine import EXAMPLES, ReadingMachine, TestReadingMachine
from tests.stand_ins import FixedClock

YES, NO_ANSWER, LATER, NEVER, AWAY = "yes", "no answer", "later", "never", "away"
PEOPLE = (person("noor", "Europe/Berlin", weekday=0, hour=2), person("nils", "America/New_York", weekday=6, hour=1))
"""Both at an hour that a clock change of their zone leaves out or doubles."""
_WAITING = (DeliveryState.DUE, DeliveryState.LEASED)


class MoodyMailer:
    """Takes, refuses or loses letters, one mood after the other and then always yes; keeps what it was handed."""

    def __init__(self) -> None:
        self.moods: list[str] = []
        self.taken: list[tuple[bytes, str]] = []
        self.unanswered: Counter[bytes] = Counter()
        self.refused: set[bytes] = set()

    def send(self, raw: bytes, to_mail: str, *, next_to_mail: str | None = None) -> str:
        """As it feels."""
        mood = self.moods.pop(0) if self.moods else YES
        assert raw not in self.refused, "a refusal for good is for good"
        if mood in (LATER, AWAY):
            raise DeliveryFailed("450 later", permanent=False, server_away=mood == AWAY)
        if mood == NEVER:
            self.refused.add(raw)
            raise DeliveryFailed("550 no", permanent=True)
        self.taken.append((raw, to_mail))
        if mood == NO_ANSWER:
            self.unanswered[raw] += 1
            raise DeliveryFailed("the line ended", permanent=False)
        return "250 taken"

    def finish(self) -> None:
        """Nothing is kept open."""


class LetterMachine(ReadingMachine):
    """The garage of the other machine, with a second driver far away, a timetable and a mail server."""

    @initialize()
    def open_the_garage(self) -> None:
        """As there; nothing was written yet."""
        super().open_the_garage()
        self.stage = small(*PEOPLE)
        self.mailer = MoodyMailer()
        self.first_seen: dict[tuple[str, LetterKind, str], Delivery] = {}

    @rule(days=st.sampled_from([60, 100, 200]))
    def a_season_goes_by(self, days: int) -> None:
        self.now += timedelta(days=days)

    @rule(hours=st.integers(0, 40), back=st.booleans())
    def hours_go_by_or_the_clock_is_set_back(self, hours: int, back: bool) -> None:
        self.now += timedelta(hours=-hours if back and self.now.year > 2020 else hours)

    @rule(moods=st.lists(st.sampled_from([YES, NO_ANSWER, LATER, NEVER, AWAY]), max_size=4), requests=st.booleans())
    def the_timetable_wakes(self, moods: list[str], requests: bool) -> None:
        self._wake(requests)
        self.mailer.moods = list(moods)
        self._hand_over()

    @rule()
    def the_server_works_again(self) -> None:
        """Whatever waits is with it soon, or its time is over: no wait is longer than an hour and a tenth."""
        self.mailer.moods = []
        for _ in range(2):
            self.now += timedelta(minutes=67)
            self._hand_over()
        assert [each.state for each in self._letters() if each.state in _WAITING] == []

    @invariant()
    def a_letter_is_one_and_never_changes(self) -> None:
        for each in self._letters():
            first = self.first_seen.setdefault((each.person, each.kind, each.period), each)
            assert (each.message_id, each.raw, each.decided_at) == (first.message_id, first.raw, first.decided_at)
        assert len(self._letters()) == len(self.first_seen), "none is ever forgotten"
        assert len({each.message_id for each in self.first_seen.values()}) == len(self.first_seen)

    @invariant()
    def each_week_of_its_reader_has_one_garage_letter_at_most(self) -> None:
        """Counted by the reader's own calendar alone; a letter belongs to the last hour that had come."""
        weeks = Counter(
            (each.person, _week_of(each.decided_at, next(p for p in PEOPLE if p.key == each.person)))
            for each in self._letters()
            if each.kind is LetterKind.GARAGE
        )
        assert all(count == 1 for count in weeks.values()), weeks

    @invariant()
    def what_counts_as_sent_was_taken_and_twice_only_where_an_answer_was_lost(self) -> None:
        if not hasattr(self, "mailer"):
            return
        taken = Counter(raw for raw, _ in self.mailer.taken)
        ledger = {each.raw: each for each in self._letters() if each.raw}
        assert set(taken) <= set(ledger), "nothing goes out that is not in the ledger"
        for raw, letter in ledger.items():
            answered = taken[raw] - self.mailer.unanswered[raw]
            assert answered == (letter.state is DeliveryState.SENT), letter.state
        assert all(ledger[raw].to_mail == to for raw, to in self.mailer.taken)
        assert all(ledger[raw].state is DeliveryState.FAILED for raw in self.mailer.refused)

    def _wake(self, requests: bool) -> None:
        stage = self.stage
        write_due_letters(stage.store, stage.rules, stage.desk, now=self.now, with_requests=requests)
        before = self._everything()
        write_due_letters(stage.store, stage.rules, stage.desk, now=self.now, with_requests=requests)
        assert self._everything()[1:] == before[1:], "a second wake writes nothing"

    def _hand_over(self) -> None:
        send_due_letters(self.stage.store, self.mailer, FixedClock(self.now))

    def _letters(self) -> Sequence[Delivery]:
        if not hasattr(self, "stage"):
            return ()
        with self.stage.store.read() as view:
            return view.deliveries()


def _week_of(moment: datetime, reader: Person) -> tuple[int, int]:
    """The ISO week of the last letter day of that reader whose hour had come: by going back hour by hour."""
    zone, at = ZoneInfo(reader.zone), moment
    while True:
        local = at.astimezone(zone)
        # An hour that a change leaves out has come once the clock shows a later one.
        if local.weekday() == reader.letter_weekday and local.hour >= reader.letter_hour:
            return local.isocalendar()[:2]
        at -= timedelta(hours=1)


TestLetterMachine = LetterMachine.TestCase
TestLetterMachine.settings = settings(TestReadingMachine.settings, max_examples=EXAMPLES, stateful_step_count=20)


def test_a_change_of_a_letter_would_be_noticed() -> None:
    """The guard can fail: a letter that the server took without the ledger, and one that counts as sent and was not."""
    for spoil in (_takes_a_stranger, _calls_it_sent):
        machine = LetterMachine()
        machine.open_the_garage()
        machine.now += timedelta(days=60)
        machine.the_timetable_wakes([], True)
        machine.what_counts_as_sent_was_taken_and_twice_only_where_an_answer_was_lost()
        spoil(machine)
        try:
            machine.what_counts_as_sent_was_taken_and_twice_only_where_an_answer_was_lost()
        except AssertionError:
            continue
        raise AssertionError(f"{spoil.__name__} went unnoticed")


def _takes_a_stranger(machine: LetterMachine) -> None:
    machine.mailer.taken.append((b"who is that", "x@y.example"))


def _calls_it_sent(machine: LetterMachine) -> None:
    raw, to = machine.mailer.taken.pop()
    assert raw
    assert to
