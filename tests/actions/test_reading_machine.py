"""Any order of readings, answers, corrections and meter changes keeps what is promised, after every single step.

Nothing acknowledged is lost; the same sent again counts once; every line has a date or a reason, each with its cause.
"""

from __future__ import annotations

import os
from datetime import datetime, timedelta
from decimal import Decimal

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.receipts import RECEIPT_TIME, Answer, Once
from fleetcare.actions.record_reading import Doubtful, Given, Really, Recorded, record_reading, take_back
from fleetcare.actions.settle_held import How, settle_held
from fleetcare.errors import BadInput, Clash
from fleetcare.meter.reading import Door, Reading, ReadingState
from tests.actions.garages import BASE_URL, SMALL_NOW, Stage, small

STEPS = 14
EXAMPLES = int(os.environ.get("FLEETCARE_MACHINE_EXAMPLES", "60"))
"""The full run: FLEETCARE_MACHINE_EXAMPLES=5000, which takes some minutes."""
MARK = "PO"


class ReadingMachine(RuleBasedStateMachine):
    """One vehicle, its people, and what they were told was saved."""

    @initialize()
    def open_the_garage(self) -> None:
        """Pocket, last read on 1 February 2021 at 11 000 km."""
        self.stage: Stage = small()
        self.now = SMALL_NOW
        self.acknowledged: list[Reading] = []
        self.sent_ever: list[tuple[datetime, Given, str, bytes]] = []
        self.keys = 0

    @rule(days=st.integers(1, 40))
    def days_go_by(self, days: int) -> None:
        self.now += timedelta(days=days)

    @rule(
        kilometres=st.integers(-9_000, 9_000) | st.integers(0, 900) | st.sampled_from([100_000, -10_900]),
        really=st.sampled_from([None, None, None, *Really]),
        hold=st.booleans(),
        days_ago=st.integers(0, 10),
    )
    def a_reading_is_sent(self, kilometres: int, really: Really | None, hold: bool, days_ago: int) -> None:
        value = max(Decimal(0), self._latest().value + kilometres)
        on = (self.now - timedelta(days=days_ago)).date()
        given = Given(MARK, value, "noor", Door.PHONE, on=on, really=really, hold=hold)
        self.keys += 1
        self._send(given, f"key-{self.keys}")

    @rule(at=st.integers(0, 5))
    def it_is_sent_again(self, at: int) -> None:
        if not self.sent:
            return
        given, key, body = self.sent[-1 - at % len(self.sent)]
        before = self._everything()
        again = record_reading(
            self.stage.store, self.stage.rules, given, now=self.now, base_url=BASE_URL, once=self._once(key)
        )
        assert isinstance(again, Answer)
        assert again.body == body
        assert self._everything() == before, "sent again, nothing changes"

    @rule(at=st.integers(0, 5))
    def something_else_is_sent_under_a_used_key(self, at: int) -> None:
        if not self.sent:
            return
        given, key, _ = self.sent[-1 - at % len(self.sent)]
        before = self._everything()
        other: Once[Recorded] = Once(key, "something else", lambda recorded: Answer(200, b""))
        try:
            record_reading(self.stage.store, self.stage.rules, given, now=self.now, base_url=BASE_URL, once=other)
        except Clash:
            assert self._everything() == before
        else:
            raise AssertionError("it was taken")

    @rule(at=st.integers(0, 3))
    def one_is_taken_back(self, at: int) -> None:
        if not self.acknowledged:
            return
        reading = self.acknowledged[-1 - at % len(self.acknowledged)]
        before = self._everything()
        try:
            take_back(
                self.stage.store,
                self.stage.rules,
                mark=MARK,
                reading_id=reading.id or 0,
                who="noor",
                now=self.now,
                base_url=BASE_URL,
            )
        except BadInput:
            assert self._everything() == before

    @rule(how=st.sampled_from(list(How)), kilometres=st.integers(-500, 500))
    def one_that_is_held_is_settled(self, how: How, kilometres: int) -> None:
        held = [r for r in self._readings() if r.state is ReadingState.HELD]
        if not held:
            return
        before = self._everything()
        try:
            settle_held(
                self.stage.store,
                self.stage.rules,
                mark=MARK,
                reading_id=held[0].id or 0,
                how=how,
                who="noor",
                now=self.now,
                base_url=BASE_URL,
                meant=max(Decimal(0), self._latest().value + kilometres),
            )
        except BadInput:
            assert self._everything() == before

    @invariant()
    def nothing_acknowledged_is_lost_and_nothing_counts_twice(self) -> None:
        if not hasattr(self, "stage"):
            return
        stored = self._readings()
        identities = [r.identity for r in stored]
        assert len(identities) == len(set(identities))
        assert {r.identity for r in self.acknowledged} <= set(identities)

    @invariant()
    def every_line_has_a_date_or_a_reason_and_every_change_its_cause(self) -> None:
        if not hasattr(self, "stage"):
            return
        proof = check_promises(self.stage.store, self.stage.rules, now=self.now)
        assert proof.broken == ()

    def _send(self, given: Given, key: str) -> None:
        before = self._everything()
        kept: list[Recorded] = []

        def answer(recorded: Recorded) -> Answer:
            kept.append(recorded)
            return Answer(200, f"{recorded.reading.value} on {recorded.reading.on}".encode())

        try:
            came = record_reading(
                self.stage.store,
                self.stage.rules,
                given,
                now=self.now,
                base_url=BASE_URL,
                once=Once(key, str(given), answer),
            )
        except BadInput:
            assert self._everything() == before, "refused, nothing changes"
            return
        if isinstance(came, Doubtful):
            assert self._everything() == before, "asked about, nothing changes"
            return
        self.acknowledged.append(kept[0].reading)
        self.sent_ever.append((self.now, given, key, came.body))

    @property
    def sent(self) -> list[tuple[Given, str, bytes]]:
        """What was sent and answered so lately that the answer is still kept."""
        return [(given, key, body) for at, given, key, body in self.sent_ever if self.now - at <= RECEIPT_TIME]

    def _once(self, key: str) -> Once[Recorded]:
        given = next(given for given, used, _ in self.sent if used == key)
        return Once(key, str(given), lambda recorded: Answer(500, b"worked out anew"))

    def _readings(self) -> tuple[Reading, ...]:
        with self.stage.store.read() as view:
            return view.readings((MARK,))

    def _latest(self) -> Reading:
        used = [r for r in self._readings() if r.state is ReadingState.USED]
        return max(used or self._readings(), key=lambda r: (r.on, r.id or 0))

    def _everything(self) -> tuple[object, ...]:
        with self.stage.store.read() as view:
            return (view.version(), view.readings(), view.vehicles(), view.windows(), len(view.log()))


TestReadingMachine = ReadingMachine.TestCase
TestReadingMachine.settings = settings(
    max_examples=EXAMPLES,
    stateful_step_count=STEPS,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)
