"""A garage's own values of the workshop: one table changed, all others and their comments left alone."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.bayplan.workshop import FIGURES, FigureKind, OpenHours, figure_kind
from fleetcare.errors import BadSettings, Clash
from fleetcare.settings.days_off import DaysOff
from fleetcare.settings.own_workshop import (
    closed_table,
    figure_table,
    hours_tables,
    laid_over,
    own_tables,
    put_in_place,
    state_of,
    with_tables,
    workshop_with,
    written_beside,
)

BY_HAND = """\
# our garage, since the new lift
profile = "small_shop"

[opening_day]   # rent
value = 25.00
means = "The rent of the hall."

# nobody on Mondays
[[open]]
days = ["tuesday", "friday"]
from = "08:00"
until = "16:30"

[bays]
value = 2
"""


def test_one_figure_is_changed_and_every_comment_elsewhere_stays() -> None:
    there = own_tables(BY_HAND)["opening_day"]
    made = with_tables(BY_HAND, {"opening_day": figure_table(Decimal("30.50"), there)})
    assert workshop_with(made).prices.opening_day == 3050
    assert workshop_with(made).figures["opening_day"].means == "The rent of the hall."
    assert "# our garage, since the new lift" in made
    assert "# nobody on Mondays" in made
    assert own_tables(made) == {**own_tables(BY_HAND), "opening_day": {**there, "value": Decimal("30.50")}}


def test_what_is_taken_out_is_the_shipped_one_again() -> None:
    made = with_tables(BY_HAND, {"bays": None, "open": None, "profile": None})
    assert workshop_with(made).prices.bays == workshop_with("").prices.bays
    assert workshop_with(made).hours == workshop_with("").hours
    assert set(own_tables(made)) == {"opening_day"}


def test_the_profile_stands_before_the_first_table() -> None:
    made = with_tables("[bays]\nvalue = 3\n", {"profile": "small_shop"})
    assert workshop_with(made).profile == "small_shop"
    assert workshop_with(made).prices.bays == 3
    assert workshop_with(with_tables(made, {"profile": "household"})).profile == "household"


def test_a_file_written_in_another_way_is_written_anew_and_means_the_same() -> None:
    odd = 'opening_day = { value = 25 }\nopen = [{ days = ["monday"], from = "8:00", until = "9:00" }]\n'
    made = with_tables(odd, {"opening_day": figure_table(30), "bays": figure_table(2)})
    assert own_tables(made) == {**own_tables(odd), "opening_day": {"value": 30}, "bays": {"value": 2}}


def test_hours_and_days_off_come_back_as_they_were_given() -> None:
    hours = (
        OpenHours((0, 2), 7 * 60 + 5, 24 * 60 - 1, ("ines", "teo")),
        OpenHours((6,), 600, 660, (), 8, is_unusual=True),
    )
    off = DaysOff("DE", "BY", ((date(2026, 12, 24), 'the "last" day'),), (date(2026, 6, 4),))
    made = with_tables(BY_HAND, {"open": hours_tables(hours), "closed": closed_table(off)})
    found = workshop_with(with_tables(made, {"profile": "household"}))
    assert found.hours == hours
    assert found.days_off == off
    assert closed_table(DaysOff()) is None


def test_set_ups_that_come_in_join_those_that_are_there() -> None:
    there = '[[setup]]\nname = "pit"\nminutes = 5\ncost = 1.00\n[[order]]\nfirst = "a"\nthen = "b"\n[bays]\nvalue = 2\n'
    coming = (
        '[[setup]]\nname = "lift"\nminutes = 7\ncost = 0.00\n[[setup]]\nname = "pit"\nminutes = 6\ncost = 1.00\n'
        '[[order]]\nfirst = "a"\nthen = "b"\ngap_days = 3\n'
    )
    made = own_tables(laid_over(there, coming))
    assert [(each["name"], each["minutes"]) for each in made["setup"]] == [("pit", 6), ("lift", 7)]
    assert made["order"] == [{"first": "a", "then": "b", "gap_days": 3}]
    assert made["bays"] == {"value": 2}


def test_who_comes_second_is_told_and_nothing_is_written(tmp_path: Path) -> None:
    own = tmp_path / "config" / "workshop.toml"
    put_in_place(own, "[bays]\nvalue = 2\n", shown=state_of(""))
    with pytest.raises(Clash):
        put_in_place(own, "[bays]\nvalue = 3\n", shown=state_of(""))
    assert own.read_text(encoding="utf-8") == "[bays]\nvalue = 2\n"
    assert sorted(path.name for path in own.parent.iterdir()) == ["workshop.toml"]


def test_a_folder_that_cannot_be_written_to_is_named(tmp_path: Path) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file stands where the folder should be", encoding="utf-8")
    with pytest.raises(BadSettings, match="cannot be written"):
        written_beside(blocked / "workshop.toml", "")


_LINES = st.text(st.characters(blacklist_categories=("Cs", "Cc")), max_size=30)


@st.composite
def own_files(draw: st.DrawFn) -> dict[str, Any]:
    """Tables as a garage may have them."""
    found: dict[str, Any] = {}
    for key in draw(st.sets(st.sampled_from(FIGURES), max_size=5)):
        kind = figure_kind(key)
        value = Decimal("0.5") if kind in (FigureKind.SHARE, FigureKind.WEIGHT) else draw(st.integers(7, 90))
        found[key] = {"value": value, **({"means": draw(_LINES)} if draw(st.booleans()) else {})}
    if draw(st.booleans()):
        found["skills"] = {"ines": [word for word in draw(st.lists(_LINES, max_size=3)) if word.strip()]}
    if draw(st.booleans()):
        found["closed"] = {"also": {"2026-12-24": draw(_LINES)}}
    return found


@settings(deadline=None)
@given(before=own_files(), changes=own_files(), gone=st.sets(st.sampled_from(FIGURES), max_size=2))
def test_whatever_is_changed_the_rest_means_what_it_meant(
    before: dict[str, Any], changes: dict[str, Any], gone: set[str]
) -> None:
    told: dict[str, Any] = {**changes, **dict.fromkeys(gone)}
    text = with_tables("", before)
    assert own_tables(text) == before
    made = with_tables(text, told)
    assert own_tables(made) == {key: value for key, value in {**before, **told}.items() if value is not None}
    assert workshop_with(made).profile == "household"
