"""The one parser for how long something takes, and for hands-on and standing in turn.

Lengths (`parse_length`), blanks around them dropped; digits are ASCII:

    length = clock / words
    clock  = 1*3DIGIT ":" 2DIGIT                 ; 2:20, 24:00
    words  = hours [SP minutes] / minutes        ; 2 h, 2 h 20, 2 h 20 min, 90 min
    hours  = 1*3DIGIT [SP] "h"
    minutes = 1*5DIGIT [[SP] "min"]              ; bare digits only after hours

Chains (`parse_chain`), parts in order, the first of them hands-on:

    chain = part *("," part)
    part  = ["stands" SP] length                 ; 1:00, stands 24:00, 1:20

A bare number is refused: 90 is minutes to some and hours to others. Times of day (`parse_time`) are 24 hours, 09:00.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import time, timedelta

from fleetcare.errors import BadInput, shown
from fleetcare.fleet.bay_visit import MOST_STRETCHES, Stretch, StretchKind
from fleetcare.language import saying

_CLOCK = re.compile(r"(?P<hours>[0-9]{1,3}):(?P<minutes>[0-5][0-9])")
_WORDS = re.compile(r"(?P<hours>[0-9]{1,3}) ?h(?: (?P<minutes>[0-5]?[0-9])(?: ?min)?)?")
_MINUTES = re.compile(r"(?P<minutes>[0-9]{1,5}) ?min")
_TIME = re.compile(r"(?P<hour>[01]?[0-9]|2[0-3])[:.](?P<minute>[0-5][0-9])")
_ASK = "Write it as 2:20, hours and minutes, or 90 min."


def parse_length(text: str, *, field: str = "takes") -> timedelta:
    """How long something takes, by the grammar at the top of this file. Raises BadInput."""
    given = " ".join(text.split()).casefold()
    found = _CLOCK.fullmatch(given) or _WORDS.fullmatch(given)
    if found is not None:
        return timedelta(hours=int(found["hours"]), minutes=int(found["minutes"] or 0))
    if (minutes := _MINUTES.fullmatch(given)) is not None:
        return timedelta(minutes=int(minutes["minutes"]))
    raise BadInput(saying("{text_} says no length of time.", text_=shown(text, 30)), remedy=_ASK, field=field)


def parse_chain(text: str, *, field: str = "takes") -> tuple[tuple[StretchKind, timedelta], ...]:
    """Hands-on and standing in turn, by the grammar at the top of this file. Raises BadInput."""
    parts = [part.strip() for part in text.split(",")]
    if len(parts) > MOST_STRETCHES:
        raise BadInput(
            saying("That is {parts} stretches.", parts=len(parts)),
            remedy=saying("Give {most_stretches} at most.", most_stretches=MOST_STRETCHES),
            field=field,
        )
    found = []
    for part in parts:
        words = part.casefold().split(maxsplit=1)
        stands = bool(words) and words[0] == "stands"
        kind = StretchKind.STANDING if stands else StretchKind.HANDS_ON
        found.append((kind, parse_length(part[len("stands") :] if stands else part, field=field)))
    return tuple(found)


def chain_words(stretches: Iterable[Stretch]) -> str:
    """Stretches as files hold them; `parse_chain` reads them back. Seconds, which no door lets in, are cut off."""
    words = []
    for each in stretches:
        hours, minutes = divmod(int(each.lasts.total_seconds()) // 60, 60)
        words.append(f"{'stands ' if each.kind is StretchKind.STANDING else ''}{hours}:{minutes:02d}")
    return ", ".join(words)


def parse_time(text: str, *, field: str = "at") -> time:
    """A time of day, 09:00 or 9:00. Raises BadInput."""
    found = _TIME.fullmatch(text.strip())
    if found is None:
        raise BadInput(
            saying("{text_} is no time of day.", text_=shown(text, 20)),
            remedy="Write it as 09:00, of 24 hours.",
            field=field,
        )
    return time(int(found["hour"]), int(found["minute"]))
