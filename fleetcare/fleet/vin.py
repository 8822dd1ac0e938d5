"""Vehicle identification numbers: what looks odd about one, and the model years it may stand for."""

from __future__ import annotations

import re

from fleetcare.errors import BadInput, shown
from fleetcare.language import saying

LENGTH = 17
CHECK_PLACE = 9
"""Position of the check digit, counted from 1."""

_LETTERS = dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ", map(int, "12345678123457923456789"), strict=True))
_VALUES: dict[str, int] = _LETTERS | {str(digit): digit for digit in range(10)}
"""Source: 49 CFR 565 (October 2000 edition 565.6, Table III; now 565.15(c))."""

_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
"""Positions 1 to 17; the check digit itself weighs nothing. Source: 49 CFR 565 (2000) 565.6, Table IV."""

_YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"
"""Thirty codes for 1980 to 2009, and again for 2010 to 2039. Source: 49 CFR 565.15(d)(1), year-code table."""
_FIRST_YEAR = 1980

_LOOKS_LIKE = {"I": "1", "O": "0", "Q": "0"}


def check_digit(vin: str) -> str:
    """What position 9 should be by the North American rule: a digit, or X for ten.

    vin: 17 characters, any case, spaces and hyphens ignored; position 9 itself may be anything.
    Raises BadInput if it has another length or a character a VIN cannot hold.
    Source: 49 CFR 565.15(c); worked example in the October 2000 edition, 565.6, Table V.
    """
    written = _written(vin)
    if len(written) != LENGTH:
        raise BadInput(
            saying("{vin} has {written} characters.", vin=shown(vin), written=len(written)),
            remedy="A check digit needs all 17.",
            field="vin",
        )
    total = 0
    for place, (sign, weight) in enumerate(zip(written, _WEIGHTS, strict=True), start=1):
        if place == CHECK_PLACE:
            continue
        if sign not in _VALUES:
            raise BadInput(
                saying("{sign} in position {place} is no character of a VIN.", sign=shown(sign), place=place),
                remedy="Use digits and capital letters without I, O and Q.",
                field="vin",
            )
        total += _VALUES[sign] * weight
    remainder = total % 11
    return "X" if remainder == 10 else str(remainder)


def vin_doubts(vin: str) -> tuple[str, ...]:
    """What looks odd about a VIN, a plain sentence each; empty if nothing does, or if there is no VIN.

    A doubt is a warning and never a reason to refuse: the check digit and the year code are North American rules
    (ISO 3779 fixes the length and the characters only), and vehicles older than 1981 carry shorter numbers.
    """
    written = _written(vin)
    if not written:
        return ()
    doubts: list[str] = []
    if len(written) != LENGTH:
        doubts.append(
            saying(
                "A VIN has 17 characters and this one has {written}. Vehicles built before 1981 may have fewer.",
                written=len(written),
            )
        )
    for place, sign in enumerate(written, start=1):
        if sign in _LOOKS_LIKE:
            doubts.append(
                saying(
                    "Position {place} is {sign}, which no VIN holds. Is it a {looks_like}?",
                    place=place,
                    sign=sign,
                    looks_like=_LOOKS_LIKE[sign],
                )
            )
        elif sign not in _VALUES:
            doubts.append(
                saying(
                    "Position {place} is {sign}, and a VIN holds only digits and capital letters.",
                    place=place,
                    sign=shown(sign),
                )
            )
    if doubts:
        return tuple(doubts)
    expected = check_digit(written)
    found = written[CHECK_PLACE - 1]
    if found != expected:
        doubts.append(
            saying(
                "Position 9 is {found}, where the North American check digit would be {expected}. Look "
                "at the plate again, unless the vehicle was made for another part of the world.",
                found=found,
                expected=expected,
            )
        )
    if not model_years(written):
        doubts.append(
            saying(
                "Position 10 is {written}, which stands for no model year in North America. Elsewhere "
                "it may be used in another way.",
                written=written[9],
            )
        )
    return tuple(doubts)


def model_years(vin: str, *, light: bool = False) -> tuple[int, ...]:
    """The model years that the year code in position 10 may stand for, oldest first; none, one or two.

    light: the vehicle is known to be a car, or a multipurpose vehicle or truck of 4536 kg (10 000 lb) gross weight
    rating or less. For those alone position 7 tells the cycles apart: a letter from 2010 on, a digit before. For
    trailers and heavier trucks it says nothing, so both years come back.
    A model year is not the year of building: limits by age go from the in-service date, never from this.
    Source: 49 CFR 565.15(b) and (d)(1).
    """
    written = _written(vin)
    if len(written) != LENGTH or written[9] not in _YEAR_CODES:
        return ()
    early = _FIRST_YEAR + _YEAR_CODES.index(written[9])
    late = early + len(_YEAR_CODES)
    if not light:
        return (early, late)
    return (late,) if written[6].isalpha() else (early,)


def _written(vin: str) -> str:
    return re.sub(r"[\s-]", "", vin).upper()
