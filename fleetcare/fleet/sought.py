"""Words that things are found by, folded alike where they are written down and where somebody types them."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.fleet.people import Person
from fleetcare.fleet.vehicle import Vehicle

MOST_WORDS = 6
"""Of what somebody types; nobody needs more to find one thing, and each one costs."""
LONGEST_WORD = 40
_WORD = re.compile(r"[^\W_]+")


class SoughtKind(StrEnum):
    """What is found."""

    VEHICLE = "vehicle"
    SHEET = "sheet"
    FINDING = "finding"
    PERSON = "person"

    @property
    def is_newest_first(self) -> bool:
        """Sheets and findings have their number or day in front; what is newer is likelier to be meant."""
        return self in (SoughtKind.SHEET, SoughtKind.FINDING)


@dataclass(frozen=True, slots=True)
class Sought:
    """A thing and its words. thing: what stands for it among its kind. mark: of the vehicle it is about, or empty."""

    kind: SoughtKind
    thing: str
    mark: str
    words: tuple[str, ...]


def words_of(*texts: str) -> tuple[str, ...]:
    """The words of these texts, each once, sorted: letters without their accents, in small ones, and digits.

    Source: Unicode Standard Annex 15 (compatibility decomposition) and the Unicode case folding.
    """
    return tuple(sorted({word for text in texts for word in _folded(text)}))


def typed_words(text: str) -> tuple[str, ...]:
    """The words that somebody seeks, each once, in the order typed, no more than MOST_WORDS."""
    return tuple(dict.fromkeys(_folded(text)))[:MOST_WORDS]


def sought_vehicle(vehicle: Vehicle) -> Sought:
    """A vehicle: by mark, name, what it is called, its keeper's and drivers' keys, and its components.

    Not by its identification number: who only looks on could guess at it letter by letter.
    """
    titles = [component.title for component in vehicle.components]
    words = words_of(vehicle.mark, vehicle.name, vehicle.called, vehicle.keeper, *vehicle.drivers, *titles)
    return Sought(SoughtKind.VEHICLE, vehicle.mark, vehicle.mark, words)


def sought_person(person: Person) -> Sought:
    """A person: by name and key. Not by mail, which is nobody's business."""
    return Sought(SoughtKind.PERSON, person.key, "", words_of(person.key, person.name))


def _folded(text: str) -> list[str]:
    # Twice: a letter of another form (such as a mathematical A) is only then a capital that can be made a small one.
    # Source: The Unicode Standard, chapter 3, D146 (compatibility caseless match).
    folded = unicodedata.normalize("NFD", text)
    for _ in range(2):
        folded = unicodedata.normalize("NFKD", folded.casefold())
    plain = "".join(c for c in folded if not unicodedata.combining(c))
    return [word[:LONGEST_WORD] for word in _WORD.findall(plain)]
