"""The one number parser, for the phone page, files, the command line and the API alike.

What a dial shows (`parse_amount`, and `parse_dial` where a unit may stand behind it), in ABNF (RFC 5234) after blanks
around it are dropped:

    dial    = amount [ *1space unit ]
    unit    = "km" / "mi" / "miles" / "h"             ; in any case; it must not gainsay a unit chosen beside it
    amount  = ( plain / grouped ) [ mark DIGIT ]      ; at most 12 digits before the mark
    plain   = 1*12DIGIT
    grouped = spaced / marked
    spaced  = 1*3DIGIT 1*( space 3DIGIT )             ; one kind of space throughout
    marked  = head 1*( group 3DIGIT )                 ; one kind of sign throughout, not the one used as mark
    head    = ( %x31-39 *2DIGIT ) / 3DIGIT            ; 0,500 is no way to write 500
    group   = "," / "." / "'" / right quote (U+2019)  ; the last two never stand for a decimal mark
    mark    = "," / "."
    space   = SP / NBSP (U+00A0) / thin space (U+2009) / narrow NBSP (U+202F) / figure space (U+2007)
    DIGIT   = "0" to "9" and no other digits of Unicode

A point or comma followed by exactly three digits stands between thousands: `84,210` and `84.210` are both 84 210,
because no dial shows thousandths. Followed by one digit it is the decimal mark. Anything else could be read in two ways
and is refused: `84,21`, `84.2105`.
"""

from __future__ import annotations

import re
from decimal import Decimal

from fleetcare.errors import BadInput, shown
from fleetcare.language import saying
from fleetcare.quantities import MeterUnit

MOST_DIGITS = 12
_SPACES = "\u0020\u00a0\u2009\u202f\u2007"
_AROUND = _SPACES + "\t\r\n"
_LONGEST = 64

_SPACED = rf"[0-9]{{1,3}}(?:(?P<space>[{_SPACES}])[0-9]{{3}})(?:(?P=space)[0-9]{{3}})*"
_MARKED = r"(?:[1-9][0-9]{0,2}|[0-9]{3})(?P<group>[.,'\u2019])[0-9]{3}(?:(?P=group)[0-9]{3})*"
_AMOUNT = re.compile(rf"(?P<whole>[0-9]+|{_SPACED}|{_MARKED})(?:(?P<mark>[.,])(?P<tenth>[0-9]))?")
_ONE_MARK = re.compile(r"(?P<whole>[0-9]{1,12})[.,](?P<rest>[0-9]{1,12})")
_SEVERAL_GROUPS = re.compile(r"[1-9][0-9]{0,2}(?P<group>[.,])[0-9]{3}(?:(?P=group)[0-9]{3})+")
_PLAIN = re.compile(r"[0-9]+")
_WITH_UNIT = re.compile(rf"(?P<amount>.*[0-9])[{_SPACES}]?(?P<unit>km|mi|miles|h)", re.IGNORECASE)
_UNITS = {"km": MeterUnit.KM, "mi": MeterUnit.MI, "miles": MeterUnit.MI, "h": MeterUnit.HOURS}

_ASK = "Digits only, please."


def parse_amount(text: str, *, field: str = "value") -> Decimal:
    """What somebody read off a dial, by the grammar at the top of this file.

    Returns a Decimal of at most 12 whole digits and one decimal, never negative. Raises BadInput; its remedy says what
    to write instead.
    """
    given = _trimmed(text, field)
    found = _AMOUNT.fullmatch(given)
    if found is None:
        raise _not_an_amount(given, field)
    mark = found["mark"]
    if mark is not None and mark == found["group"]:
        raise _not_an_amount(given, field)
    return _decimal(_digits_of(found["whole"]), found["tenth"] or "", given, field)


def parse_dial(text: str, chosen: MeterUnit | None = None, *, field: str = "value") -> tuple[Decimal, MeterUnit | None]:
    """What somebody read off a dial with its unit, if one was typed behind it: `84 210`, `84210 km`, `1234.5 h`.

    chosen: the unit that was chosen beside the number, by a button or an option; None if there was none. Returns the
    amount and the unit it was typed or chosen in, None if neither. Raises BadInput, also where the two differ: which of
    them is meant only the person at the dial knows.
    """
    given = _trimmed(text, field)
    found = _WITH_UNIT.fullmatch(given)
    if found is None:
        return parse_amount(given, field=field), chosen
    typed = _UNITS[found["unit"].lower()]
    if chosen is not None and chosen is not typed:
        raise BadInput(
            saying(
                "{given} says {typed}, and {chosen} was chosen beside it.",
                given=shown(given),
                typed=typed.value,
                chosen=chosen.value,
            ),
            remedy="Choose the unit that the dial shows, and type digits only.",
            field=field,
        )
    return parse_amount(found["amount"], field=field), typed


