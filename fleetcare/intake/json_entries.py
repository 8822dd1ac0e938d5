"""Objects of a JSON file read strictly: nothing is guessed, and every fault has its place, such as
`services[3].due`."""

from __future__ import annotations

import difflib
import json
import zlib
from collections.abc import Callable
from typing import Any, NoReturn, TypeVar

from fleetcare.errors import BadInput, shown
from fleetcare.language import saying

MOST_BYTES = 400_000_000
"""Of a file, unpacked."""
_LARGEST = 10**15

T = TypeVar("T")


def document(raw: bytes, example: str) -> dict[str, Any]:
    """The object in a file, gzipped or not. example: what to write instead of something else. Raises BadInput."""
    if raw[:2] == b"\x1f\x8b":
        unpacked = zlib.decompressobj(wbits=31)
        try:
            raw = unpacked.decompress(raw, MOST_BYTES + 1)
        except zlib.error as error:
            raise bad(
                saying("The file cannot be unpacked: {error}.", error=error), "Pack it anew with gzip.", ""
            ) from None
        if not unpacked.eof and len(raw) <= MOST_BYTES:
            raise bad("The packed file ends too early.", "Pack it anew with gzip.", "")
    if len(raw) > MOST_BYTES:
        raise bad(
            saying("The file is larger than {megabytes} MB.", megabytes=MOST_BYTES // 1_000_000),
            "Split it by depot.",
            "",
        )
    try:
        given = json.loads(raw.decode("utf-8-sig"), object_pairs_hook=object_of_pairs, parse_constant=no_number)
    except UnicodeDecodeError as error:
        raise bad(saying("Byte {start} is not UTF-8.", start=error.start + 1), "Save the file as UTF-8.", "") from None
    except json.JSONDecodeError as error:
        what = error.msg[:1].lower() + error.msg[1:]
        raise bad(
            saying("This is not JSON: {what} in line {lineno}.", what=what, lineno=error.lineno),
            "Write one object in braces.",
            "",
        ) from None
    except RecursionError:
        raise bad("The brackets nest too deep.", "Write one object in braces.", "") from None
    except ValueError:
        raise bad("A number has too many digits.", "Write whole cents, minutes and days.", "") from None
    if not isinstance(given, dict):
        raise bad("The file is no object.", saying("Write one object in braces: {example}.", example=example), "")
    return given


def object_of_pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object of its pairs, for a JSON decoder. Raises BadInput for a key that is given twice."""
    made = dict(pairs)
    if len(made) != len(pairs):
        seen: set[str] = set()
        for key, _ in pairs:
            if key in seen:
                raise bad(saying("The key {key} is given twice.", key=shown(key, 40)), "Keep one of the two.", key[:40])
            seen.add(key)
    return made


def no_number(name: str) -> NoReturn:
    """Refuses NaN and the infinities, for a JSON decoder. Raises BadInput."""
    raise bad(saying("{name} is no number.", name=name), "Leave the entry out.", "")


class Entry:
    """One object of the file, with the place where it stands."""

    def __init__(self, given: Any, place: str) -> None:
        if not isinstance(given, dict):
            raise bad(
                saying("{place} is {value}.", place=place, value=_value(given)), "Write an object in braces.", place
            )
        self.given: dict[str, Any] = given
        self.place = place

    def at(self, key: str) -> str:
        """The place of one of its keys."""
        return f"{self.place}.{key}" if self.place else key

    def keys(self, *, needed: tuple[str, ...], optional: tuple[str, ...] = ()) -> None:
        """Refuses keys that are not known or missing."""
        known = (*needed, *optional)
        for key in self.given:
            if key not in known:
                near = difflib.get_close_matches(key, known, n=1)
                remedy = (
                    saying("Did you mean {near}?", near=near[0])
                    if near
                    else saying("Known are {known}.", known=", ".join(known))
                )
                raise bad(saying("There is no key called {key}.", key=shown(key, 40)), remedy, self.at(key[:40]))
        for key in needed:
            if key not in self.given:
                raise bad(saying("The key {key} is missing.", key=key), "Add it.", self.at(key))

    def text(self, key: str) -> str:
        """A text that is not empty."""
        return _text(self.given[key], self.at(key))

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts."""
        return tuple(_text(one, f"{self.at(key)}[{at}]") for at, one in enumerate(self.listed(key)))

    def whole(self, key: str) -> int:
        """A whole number."""
        return whole(self.given[key], self.at(key))

    def is_true(self, key: str) -> bool:
        """True or false."""
        value = self.given[key]
        if type(value) is not bool:
            raise bad(saying("{key} is {value}.", key=key, value=_value(value)), "Write true or false.", self.at(key))
        return value

    def listed(self, key: str) -> list[Any]:
        """A list."""
        value = self.given[key]
        if not isinstance(value, list):
            raise bad(
                saying("{key} is {value}.", key=key, value=_value(value)),
                "Write a list in square brackets.",
                self.at(key),
            )
        return value

    def each(self, key: str, make: Callable[[Entry], T]) -> tuple[T, ...]:
        """A list of objects, each made into a value."""
        return tuple(make(Entry(one, f"{self.at(key)}[{at}]")) for at, one in enumerate(self.listed(key)))

    def pairs(self, key: str) -> tuple[tuple[int, int], ...]:
        """A list of pairs of whole numbers."""
        found = []
        for at, pair in enumerate(self.listed(key)):
            place = f"{self.at(key)}[{at}]"
            if not isinstance(pair, list) or len(pair) != 2:
                raise bad(
                    saying("{place} is {value}.", place=place, value=_value(pair)),
                    "Write two whole numbers in square brackets.",
                    place,
                )
            found.append((whole(pair[0], place), whole(pair[1], place)))
        return tuple(found)

    def maybe(self, key: str, make: Callable[[Entry], T]) -> T | None:
        """An object that may be missing or null."""
        value = self.given.get(key)
        return None if value is None else make(Entry(value, self.at(key)))


def _text(value: Any, place: str) -> str:
    if not isinstance(value, str) or not value:
        raise bad(saying("{place} is {value}.", place=place, value=_value(value)), "Write a text in quotes.", place)
    return value


def whole(value: Any, place: str) -> int:
    """A whole number of at most fifteen digits."""
    if type(value) is not int or abs(value) > _LARGEST:
        raise bad(saying("{place} is {value}.", place=place, value=_value(value)), "Write a whole number.", place)
    return value


def _value(value: Any) -> str:
    return shown(json.dumps(value, ensure_ascii=False)[:200], 40)


def bad(what: str, remedy: str, place: str) -> BadInput:
    """A fault with its place."""
    return BadInput(what, remedy=remedy, field=place)
