"""How people write a duty split: `towing=300 daily=545`, `towing=3 daily=1`, `towing=300 daily=rest`."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from decimal import Decimal
from fractions import Fraction
from math import lcm

from fleetcare.errors import BadInput, NotFound, shown
from fleetcare.fleet.duty import DutySplit
from fleetcare.intake.numbers import plain
from fleetcare.language import saying

_PART = re.compile(r"(?P<duty>[a-z0-9]+(?:-[a-z0-9]+)*)=(?P<part>rest|[0-9]{1,12}(?:[.,][0-9]{1,400})?)")
_BETWEEN = re.compile(r"[,;](?=\s*[A-Za-z])")
"""A comma between two duties, as a command line has it; one inside a number stays."""
_LONGEST = 4000
_TALLEST_PART = 100_000

_ASK = "Write it as towing=300 daily=545; shares such as towing=3 daily=1 will do."


def parse_split(text: str, *, duties: Collection[str] = (), distance: Decimal | None = None) -> DutySplit:
    """The split somebody wrote: parts of any size, one for each duty, blanks or commas between them.

    duties: keys of the duties there are; empty means any. distance: what the parts have to add up to, needed only for
    `rest`. Parts that add up to 1 are kept as they stand, so that what was written out is read back unchanged.
    Raises BadInput.
    """
    if len(text) > _LONGEST:
        raise BadInput(saying("That is no duty split: {text_}.", text_=shown(text, 20)), remedy=_ASK, field="split")
    parts: dict[str, Decimal] = {}
    rest_of: str | None = None
    for word in _BETWEEN.sub(" ", text.replace(" = ", "=")).split():
        found = _PART.fullmatch(word.strip(",;").casefold())
        if found is None:
            raise BadInput(
                saying("That is no part of a duty split: {word}.", word=shown(word)), remedy=_ASK, field="split"
            )
        duty = found["duty"]
        if duty in parts or duty == rest_of:
            raise BadInput(
                saying("The duty {duty} stands twice in the split.", duty=duty), remedy="Once, please.", field="split"
            )
        _check_duty(duty, duties)
        if found["part"] != "rest":
            parts[duty] = Decimal(found["part"].replace(",", "."))
        elif rest_of is not None:
            raise BadInput("Only one duty can have the rest.", remedy=_ASK, field="split")
        else:
            rest_of = duty
    if rest_of is not None:
        parts[rest_of] = _rest(parts, distance)
    return split_from(parts)


def split_from(parts: Mapping[str, Decimal], *, duties: Collection[str] = ()) -> DutySplit:
    """The split those parts make. Raises BadInput if none is more than nothing, or a duty is not among `duties`."""
    for duty in parts:
        _check_duty(duty, duties)
    floats = {duty: float(part) for duty, part in parts.items() if float(part) > 0}
    if not floats or any(part < 0 for part in parts.values()):
        raise BadInput(
            "A duty split needs a part that is more than nothing, and none below.", remedy=_ASK, field="split"
        )
    if abs(sum(floats.values()) - 1.0) <= 1e-9:
        return DutySplit(tuple(sorted(floats.items())))
    return DutySplit.from_parts(floats)


def split_parts(split: DutySplit) -> dict[str, Decimal]:
    """Parts that `split_from` turns into exactly this split, by duty key: small whole numbers where they exist."""
    shares = {duty: Fraction(share).limit_denominator(_TALLEST_PART) for duty, share in sorted(split.shares)}
    height = lcm(*(share.denominator for share in shares.values()))
    if height <= _TALLEST_PART:
        whole = {duty: Decimal(int(share * height)) for duty, share in shares.items()}
        if any(whole.values()) and split_from(whole) == split:
            return whole
    return {duty: Decimal(repr(share)) for duty, share in sorted(split.shares) if share > 0}


def split_words(split: DutySplit) -> str:
    """The split as files hold it; `parse_split` reads exactly it back."""
    return " ".join(f"{duty}={plain(part)}" for duty, part in split_parts(split).items())


def _rest(parts: Mapping[str, Decimal], distance: Decimal | None) -> Decimal:
    if distance is None:
        raise BadInput(
            "There is no distance to take the rest of.", remedy="Write figures for all duties.", field="split"
        )
    rest = distance - sum(parts.values(), Decimal(0))
    if rest < 0:
        raise BadInput(
            saying("The parts are more than the {distance} driven.", distance=plain(distance)),
            remedy="Make them smaller.",
            field="split",
        )
    return rest


def _check_duty(duty: str, duties: Collection[str]) -> None:
    if duties and duty not in duties:
        missing = NotFound("duty", duty, duties)
        raise BadInput(
            missing.said, remedy=saying("The duties are {duties}.", duties=", ".join(sorted(duties))), field="split"
        )