def parse_decimal(text: str, *, decimal_comma: bool, places: int = 3, field: str = "value") -> Decimal:
    """A number of a file whose decimal mark is known: up to `places` decimals, thousands by space, apostrophe
    or the other mark.

    With `decimal_comma`, `2,6` and `1.250,5` are read; without, `2.6` and `1,250.5`. One mark can never mean the other:
    with `decimal_comma` and one place, `84,210` is refused rather than taken for thousands. Raises BadInput.
    """
    given = _trimmed(text, field)
    mark, group = (",", ".") if decimal_comma else (".", ",")
    whole, found, rest = given.partition(mark)
    sign = rf"(?P<group>[{re.escape(group)}'\u2019])"
    group_shape = rf"(?:[1-9][0-9]{{0,2}}|[0-9]{{3}}){sign}[0-9]{{3}}(?:(?P=group)[0-9]{{3}})*"
    if not re.fullmatch(rf"[0-9]+|{_SPACED}|{group_shape}", whole) or (found and not _PLAIN.fullmatch(rest)):
        raise _not_an_amount(given, field)
    if len(rest) > places:
        one = _digits_of(whole)
        most = saying("at most {places} decimals", places=places) if places != 1 else saying("at most one decimal")
        raise BadInput(
            saying(
                "{given} has {rest} digits after the comma, which is the decimal mark of this file.",
                given=shown(given),
                rest=len(rest),
            )
            if decimal_comma
            else saying(
                "{given} has {rest} digits after the point, which is the decimal mark of this file.",
                given=shown(given),
                rest=len(rest),
            ),
            remedy=saying(
                "Write {one}{rest} if it stands between thousands; else {most}.", one=one, rest=rest, most=most
            )
            if len(rest) == 3
            else saying("Write {most}.", most=most),
            field=field,
        )
    return _decimal(_digits_of(whole), rest, given, field)


def parse_whole(text: str, *, least: int, most: int, field: str) -> int:
    """A whole number in plain digits, between `least` and `most`. Raises BadInput."""
    given = _trimmed(text, field)
    if not _PLAIN.fullmatch(given) or len(given) > MOST_DIGITS or not least <= int(given) <= most:
        raise BadInput(
            saying("{given} cannot stand for {field}.", given=shown(given), field=saying(field.replace("_", " "))),
            remedy=saying("Write a whole number from {least} to {most}.", least=least, most=most),
            field=field,
        )
    return int(given)


def decimal_mark(text: str) -> str | None:
    """The decimal mark that one number gives away, `,` or `.`; None if it shows none.

    A mark shows itself when it is followed by other than three digits, or comes after thousands set apart in another
    way; thousands set apart twice (`1.234.567`) show that the other one is the decimal mark.
    """
    given = text.strip(_AROUND)
    last = max(given.rfind(","), given.rfind("."))
    if last <= 0 or len(given) > _LONGEST or not _PLAIN.fullmatch(given[last + 1 :]):
        return None
    mark, before, after = given[last], given[:last], given[last + 1 :]
    other = "." if mark == "," else ","
    if mark in before:
        return other if _SEVERAL_GROUPS.fullmatch(given) else None
    shows = len(after) != 3 or other in before or before == "0" or any(space in before for space in _SPACES)
    return mark if shows else None


def is_grouped_by_mark(text: str) -> bool:
    """True if the text is an amount only because its point or comma stands between thousands, as in `84,210`."""
    found = _AMOUNT.fullmatch(text.strip(_AROUND))
    return found is not None and found["group"] in (",", ".") and found["mark"] is None


def plain(value: Decimal) -> str:
    """A number as files hold it: digits, a point, no closing noughts, no exponent; `parse_amount` reads it back."""
    text = f"{value:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def _trimmed(text: str, field: str) -> str:
    given = text.strip(_AROUND)
    if not given:
        raise BadInput("There is no number.", remedy="Type what the dial shows, digits only.", field=field)
    if len(given) > _LONGEST:
        raise BadInput(saying("That is not a number: {given}.", given=shown(given, 20)), remedy=_ASK, field=field)
    return given


def _digits_of(whole: str) -> str:
    return "".join(sign for sign in whole if "0" <= sign <= "9")


def _decimal(whole: str, rest: str, given: str, field: str) -> Decimal:
    if len(whole) > MOST_DIGITS:
        raise BadInput(
            saying("{given} is longer than any dial.", given=shown(given)),
            remedy=saying("At most {most_digits} digits, please.", most_digits=MOST_DIGITS),
            field=field,
        )
    return Decimal(f"{whole}.{rest}" if rest else whole)


def _not_an_amount(given: str, field: str) -> BadInput:
    """Why that is not taken, and what to write: the ways it could be read, where it has such."""
    two = _ONE_MARK.fullmatch(given)
    if two is not None:
        whole, rest = two["whole"], two["rest"]
        return BadInput(
            saying("{given} can be read in two ways.", given=shown(given)),
            remedy=saying(
                "Write {whole}{rest}, or {whole}.{tenth} if the last digit is tenths.",
                whole=whole,
                rest=rest,
                tenth=rest[0],
            )
            if len(rest) <= 3
            else saying("Write {whole}.{rest}, with at most one digit after the point.", whole=whole, rest=rest[0]),
            field=field,
        )
    if given[0] in "-\u2212" and _PLAIN.fullmatch(given[1:]):
        return BadInput(
            saying("A dial never shows less than nought: {given}.", given=shown(given)), remedy=_ASK, field=field
        )
    return BadInput(saying("That is not a number: {given}.", given=shown(given)), remedy=_ASK, field=field)
