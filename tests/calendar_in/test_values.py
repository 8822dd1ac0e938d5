"""What the child says is looked at again: whatever it answers, it becomes a copy or a trouble, nothing else."""

from __future__ import annotations

import json
from contextlib import suppress
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.calendar_in.child import answer_of_child
from fleetcare.calendar_in.values import copy_from
from fleetcare.errors import CalendarTrouble
from fleetcare.fleet.busy import CalendarCopy
from tests.calendar_in.texts import TODAY, calendar, event, task

GOOD: dict[str, Any] = {
    "id": "0123456789abcdef" * 2,
    "title": "Ridge run",
    "note": "",
    "first": "2026-05-01",
    "end": "2026-05-02",
    "begins_at": None,
    "ends_at": None,
    "busy": True,
    "cancelled": False,
    "single": True,
}


def taken(answer: object) -> CalendarCopy:
    """The copy that an answer makes."""
    return copy_from(json.dumps(answer).encode(), task(), read_on=TODAY)


def with_event(**how: Any) -> dict[str, Any]:
    """A whole answer whose one event is odd in these things."""
    return {"events": [{**GOOD, **how}], "notices": [], "shown_from": None}


def test_what_a_real_child_says_is_taken() -> None:
    raw = calendar(*event("DTSTART:20260501T100000", "DTEND:20260501T110000", title="Lake"))
    copy = copy_from(answer_of_child(raw, task()), task(), read_on=TODAY)
    (one,) = copy.events
    assert (one.title, one.days.first.isoformat(), one.is_busy, one.is_single) == ("Lake", "2026-05-01", True, True)
    assert one.begins_at is not None
    assert one.begins_at.isoformat() == "2026-05-01T16:00:00+00:00"
    assert (copy.read_on, copy.notices) == (TODAY, ())
    assert (copy.seen.first, copy.seen.end) == (task().first, task().end)


def test_a_refusal_becomes_a_trouble() -> None:
    with pytest.raises(CalendarTrouble, match="It is cut off"):
        taken({"refused": ["cut-off", {}]})


@pytest.mark.parametrize(
    "how",
    [
        {"id": "x"},
        {"id": 7},
        {"title": None},
        {"title": "x" * 301},
        {"note": "x" * 2001},
        {"first": "2026-05-02"},
        {"first": "yesterday"},
        {"end": 20260502},
        {"begins_at": "2026-05-01T10:00:00Z"},
        {"begins_at": "2026-05-01T10:00:00", "ends_at": "2026-05-01T11:00:00"},
        {"begins_at": "2026-05-01T10:00:00+02:00", "ends_at": "2026-05-01T11:00:00+02:00"},
        {"begins_at": "2026-05-01T11:00:00Z", "ends_at": "2026-05-01T10:00:00Z"},
        {"busy": 1},
        {"cancelled": None},
    ],
)
def test_an_entry_that_is_none_makes_the_whole_answer_none(how: dict[str, Any]) -> None:
    with pytest.raises(CalendarTrouble, match="could not be read"):
        taken(with_event(**how))


ODD_NOTICES: tuple[object, ...] = (
    "A sentence of its own.",
    ["A sentence of its own.", {}],
    ["zone", {}],
    ["zone", {"name": "x" * 121}],
    ["zone", {"name": True}],
    ["zone", {"name": "x", "more": "y"}],
    ["lines", {"most": -1}],
    ["lines", {"most": 10**10}],
    ["left-out", {"title": "x", "why": ["left-out", {"title": "x", "why": ["slow", {}]}]}],
    ["{0.__class__}", {}],
    [],
)


def test_too_many_entries_or_notices_are_not_taken() -> None:
    answers: list[object] = [
        {"events": [GOOD] * 2001, "notices": [], "shown_from": None},
        {"events": [], "notices": [["none", {}]] * 41, "shown_from": None},
        *({"events": [], "notices": [odd], "shown_from": None} for odd in ODD_NOTICES),
        {"events": [], "notices": []},
        {"events": {}, "notices": [], "shown_from": None},
        [],
        "refused",
        None,
    ]
    for answer in answers:
        with pytest.raises(CalendarTrouble):
            taken(answer)


def test_text_is_what_every_database_keeps() -> None:
    copy = taken(with_event(title="a\0b\ud83d"))
    assert copy.events[0].title == "ab?"
    notice = ["zone", {"name": "a\nb\0\ud83d"}]
    (told,) = taken({"events": [], "notices": [notice], "shown_from": "2026-02-31"}).notices
    assert told == "“a b?” is no known time zone; such times are taken as the garage's."


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=5),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(st.sampled_from(["events", "notices", "shown_from", "refused", *GOOD]), inner, max_size=4)
        ),
    )
)
def test_no_answer_does_more_than_be_a_trouble(answer: Any) -> None:
    with suppress(CalendarTrouble):
        assert isinstance(taken(answer), CalendarCopy)


@given(st.binary(max_size=60))
def test_no_bytes_do_more_than_be_a_trouble(answer: bytes) -> None:
    with pytest.raises(CalendarTrouble):
        copy_from(answer, task(), read_on=TODAY)
