"""A drawing that stands alone asks for nothing: no font, no style sheet, no address, and says what the page's says."""

from __future__ import annotations

import json
import re
from functools import cache
from io import BytesIO
from xml.etree import ElementTree as Tree

import pytest
from PIL import Image

from fleetcare.page.drawings.lettering import Lettering
from fleetcare.page.drawings.lone import SVG
from fleetcare.page.drawings.road.form import WIDE
from fleetcare.page.drawings.road.strip import strip
from fleetcare.page.png import png_of
from fleetcare.page.render import Pages
from tests.page.karst_ridge import TODAY
from tests.page.outlines_of_font import OUTLINES, outlines
from tests.page.test_fan import card
from tests.page.test_road_strip import LANES

PATH = f"{{{SVG}}}path"


@cache
def drawn(name: str, *, night: bool = False) -> str:
    if name == "road":
        return Pages().lone_road(strip(LANES, TODAY, WIDE), "The road", night=night)
    return Pages().lone_heading(card(), "The dial", night=night)


BOTH = pytest.mark.parametrize("name", ["road", "dial"])


@BOTH
def test_it_asks_for_nothing_beside_it(name: str) -> None:
    text = drawn(name)
    root = Tree.fromstring(text)
    assert root.tag == f"{{{SVG}}}svg"
    tags = {element.tag.removeprefix(f"{{{SVG}}}") for element in root.iter()}
    assert tags.isdisjoint({"text", "a", "image", "script", "foreignObject", "use"})
    assert "var(" not in text
    assert "font" not in text
    assert "http" not in text.replace(SVG, "")
    wanted = set(re.findall(r"url\(#([^)]+)\)", text))
    assert wanted
    assert wanted <= {element.get("id") for element in root.iter()}


@BOTH
def test_every_class_that_paints_has_its_rule(name: str) -> None:
    """Without a rule a shape would be black, by day as by night."""
    text = drawn(name)
    rules = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert rules is not None
    used = {word for found in re.findall(r'class="([^"]+)"', text) for word in found.split()}
    bare = {word for word in used if not re.search(rf"\.{re.escape(word)}\b", rules[1])}
    # What stands for a whole drawing or takes its paint from what surrounds it.
    assert {word for word in bare if not word.startswith(("w-", "on-", "fan-"))} == set()


@BOTH
def test_day_and_night_are_the_same_drawing_in_other_inks(name: str) -> None:
    day, night = drawn(name), drawn(name, night=True)
    assert day != night
    assert re.sub(r"#[0-9A-Fa-f]{6}", "#", day) == re.sub(r"#[0-9A-Fa-f]{6}", "#", night)
    assert "#F2ECDD" in day
    assert "#191712" in night


@BOTH
def test_picture_in_dots_has_its_size_and_more_than_paper_on_it(name: str) -> None:
    width = float(Tree.fromstring(drawn(name)).attrib["width"])
    image = Image.open(BytesIO(png_of(drawn(name)))).convert("RGB")
    assert image.format is None
    assert image.width == round(2 * width)
    colours = image.getcolors(maxcolors=1 << 24)
    assert colours is not None
    assert max(colours)[1] == (0xF2, 0xEC, 0xDD)
    assert len(colours) > 20


def test_the_same_in_the_same_dots_out() -> None:
    assert png_of(drawn("dial")) == png_of(drawn("dial"))


def test_patterns_of_the_mix_are_named_below_it() -> None:
    """Two boxes more than the bars have cells, each followed by a name in the shape of its letters."""
    root = Tree.fromstring(drawn("dial"))
    boxes = [each for each in root.iter(f"{{{SVG}}}rect") if each.get("class") == "cell"]
    cells = sum(len(bar.cells) for bar in card().wide.bars)
    assert len(boxes) == cells + 2


def test_a_letter_that_the_font_lacks_leaves_a_box_and_keeps_its_place() -> None:
    text = Pages().lone_road(strip(LANES, TODAY, WIDE), "語")
    title = Tree.fromstring(text).find(f"{{{SVG}}}title")
    assert title is not None
    assert title.text == "語"
    assert "M60 0V-700H540V0Z" in text


@pytest.mark.parametrize("cut", list(Lettering))
def test_every_outline_is_that_of_the_font(cut: Lettering) -> None:
    # Source: the outlines of the font files themselves, read by fontTools.
    kept = json.loads(OUTLINES.read_text("utf-8"))[cut.value]
    assert kept == outlines(cut)
    assert set("".join(kept.values())) <= set("MLHVQCZ0123456789- ")
