"""Commands for work orders: work open, start, stage, stands, defer, abandon, settle, back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, app, command, parts_of, say, show_data
from fleetcare.cli.given_words import day_of, meter_unit_of, plain, say_moved
from fleetcare.errors import BadInput, NotFound, shown
from fleetcare.language import saying, tr, tr_book

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from fleetcare.assemble import Parts
    from fleetcare.work.found import Found
    from fleetcare.work.order import WorkOrder

work = typer.Typer(
    help="Work orders: what is planned, in hand, standing or put off, and the sheets that were handed in.",
    rich_markup_mode=None,
)
app.add_typer(work, name="work")

Sheet = Annotated[str, typer.Argument(help="Number of the sheet, such as 147.")]
By = Annotated[str, typer.Option("--by", help="Who says so, by name or key.")]
Reason = Annotated[str, typer.Option("--because", help="Why.")]


@work.callback(invoke_without_command=True)
def _root(context: typer.Context) -> None:
    if context.invoked_subcommand is None:
        # Somebody who types the bare word asks what there is; that is no mistake.
        say(context.get_help())


@command("open", work)
def open_(
    vehicle: Annotated[str, typer.Argument(help="Mark or name of a vehicle, such as AN or Anvil.")],
    services: Annotated[
        list[str] | None, typer.Argument(help="Services of that vehicle; with --visit, those of the visit if none.")
    ] = None,
    visit: Annotated[
        int, typer.Option("--visit", min=0, help="The bay visit it is made from, as `bay list` counts.")
    ] = 0,
    on: Annotated[str | None, typer.Option("--on", help="The day it is planned for.")] = None,
    bay: Annotated[str, typer.Option("--bay", help="Where.")] = "",
    mechanic: Annotated[list[str] | None, typer.Option("--mechanic", help="Who does it; as often as needed.")] = None,
    title: Annotated[str, typer.Option("--title", help="A heading, if the services' own does not say it.")] = "",
    note: Annotated[str, typer.Option("--note", help="Anything worth knowing before it begins.")] = "",
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Opens a sheet for services of one vehicle."""
    from fleetcare.actions.order_work import Opening, open_order
    from fleetcare.page.cards.sentences import sheet_title

    with parts_of(home) as parts:
        given = Opening(
            vehicle,
            services or (),
            day_of(on),
            plain(bay, "name"),
            mechanic or (),
            plain(title, "title"),
            plain(note, "note"),
            visit,
        )
        order = open_order(
            parts.store, parts.rules, given, now=parts.clock.now(), who=plain(by, "by"), base_url=parts.base_url
        )
        told(
            parts,
            order,
            as_json=as_json,
            said=tr("Opened: sheet {sheet}, {title}.", sheet=order.sheet, title=sheet_title(order.title)),
        )


