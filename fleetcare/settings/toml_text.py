"""A TOML text with the line of each of its keys, and what a checked model has against it, in words."""

from __future__ import annotations

import bisect
import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from functools import cached_property
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from fleetcare.errors import BadFile, Fault, shown
from fleetcare.language import later, saying

Path = tuple[str | int, ...]
ModelT = TypeVar("ModelT", bound=BaseModel)

MOST_BYTES = 10_000_000

_SAYS_LINE = re.compile(r"^(?P<what>.*?) \(at (?:line (?P<line>[0-9]+), column [0-9]+|end of document)\)$", re.DOTALL)


class TomlText:
    """One TOML file, taken apart: `tables` as tomllib gives them (floats as Decimal), and the lines they stand on."""

    def __init__(self, text: str, file: str) -> None:
        """Raises BadFile, with the line, if the text is not TOML."""
        self.text = text.removeprefix("\ufeff").replace("\r\n", "\n")
        self.file = file
        if len(self.text.encode("utf-8", "surrogatepass")) > MOST_BYTES:
            raise BadFile(
                [
                    Fault(
                        file,
                        0,
                        saying("The file is larger than {megabytes} MB.", megabytes=MOST_BYTES // 1_000_000),
                        "Split it.",
                    )
                ]
            )
        try:
            self.tables: dict[str, Any] = tomllib.loads(self.text, parse_float=_decimal)
        except RecursionError:
            raise BadFile([Fault(file, 0, "The file nests too deep.", "Write it with fewer brackets.")]) from None
        except ValueError as error:
            raise BadFile([self._not_toml(error)]) from None

    def line(self, *path: str | int) -> int:
        """The 1-based line of that key, table or list entry; of the nearest thing around it if it is not there."""
        for length in range(len(path), 0, -1):
            found = self._lines.get(path[:length])
            if found is not None:
                return found
        return 0

    def checked(self, model: type[ModelT], *path: str | int) -> ModelT:
        """What stands at that path, as `model`. Raises BadFile with every fault at once, each with its line."""
        value: Any = self.tables
        for part in path:
            value = value[part]
        try:
            return model.model_validate(value)
        except ValidationError as error:
            faults = [self._fault(model, path, details) for details in error.errors(include_url=False)]
            raise BadFile(sorted(faults, key=lambda fault: fault.line)) from None

    def fault(self, what: str, instead: str, *path: str | int) -> Fault:
        """A fault at that path."""
        return Fault(self.file, self.line(*path), what, instead)

    @cached_property
    def _lines(self) -> dict[Path, int]:
        return key_lines(self.text)

    def _fault(self, model: type[BaseModel], path: Path, details: ErrorDetails) -> Fault:
        what, instead = said(model, details)
        return self.fault(what, instead, *path, *details["loc"])

    def _not_toml(self, error: ValueError) -> Fault:
        found = _SAYS_LINE.match(str(error))
        if found is None:
            return Fault(
                self.file, 0, saying("This is not TOML: {error}.", error=error), "Look for a number that is too long."
            )
        line = int(found["line"]) if found["line"] else self.text.rstrip("\n").count("\n") + 1
        return Fault(
            self.file,
            line,
            saying("This is not TOML: {found}{found_2}.", found=found["what"][:1].lower(), found_2=found["what"][1:]),
            "Texts stand in quotes, days as 2026-03-31, and each key on a line of its own.",
        )


def nearest_hint(given: str, known: Iterable[str]) -> str:
    """`Did you mean X?` if one of `known` is near, else the list of them; for the end of a message."""
    names = list(known)
    by_fold = {name.casefold(): name for name in names}
    close = difflib.get_close_matches(given.casefold()[:80], list(by_fold), n=1, cutoff=0.6)
    if close:
        return saying("Did you mean {near}?", near=by_fold[close[0]])
    if not names:
        return saying("Leave it out.")
    listed = ", ".join(names[:24])
    if len(names) == 1:
        return saying("There is {listed}.", listed=listed)
    if len(names) > 24:
        return saying("There are {listed} and others.", listed=listed)
    return saying("There are {listed}.", listed=listed)


def said(model: type[BaseModel], details: ErrorDetails) -> tuple[str, str]:
    """What a checked model has against one value, in words: what is wrong, and what to write instead.

    A validator that has its own words raises PydanticCustomError of type `said` with `what` and `instead`.
    """
    kind, loc, given = details["type"], details["loc"], details["input"]
    context: Mapping[str, Any] = details.get("ctx", {})
    key = str(next((part for part in reversed(loc) if isinstance(part, str)), "this"))
    if key == "password" and kind != "extra_forbidden":
        return (
            saying("The password is not a text, or too long."),
            saying('Write it in quotes: password = "...".'),
        )
    if kind == "said":
        return context["what"], context["instead"]
    if kind == "extra_forbidden":
        return saying("There is no key {key} here.", key=shown(key)), nearest_hint(key, _keys_at(model, loc[:-1]))
    if kind == "missing":
        return saying("The key {key} is missing.", key=key), saying("Add {key} = ...", key=key)
    if kind in ("enum", "literal_error"):
        choices = re.findall(r"'([^']*)'", str(context.get("expected", "")))
        return saying("{key} cannot be {value}.", key=key, value=_value(given)), nearest_hint(str(given), choices)
    if kind in _WANTED:
        return _is(key, given), saying(_WANTED[kind], key=key)
    if kind in _BOUNDS:
        return _is(key, given), saying(_BOUNDS[kind], bound=next(iter(context.values()), ""))
    return _is(key, given), f"{details['msg']}."


def _is(key: str, given: object) -> str:
    return saying("{key} is {value}.", key=key, value=_value(given))


_WANTED = {
    "string_type": later('Write a text in quotes: {key} = "...".'),
    "int_type": later("Write a whole number, without quotes."),
    "is_instance_of": later("Write a plain number, without quotes."),
    "decimal_type": later("Write a plain number, without quotes."),
    "finite_number": later("Write a plain number."),
    "bool_type": later("Write true or false."),
    "date_type": later("Write a day without quotes: {key} = 2026-03-31."),
    "list_type": later("Write a list in square brackets: {key} = [...]."),
    "dict_type": later("Write a table in curly brackets: {key} = {{ ... }}."),
    "model_type": later("Write a table with its keys here."),
}
_BOUNDS = {
    "greater_than": later("Write more than {bound}."),
    "greater_than_equal": later("Write {bound} or more."),
    "less_than": later("Write less than {bound}."),
    "less_than_equal": later("Write {bound} at most."),
    "string_too_long": later("Write at most {bound} characters."),
    "string_too_short": later("Write something there."),
    "too_long": later("There is too much of it."),
    "too_short": later("Write at least one."),
}


def _value(given: object) -> str:
    """A value as the file has it, for a message; never long."""
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, str):
        return shown(given, 40)
    if isinstance(given, int) and abs(given) >= 10**20:
        return saying("a number that is too long")
    if isinstance(given, (list, tuple)):
        return saying("a list")
    if isinstance(given, Mapping):
        return saying("a table")
    return shown(str(given), 40)


