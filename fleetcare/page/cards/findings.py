"""The findings that wait for somebody: by vehicle and age, what follows from each, and what one can say of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.due.cut_intervals import IntervalCut
from fleetcare.due.outlook import LineOutlook, VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr, tr_book, tr_count
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.follow_words import follow_words
from fleetcare.page.cards.frame import FINDINGS_URL, Frame, Link, Plate, full_frame, vehicle_plate, vehicle_url
from fleetcare.page.cards.sheet import sheet_url
from fleetcare.wording import (
    count_words,
    counted_words,
    day_words,
    days_words,
    grouped,
    joined,
    lower_first,
    of_vehicle,
    sentence,
)
from fleetcare.work.found import look_of
from fleetcare.work.open_findings import WaitingFinding

NOTE_FIELD, BY_FIELD, SHARE_FIELD, SHOWN_FIELD = "note", "by", "share", "shown"
FINDINGS_A_PAGE = 40
"""So many, each with its form, keep a page under 100 kB."""
_NAMED_AT_MOST = 4


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One finding. follows: what follows from it. sooner: how that brings the next look forward.

    is_mind: somebody must act. cuts: it only cuts an interval short, and `sooner` says which, until when. forms:
    address under which one answers, empty for who may not. state: of the finding as shown. note_again, by_again,
    share_again, problem: of an answer that was not taken.
    """

    key: str
    text: str
    found: str
    note: str
    sheet: str
    sheet_url: str
    follows: str
    sooner: str
    is_mind: bool
    may_wait: bool
    cuts: bool
    forms: str
    state: str
    note_again: str
    by_again: str
    share_again: str
    problem: str

    @property
    def anchor(self) -> str:
        """Its place on the page."""
        return f"finding-{self.key}"


@dataclass(frozen=True, slots=True)
class VehicleFindings:
    """The findings of one vehicle."""

    plate: Plate
    url: str
    told: str
    rows: tuple[FindingRow, ...]


@dataclass(frozen=True, slots=True)
class TriedAnswer:
    """An answer that could not be taken. key: of its finding; note, by, share: as typed."""

    key: str
    problem: str
    note: str = ""
    by: str = ""
    share: str = ""


@dataclass(frozen=True, slots=True)
class FindingsCard:
    """The page. problem: of an answer to a finding that is not on the page any more. done: what was just changed.

    shortened: vehicles with findings that wait for nobody and only cut an interval short. range_words: which of them
    are on this page; empty if all are.
    """

    frame: Frame
    lead: str
    vehicles: tuple[VehicleFindings, ...]
    done: Changed | None
    problem: str
    shortened: tuple[VehicleFindings, ...] = ()
    range_words: str = ""
    earlier: Link | None = None
    later: Link | None = None


def findings_card(
    *,
    garage: Garage,
    reader: Person | None,
    today: date,
    findings: Sequence[WaitingFinding],
    outlooks: Mapping[str, VehicleOutlook],
    names: Mapping[str, str],
    may_answer: Collection[str],
    can_enter: bool,
    done: Changed | None = None,
    cuts: Sequence[IntervalCut] = (),
    tried: TriedAnswer | None = None,
    start: int = 0,
) -> FindingsCard:
    """The page. findings: what waits, in order. outlooks: of their vehicles. may_answer: marks the reader answers for.

    cuts: findings that only cut an interval short; they stand behind the others.

    names: first names by person key. start: how many to leave out, for further pages; an answer that was not taken
    stands on the page of its finding in any case.
    """
    cut_by = {each.finding.key: each for each in cuts}
    every = [*_by_vehicle(findings), *_by_vehicle(each.finding for each in cuts)]
    places = {each.key: place for place, each in enumerate(every)}
    if tried is not None and tried.key in places:
        start = places[tried.key] // FINDINGS_A_PAGE * FINDINGS_A_PAGE
    start = start if 0 <= start < len(every) else 0
    waiting, shortened = dict[str, list[FindingRow]](), dict[str, list[FindingRow]]()
    for each in every[start : start + FINDINGS_A_PAGE]:
        mark, cut = each.line.mark, cut_by.get(each.key)
        row = _row(each, outlooks[mark], names, today, may_answer=mark in may_answer, tried=tried, cut=cut)
        (waiting if cut is None else shortened).setdefault(mark, []).append(row)
    count = Counter(each.line.mark for each in findings)
    cut_count = Counter(each.finding.line.mark for each in cuts)
    end = min(start + FINDINGS_A_PAGE, len(every))
    return FindingsCard(
        frame=full_frame(
            tr("Findings"), garage=garage, reader=reader, today=today, here=FINDINGS_URL, can_enter=can_enter
        ),
        lead=_lead(findings, outlooks, today, cuts=len(cuts)),
        vehicles=tuple(_of_vehicle(outlooks[mark], rows, count[mark]) for mark, rows in waiting.items()),
        shortened=tuple(_of_vehicle(outlooks[mark], rows, cut_count[mark]) for mark, rows in shortened.items()),
        done=done,
        problem=tried.problem if tried is not None and tried.key not in places else "",
        range_words=_range_words(start, end, len(every)),
        earlier=_turn(tr("Earlier ones"), max(0, start - FINDINGS_A_PAGE)) if start else None,
        later=_turn(tr("Later ones"), end) if end < len(every) else None,
    )


