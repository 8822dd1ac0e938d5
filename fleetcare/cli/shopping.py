"""Commands for what is bought and what lies on the shelf: shopping, shelf."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.cli.given_words import day_of
from fleetcare.errors import BadInput
from fleetcare.language import tr, tr_book

if TYPE_CHECKING:
    from fleetcare.actions.go_shopping import Shopping
    from fleetcare.book.shopping import ShelfItem, ToBuy

USUAL_WEEKS = 4


@command("shopping")
def shopping(
    weeks: Annotated[
        int | None, typer.Option("--weeks", help="For what may fall due in so many weeks; else 4.")
    ] = None,
    on: Annotated[str | None, typer.Option("--on", help="For the sheets planned on that day instead.")] = None,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print a table for a spreadsheet.")] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """What to buy: consumables of the jobs ahead, against what lies on the shelf."""
    from fleetcare.actions.go_shopping import shopping_ahead, shopping_for_day

    if on is not None and weeks is not None:
        raise BadInput("Weeks and a day were both given.", remedy="Give one of the two.")
    with parts_of(home) as parts:
        now = parts.clock.now()
        day = day_of(on)
        if day is not None:
            found = shopping_for_day(parts.store, parts.rules, parts.jobs, now=now, on=day)
        else:
            count = USUAL_WEEKS if weeks is None else weeks
            found = shopping_ahead(parts.store, parts.rules, parts.jobs, now=now, weeks=count)
    if as_json:
        show_data(_data(found))
    elif as_csv:
        typer.echo(_table(found), nl=False)
    else:
        _say_list(found)


@command("shelf")
def shelf(
    item: Annotated[
        str | None, typer.Argument(help="What it is, such as “75W-140 GL-5”; without it all is shown.")
    ] = None,
    amount: Annotated[str | None, typer.Argument(help="How much of it lies there now.")] = None,
    unit: Annotated[str | None, typer.Option("--unit", help="L, mL, g, kg, or a word for pieces.")] = None,
    pack: Annotated[str | None, typer.Option("--pack", help="What one bottle or tin holds, in that unit.")] = None,
    gone: Annotated[bool, typer.Option("--gone", help="Take it off the shelf for good.")] = False,
    by: Annotated[str, typer.Option("--by", help="Who says so, by name or key.")] = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """What lies on the shelf; or says how much of something lies there now."""
    from fleetcare.actions.go_shopping import put_on_shelf, shelf_of, take_off_shelf
    from fleetcare.intake.numbers import parse_amount
    from fleetcare.intake.text import clean_text
    from fleetcare.wording import quantity_words

    if gone == (amount is not None) and item is not None:
        raise BadInput("It is not said how much lies there.", remedy="Give an amount, or --gone.", field="amount")
    with parts_of(home) as parts:
        if item is not None:
            what, now = clean_text(item, required=True), parts.clock.now()
            if amount is None:
                take_off_shelf(parts.store, what, now=now, who=by)
            else:
                put_on_shelf(
                    parts.store,
                    what,
                    parse_amount(amount, field="amount"),
                    now=now,
                    who=by,
                    unit=None if unit is None else clean_text(unit, required=True),
                    pack=None if pack is None else parse_amount(pack, field="pack"),
                )
        items = shelf_of(parts.store)
    if as_json:
        show_data([_item_data(each) for each in items])
        return
    if not items:
        say(tr("Nothing lies on the shelf."))
    for each in items:
        holds = tr(", {pack} {unit} each", pack=f"{each.pack:f}", unit=each.unit) if each.pack is not None else ""
        say(f"{each.what}: {quantity_words(each.amount, each.unit)}{holds}")


def _say_list(found: Shopping) -> None:
    from fleetcare.wording import day_words

    buy = [line for line in found.lines if line.buy is None or line.buy > 0]
    if not buy:
        until = day_words(found.until, found.today)
        say(tr("Nothing to buy.") if found.lines else tr("Nothing is needed until {day}.", day=until))
    for line in buy:
        marks = ", ".join(dict.fromkeys(mark for mark, _ in line.used_for))
        day = day_words(line.by, found.today)
        say(
            tr(
                "{what}: {amount}, by {day}, for {marks}.",
                what=tr_book(line.what),
                amount=_amount(line),
                day=day,
                marks=marks,
            )
        )
    there = [tr_book(line.what) for line in found.lines if line.buy is not None and line.buy <= 0]
    if there:
        say(tr("Enough on the shelf: {what}.", what=", ".join(there)))
    if found.without_job:
        services = ", ".join(map(str, found.without_job))
        say(tr("No job is written for {services}, so what they take is not here.", services=services))


def _amount(line: ToBuy) -> str:
    from fleetcare.wording import quantity_words

    if line.buy is None:
        return tr("how much is not known, its tag does not say")
    packs = ""
    if line.packs is not None and line.pack is not None:
        packs = tr(", {packs} of {pack} {unit}", packs=line.packs, pack=f"{line.pack:f}", unit=line.unit)
    return f"{quantity_words(line.buy, line.unit)}{packs}"


def _table(found: Shopping) -> str:
    from fleetcare.intake.shelf_csv import shopping_as_text

    return shopping_as_text(found.lines)


def _data(found: Shopping) -> dict[str, Any]:
    return {
        "until": found.until.isoformat(),
        "lines": [
            {
                "item": line.what,
                "unit": line.unit,
                "needed": _plain(line.needed),
                "on_shelf": _plain(line.on_shelf),
                "buy": _plain(line.buy),
                "packs": line.packs,
                "pack": _plain(line.pack),
                "by": line.by.isoformat(),
                "for": [{"vehicle": mark, "job": job} for mark, job in line.used_for],
            }
            for line in found.lines
        ],
        "without_job": [str(key) for key in found.without_job],
    }


def _item_data(item: ShelfItem) -> dict[str, Any]:
    return {
        "item": item.what,
        "amount": _plain(item.amount),
        "unit": item.unit,
        "pack": _plain(item.pack),
        "note": item.note,
    }


def _plain(figure: Any) -> float | None:
    return None if figure is None else float(figure)
