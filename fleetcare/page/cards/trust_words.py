"""Past windows in words: whether the dates can be believed, for page and terminal alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fleetcare.due.backtest import Backtest, Group
from fleetcare.due.hit_rate import ENOUGH, MEANT, HitRate, Verdict
from fleetcare.due.past_windows import Kind
from fleetcare.language import later, tr
from fleetcare.wording import (
    count_words,
    counted,
    counted_words,
    day_words,
    days_words,
    grouped,
    joined,
    percent,
    sentence,
)

TITLE = later("How good were our dates?")
NAMES_AT_MOST = 8

OF_KIND = {Kind.SERVICE: later("for services"), Kind.MILESTONE: later("for milestones")}
"""The kind behind the word windows."""

_KNOWN_THEN = later(
    "On each of them only the readings, the work and the events up to that day were known. Bookings, lay-ups "
    "and yearly distances count as they are declared today, and readings that were settled since count as "
    "settled."
)
_WHEN_JUDGED = later(
    "A window is judged once its late date lies behind the last reading, and not before, even if the day has "
    "come: else those that came soon would count without those that come late."
)
_STRAIGHT = later(
    "Between two readings a dial is taken as running straight. That evens out what really happened, so a "
    "little more seems to hold than does: with readings about once a month some 3 of 100 windows a month "
    "ahead, 1 of 100 in all."
)
"""Measured on garages simulated by the pace law, tests/due/test_backtest.py: .85 for .82 a month ahead, .82 for .81."""
_CHANCE = later(
    "What chance allows are the shares of 19 in 20 garages whose windows are as good as they say: 80 % give "
    "or take 1.96 standard deviations of a count, by the windows that do not overlap."
)
_LEARNED = later(
    "The numbers of the forecast were learned from this garage’s own readings, so its past looks a little "
    "better than its future will."
)


@dataclass(frozen=True, slots=True)
class TrustRow:
    """Windows that have something in common, counted in words. url, mark: of a vehicle, else empty."""

    name: str
    held: str
    chance: str
    missed: str
    off: str
    mark: str = ""
    url: str = ""


def lead_sentences(found: Backtest) -> tuple[str, ...]:
    """The verdict in one breath: of services if there are enough, else of milestones, else that it is too early."""
    kind = _told_first(found)
    if kind is not None:
        return _verdict(found.rate(kind), kind)
    closed = sum(found.rate(each).closed for each in Kind)
    so_far = (
        tr("No past window has closed yet")
        if closed == 0
        else tr("Only {windows} closed so far", windows=counted(closed, "past window", "past windows"))
    )
    return (tr("{so_far}; that is too little to say how good the dates are.", so_far=so_far),)


def verdict_sentences(found: Backtest, kind: Kind) -> tuple[str, ...]:
    """What the past says of one kind: its verdict unless the lead said it, which way it misses, or what is wanting."""
    rate = found.rate(kind)
    if not rate.is_enough:
        return _wanting(found, kind, rate)
    told = [] if kind is _told_first(found) else list(_verdict(rate, kind))
    if round(rate.apart) < rate.closed:
        told.append(
            tr(
                "Windows over the same days hold or miss together: these weigh like {round} that do not overlap.",
                round=grouped(round(rate.apart)),
            )
        )
    if rate.before_early + rate.after_late:
        told.append(
            tr(
                "{days} came before the early date and {after_late} after the late one.",
                days=sentence(counted_words(rate.before_early, "day", "days")),
                after_late=count_words(rate.after_late),
            )
        )
    if rate.off_median is not None and rate.off_mean is not None and rate.off_share is not None:
        told.append(
            tr(
                "The likely date was off by {days} in the middle case and {days2} on average; in the middle "
                "case that is {percent} % of the days ahead.",
                days=_days(rate.off_median),
                days2=_days(rate.off_mean),
                percent=percent(rate.off_share),
            )
        )
    if rate.lean is not None and abs(rate.lean) >= 1:
        told.append(
            tr(
                "Half the days came {days} {word} it or more.",
                days=_days(abs(rate.lean)),
                word=tr("after") if rate.lean > 0 else tr("before"),
            )
        )
    told.append(
        tr(
            "With any day between the two readings around it possible, up to {may_have_held} held.",
            may_have_held=grouped(rate.may_have_held),
        )
    )
    return tuple(told)


def row_of(group: Group, name: str, *, mark: str = "", url: str = "") -> TrustRow:
    """A group in words; a share only where there are windows enough for one."""
    rate, allowed = group.rate, group.rate.chance_allows
    if not rate.closed:
        return TrustRow(name, tr("none closed, {open} open", open=grouped(rate.open)), "", "", "", mark, url)
    held = tr("{held} of {closed} held", held=grouped(rate.held), closed=grouped(rate.closed))
    share = f", {percent(rate.share)} %" if rate.is_enough and rate.share is not None else ""
    chance = (
        tr("{percent} to {percent2} % by chance", percent=percent(allowed[0]), percent2=percent(allowed[1]))
        if rate.is_enough and allowed
        else ""
    )
    missed = [
        f"{grouped(count)} {where}"
        for count, where in ((rate.before_early, tr("before early")), (rate.after_late, tr("after late")))
        if count
    ]
    off = ""
    if rate.off_median is not None and rate.off_share is not None:
        off = tr("off by {days}, {percent} % of the way", days=_days(rate.off_median), percent=percent(rate.off_share))
    return TrustRow(name, f"{held}{share}", chance, joined(missed, "and") or tr("no misses"), off, mark, url)


def about_sentences(found: Backtest, names: Mapping[str, str]) -> tuple[str, ...]:
    """How it was found, and what it leaves out."""
    taken = tr(", taken evenly from {of_days}", of_days=grouped(found.of_days)) if found.days < found.of_days else ""
    days = counted(found.days, "past day", "past days")
    told = [
        tr(
            "Looked back from {days} on which a dial was read, at most one a month for each dial{taken}.",
            days=days,
            taken=taken,
        ),
        tr(_KNOWN_THEN),
        tr(_WHEN_JUDGED),
        tr(_STRAIGHT),
        tr(_CHANCE),
    ]
    if found.fitted:
        told.append(tr(_LEARNED))
    if found.set_aside:
        told.append(
            tr(
                "{windows} rested on a reading that is not used any more.",
                windows=sentence(counted(found.set_aside, "window", "windows")),
            )
        )
    by_why: dict[str, list[str]] = {}
    for each in found.not_judged:
        by_why.setdefault(each.why, []).append(names.get(each.mark, each.mark))
    for why, called in by_why.items():
        shown = called[:NAMES_AT_MOST]
        more = [tr("{value} more", value=grouped(len(called) - len(shown)))] if len(called) > len(shown) else []
        told.append(tr("Not judged, because there is {why}: {value}.", why=tr(why), value=joined([*shown, *more])))
    return tuple(told)


_CONSEQUENCE = {
    Verdict.AS_MEANT: later("So the dates can be believed as they stand."),
    Verdict.TOO_NARROW: later("That is less than chance allows: the windows are too narrow, so go by the early date."),
    Verdict.TOO_WIDE: later("That is more than chance allows: the windows are wider than they need be."),
    Verdict.TOO_LITTLE: "",
}


def _told_first(found: Backtest) -> Kind | None:
    """The kind whose verdict leads; None if there is too little of either."""
    return next((kind for kind in (Kind.SERVICE, Kind.MILESTONE) if found.rate(kind).is_enough), None)


def _verdict(rate: HitRate, kind: Kind) -> tuple[str, ...]:
    share, allowed = rate.share or 0.0, rate.chance_allows or (0.0, 1.0)
    counts = tr(
        "Of {closed} past windows {of_kind} {held} held: {percent} %, where {percent2} % are meant and "
        "chance allows {percent3} to {percent4} %.",
        closed=grouped(rate.closed),
        of_kind=tr(OF_KIND[kind]),
        held=grouped(rate.held),
        percent=percent(share),
        percent2=percent(MEANT),
        percent3=percent(allowed[0]),
        percent4=percent(allowed[1]),
    )
    consequence = _CONSEQUENCE[rate.verdict]
    return counts, tr(consequence) if consequence else ""


def _wanting(found: Backtest, kind: Kind, rate: HitRate) -> tuple[str, ...]:
    """What has closed so far, and what it takes to say more."""
    closed = tr("No past window") if rate.closed == 0 else sentence(counted(rate.closed, "past window", "past windows"))
    have = tr("has") if rate.closed < 2 else tr("have")
    told = [
        tr(
            "{closed} {of_kind} {have} closed so far. A share is told from {enough} on.",
            closed=closed,
            of_kind=tr(OF_KIND[kind]),
            have=have,
            enough=ENOUGH,
        )
    ]
    next_on = found.next_to_close(kind)
    if rate.open and next_on is not None:
        when = day_words(next_on, found.today)
        told.append(
            tr(
                "{windows} {word} still open. The next late date is {when}; a reading on that day or after "
                "it closes that window.",
                windows=sentence(counted(rate.open, "window", "windows")),
                word=tr("is") if rate.open == 1 else tr("are"),
                when=when,
            )
        )
    elif not rate.closed:
        told.append(tr("It takes readings over some months, about one a month."))
    return tuple(told)


def _days(days: float) -> str:
    return days_words(round(days))


def looked_back_on(today: date) -> str:
    """The heading for a terminal."""
    return tr("{title} As of {day}.", title=tr(TITLE), day=day_words(today, date(1, 1, 1)))