def _by_vehicle(findings: Iterable[WaitingFinding]) -> list[WaitingFinding]:
    """In the order given, but each vehicle in one piece."""
    of_mark: dict[str, list[WaitingFinding]] = {}
    for each in findings:
        of_mark.setdefault(each.line.mark, []).append(each)
    return [each for some in of_mark.values() for each in some]


def _of_vehicle(outlook: VehicleOutlook, rows: Sequence[FindingRow], count: int) -> VehicleFindings:
    """count: its findings of that sort, those on other pages included."""
    told = sentence(counted_words(count, "finding")) if count > 1 else ""
    return VehicleFindings(vehicle_plate(outlook.vehicle), vehicle_url(outlook.vehicle.mark), told, tuple(rows))


def _range_words(start: int, end: int, whole: int) -> str:
    if end - start == whole:
        return ""
    return tr("{value} to {value2} of {found}.", value=grouped(start + 1), value2=grouped(end), found=grouped(whole))


def _turn(text: str, start: int) -> Link:
    return Link(text, f"?start={start}" if start else FINDINGS_URL)


def _lead(
    findings: Sequence[WaitingFinding], outlooks: Mapping[str, VehicleOutlook], today: date, *, cuts: int = 0
) -> str:
    shorter = tr_count(
        "{findings} cuts an interval short and waits for nobody.",
        "{findings} cut an interval short and wait for nobody.",
        cuts,
        findings=sentence(counted_words(cuts, "finding")),
    )
    if not findings:
        return tr("No findings open.") + (f" {shorter}" if cuts else "")
    count = sentence(counted_words(len(findings), "finding"))
    told = [tr_count("{findings} waits.", "{findings} wait.", len(findings), findings=count)]
    held = list(dict.fromkeys(outlooks[each.line.mark].vehicle.name for each in findings if each.holds))
    if held:
        told.append(
            tr_count(
                "{names} is not driven until its finding is settled.",
                "{names} are not driven until their findings are settled.",
                len(held),
                names=joined(held[:_NAMED_AT_MOST]),
            )
        )
    late = [each for each in findings if each.look_by is not None and each.look_by < today]
    if late:
        number = sentence(count_words(len(late)))
        told.append(
            tr_count(
                "{number} look was wanted before today.",
                "{number} looks were wanted before today.",
                len(late),
                number=number,
            )
        )
    following = [each for each in findings if each.look_by is not None and each.look_by >= today]
    if following:
        first = min(following, key=lambda each: (each.look_by or today, each.key))
        name = outlooks[first.line.mark].vehicle.name
        day = day_words(first.look_by or today, today)
        told.append(tr("The next look is {whose}, by {day}.", whose=of_vehicle(name), day=day))
    if cuts:
        told.append(shorter)
    return " ".join(told)


