"""The page that says whether the dates can be believed: past windows held against what really happened."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleetcare.due.backtest import Backtest
from fleetcare.due.hit_rate import BANDS, JudgedWindow, Outcome, band_of
from fleetcare.due.past_windows import Kind
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr
from fleetcare.page.cards.frame import Frame, full_frame, vehicle_url
from fleetcare.page.cards.trust_words import (
    OF_KIND,
    TITLE,
    TrustRow,
    about_sentences,
    lead_sentences,
    row_of,
    verdict_sentences,
)
from fleetcare.page.drawings.past_windows import PastRow, PastWindowsDrawing, past_windows
from fleetcare.wording import days_words, grouped, sentence

TRUST_URL = "/trust"
VEHICLES_AT_MOST = 40

_TITLES = {Kind.SERVICE: later("Services"), Kind.MILESTONE: later("Milestones")}
_TOLD = {
    Kind.SERVICE: later("Services with a limit by distance or hours, against the day on which the dial reached it."),
    Kind.MILESTONE: (
        later(
            "Few services fall due in a short time, so milestones are judged as well: the distance that the "
            "likely pace covers in 30, 91, 182 and 365 days, against the day on which the dial passed it."
        )
    ),
}


@dataclass(frozen=True, slots=True)
class TrustTable:
    """Counts side by side. more: said below it if it does not hold all."""

    title: str
    rows: tuple[TrustRow, ...]
    more: str = ""


@dataclass(frozen=True, slots=True)
class TrustPanel:
    """Past windows of one horizon, drawn. told: how many held. before, after: what the ends of the scale say."""

    title: str
    told: str
    drawing: PastWindowsDrawing
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class TrustPart:
    """Services, or milestones."""

    title: str
    told: str
    verdict: tuple[str, ...]
    panels: tuple[TrustPanel, ...]
    tables: tuple[TrustTable, ...]


@dataclass(frozen=True, slots=True)
class TrustCard:
    """How good the garage's dates were. lead: the verdict. about: how it was found, sentence by sentence."""

    frame: Frame
    title: str
    lead: tuple[str, ...]
    parts: tuple[TrustPart, ...]
    about: tuple[str, ...]

    @property
    def has_drawings(self) -> bool:
        """A window has closed, so that there is something to see."""
        return any(part.panels for part in self.parts)


def trust_card(
    *, garage: Garage, reader: Person | None, found: Backtest, vehicles: Sequence[Vehicle], can_enter: bool
) -> TrustCard:
    """The page. vehicles: all of the garage, for their names. can_enter: the reader may give readings."""
    names = {vehicle.mark: vehicle.name for vehicle in vehicles}
    parts = [_part(found, kind, names) for kind in (Kind.SERVICE, Kind.MILESTONE)] if vehicles else []
    return TrustCard(
        frame=full_frame(
            tr(TITLE), garage=garage, reader=reader, today=found.today, here=TRUST_URL, can_enter=can_enter
        ),
        title=tr(TITLE),
        lead=lead_sentences(found)
        if vehicles
        else (tr("No vehicle is here yet, so there is nothing to look back on."),),
        parts=tuple(part for part in parts if part.tables or part.verdict),
        about=about_sentences(found, names) if vehicles else (),
    )


def _part(found: Backtest, kind: Kind, names: Mapping[str, str]) -> TrustPart:
    vehicles = found.by_vehicle(kind)
    shown = vehicles[:VEHICLES_AT_MOST]
    more = (
        tr(
            "These are {shown} of {all}; for any other: fleetcare backtest --vehicle NAME",
            shown=grouped(len(shown)),
            all=grouped(len(vehicles)),
        )
        if len(shown) < len(vehicles)
        else ""
    )
    tables = (
        TrustTable(
            tr("By how far ahead"), tuple(row_of(group, sentence(tr(group.name))) for group in found.by_horizon(kind))
        ),
        TrustTable(
            tr("By readings known"), tuple(row_of(group, sentence(tr(group.name))) for group in found.by_readings(kind))
        ),
        TrustTable(
            tr("By vehicle"),
            tuple(
                row_of(group, names.get(group.name, group.name), mark=group.name, url=vehicle_url(group.name))
                for group in shown
            ),
            more,
        ),
    )
    return TrustPart(
        title=tr(_TITLES[kind]),
        told=tr(_TOLD[kind]),
        verdict=verdict_sentences(found, kind),
        panels=_panels(found, kind),
        tables=tuple(table for table in tables if table.rows),
    )


def _panels(found: Backtest, kind: Kind) -> tuple[TrustPanel, ...]:
    by_band: dict[int, list[JudgedWindow]] = {}
    for each in found.of(kind):
        if each.outcome is not Outcome.OPEN:
            by_band.setdefault(band_of(each), []).append(each)
    rates = {group.name: group.rate for group in found.by_horizon(kind)}
    panels = []
    for band, windows in sorted(by_band.items()):
        name = BANDS[band][1]
        rate = rates[name]
        told = tr("{held} of {closed} held", held=grouped(rate.held), closed=grouped(rate.closed))
        label = tr(
            "Past windows {of_kind} {name}, from early to late against the day that came: {told}, "
            "{before_early} days came before early, {after_late} after late.",
            of_kind=tr(OF_KIND[kind]),
            name=tr(name),
            told=told,
            before_early=grouped(rate.before_early),
            after_late=grouped(rate.after_late),
        )
        drawing = past_windows([_drawn(each) for each in windows], label)
        if drawing.rows < rate.closed:
            told += tr("; {rows} of them drawn, evenly taken", rows=drawing.rows)
        panels.append(
            TrustPanel(
                sentence(tr(name)),
                told,
                drawing,
                tr("{days} before", days=days_words(drawing.reach_days)),
                tr("{days} after", days=days_words(drawing.reach_days)),
            )
        )
    return tuple(panels)


def _drawn(judged: JudgedWindow) -> PastRow:
    given, day = judged.given, judged.seen_on
    return PastRow(
        given.early - day,
        given.likely - day,
        given.late - day,
        missed=judged.outcome is not Outcome.HELD,
        not_come=judged.came_on is None,
    )
