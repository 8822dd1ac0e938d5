"""What is said of a reading that does not fit, and the notes of readings that are held."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.fleet.vehicle import Meter
from fleetcare.meter.doubt import (
    Doubt,
    DoubtKind,
    Fits,
    Guess,
    KnownAlready,
    Refusal,
    RefusalKind,
    Verdict,
    fault_of,
    held_because,
    held_note,
    own_note,
)
from fleetcare.meter.reading import Reading
from fleetcare.meter.slips import Explanation, Slip
from fleetcare.quantities import DistanceUnit, MeterUnit

LAST, TODAY = date(2026, 3, 12), date(2026, 4, 14)
MI, HOURS = Meter("odometer", MeterUnit.MI), Meter("hours", MeterUnit.HOURS)
PAST = Reading("BE", "odometer", LAST, Decimal(83365), MeterUnit.MI, datetime(2026, 3, 12, tzinfo=UTC))


def doubt(value: int, kind: DoubtKind, guess: Guess | None = None, **more: object) -> Doubt:
    return Doubt(
        kind=kind,
        value=Decimal(value),
        unit=MeterUnit.MI,
        last=PAST,
        distance=(value - 83365) * 1.609344,
        days=33,
        # 845 mi, 373 to 1 616 mi.
        expected=(600.3, 1359.9, 2600.7),
        chance_right=0.1,
        explanation=more.pop("explanation", Explanation.UNEXPLAINED),  # type: ignore[arg-type]
        guess=guess,
        cap_per_day=more.pop("cap_per_day", None),  # type: ignore[arg-type]
    )


def plain(verdict: Verdict) -> str:
    return verdict.sentence(DistanceUnit.MI).replace("\u2009", " ")


def meant(slip: Slip, value: int, *positions: int) -> Guess:
    return Guess(slip, Decimal(value), positions, 1360.0, 33)


def test_a_doubt_says_what_is_odd_what_was_expected_and_what_was_meant() -> None:
    lower = doubt(48210, DoubtKind.LOWER, meant(Slip.EXCHANGED, 84210, 0, 1))
    assert plain(lower) == (
        "48 210 mi is lower than last time, 83 365 mi on 12 March 2026. "
        "With the first two digits the other way round it is 84 210."
    )
    further = doubt(94210, DoubtKind.FURTHER, meant(Slip.WRONG_DIGIT, 84210, 0))
    assert plain(further) == (
        "94 210 mi makes 10 845 mi in 33 days; about 845 mi were expected, 373 to 1 616 mi. "
        "With an 8 in first place it is 84 210."
    )
    beyond = doubt(184210, DoubtKind.BEYOND, cap_per_day=1600.0)
    assert plain(beyond) == "184 210 mi makes 100 845 mi in 33 days; no more than 994 mi a day can be."


@pytest.mark.parametrize(
    ("guess", "words"),
    [
        (meant(Slip.EXCHANGED, 84210, 1, 2), "With the second and third digits the other way round it is 84 210."),
        (meant(Slip.MISSING, 84210, 1), "With one digit more it would be 84 210."),
        (meant(Slip.DOUBLED, 84210, 0, 1), "With one digit less it would be 84 210."),
        (meant(Slip.TENTHS, 84210, 5), "Without the tenths it is 84 210."),
        (meant(Slip.OTHER_UNIT, 84210), "In miles that is 84 210."),
        (meant(Slip.WRONG_DIGIT, 84210, 1), "With a 4 in second place it is 84 210."),
    ],
)
def test_each_slip_has_its_sentence(guess: Guess, words: str) -> None:
    assert plain(doubt(94210, DoubtKind.FURTHER, guess)).endswith(words)


def test_without_a_guess_the_likeliest_cause_is_named() -> None:
    assert plain(doubt(310, DoubtKind.LOWER, explanation=Explanation.TRIP_METER)).endswith("the trip meter.")
    assert plain(doubt(310, DoubtKind.LOWER, explanation=Explanation.ROLLED_OVER)).endswith("anew at nought.")


def test_what_is_no_reading_at_all_is_named() -> None:
    def fault(value: str, unit: MeterUnit = MeterUnit.MI, on: date = TODAY, meter: Meter = MI) -> RefusalKind | None:
        return fault_of(Decimal(value), unit, on, meter, TODAY)

    assert fault("84210") is None
    assert fault("0") is None
    assert fault("-1") is RefusalKind.NEGATIVE
    assert fault("NaN") is RefusalKind.NOT_A_NUMBER
    assert fault("Infinity") is RefusalKind.NOT_A_NUMBER
    assert fault("84210", on=TODAY + timedelta(days=1)) is RefusalKind.FUTURE
    assert fault("84210", MeterUnit.HOURS) is RefusalKind.WRONG_KIND
    assert fault("84210", MeterUnit.MI, TODAY, HOURS) is RefusalKind.WRONG_KIND


@pytest.mark.parametrize("kind", list(RefusalKind))
def test_every_refusal_has_its_sentence(kind: RefusalKind) -> None:
    words = plain(Refusal(kind, Decimal(84210), MeterUnit.MI, TODAY, before=PAST))
    assert words.endswith(".")
    assert len(words) > 20


def test_what_fits_or_is_known_is_said_in_a_line() -> None:
    assert plain(Fits(845 * 1.609344, 33)) == "845 mi in 33 days."
    assert plain(Fits(None, None)) == "The first reading of this meter."
    assert plain(KnownAlready(PAST)) == "83 365 mi on 12 March 2026 is there already."


SENTENCES = st.text(alphabet="ab 0.:H", min_size=1, max_size=60).map(str.strip).filter(bool)


@given(st.sampled_from(["", "read by torchlight", "Piet was away."]), SENTENCES)
def test_a_note_keeps_the_words_of_its_person_however_often_the_reading_is_held(own: str, why: str) -> None:
    note = held_note(held_note(own, "something else"), why)
    assert own_note(note) == own
    assert held_because(note) == why
    assert held_because("Piet was away.") == "Piet was away."
