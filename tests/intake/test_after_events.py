"""Events after which a service is due: what is written is read, and what is read is written alike."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.book.after_lines import after_event_lines
from fleetcare.book.rows import AfterEvent
from fleetcare.errors import BadInput
from fleetcare.intake.after_events import parse_after_events
from fleetcare.quantities import DistanceUnit, PrintedDistance


def test_a_line_names_an_event_and_what_comes_first_after_it() -> None:
    found = parse_after_events("immersion: 5 days\n\n gears renewed: 500 mi, 14 d\ntrack day\nwheel fitted: 1.5 h")
    assert found == (
        AfterEvent("immersion", days=5),
        AfterEvent("gears renewed", PrintedDistance(DistanceUnit.MI, mi=Decimal(500)), 14),
        AfterEvent("track day"),
        AfterEvent("wheel fitted", hours=Decimal("1.5")),
    )


@pytest.mark.parametrize(
    "text",
    ["immersion: soon", "immersion: 5", ": 5 days", "x: 5 days, 6 days", "x: 5 km, 3 mi", "x: -5 days", "x\nx: 3 days",
     "x: 99999 days", "x: 0 km", "\n".join(f"e{n}" for n in range(21))],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_what_to_write(text: str) -> None:
    with pytest.raises(BadInput) as bad:
        parse_after_events(text)
    assert bad.value.remedy
    assert bad.value.field == "after"


distances = st.builds(
    lambda unit, figure: PrintedDistance(unit, **{unit.value: Decimal(figure)}),
    st.sampled_from(list(DistanceUnit)),
    st.integers(1, 200_000),
)
events = st.builds(
    AfterEvent,
    st.from_regex(r"[a-z]{1,12}( [a-z]{1,8})?", fullmatch=True),
    st.none() | distances,
    st.none() | st.integers(0, 36_500),
    st.none() | st.integers(1, 9000).map(Decimal),
)


@given(st.lists(events, max_size=8, unique_by=lambda event: event.event))
def test_written_lines_are_read_back_alike(given_events: list[AfterEvent]) -> None:
    assert parse_after_events(after_event_lines(given_events)) == tuple(given_events)