def _row(
    finding: WaitingFinding,
    outlook: VehicleOutlook,
    names: Mapping[str, str],
    today: date,
    *,
    may_answer: bool,
    tried: TriedAnswer | None,
    cut: IntervalCut | None = None,
) -> FindingRow:
    by = tr(" by {by}", by=names.get(finding.by, finding.by)) if finding.by else ""
    age = (today - finding.on).days
    ago = tr(", {days} ago", days=days_words(age)) if age > 0 else ""
    here = tried if tried is not None and tried.key == finding.key else None
    look_by = finding.look_by
    return FindingRow(
        key=finding.key,
        text=_ended(sentence(tr_book(finding.words))),
        found=tr("Found {day}{by}{ago}.", day=day_words(finding.on, today), by=by, ago=ago),
        note=_ended(sentence(finding.note)) if finding.note else "",
        sheet=f"{finding.sheet:04d}" if finding.sheet else "",
        sheet_url=sheet_url(finding.sheet) if finding.sheet else "",
        follows=_follows(finding, today),
        sooner=_sooner(finding, outlook, today) if cut is None else _shortens(cut, today),
        is_mind=finding.holds or (look_by is not None and look_by < today),
        may_wait=not finding.holds and cut is None,
        cuts=cut is not None,
        forms=f"{FINDINGS_URL}/{finding.key}" if may_answer else "",
        state=finding.state,
        note_again=here.note if here else "",
        by_again=here.by if here else "",
        share_again=here.share if here else "",
        problem=here.problem if here else "",
    )


def _follows(finding: WaitingFinding, today: date) -> str:
    if finding.follow is None:
        return tr("No day to look again is set.")
    look_by = finding.look_by
    if look_by is not None and look_by < today:
        todo = f": {tr_book(finding.follow.todo)}" if finding.follow.todo else ""
        day, days = day_words(look_by, today), days_words((today - look_by).days)
        return tr("Look again was for {day}, {days} ago{todo}.", day=day, days=days, todo=todo)
    return follow_words(finding.follow, finding.on, today)


def _sooner(finding: WaitingFinding, outlook: VehicleOutlook, today: date) -> str:
    """When the next look is by reckoning, and when somebody would have looked without the finding."""
    look = next((line for line in outlook.lines if line.key == finding.line and look_of(line.key) is not None), None)
    told = ""
    if look is not None and look.window is not None and not finding.holds:
        late = day_words(look.window.late, today)
        likely = day_words(look.window.likely, today)
        told = tr("On the road it is likely {likely}, {late} at the latest.", likely=likely, late=late)
    elif finding.look_by is not None and not finding.holds:
        told = tr("It stands in the calendar on that day.")
    usual = _usual(finding, outlook)
    if usual is None or usual.window is None:
        return told
    when, short = day_words(usual.window.likely, today), lower_first(tr_book(usual.row.short))
    wanted = look.window.likely if look is not None and look.window is not None else finding.look_by
    if wanted is not None and usual.window.likely <= wanted:
        before = tr("A hand comes there before, for {service}, likely {day}.", service=short, day=when)
        return f"{told} {before}".strip()
    without = tr("Without it the next hand there would be for {service}, likely {day}.", service=short, day=when)
    return f"{told} {without}".strip()


def _shortens(cut: IntervalCut, today: date) -> str:
    """Which intervals it cuts, and until when: each until it is done the next time."""
    lines = [
        tr("{service}, likely {day}", service=lower_first(tr_book(line.short)), day=day_words(line.until, today))
        if line.until is not None
        else lower_first(tr_book(line.short))
        for line in cut.lines
    ]
    told = tr("So it is until the next time of: {services}.", services="; ".join(lines))
    if cut.outdone:
        told = f"{told} {tr('Another finding of that day cuts it shorter, and that one counts.')}"
    return told


def _usual(finding: WaitingFinding, outlook: VehicleOutlook) -> LineOutlook | None:
    """The service by which somebody comes to that component next in any case."""
    there = [
        line
        for line in outlook.lines
        if line.key.component == finding.line.component and line.window is not None and look_of(line.key) is None
    ]
    return min(there, key=lambda line: (line.window.likely if line.window else date.max, line.key), default=None)


def _ended(text: str) -> str:
    return text if text.endswith((".", "?", "!")) else f"{text}."