@command("start", work)
def start(
    sheet: Sheet,
    mechanic: Annotated[list[str] | None, typer.Option("--mechanic", help="Who works on it now.")] = None,
    at: Annotated[str, typer.Option("--at", help="What the dial shows at the start.")] = "",
    unit: Annotated[str, typer.Option("--unit", help="km, mi or h, if it is not the dial's own.")] = "",
    although: Annotated[str, typer.Option("--although", help="Why hands go on before the wait is over.")] = "",
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Takes a sheet in hand: begun, taken up again after it was put off, or worked on again after it stood."""
    from fleetcare.actions.order_work import start_order
    from fleetcare.intake.numbers import parse_amount

    with parts_of(home) as parts:
        order = start_order(
            parts.store,
            parts.rules,
            sheet_number(sheet),
            now=parts.clock.now(),
            who=plain(by, "by"),
            shop=parts.shop,
            mechanics=mechanic or (),
            at=parse_amount(at) if at else None,
            unit_of_at=meter_unit_of(unit),
            although=plain(although, "note"),
        )
        told(parts, order, as_json=as_json, said=tr("In hand: sheet {sheet}.", sheet=order.sheet))


@command("stage", work)
def stage(
    sheet: Sheet,
    job: Annotated[str, typer.Argument(help="Key of the job, as `work show` has it.")],
    begun: Annotated[str, typer.Argument(metavar="STAGE", help="Key of the stage that begins now.")],
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Notes that a stage begins now, so that what follows it moves."""
    from fleetcare.actions.order_work import begin_stage

    with parts_of(home) as parts:
        known = parts.jobs.jobs.get(job)
        if known is None:
            raise NotFound("job", job, parts.jobs.jobs)
        if begun not in {each.key for each in known.stages}:
            raise NotFound(saying("stage of {job}", job=job), begun, [each.key for each in known.stages])
        order = begin_stage(
            parts.store,
            parts.rules,
            sheet_number(sheet),
            job=job,
            stage=begun,
            now=parts.clock.now(),
            who=plain(by, "by"),
            shop=parts.shop,
        )
        told(parts, order, as_json=as_json, said=tr("Begun: {stage}, sheet {sheet}.", stage=begun, sheet=order.sheet))


@command("stands", work)
def stands(
    sheet: Sheet,
    hours: Annotated[float | None, typer.Option("--hours", min=0.0, help="So long until the next hand.")] = None,
    until: Annotated[str, typer.Option("--until", help="The moment itself, such as 2026-04-26T12:20:00-06:00.")] = "",
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Leaves a sheet standing: something cures, drains or cools, and nobody works on it."""
    from datetime import timedelta

    from fleetcare.actions.order_work import leave_standing
    from fleetcare.intake.dates import parse_instant

    if hours is not None and until:
        raise BadInput("That says twice until when it stands.", remedy="Give --hours or --until.")
    with parts_of(home) as parts:
        now = parts.clock.now()
        if hours is not None and hours > 24 * 60:
            raise BadInput(
                saying("{hours} hours is longer than anything stands.", hours=f"{hours:g}"),
                remedy="Put it off instead.",
            )
        moment = parse_instant(until, field="until") if until else now + timedelta(hours=hours) if hours else None
        order = leave_standing(
            parts.store, parts.rules, sheet_number(sheet), until=moment, now=now, who=plain(by, "by"), shop=parts.shop
        )
        told(parts, order, as_json=as_json, said=tr("Stands: sheet {sheet}.", sheet=order.sheet))


@command("defer", work)
def defer(
    sheet: Sheet,
    until: Annotated[str, typer.Option("--until", help="The day by which it is taken up again.")],
    because: Reason,
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Puts a sheet off until a day, with the reason."""
    from fleetcare.actions.order_work import defer_order
    from fleetcare.intake.dates import parse_day

    with parts_of(home) as parts:
        order = defer_order(
            parts.store,
            parts.rules,
            sheet_number(sheet),
            until=parse_day(until, field="until"),
            reason=plain(because, "note"),
            now=parts.clock.now(),
            who=plain(by, "by"),
            shop=parts.shop,
        )
        told(
            parts,
            order,
            as_json=as_json,
            said=tr("Deferred: sheet {sheet}, until {day}.", sheet=order.sheet, day=order.until),
        )


@command("abandon", work)
def abandon(
    sheet: Sheet,
    because: Reason,
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Gives a sheet up, with the reason; its services stay due."""
    from fleetcare.actions.order_work import abandon_order

    with parts_of(home) as parts:
        order = abandon_order(
            parts.store,
            parts.rules,
            sheet_number(sheet),
            reason=plain(because, "note"),
            now=parts.clock.now(),
            who=plain(by, "by"),
            shop=parts.shop,
        )
        told(parts, order, as_json=as_json, said=tr("Given up: sheet {sheet}.", sheet=order.sheet))


@command("back", work)
def back(sheet: Sheet, by: By = "command", home: Home = None, as_json: AsJson = False) -> None:
    """Puts a sheet that was handed in back to where it stood, as long as nothing builds on it."""
    from fleetcare.actions.put_back_sheet import put_back_sheet

    with parts_of(home) as parts:
        order, settled = put_back_sheet(
            parts.store,
            parts.rules,
            sheet_number(sheet),
            now=parts.clock.now(),
            who=plain(by, "by"),
            shop=parts.shop,
        )
        told(
            parts,
            order,
            as_json=as_json,
            said=tr("Put back: sheet {sheet}, {state}.", sheet=order.sheet, state=tr(order.state.value)),
        )
    if not as_json:
        say_moved(settled)


@command("settle", work)
def settle(
    finding: Annotated[str, typer.Argument(help="Sheet and place of the finding, such as 147-1.")],
    seen: Annotated[str, typer.Option("--seen", help="What was seen, or why nothing follows any more.")],
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Settles a finding: somebody looked, and says what was seen."""
    from fleetcare.actions.settle_finding import settle_finding
    from fleetcare.page.order_data import found_data
    from fleetcare.work.found import found_words

    number, _, place = finding.partition("-")
    if not place.isascii() or not place.isdigit() or len(place) > 3:
        raise BadInput(
            saying("{finding} is no finding.", finding=shown(finding)), remedy="Write sheet and place, such as 147-1."
        )
    with parts_of(home) as parts:
        found, settled = settle_finding(
            parts.store,
            parts.rules,
            sheet_number(number),
            int(place),
            note=plain(seen, "note"),
            now=parts.clock.now(),
            who=plain(by, "by"),
            base_url=parts.base_url,
        )
    if as_json:
        show_data(found_data(found))
        return
    say(tr("Settled: {what}.", what=tr_book(found_words(found))))
    say_moved(settled)


def sheet_number(text: str) -> int:
    """The number of a sheet as somebody types it: `147`, `0147`, `sheet 0147`. Raises BadInput."""
    given = text.strip().casefold().removeprefix("sheet").strip()
    if not given.isascii() or not given.isdigit() or len(given) > 8:
        raise BadInput(
            saying("{text_} is no number of a sheet.", text_=shown(text)), remedy="Write its digits, such as 147."
        )
    return int(given)


def today_of(parts: Parts) -> date:
    """The day it is in the garage."""
    from fleetcare.actions.gather import garage_day, garage_of

    with parts.store.read() as view:
        return garage_day(garage_of(view), parts.clock.now())


def told(parts: Parts, order: WorkOrder, *, as_json: bool, said: str, found: Sequence[Found] = ()) -> None:
    """Prints a sheet as data, or says a word on it; nothing if there is no word."""
    from fleetcare.page.order_data import order_data

    if as_json:
        show_data({**order_data(order, found), "address": f"{parts.base_url}/work/{order.number}"})
    elif said:
        say(said)
