"""Commands for visits to the bay: bay list, ink, pencil, move, rub-out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, app, command, parts_of, say, show_data
from fleetcare.language import saying, tr, tr_book

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from fleetcare.actions.plan_visits import Planned
    from fleetcare.due.outlook import VehicleOutlook
    from fleetcare.fleet.bay_visit import BayVisit

bay = typer.Typer(
    help="Visits to the bay: what is to be done on which day, and until when the vehicle stands.", rich_markup_mode=None
)
app.add_typer(bay, name="bay")


@bay.callback(invoke_without_command=True)
def _root(context: typer.Context) -> None:
    if context.invoked_subcommand is None:
        say(context.get_help())


VehicleName = Annotated[str, typer.Argument(metavar="VEHICLE", help="Mark or name, such as AN or Anvil.")]
Number = Annotated[int, typer.Argument(min=1, metavar="NUMBER", help="Which visit, as the list shows it.")]
What = Annotated[
    list[str],
    typer.Argument(metavar="SERVICE... | NUMBER", help="What is to be done; or the number of a visit that is there."),
]
On = Annotated[str, typer.Option("--on", help="The day of the first hand, such as 2026-04-25.")]
At = Annotated[str, typer.Option("--at", help="Its time, such as 09:00, in the garage’s own time.")]
Takes = Annotated[
    str,
    typer.Option("--takes", help="How long, if not as the jobs take: 2:20, or '2:20, stands 24:00, 1:20'."),
]
Hands = Annotated[str, typer.Option("--hands", help="Who does it, by name or key.")]
Why = Annotated[str, typer.Option("--why", help="Why that day, in a sentence.")]
By = Annotated[str, typer.Option("--by", help="Who says so, by name or key.")]


@command("ink", bay)
def ink(
    vehicle: VehicleName,
    what: What,
    on: On = "",
    at: At = "",
    takes: Takes = "",
    hands: Hands = "",
    why: Why = "",
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Plans a visit that stays, or inks one that is pencilled."""
    _put_down(vehicle, what, on, at, takes, hands, why, by, home, as_json, inked=True)


