"""The command that looks back: how good the garage's dates were."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.cli.progress import progress_bar
from fleetcare.language import tr

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fleetcare.page.cards.trust_words import TrustRow

DAYS_AT_MOST = 4000
"""Past days looked from unless told otherwise: some seconds of work, and more than enough to tell a share."""


@command("backtest")
def backtest(
    vehicle: Annotated[str | None, typer.Option("--vehicle", help="Only this vehicle, by mark or name.")] = None,
    days: Annotated[
        int, typer.Option("--days", min=0, help="Look back from so many past days, evenly taken; 0 for all of them.")
    ] = DAYS_AT_MOST,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """How good the dates were: past windows held against what really happened."""
    from fleetcare.actions.look_back import look_back
    from fleetcare.due.past_windows import Kind
    from fleetcare.page.as_data import backtest_data
    from fleetcare.page.cards.trust_words import (
        about_sentences,
        lead_sentences,
        looked_back_on,
        row_of,
        verdict_sentences,
    )
    from fleetcare.wording import sentence

    with parts_of(home) as parts, progress_bar() as tell:
        back = look_back(
            parts.store, parts.rules, now=parts.clock.now(), vehicle=vehicle, at_most=days or None, tell=tell
        )
    found = back.found
    if as_json:
        show_data(backtest_data(found))
        return
    names = {each.mark: each.name for each in back.vehicles}
    say(looked_back_on(back.today))
    for told in lead_sentences(found):
        say(told)
    for kind, title in ((Kind.SERVICE, tr("Services")), (Kind.MILESTONE, tr("Milestones"))):
        say()
        say(title)
        for told in verdict_sentences(found, kind):
            say(f"  {told}")
        for heading, rows in (
            (tr("By how far ahead"), [row_of(group, sentence(tr(group.name))) for group in found.by_horizon(kind)]),
            (tr("By readings known"), [row_of(group, sentence(tr(group.name))) for group in found.by_readings(kind)]),
            (tr("By vehicle"), [row_of(group, names.get(group.name, group.name)) for group in found.by_vehicle(kind)]),
        ):
            if rows:
                say()
                _say_table(heading, rows)
    say()
    for told in about_sentences(found, names):
        say(f"- {told}")


def _say_table(heading: str, rows: Sequence[TrustRow]) -> None:
    """Rows in columns as wide as they need be."""
    cells = [(heading, tr("Held"), tr("Chance allows"), tr("Missed"), tr("Likely date"))]
    cells += [(row.name, row.held, row.chance, row.missed, row.off) for row in rows]
    widths = [max(len(row[column]) for row in cells) for column in range(len(cells[0]))]
    for row in cells:
        say("  " + "  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)).rstrip())
