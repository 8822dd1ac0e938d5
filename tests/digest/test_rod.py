"""The rod as a row of cells: widths, kinds and notches agree with the dates."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.digest.rod import WIDTH, CellKind, RodCell, Standing, rod_cells

INK, GREY, BLANK, ZONE, PAST = CellKind

# Shares of the worked examples of the dipstick. X(q) is reckoned by hand as 284 / 1.2 * q = 236.67 q, rounded.
EXAMPLES = {
    # q_read .6022 -> 143, q_now .7573 -> 179, early .9452 -> 224, late 1.0862 -> 257
    "Bellows, engine oil": (
        (0.6022, 0.7573, 0.7573 + 40 * 0.004698, 0.7573 + 70 * 0.004698, Standing.AHEAD),
        [(INK, 0, 143), (GREY, 143, 179), (BLANK, 179, 224), (ZONE, 224, 257), (BLANK, 257, 284)],
    ),
    # early .9610 -> 227, late 1.0377 -> 246, q_now 1.0541 -> 249, moved to 251 so that it can be seen
    "Raft, coupling": (
        (1.0541, 1.0541, 1.0541 - 34 * 0.002738, 1.0541 - 6 * 0.002738, Standing.PAST_LATE),
        [(INK, 0, 227), (INK, 227, 246), (PAST, 246, 251), (BLANK, 251, 284)],
    ),
    # early .8870 -> 210, q_now .8925 -> 211, moved to 214 past its notch; late 1.1170 -> 264
    "Anvil, axle vents": (
        (0.8925, 0.8925, 0.8925 - 0.005476, 0.8925 + 41 * 0.005476, Standing.OPEN),
        [(INK, 0, 210), (INK, 210, 214), (ZONE, 214, 264), (BLANK, 264, 284)],
    ),
}


def _pixels(cell: RodCell) -> int:
    return cell.width + 3 * cell.early_notch + 5 * cell.late_notch


def _stretches(cells: tuple[RodCell, ...]) -> list[tuple[CellKind, int, int]]:
    ends, at = [], 0
    for cell in cells:
        ends.append((cell.kind, at, at + _pixels(cell)))
        at += _pixels(cell)
    return ends


@pytest.mark.parametrize("name", EXAMPLES)
def test_worked_examples(name: str) -> None:
    (q_read, q_now, q_early, q_late, standing), expected = EXAMPLES[name]
    cells = rod_cells(q_read=q_read, q_now=q_now, q_early=q_early, q_late=q_late, standing=standing)
    found = _stretches(cells)
    assert found == expected


shares = st.floats(-0.5, 5, allow_nan=False)


@settings(deadline=None)
@given(q_read=shares, since=st.floats(0, 2), q_early=shares, wide=st.floats(0, 2), standing=st.sampled_from(Standing))
def test_the_rod_is_whole_and_says_where_today_lies(
    q_read: float, since: float, q_early: float, wide: float, standing: Standing
) -> None:
    """Whatever the shares and however they are rounded, the cells fill the rod and the wear stands as the dates say."""
    cells = rod_cells(q_read=q_read, q_now=q_read + since, q_early=q_early, q_late=q_early + wide, standing=standing)
    assert sum(map(_pixels, cells)) == WIDTH - 2
    assert all(cell.width > 0 for cell in cells)
    assert [cell.early_notch for cell in cells].count(True) == 1
    assert [cell.late_notch for cell in cells].count(True) == 1
    kinds = [cell.kind for cell in cells]
    first = next(i for i, cell in enumerate(cells) if cell.early_notch)
    last = next(i for i, cell in enumerate(cells) if cell.late_notch)
    worn_in_zone = {INK, GREY} & set(kinds[first : last + 1])
    if standing is Standing.AHEAD:
        assert not worn_in_zone
    elif standing is Standing.OPEN:
        assert worn_in_zone
        assert kinds[last] is ZONE
    else:
        assert ZONE not in kinds
    assert (PAST in kinds) is (standing is Standing.PAST_LATE)
    order = [INK, GREY, PAST, ZONE, BLANK]
    worn = [kind for kind in kinds if kind in (INK, GREY, PAST)]
    assert worn == sorted(worn, key=order.index)
    assert kinds[: len(worn)] == worn, "wear starts at the tip and has no gaps"
    assert all(set(cell.strokes) <= {"/"} and (cell.kind is ZONE or not cell.strokes) for cell in cells)
