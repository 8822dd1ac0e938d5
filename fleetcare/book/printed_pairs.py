"""Whether a distance printed in two units says the same twice, as far as its digits show."""

from __future__ import annotations

from decimal import Decimal

from fleetcare.book.rows import BookRow, IntervalBook, IntervalRule
from fleetcare.language import tr, tr_book, tr_in
from fleetcare.quantities import KM_PER_MILE, PrintedDistance
from fleetcare.wording import grouped

_EXACT_KM_PER_MILE = Decimal(repr(KM_PER_MILE))
_MOST = Decimal("0.02")


def pair_agrees(distance: PrintedDistance) -> bool:
    """True if one of the two figures, converted exactly, rounds to the other one; True for a single figure.

    How it is decided: makers print one round figure and beside it the other, rounded. So a figure is taken to stand for
    anything within half a step of its last printed digit. Closing noughts are not printed digits, but the first two
    digits always are; and never more than 2 % is granted, because 100 000 does not mean 95 000. 50 000 mi beside
    80 000 km agrees (80 467); 80 000 mi beside 120 000 km does not (128 748, off by 7 %), nor does 7500 mi beside
    12 500 km (12 070, off by 3.6 %). The rule is our own; the factor is NIST SP 811, Appendix B.8.
    """
    if distance.km is None or distance.mi is None:
        return True
    km, mi = distance.km, distance.mi
    return _rounds_to(mi * _EXACT_KM_PER_MILE, km) or _rounds_to(km / _EXACT_KM_PER_MILE, mi)


def pair_doubts(book: IntervalBook) -> tuple[str, ...]:
    """A sentence for each printed pair of the book that is no conversion, by row; the primary figure counts anyway."""
    return tuple(
        tr("Row {key}, {doubt}", key=key, doubt=doubt)
        for key, row in sorted(book.rows.items())
        for doubt in doubts_of(row)
    )


def doubts_of(row: BookRow) -> tuple[str, ...]:
    """A sentence for each printed pair of one row that is no conversion."""
    return tuple(
        tr(
            "{place}: {mi} mi and {km} km are not the same ({mi} mi is {exact} km); the figure in {primary} is "
            "reckoned with.",
            place=place,
            mi=grouped(pair.mi),
            km=grouped(pair.km),
            exact=grouped(round(pair.mi * _EXACT_KM_PER_MILE)),
            primary=pair.primary,
        )
        for place, pair in _pairs(row.rule)
        if pair.km is not None and pair.mi is not None and not pair_agrees(pair)
    )


def _rounds_to(exact: Decimal, printed: Decimal) -> bool:
    sign_digits = printed.normalize().as_tuple()
    exponent = sign_digits.exponent
    assert isinstance(exponent, int)  # a printed figure is finite
    second_digit = printed.adjusted() - 1
    half_step = Decimal(5).scaleb(min(exponent, second_digit) - 1)
    return abs(exact - printed) <= min(half_step, _MOST * printed)


def _pairs(rule: IntervalRule) -> list[tuple[str, PrintedDistance]]:
    found: list[tuple[str, PrintedDistance | None]] = []
    for name, limits in ((tr_in("interval", "repeat"), rule.repeat), (tr_in("interval", "first"), rule.first)):
        if limits is not None:
            found.append((name, limits.distance))
            found += [
                (tr("{name} under {duty}", name=name, duty=tr_book(figure.duty)), figure.distance)
                for figure in limits.by_duty
            ]
            if limits.with_modifier is not None:
                found.append((tr("{name} with a friction modifier", name=name), limits.with_modifier.distance))
    found += [(tr("after {event}", event=tr_book(event.event)), event.distance) for event in rule.after]
    return [(place, distance) for place, distance in found if distance is not None]
