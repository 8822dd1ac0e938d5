"""How a service is done, as a page has it: its stages, cautions, what to have ready."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.book.bench import range_words
from fleetcare.book.jobs import Consumable, FromTag, Job, Stage, ValueToReach
from fleetcare.language import later, tr, tr_book
from fleetcare.page.cards.state_words import state_word
from fleetcare.wording import joined, lower_first, quantity_words, sentence, span_words

_FROM_TAG = {
    FromTag.REFILL: later("as much as the tag says for a refill"),
    FromTag.FRICTION_MODIFIER: later("where the tag asks for it, and as much as it says"),
    FromTag.CLOSURE: later("sealant, gasket or O-ring, as the tag says"),
    FromTag.FASTENERS: later("one for each fastener of the tag"),
}


@dataclass(frozen=True, slots=True)
class StageRow:
    """One stage as the page has it. time: `25 min`, `stands 24 h`. told: sentences under what is done."""

    number: int
    what: str
    time: str
    is_standing: bool
    told: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JobPart:
    """How the service is done. told: of which closure it is, how long hands are on it, how it was set up."""

    title: str
    told: str
    stages: tuple[StageRow, ...]
    cautions: tuple[str, ...]
    needs: tuple[str, ...]
    tools: str
    note: str
    source: str


def job_part(job: Job, *, is_only: bool) -> JobPart:
    """One job that does the service. is_only: no other one does."""
    closed = (
        tr(
            "Where it is closed with {closures}. ",
            closures=joined([tr_book(kind.value) for kind in job.closures], "or"),
        )
        if job.closures
        else ""
    )
    waits = sum(stage.least_minutes or 0 for stage in job.stages)
    stands = tr(", and it stands {span} between", span=span_words(waits)) if waits else ""
    first = (
        tr(" First it is set {set_ups}.", set_ups=joined([tr_book(each) for each in job.set_ups]))
        if job.set_ups
        else ""
    )
    skills = (
        tr(" For somebody who knows {skills}.", skills=joined([tr_book(each) for each in job.skills]))
        if job.skills
        else ""
    )
    return JobPart(
        title=tr("How it is done") if is_only else tr_book(job.title),
        told=tr(
            "{closed}Hands are on it {span}{stands}.{first}{skills}",
            closed=closed,
            span=span_words(job.hands_on_minutes),
            stands=stands,
            first=first,
            skills=skills,
        ),
        stages=tuple(_stage(number, stage) for number, stage in enumerate(job.stages, start=1)),
        cautions=tuple(
            f"{tr_book(caution.text)} ({tr_book(caution.source)}; {state_word(caution.status)})"
            for caution in job.cautions
        ),
        needs=tuple(dict.fromkeys(_need(use) for stage in job.stages for use in stage.consumables)),
        tools=joined([tr_book(each) for each in job.tools]),
        note=tr_book(job.note),
        source=f"{sentence(tr_book(job.source))} ({state_word(job.status)}).",
    )


def _stage(number: int, stage: Stage) -> StageRow:
    told = (
        [tr("Look at: {what}.", what="; ".join(tr_book(look.what) for look in stage.look_at))] if stage.look_at else []
    )
    if stage.values:
        told.append(tr("Reach: {values}.", values="; ".join(_value(value) for value in stage.values)))
    if stage.is_standing and stage.source:
        told.append(f"{sentence(tr_book(stage.source))}{f' ({state_word(stage.status)})' if stage.status else ''}.")
    return StageRow(number, tr_book(stage.title), _time(stage), stage.is_standing, tuple(told))


def _time(stage: Stage) -> str:
    if not stage.is_standing:
        return span_words(stage.minutes or 0)
    least = stage.least_minutes or 0
    parts = [tr("stands {span}", span=span_words(least))] if least else []
    if stage.floor_minutes is not None:
        parts.append(tr("never under {span}", span=span_words(stage.floor_minutes)))
    if stage.most_minutes is not None:
        parts.append(tr("next hand within {span}", span=span_words(stage.most_minutes)))
    return ", ".join(parts)


def _need(use: Consumable) -> str:
    if use.from_tag is not None:
        return f"{tr_book(use.what)}: {tr(_FROM_TAG[use.from_tag])}"
    assert use.amount is not None  # a consumable has one of the two
    return f"{tr_book(use.what)}: {quantity_words(use.amount, use.unit)}"


def _value(value: ValueToReach) -> str:
    if value.tag_name:
        return tr("{what} as on the tag", what=lower_first(tr_book(value.what)))
    return f"{lower_first(tr_book(value.what))}: {tr_book(value.say) or range_words(value)} ({tr_book(value.source)})"
