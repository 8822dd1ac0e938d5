"""Stamped names and drums."""

from __future__ import annotations

import zlib
from decimal import Decimal

from fleetcare.page.drawings.drum import drum
from fleetcare.page.drawings.numbers import coordinate
from fleetcare.page.drawings.stamp import stamped


def test_stamped_letters_follow_the_checksum_of_word_and_place() -> None:
    ((first, *rest),) = stamped("Bellows")
    # crc32("Bellows0") = h: (h mod 7) - 3 = 1 step down of .22, ((h >> 5) mod 7) - 3 = 3 steps of .3 degrees.
    mixed = zlib.crc32(b"Bellows0")
    assert (first.letter, first.rise, first.turn) == ("B", mixed % 7 - 3, (mixed >> 5) % 7 - 3) == ("B", 1, 3)
    assert first.classes == "dy4 tw6"
    assert [each.letter for each in rest] == list("ellows")


def test_stamped_name_keeps_its_words_and_counts_through_spaces() -> None:
    karst, ridge = stamped("Karst  Ridge")
    assert "".join(each.letter for each in karst) == "Karst"
    assert ridge[0].rise == zlib.crc32(b"Karst  Ridge7") % 7 - 3


def test_drum_has_a_cell_for_every_digit_and_keeps_tenths_apart() -> None:
    assert drum(Decimal("83365"), digits=6).cells == 6
    assert drum(Decimal("1083365"), digits=6).cells == 7
    shown = drum(Decimal("1204.5"), digits=5)
    assert ("".join(each.digit for each in shown.digits), shown.tenths) == ("1204", ".5")


def test_swap_arrow_joins_the_middles_of_the_two_cells() -> None:
    # Six cells of 50.4 behind an edge of 2; 48210 begins in the second: middles at 2 + 75.6 and 2 + 126.
    shown = drum(Decimal("48210"), digits=6, odd=(0, 1), exchanged=(0, 1))
    assert shown.swap_path.startswith("M77.6 4C77.6 23 128 23 128 4")
    assert shown.swap_view_box == "0 0 306.4 24"
    assert [each.odd for each in shown.digits] == [True, True, False, False, False]


def test_coordinates_lose_what_a_tenth_does_not_show() -> None:
    assert [coordinate(value) for value in (12.0, 377.446, -0.01, -0.5)] == ["12", "377.4", "0", "-0.5"]
