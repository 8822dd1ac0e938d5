"""Each key of a TOML file has its line, and what is wrong with it is said there in words."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from typing import Any

import pytest
import tomli_w
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ConfigDict

from fleetcare.errors import BadFile, Fault
from fleetcare.settings.toml_text import Path, TomlText, key_lines

TEXT = '''\
# a comment with [[vehicle]] in it
top = "x"           # 2
a.b.c = 1           # 3
"quoted key" = [    # 4
  1,
  { x = 1, y = [ 2,
    3 ] },          # 7
]

[[vehicle]]         # 10
mark = "AN"         # 11
note = """
[[vehicle]]
key = 1
"""                 # 15
[[vehicle.meter]]   # 16
unit = 'mi # no'    # 17
[[vehicle.meter]]   # 18
unit = "h"          # 19
[[vehicle.component]]
key = "rear-axle"   # 21
[vehicle.component.tag]
ratio = 4.10        # 23
[[vehicle]]         # 24
"mark" = "BE"       # 25
[[vehicle.meter]]   # 26
unit = "km"         # 27
on = 2026-03-31 07:00:00
empty = ""          # 29
long = \'\'\'a \'\' b\'\'\'
next = "\\"]\\\\"   # 31
[ rows . "axle-fluid" . repeat ]   # 32
months = 60         # 33
[rows]              # 34
x = 1               # 35
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("top",), 2),
        (("a", "b", "c"), 3),
        (("quoted key",), 4),
        (("quoted key", 0), 5),
        (("quoted key", 1, "x"), 6),
        (("quoted key", 1, "y", 1), 7),
        (("vehicle", 0), 10),
        (("vehicle", 0, "mark"), 11),
        (("vehicle", 0, "meter", 0), 16),
        (("vehicle", 0, "meter", 0, "unit"), 17),
        (("vehicle", 0, "meter", 1, "unit"), 19),
        (("vehicle", 0, "component", 0, "key"), 21),
        (("vehicle", 0, "component", 0, "tag", "ratio"), 23),
        (("vehicle", 1), 24),
        (("vehicle", 1, "mark"), 25),
        (("vehicle", 1, "meter", 0, "unit"), 27),
        (("vehicle", 1, "meter", 0, "empty"), 29),
        (("vehicle", 1, "meter", 0, "long"), 30),
        (("vehicle", 1, "meter", 0, "next"), 31),
        (("rows", "axle-fluid", "repeat", "months"), 33),
        (("rows",), 34),
        (("rows", "x"), 35),
        # what is not there is looked for around it
        (("vehicle", 1, "meter", 0, "digits"), 26),
        (("vehicle", 1, "keeper"), 24),
        (("nothing",), 0),
    ],
)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_the_line_of_a_key_is_the_one_an_editor_shows(path: Path, line: int, end: str) -> None:
    document = TomlText("\ufeff" + TEXT.replace("\n", end), "x.toml")
    assert document.tables == tomllib.loads(TEXT, parse_float=Decimal)
    assert document.line(*path) == line


def paths_of(value: Any, here: Path = ()) -> dict[Path, Any]:
    """Every path of a parsed TOML value, with what stands there."""
    found: dict[Path, Any] = {here: value} if here else {}
    inner: Any = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inside in inner:
        found |= paths_of(inside, (*here, key))
    return found


leaves = st.integers(10_000, 10**9) | st.text(max_size=8) | st.booleans() | st.dates() | st.datetimes()
trees = st.dictionaries(
    st.text(min_size=1, max_size=5),
    st.recursive(
        leaves, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3)
    ),
    max_size=4,
)


@given(trees)
def test_every_path_that_tomllib_sees_has_a_line_and_no_other(tree: dict[str, Any]) -> None:
    """Second method: tomllib itself, over files that tomli-w wrote."""
    text = tomli_w.dumps(tree, multiline_strings=True)
    seen = paths_of(tomllib.loads(text))
    lines = key_lines(text)
    assert set(lines) == set(seen)
    rows = text.split("\n")
    for path, value in seen.items():
        if type(value) is int:
            assert str(value) in rows[lines[path] - 1]


class _Inner(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)
    digits: int = 6


class _Outer(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)
    name: str
    meter: list[_Inner] = []


def test_every_fault_of_a_table_is_said_on_its_line_in_order() -> None:
    text = 'meter = [ { digits = "6" },\n  { digts = 6 } ]\nnme = "x"\n'
    with pytest.raises(BadFile) as caught:
        TomlText(text, "x.toml").checked(_Outer)
    assert caught.value.faults == (
        Fault("x.toml", 0, "The key name is missing.", "Add name = ..."),
        Fault("x.toml", 1, "digits is “6”.", "Write a whole number, without quotes."),
        Fault("x.toml", 2, "There is no key “digts” here.", "Did you mean digits?"),
        Fault("x.toml", 3, "There is no key “nme” here.", "Did you mean name?"),
    )


def test_a_key_that_is_like_no_other_comes_with_the_list() -> None:
    with pytest.raises(BadFile, match=r"line 2: There is no key “zzz” here\. There are name, meter\."):
        TomlText('name = "x"\nzzz = 1', "x.toml").checked(_Outer)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a = 1\nb = ", 2),
        ("a = 1\nb = [1,\n", 2),
        ("a = 1\na = 2\n", 2),
        ("a = 1\n\n[x\n", 3),
        ("a = 31.3.2026\n", 1),
        ("a = 1\nb = \x00\n", 2),
        ("a = " + "9" * 5000, 0),
        ("a = " + "[" * 5000, 0),
        ("x = 1\n" + "y" * 100, 2),
    ],
)
def test_what_is_not_toml_is_said_with_its_line(text: str, line: int) -> None:
    with pytest.raises(BadFile) as caught:
        TomlText(text, "x.toml")
    (fault,) = caught.value.faults
    assert fault.line == line
    assert fault.instead


@given(st.text(max_size=60))
def test_any_text_is_taken_apart_or_refused(text: str) -> None:
    try:
        document = TomlText(text, "x.toml")
    except BadFile:
        return
    assert set(key_lines(document.text)) == set(paths_of(document.tables))
