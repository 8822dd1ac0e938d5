"""What was read, found and done on one vehicle, newest first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.duty import DutyCycle, DutySplit
from fleetcare.language import tr, tr_book
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.page.cards.sentences import service_title
from fleetcare.quantities import MeterUnit, months_after
from fleetcare.wording import (
    counted,
    day_short,
    day_words,
    lower_first,
    parts_words,
    reading_words,
    sentence,
    share_words,
)
from fleetcare.work.record import WorkDone

READINGS_A_PAGE = 60
WORK_AT_MOST = 12
SETTLED_AT_MOST = 5
_MONTHS_BACK = 12
_MOST_PARTS = 12
_NEAR = 1e-6


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading. `kept`: what became of it if it is not used, else empty."""

    day: str
    value: str
    by: str
    mix: str
    kept: str


@dataclass(frozen=True, slots=True)
class PastItem:
    """One piece of work, or a finding that is settled."""

    head: str
    told: str


def reading_rows(
    outlook: VehicleOutlook,
    readings: Sequence[Reading],
    *,
    names: Mapping[str, str],
    duties: Mapping[str, DutyCycle],
) -> tuple[ReadingRow, ...]:
    """Readings of the last twelve months in any state, and those kept aside however old they are; newest first."""
    today = outlook.today
    since = months_after(today, -_MONTHS_BACK)
    aside = {reading.identity for reading in outlook.held}
    shown = [reading for reading in readings if reading.on >= since or reading.identity in aside]
    shown.sort(key=lambda reading: (reading.on, reading.entered_at, reading.id or 0), reverse=True)
    return tuple(
        ReadingRow(
            day=day_short(reading.on, today),
            value=reading_words(reading.value, reading.unit),
            by=names.get(reading.by, reading.by),
            mix=_mix(reading, duties),
            kept=_kept(reading, is_aside=reading.identity in aside),
        )
        for reading in shown
    )


def mix_words(split: DutySplit, duties: Mapping[str, DutyCycle]) -> str:
    """A mix in parts where small ones tell it (`towing 5 : daily 3`), else in shares; the largest first."""
    shares = sorted(split.shares, key=lambda each: (-each[1], each[0]))
    titled = [(tr_book(duties[key].title) if key in duties else key, share) for key, share in shares if share > 0]
    parts = whole_parts([share for _, share in titled])
    if parts is not None:
        return parts_words([(title, count) for (title, _), count in zip(titled, parts, strict=True)])
    return ", ".join(f"{title} {share_words(share)}" for title, share in titled)


def whole_parts(shares: Sequence[float]) -> list[int] | None:
    """The least whole parts that stand for these shares exactly; None if it takes more than twelve in all."""
    for whole in range(1, _MOST_PARTS + 1):
        parts = [round(share * whole) for share in shares]
        if all(abs(share * whole - count) < _NEAR for share, count in zip(shares, parts, strict=True)):
            return parts
    return None


def work_items(
    outlook: VehicleOutlook, work: Sequence[WorkDone], names: Mapping[str, str]
) -> tuple[tuple[PastItem, ...], str]:
    """The newest work, and how much more there is in words (empty if none)."""
    today = outlook.today
    titles = {line.key: service_title(outlook, line) for line in outlook.lines}
    done = sorted(work, key=lambda record: (record.on, record.id or 0, record.line), reverse=True)
    items = []
    for record in done[:WORK_AT_MOST]:
        service = titles.get(record.line, sentence(record.line.service.replace("-", " ")))
        unit = record.unit or outlook.vehicle.unit
        at = f", {reading_words(record.at, unit)}" if record.at is not None else ""
        by = tr(", by {by}", by=names.get(record.by, record.by)) if record.by else ""
        note = f" {_ended(sentence(record.note))}" if record.note else ""
        items.append(PastItem(f"{day_words(record.on, today)}{at}", f"{lower_first(service)}{by}.{note}"))
    more = len(done) - len(items)
    return tuple(items), tr(
        "And {before}.", before=counted(more, "record before", "records before")
    ) if more > 0 else ""


def settled_findings(work: Sequence[WorkDone], today: date) -> tuple[PastItem, ...]:
    """The findings settled last."""
    settled = [
        (finding.settled_on, record.on, finding.text)
        for record in work
        for finding in record.findings
        if finding.settled_on is not None
    ]
    settled.sort(reverse=True)
    return tuple(
        PastItem(
            _ended(text), tr("Found {day}, settled {day2}.", day=day_words(found, today), day2=day_words(on, today))
        )
        for on, found, text in settled[:SETTLED_AT_MOST]
    )


def _mix(reading: Reading, duties: Mapping[str, DutyCycle]) -> str:
    """How the distance up to it divides; a reading that said nothing of it counts as usual, hours have no mix."""
    if reading.split is not None:
        return mix_words(reading.split, duties)
    return tr("as usual") if reading.state is ReadingState.USED and reading.unit is not MeterUnit.HOURS else ""


def _kept(reading: Reading, *, is_aside: bool) -> str:
    told = {
        ReadingState.USED: "",
        ReadingState.HELD: tr("kept aside until somebody settles it"),
        ReadingState.SUPERSEDED: tr("another reading stands in its place"),
        ReadingState.TAKEN_BACK: tr("taken back"),
    }[ReadingState.HELD if is_aside else reading.state]
    if not told:
        return ""
    why = lower_first(tr(reading.note).rstrip("."))
    return f"{sentence(told)}: {why}." if why else f"{sentence(told)}."


def _ended(text: str) -> str:
    return text if text.endswith((".", "?", "!")) else f"{text}."
