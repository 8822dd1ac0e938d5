"""What the plan that was taken last has changed, in sentences, each with its cause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from fleetcare.bayplan.plan_changes import Cause, LastPlan, PlanChange
from fleetcare.language import later, tr
from fleetcare.wording import counted_words, day_words, sentence, weekday_words

CAUSES: Mapping[Cause, str] = {
    Cause.WISHED: later("somebody wished it"),
    Cause.NOBODY: later("nobody is there on the old day"),
    Cause.TAKEN: later("the bay is taken on the old day"),
    Cause.AWAY: later("the vehicle is away on the old day"),
    Cause.NOT_ABLE: later("nobody may do it on the old day"),
    Cause.OTHER_WORK: later("other services are done in it now"),
    Cause.ROOM: later("it makes room for the wish"),
    Cause.PRICE: later("the plan as a whole costs less"),
    Cause.DATES: later("its services come due on other days"),
    Cause.NEW: later("what comes due had no day"),
    Cause.JOINED: later("its services are done in another visit"),
    Cause.LEFT: later("its services are left for a later plan"),
    Cause.NOT_DUE: later("nothing of it comes due in that time"),
}
"""Why a plan changes a visit, to be looked up by `tr`."""


@dataclass(frozen=True, slots=True)
class ChangesTold:
    """title: how many there were, when, and who took them. rows: one sentence each."""

    title: str
    rows: tuple[str, ...]


def changes_told(
    last: LastPlan | None, *, names: Mapping[str, str], people: Mapping[str, str], zone: ZoneInfo, today: date
) -> ChangesTold | None:
    """The changes in words; None if no plan was taken yet. names: of vehicles by mark. people: names by key."""
    if last is None or not last.changes:
        return None
    at = last.at.astimezone(zone)
    title = tr(
        "{many} when a plan was taken, {day} at {time}, by {who}",
        many=sentence(counted_words(len(last.changes), "change", "changes")),
        day=day_words(at.date(), today),
        time=f"{at:%H:%M}",
        who=people.get(last.who, last.who),
    )
    return ChangesTold(title, tuple(change_told(each, names, zone, today) for each in last.changes))


def change_told(change: PlanChange, names: Mapping[str, str], zone: ZoneInfo, today: date) -> str:
    """One change as a sentence: `Anvil moves to Saturday 9 May, was 25 April: the vehicle is away on the old day.`"""
    name, cause = names.get(change.mark, change.mark), tr(CAUSES[change.cause])
    was, now = (None if at is None else at.astimezone(zone) for at in (change.was, change.now))
    if now is None:
        old = "" if was is None else weekday_words(was.date(), today)
        return tr("{name} goes, was {old}: {cause}.", name=name, old=old, cause=cause)
    new = weekday_words(now.date(), today)
    if was is None:
        return tr("{name} is new, {new}: {cause}.", name=name, new=new, cause=cause)
    if was.date() == now.date():
        return tr(
            "{name} stays on {new}, at {time}, was {old}: {cause}.",
            name=name,
            new=new,
            time=f"{now:%H:%M}",
            old=f"{was:%H:%M}",
            cause=cause,
        )
    old = day_words(was.date(), today)
    return tr("{name} moves to {new}, was {old}: {cause}.", name=name, new=new, old=old, cause=cause)
