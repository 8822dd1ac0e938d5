"""Every figure of the workshop has its name and its group on the page; what is shown is what is typed."""

from __future__ import annotations

import pytest

from fleetcare.bayplan.workshop import FIGURES
from fleetcare.page.cards.workshop_words import GROUPS, LABELS, figure_text
from fleetcare.settings.own_workshop import workshop_with


def test_every_figure_stands_on_the_page_once() -> None:
    grouped = [key for _, keys in GROUPS for key in keys]
    assert sorted(grouped) == sorted(FIGURES)
    assert set(LABELS) == set(FIGURES)
    assert len(set(LABELS.values())) == len(LABELS)


@pytest.mark.parametrize("key", FIGURES)
def test_every_shipped_figure_says_what_it_means(key: str) -> None:
    assert workshop_with("").figures[key].means


@pytest.mark.parametrize(
    ("key", "value", "text"),
    [("opening_day", 1505, "15.05"), ("shift_share", 0.855, "85.5"), ("lateness_weight", 4.0, "4"), ("bays", 2, "2")],
)
def test_a_figure_is_shown_as_it_is_typed(key: str, value: float, text: str) -> None:
    assert figure_text(key, value) == text