def _keys_at(model: type[BaseModel], loc: Sequence[str | int]) -> list[str]:
    """Names of the keys a model knows at that place; none if there is no model there."""
    found: Any = model
    for part in loc:
        if isinstance(found, type) and issubclass(found, BaseModel) and isinstance(part, str):
            known = {field.alias or name: field.annotation for name, field in found.model_fields.items()}
            found = _model_in(known.get(part))
    if isinstance(found, type) and issubclass(found, BaseModel):
        return [field.alias or name for name, field in found.model_fields.items()]
    return []


def _model_in(annotation: Any) -> Any:
    """The model that a list, table or optional of models holds."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in get_args(annotation):
        found = _model_in(inner)
        if found is not None:
            return found
    return None


def _decimal(text: str) -> Decimal:
    try:
        return Decimal(text.replace("_", ""))
    except InvalidOperation:
        raise ValueError(f"the number {text[:20]} cannot be kept") from None


# Where the keys stand. The scanner trusts that tomllib has taken the text.

_SKIP = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_BLANK = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}\n#]*")
_BASIC = re.compile(r'"(?:[^"\\]|\\.)*"')
_LITERAL = re.compile(r"'[^']*'")
_LONG_BASIC = re.compile(r'"""(?:[^\\]|\\.)*?"""(?:"{0,2})', re.DOTALL)
_LONG_LITERAL = re.compile(r"'''.*?'''(?:'{0,2})", re.DOTALL)


def key_lines(text: str) -> dict[Path, int]:
    """The 1-based line of each table, key and list entry of a TOML text that tomllib takes.

    Paths are those of tomllib's result: `("vehicle", 0, "meter", 1, "unit")`. Source: TOML 1.0.0.
    """
    return _Scanner(text).lines


class _Scanner:
    """Walks over a TOML text once and notes where each key begins."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.breaks = [at for at, sign in enumerate(text) if sign == "\n"]
        self.lines: dict[Path, int] = {}
        self.tables_in: dict[Path, int] = {}
        self.at = 0
        self._walk()

    def _walk(self) -> None:
        here: Path = ()
        while self._skip(_SKIP) < len(self.text):
            if self.text[self.at] != "[":
                self._pair(here)
                continue
            line = self._line()
            is_entry = self.text.startswith("[[", self.at)
            self.at += 2 if is_entry else 1
            here = self._table(self._key(), is_entry, line)
            self.at += 2 if is_entry else 1

    def _table(self, parts: list[str], is_entry: bool, line: int) -> Path:
        here: Path = ()
        for place, part in enumerate(parts):
            here += (part,)
            self.lines.setdefault(here, line)
            if is_entry and place == len(parts) - 1:
                self.tables_in[here] = self.tables_in.get(here, 0) + 1
            if here in self.tables_in:
                here += (self.tables_in[here] - 1,)
        # a table may have been named before as part of a longer name; its own head is where people look
        self.lines[here] = line
        return here

    def _pair(self, here: Path) -> None:
        line = self._line()
        for part in self._key():
            here += (part,)
            self.lines.setdefault(here, line)
        self.at += 1  # the equals sign
        self._value(here)

    def _key(self) -> list[str]:
        parts: list[str] = []
        while True:
            self._skip(_BLANK)
            sign = self.text[self.at]
            found = (_BASIC if sign == '"' else _LITERAL if sign == "'" else _BARE_KEY).match(self.text, self.at)
            assert found is not None  # tomllib took it
            self.at = found.end()
            parts.append(tomllib.loads(f"key = {found[0]}")["key"] if sign in "\"'" else found[0])
            self._skip(_BLANK)
            if self.text[self.at] != ".":
                return parts
            self.at += 1

    def _value(self, here: Path) -> None:
        self._skip(_BLANK)
        sign = self.text[self.at]
        if sign == "[":
            self._list(here)
        elif sign == "{":
            self._inline_table(here)
        elif sign in "\"'":
            is_long = self.text.startswith(sign * 3, self.at)
            long, short = (_LONG_BASIC, _BASIC) if sign == '"' else (_LONG_LITERAL, _LITERAL)
            self._skip(long if is_long else short)
        else:
            self._skip(_BARE_VALUE)

    def _list(self, here: Path) -> None:
        self.at += 1
        place = 0
        while self.text[self._skip(_SKIP)] != "]":
            self.lines[here + (place,)] = self._line()
            self._value(here + (place,))
            place += 1
            if self.text[self._skip(_SKIP)] == ",":
                self.at += 1
        self.at += 1

    def _inline_table(self, here: Path) -> None:
        self.at += 1
        while self.text[self._skip(_BLANK)] != "}":
            self._pair(here)
            if self.text[self._skip(_BLANK)] == ",":
                self.at += 1
        self.at += 1

    def _skip(self, pattern: re.Pattern[str]) -> int:
        found = pattern.match(self.text, self.at)
        assert found is not None  # tomllib took it
        self.at = found.end()
        return self.at

    def _line(self) -> int:
        return bisect.bisect_left(self.breaks, self.at) + 1