@command("pencil", bay)
def pencil(
    vehicle: VehicleName,
    what: What,
    on: On = "",
    at: At = "",
    takes: Takes = "",
    hands: Hands = "",
    why: Why = "",
    by: By = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Plans a visit that may still move, or lets one that is inked move again."""
    _put_down(vehicle, what, on, at, takes, hands, why, by, home, as_json, inked=False)


@command("move", bay)
def move(
    vehicle: VehicleName, number: Number, on: On, at: At, by: By = "command", home: Home = None, as_json: AsJson = False
) -> None:
    """Puts a visit on another day or time; every wait keeps its length."""
    from fleetcare.actions.plan_visits import move_visit
    from fleetcare.intake.chains import parse_time
    from fleetcare.intake.dates import parse_day
    from fleetcare.intake.text import clean_text

    with parts_of(home) as parts:
        planned = move_visit(
            parts.store,
            parts.rules,
            vehicle=vehicle,
            number=number,
            on=parse_day(on, field="on"),
            at=parse_time(at),
            who=clean_text(by, field="by"),
            now=parts.clock.now(),
            base_url=parts.base_url,
        )
    _show(planned, as_json)


@command("rub-out", bay)
def rub_out(
    vehicle: VehicleName, number: Number, by: By = "command", home: Home = None, as_json: AsJson = False
) -> None:
    """Takes a visit out of the plan. Its number is not given again."""
    from fleetcare.fleet.bay_visit import VisitState

    _set(vehicle, number, VisitState.RUBBED_OUT.name, by, home, as_json)


@command("list", bay)
def list_(home: Home = None, as_json: AsJson = False) -> None:
    """Shows every visit that is not over."""
    from fleetcare.actions.plan_visits import visits_ahead
    from fleetcare.page.cards.nothing_planned import nothing_planned
    from fleetcare.page.plan_data import visit_data

    with parts_of(home) as parts:
        ahead = visits_ahead(parts.store, parts.rules, now=parts.clock.now())
    if as_json:
        show_data([visit_data(visit, ahead.zone) for visit in ahead.visits])
        return
    if not ahead.visits:
        say(nothing_planned(ahead.first_window, ahead.today, ""))
        say(tr("Have days proposed with: {command}", command="fleetcare plan"))
        put_down = "fleetcare bay ink VEHICLE SERVICE --on DAY --at TIME --takes 2:20"
        say(tr("Put a visit down with: {command}", command=put_down))
    for visit in ahead.visits:
        outlook = ahead.outlooks[visit.mark]
        services = services_of(visit, outlook)
        who = ahead.people.get(visit.mechanic, visit.mechanic)
        hands = tr(", by {name}", name=who) if visit.mechanic else ""
        state = tr(visit.state.value)
        when = span_of(visit, ahead.zone)
        say(f"{visit.mark} {visit.number}  {when}, {state}: {outlook.vehicle.name}, {services}{hands}")


def _put_down(
    vehicle: str,
    what: list[str],
    on: str,
    at: str,
    takes: str,
    hands: str,
    why: str,
    by: str,
    home: Home,
    as_json: bool,
    *,
    inked: bool,
) -> None:
    from fleetcare.actions.plan_visits import Wanted, plan_visit
    from fleetcare.errors import BadInput
    from fleetcare.fleet.bay_visit import VisitState
    from fleetcare.intake.chains import parse_chain, parse_time
    from fleetcare.intake.dates import parse_day
    from fleetcare.intake.text import clean_text

    if len(what) == 1 and what[0].isascii() and what[0].isdigit():
        if on or at or takes or hands or why:
            raise BadInput(
                "A visit that is there keeps its day and its work here.", remedy="Move it with: fleetcare bay move"
            )
        _set(vehicle, int(what[0]), (VisitState.INKED if inked else VisitState.PENCILLED).name, by, home, as_json)
        return
    for option, given in (("--on", on), ("--at", at)):
        if not given:
            raise BadInput(saying("A visit needs {option}.", option=option), remedy="Give --on 2026-04-25 --at 09:00.")
    wanted = Wanted(
        vehicle=vehicle,
        services=tuple(what),
        on=parse_day(on, field="on"),
        at=parse_time(at),
        parts=parse_chain(takes) if takes else (),
        mechanic=hands,
        reason=clean_text(why, field="why") if why else "",
        inked=inked,
    )
    with parts_of(home) as parts:
        planned = plan_visit(
            parts.store,
            parts.rules,
            wanted,
            jobs=parts.jobs,
            who=clean_text(by, field="by"),
            now=parts.clock.now(),
            base_url=parts.base_url,
        )
    _show(planned, as_json)


def _set(vehicle: str, number: int, state: str, by: str, home: Home, as_json: bool) -> None:
    from fleetcare.actions.plan_visits import set_visit
    from fleetcare.fleet.bay_visit import VisitState
    from fleetcare.intake.text import clean_text

    with parts_of(home) as parts:
        planned = set_visit(
            parts.store,
            parts.rules,
            vehicle=vehicle,
            number=number,
            state=VisitState[state],
            who=clean_text(by, field="by"),
            now=parts.clock.now(),
            base_url=parts.base_url,
        )
    _show(planned, as_json)


def _show(planned: Planned, as_json: bool) -> None:
    if as_json:
        from fleetcare.page.plan_data import visit_data

        show_data(visit_data(planned.visit, planned.zone) | {"notices": list(planned.notices)})
        return
    visit = planned.visit
    if not visit.takes_place:
        say(tr("{name}: visit {number} is rubbed out.", name=planned.vehicle.name, number=visit.number))
        return
    say(
        tr(
            "{name}: visit {number} {state}, {span}.",
            name=planned.vehicle.name,
            number=visit.number,
            state=tr(visit.state.value),
            span=span_of(visit, planned.zone),
        )
    )
    for notice in planned.notices:
        say(f"  {notice}")


def span_of(visit: BayVisit, zone: ZoneInfo) -> str:
    """From when to when, on the garage’s clock: `Sat 2026-04-25 09:00 to 11:20`."""
    from fleetcare.wording import weekday_short

    begins, free = visit.begins_at.astimezone(zone), visit.free_at.astimezone(zone)
    first = f"{weekday_short(begins.weekday())} {begins:%Y-%m-%d %H:%M}"
    if begins.date() == free.date():
        return tr("{begins} to {ends}", begins=first, ends=f"{free:%H:%M}")
    return tr("{begins} to {ends}", begins=first, ends=f"{weekday_short(free.weekday())} {free:%Y-%m-%d %H:%M}")


def services_of(visit: BayVisit, outlook: VehicleOutlook) -> str:
    """What is done in a visit, by short names."""
    titles = {line.key: tr_book(line.row.short) for line in outlook.lines}
    return ", ".join(titles.get(line, line.service) for line in visit.lines)


@command("why", bay)
def why(vehicle: VehicleName, number: Number, home: Home = None, as_json: AsJson = False) -> None:
    """Says why a visit is on its day, and what each other day would cost by the workshop's prices."""
    from fleetcare.actions.weigh_days import weigh
    from fleetcare.page.cards.bay_why import NOT_COMPARED, bay_why_told
    from fleetcare.page.plan_data import days_data, reasons_data, visit_data
    from fleetcare.solvers.days import ExactDays, place_on_day

    with parts_of(home) as parts:
        found = weigh(
            parts.store,
            parts.rules,
            parts.workplace,
            place_on_day,
            ExactDays(),
            vehicle=vehicle,
            number=number,
            now=parts.clock.now(),
        )
    explained = found.explained
    told = bay_why_told(
        found.visit,
        found.outlook,
        explained,
        found.day_0,
        found.today,
        found.closed,
        found.held,
        is_as_written=found.is_as_written,
    )
    if as_json:
        prices, reasons = (explained.other_days, explained.reasons) if explained else ((), ())
        days = days_data(prices, found.day_0, found.held)
        show_data(
            {
                **visit_data(found.visit, found.zone),
                "why": list(told.why),
                "reasons": reasons_data(reasons, found.day_0),
                "days": days,
                "as_written": found.is_as_written,
            }
        )
        return
    for sentence in told.why or (tr("Nobody wrote down why."),):
        say(sentence)
    if explained is None:
        say(tr(NOT_COMPARED))
    for day in told.days:
        say(f"  {day.day}: {day.told}")
    for sentence in told.cannot:
        say(sentence)
    if told.days:
        mark, on = found.visit.mark, told.days[0].value
        see = f"fleetcare plan --move {mark}/{number} --to {on}"
        say(tr("See the whole plan with it moved: {command}", command=see))
