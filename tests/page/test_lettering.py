"""The widths that drawings reckon with are those of the font files that are served."""

from __future__ import annotations

import json
from functools import cache

import pytest
from fontTools.ttLib import TTFont
from fontTools.varLib.instancer import instantiateVariableFont
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.page.drawings.lettering import ELLIPSIS, Lettering, fitted, width_of
from fleetcare.page.render import static_folder

CUTS = {Lettering.STRIP: (560, 86), Lettering.STRONG: (680, 86), Lettering.NAME: (680, 96)}


@cache
def font(part: str, lettering: Lettering) -> TTFont:
    """One file of Archivo at that cut."""
    weight, width = CUTS[lettering]
    whole = TTFont(static_folder() / "fonts" / f"archivo-{part}-standard-normal.woff2")
    return instantiateVariableFont(whole, {"wght": weight, "wdth": width})


def tabular(cut: TTFont) -> dict[str, str]:
    """Glyphs that stand in for others where figures are tabular (OpenType feature `tnum`)."""
    found: dict[str, str] = {}
    table = cut["GSUB"].table
    for record in table.FeatureList.FeatureRecord:
        if record.FeatureTag == "tnum":
            for index in record.Feature.LookupListIndex:
                for part in table.LookupList.Lookup[index].SubTable:
                    found |= getattr(getattr(part, "ExtSubTable", part), "mapping", {})
    return found


@pytest.mark.parametrize("lettering", CUTS)
def test_every_width_is_that_of_the_font(lettering: Lettering) -> None:
    # Source: table `hmtx` of the font files themselves, read by fontTools.
    named = json.loads((static_folder().parent / "drawings" / "advances.json").read_text("utf-8"))["characters"]
    checked = 0
    in_latin = font("latin", lettering).getBestCmap()
    for part in ("latin", "latin-ext"):
        cut = font(part, lettering)
        em, glyphs, advances = cut["head"].unitsPerEm, cut.getBestCmap(), cut["hmtx"]
        figures = tabular(cut) if part == "latin" else {}
        for character in named:
            if ord(character) not in glyphs or (part == "latin-ext" and ord(character) in in_latin):
                continue
            glyph = glyphs[ord(character)]
            wide = advances[figures.get(glyph, glyph)][0] * 1000 / em
            assert width_of(character, 1000, lettering) == pytest.approx(wide, abs=0.5), character
            checked += 1
    assert checked == len(named) > 300


def test_what_is_not_known_is_taken_for_wide() -> None:
    assert width_of("語", 10) >= max(width_of(character, 10) for character in "WM—…Œ")


@given(st.text(max_size=40), st.floats(20, 200), st.sampled_from(list(Lettering)))
def test_fitted_text_fits_and_is_cut_only_if_it_must_be(text: str, room: float, lettering: Lettering) -> None:
    kept = fitted(text, room, 13, lettering)
    assert width_of(kept, 13, lettering) <= room, "a drawing's words stay in their place"
    if width_of(text, 13, lettering) <= room:
        assert kept == text
    else:
        assert kept.endswith(ELLIPSIS)
        assert text.startswith(kept.removesuffix(ELLIPSIS).rstrip())
