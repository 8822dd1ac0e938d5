"""What people write into a calendar entry for us: how far a vehicle will go and in which duty, and which vehicles go.

In ABNF (RFC 5234); words are whole words, and everything between is passed over:

    text     = *( distance / other )
    distance = figure [ blanks [ "of" blanks ] ( duty / "(" duty ")" ) ]      ; 900 km towing
             / duty [ ":" ] blanks figure                    ; towing 900km
    figure   = amount [ blanks ] unit                        ; not after a digit, a letter or a dash
    amount   = as a dial is typed, without blanks in it      ; 900   1,200   12.5
    unit     = "km" / "mi" / "mile" [ "s" ] / "kilomet" ( "re" / "er" ) [ "s" ]      ; any case, but not "Mi"
    duty     = key or title of a duty cycle                  ; any case
    vehicles = names ":" at the beginning / "with" blanks names anywhere
    names    = name *( ( "," / "+" / "&" / "and" ) name )    ; a name or mark of a vehicle, spelt as in the garage

Several distances each name a duty of their own, all in one unit: `900 km towing, 60 km track`. What could be read in
two ways is not read: `2 900 km`, `900-1000 km`, `2 x 450 km`, `160 mi (257 km)`. Then the entry counts without a
distance, and a doubt says so. The title is looked at first; the note only if the title holds no figure with a unit.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.errors import BadInput, shown
from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit

ParseAmount = Callable[[str], Decimal]
"""The one number parser. Raises BadInput."""

_BLANK = "[ \\t\u00a0\u2009\u202f]"
_FIGURE = re.compile(
    rf"(?P<number>[0-9][0-9.,]*){_BLANK}*(?P<unit>km|Km|KM|mi|MI|[Mm]iles?|MILES?|(?i:kilomet(?:re|er)s?))(?!\w)"
)
_BEGINS_WELL = re.compile(r"(?:^|[\s(:;,/&+=~≈–—-])$")
_TWO_NUMBERS = re.compile(r"[0-9]\s*[-–—/x×*]?\s*$|(?<!\s)[-–—−]$")
_IS_A_RATE = re.compile(r"\s*(?:/|per\b|an?\s+(?:hour|day|week)\b|²|³)", re.IGNORECASE)
_NEXT_WORD = re.compile(rf"{_BLANK}+(?P<word>[^\W\d_][\w-]*)")
_ASK = "Write it as 900 km towing."


@dataclass(frozen=True, slots=True)
class SpokenDistance:
    """One distance as written, more than nothing. duty: key of a duty cycle; empty if none was named."""

    distance: Decimal
    unit: DistanceUnit
    duty: str = ""


@dataclass(frozen=True, slots=True)
class EventText:
    """What a text says. doubts: what in it was not taken as it may have been meant, a sentence each."""

    distances: tuple[SpokenDistance, ...] = ()
    doubts: tuple[str, ...] = ()


def mentions_distance(text: str) -> bool:
    """Whether a figure with a unit stands in the text, well written or not."""
    return _FIGURE.search(text) is not None


def spoken_distances(title: str, note: str, *, duties: Mapping[str, DutyCycle], parse_amount: ParseAmount) -> EventText:
    """The distances that an entry of a calendar names, by the grammar at the top of this file. Raises nothing."""
    text = title if mentions_distance(title) else note
    words = _duty_words(duties)
    doubts: list[str] = []
    found: list[SpokenDistance] = []
    ends_at = 0
    for figure in _FIGURE.finditer(text):
        before, after = text[ends_at : figure.start()], text[figure.end() :]
        try:
            amount = _amount(figure, text, parse_amount)
            duty, ends_at = _duty_beside(figure, before, after, words)
        except BadInput as bad:
            return EventText((), (str(bad),))
        if not duty:
            doubts += _odd_duty(figure.group(), after, text, words)
        found.append(SpokenDistance(amount, _unit(figure["unit"]), duty))
    trouble = _do_not_go_together(found)
    return EventText((), (trouble,)) if trouble else EventText(tuple(found), tuple(doubts))


def named_vehicles(title: str, note: str, vehicles: Sequence[Vehicle]) -> tuple[str, ...]:
    """Marks of the vehicles that an entry names, in the order in which they stand there."""
    marks = {name: vehicle.mark for vehicle in vehicles for name in (vehicle.mark, vehicle.name) if name}
    if not marks:
        return ()
    one = "|".join(re.escape(name) for name in sorted(marks, key=lambda name: (-len(name), name)))
    names = rf"(?<![\w-])(?:{one})(?![\w-])(?:\s*(?:[,+&]|\band\b)\s*(?:{one})(?![\w-]))*"
    begins = re.compile(rf"\s*(?P<names>{names})\s*:")
    with_ = re.compile(rf"(?<![\w-])[Ww]ith\s+(?P<names>{names})")
    spans = [match["names"] for text in (title, note) if (match := begins.match(text))]
    spans += [match["names"] for text in (title, note) for match in with_.finditer(text)]
    each = re.compile(rf"(?<![\w-])(?:{one})(?![\w-])")
    return tuple(dict.fromkeys(marks[name] for span in spans for name in each.findall(span)))


def _amount(figure: re.Match[str], text: str, parse_amount: ParseAmount) -> Decimal:
    """Raises BadInput where the figure, or whether it is one, can be read in two ways."""
    lead = text[: figure.start()]
    written = shown(f"{text[max(0, figure.start() - 12) : figure.end()]}".strip(), 40)
    if _TWO_NUMBERS.search(lead) or not _BEGINS_WELL.search(lead):
        raise BadInput(saying("{written} can be read in two ways.", written=written), remedy=_ASK)
    if _IS_A_RATE.match(text[figure.end() :]):
        raise BadInput(saying("{written} is no distance of the whole trip.", written=written), remedy=_ASK)
    amount = parse_amount(figure["number"])
    if amount <= 0:
        raise BadInput(saying("{written} is no way to go.", written=written), remedy=_ASK)
    return amount


def _duty_beside(figure: re.Match[str], before: str, after: str, words: Mapping[str, str]) -> tuple[str, int]:
    """The duty right after the figure, or right before; and where the text goes on. Raises BadInput for both."""
    if not words:
        return "", figure.end()
    one = "|".join(re.escape(word) for word in sorted(words, key=lambda word: (-len(word), word)))
    follows = re.match(rf"{_BLANK}+(?:of{_BLANK}+|\()?(?P<duty>{one})(?![\w-])", after, re.IGNORECASE)
    leads = re.search(rf"(?<![\w-])(?P<duty>{one}):?{_BLANK}+$", before, re.IGNORECASE)
    if follows and leads:
        what = saying(
            "{group} can be read in two ways.",
            group=shown((leads.group() + figure.group() + follows.group()).strip(), 60),
        )
        raise BadInput(what, remedy="Put a comma after each distance with its duty.")
    if follows:
        return words[follows["duty"].casefold()], figure.end() + follows.end()
    return (words[leads["duty"].casefold()] if leads else ""), figure.end()


def _odd_duty(figure: str, after: str, text: str, words: Mapping[str, str]) -> list[str]:
    """What was perhaps meant to be the duty of a figure that has none."""
    for word in words:
        if re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", text, re.IGNORECASE):
            return [
                saying(
                    "{figure} counts in the usual split, because {word} does not stand beside it."
                    " Write it as {example}.",
                    figure=figure,
                    word=shown(word),
                    example=f"{figure} {word}",
                )
            ]
    follows = _NEXT_WORD.match(after)
    if follows is None:
        return []
    known = ", ".join(sorted(set(words.values())))
    return [
        saying(
            "{figure} counts in the usual split, because {word} is no duty. The duties are {known}.",
            figure=figure,
            word=shown(follows["word"], 30),
            known=known,
        )
    ]


def _do_not_go_together(found: Sequence[SpokenDistance]) -> str:
    if len(found) < 2:
        return ""
    if len({each.unit for each in found}) > 1:
        return saying("Two distances stand in different units, and may be one and the same. Leave one of them out.")
    if len({each.duty for each in found}) < len(found) or not all(each.duty for each in found):
        return saying("Of several distances each needs a duty of its own. Write them as 900 km towing, 60 km track.")
    return ""


def _duty_words(duties: Mapping[str, DutyCycle]) -> dict[str, str]:
    words = {duty.title.strip().casefold(): key for key, duty in sorted(duties.items())}
    words |= {key.replace("-", " ").casefold(): key for key in sorted(duties)}
    words |= {key.casefold(): key for key in sorted(duties)}
    return {word: key for word, key in words.items() if word}


def _unit(written: str) -> DistanceUnit:
    return DistanceUnit.KM if written.casefold().startswith("k") else DistanceUnit.MI
