"""What leads a proposed visit: written down in English, told in the reader's language; what a person wrote stands."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from fleetcare.bayplan.lead_reason import lead_reason, reason_told, why_told
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, laid_end_to_end
from fleetcare.fleet.component import LineKey
from fleetcare.language import speaking
from fleetcare.settings.catalogues import tongue_of
from tests.demo.garage_files import TODAY
from tests.demo.test_demo_windows import outlooks as demo_outlooks

GERMAN = tongue_of("de")


@pytest.mark.parametrize(
    ("written", "german"),
    [
        (
            "Engine oil and filter: likely 5 May, late 12 June.",
            "Motoröl und Filter: wahrscheinlich 5. Mai, spätestens 12. Juni.",
        ),
        (
            "Engine oil and filter: likely 29 December, late 9 May 2027. One more rides along.",
            "Motoröl und Filter: wahrscheinlich 29. Dezember, spätestens 9. Mai 2027. Eine weitere Arbeit fährt mit.",
        ),
        (
            "Engine oil and filter is past late since 8 April. Two more ride along.",
            "Motoröl und Filter: überfällig seit 8. April. Zwei weitere Arbeiten fahren mit.",
        ),
        (
            "Engine oil and filter is past late since 8 April. 14 more ride along.",
            "Motoröl und Filter: überfällig seit 8. April. 14 weitere Arbeiten fahren mit.",
        ),
        ("The last free weekend before the hill climb.",) * 2,
        ("Engine oil and filter: likely 5 May, late 31 June.",)
        + ("Motoröl und Filter: wahrscheinlich 5. Mai, spätestens 31 June.",),
        ("Engine oil and filter is past late since 8 April. Some more ride along.",) * 2,
        ("",) * 2,
    ],
)
def test_it_is_told_in_the_readers_language(written: str, german: str) -> None:
    assert reason_told(written) == written
    with speaking(GERMAN):
        assert reason_told(written) == german


def test_it_is_written_down_in_english_whoever_speaks_and_told_again() -> None:
    """Each vehicle of the demo with its first service, and with all of them."""
    hour = laid_end_to_end(datetime(2026, 5, 9, 15, tzinfo=UTC), [(StretchKind.HANDS_ON, timedelta(hours=1))])
    seen = 0
    for outlook in demo_outlooks().values():
        for lines in (outlook.lines[:1], outlook.lines):
            visit = BayVisit(outlook.vehicle.mark, 1, tuple(line.key for line in lines), hour)
            written = lead_reason(visit, outlook, TODAY)
            with speaking(GERMAN):
                assert lead_reason(visit, outlook, TODAY) == written
                told = reason_told(written)
            assert reason_told(written) == written
            if written:
                seen += 1
                assert told != written
                assert not any(word in told for word in ("likely", "late", "since", "along", "May", "June", "March"))
    assert seen >= 12


def test_a_visit_without_a_window_has_no_reason() -> None:
    outlook = demo_outlooks()["Anvil"]
    line = next(line for line in outlook.lines if line.window is None)
    hour = laid_end_to_end(datetime(2026, 5, 9, 15, tzinfo=UTC), [(StretchKind.HANDS_ON, timedelta(hours=1))])
    assert lead_reason(BayVisit("AN", 1, (line.key,), hour), outlook, TODAY) == ""


def test_what_a_person_wrote_for_another_day_names_that_day() -> None:
    first = datetime(2026, 12, 8, 18, tzinfo=UTC)
    hour = laid_end_to_end(first, [(StretchKind.HANDS_ON, timedelta(hours=1))])
    wrote = BayVisit("AN", 1, (LineKey("AN", "rear-axle", "fluid"),), hour, reason="The last free weekend.")
    assert why_told(wrote) == "The last free weekend."
    moved = replace(wrote, moved_from=date(2026, 12, 5))
    assert why_told(moved) == "Written for 5 December: The last free weekend."
    led = "Brake fluid: likely 29 December, late 12 January 2027."
    assert why_told(replace(moved, reason=led)) == led, "that is about the service, whatever the day"
    assert why_told(replace(moved, reason="")) == ""
