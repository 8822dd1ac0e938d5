"""Command that hands a sheet in: work close."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.cli.given_words import day_of, meter_unit_of, plain, say_moved
from fleetcare.cli.work import Sheet, sheet_number, work
from fleetcare.errors import BadInput, BadPhoto, shown
from fleetcare.language import later, saying, tr, tr_book

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fleetcare.actions.hand_in_sheet import HandedIn
    from fleetcare.assemble import Parts
    from fleetcare.work.found import Seen

Often = list[str] | None


@command("close", work)
def close(
    sheet: Sheet,
    at: Annotated[str, typer.Option("--at", help="What the dial shows at the end.")] = "",
    start: Annotated[str, typer.Option("--start", help="What it showed at the start, if nobody noted it yet.")] = "",
    unit: Annotated[str, typer.Option("--unit", help="km, mi or h, if it is not the dial's own.")] = "",
    on: Annotated[str | None, typer.Option("--on", help="The day it was done; today if left out.")] = None,
    left: Annotated[Often, typer.Option("--left", help="What was not done, and why: “axle vents=no hose”.")] = None,
    fill: Annotated[Often, typer.Option("--fill", help="Litres that went in: rear-axle=2.6.")] = None,
    out: Annotated[Often, typer.Option("--out", help="Litres that came out: rear-axle=2.5.")] = None,
    torque: Annotated[
        Often, typer.Option("--torque", help="A torque that was reached: “rear-axle/cover bolts=40 N·m”.")
    ] = None,
    torque_note: Annotated[str, typer.Option("--torque-note", help="A word on torques outside of their range.")] = "",
    part: Annotated[Often, typer.Option("--part", help="What went in, and its cost: “sealant=1 tube @ 12.90”.")] = None,
    hands: Annotated[Often, typer.Option("--hands", help="Minutes somebody worked: Teo=140.")] = None,
    found: Annotated[
        Often, typer.Option("--found", help="“rear-axle/magnet=flakes”, “brakes/pads/front left=4.5”.")
    ] = None,
    otherwise: Annotated[
        Often,
        typer.Option("--otherwise", help="Another decision on the first finding, and why: “1=nothing: new gears”."),
    ] = None,
    renewed: Annotated[Often, typer.Option("--renewed", help="A component whose gear set is new.")] = None,
    photo: Annotated[list[Path] | None, typer.Option("--photo", help="A picture; as often as needed.")] = None,
    note: Annotated[str, typer.Option("--note", help="Anything else worth keeping.")] = "",
    signed: Annotated[str, typer.Option("--signed", help="Who puts their name under it.")] = "",
    look: Annotated[bool, typer.Option("--look", help="Only show what would follow; nothing is saved.")] = False,
    by: Annotated[str, typer.Option("--by", help="Who hands it in, by name or key.")] = "command",
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Hands a sheet in: what was done starts anew from the measured value, findings are kept with what follows."""
    from fleetcare.actions.hand_in_sheet import Filling, hand_in, look_over
    from fleetcare.intake.numbers import parse_amount
    from fleetcare.intake.sheet_words import figure, fill_from, hands_from, part_from, seen_from, torque_from

    with parts_of(home) as parts:
        drained = dict(_halves(each, "out") for each in out or ())
        filled = [fill_from(each) for each in fill or ()]
        if strange := sorted(set(drained) - {each.component for each in filled}):
            raise BadInput(
                saying("Nothing is said to have gone into {strange}.", strange=strange[0]),
                remedy="Give --fill for it as well.",
            )
        seen = _decided([seen_from(each, parts.findings) for each in found or ()], otherwise or ())
        number, who, now = sheet_number(sheet), plain(by, "by"), parts.clock.now()
        given = Filling(
            on=day_of(on),
            left={name: plain(why, "note") for name, why in (_halves(each, "left") for each in left or ())},
            start=parse_amount(start) if start else None,
            end=parse_amount(at) if at else None,
            unit=meter_unit_of(unit),
            fills=tuple(
                replace(each, taken_out=figure(drained[each.component], "out") if each.component in drained else None)
                for each in filled
            ),
            torques=tuple(torque_from(each, torque_note) for each in torque or ()),
            parts=tuple(part_from(each) for each in part or ()),
            hands=dict(hands_from(each) for each in hands or ()),
            renewed=tuple(renewed or ()),
            note=plain(note, "note"),
            signed_by=plain(signed, "name"),
            seen=tuple(seen),
            photos=() if look else tuple(_photo(parts, path) for path in photo or ()),
        )
        if look:
            came = look_over(parts.store, parts.rules, parts.findings, number, given, now=now, who=who)
        else:
            came = hand_in(
                parts.store, parts.rules, parts.findings, number, given, now=now, who=who, base_url=parts.base_url
            )
    _say(came, looked=look, as_json=as_json)


def _say(came: HandedIn, *, looked: bool, as_json: bool) -> None:
    from fleetcare.page.as_data import line_data
    from fleetcare.page.cards.follow_words import follow_words
    from fleetcare.page.order_data import judged_data, order_data
    from fleetcare.work.found import found_words

    if as_json:
        moved = [] if came.settled is None else came.settled.moved
        outlook = came.settled.outlooks[0] if came.settled is not None else None
        show_data(
            {
                **order_data(came.order),
                "known": came.known,
                "saved": not looked,
                "findings": [judged_data(each) for each in came.judged],
                "remarks": list(came.remarks),
                "moved": [line_data(outlook, each.line) for each in moved] if outlook is not None else [],
            }
        )
        return
    if came.known:
        say(tr("Sheet {sheet} was handed in so already; nothing was changed.", sheet=came.order.sheet))
        return
    assert came.order.closed_on is not None  # it is closed, or would be
    on = came.order.closed_on
    sheet, name = came.order.sheet, came.vehicle.name
    say(
        tr(
            later("Would be closed: sheet {sheet}, {name}.") if looked else later("Closed: sheet {sheet}, {name}."),
            sheet=sheet,
            name=name,
        )
    )
    for each in came.judged:
        means = f" {tr_book(each.means)}" if each.means else ""
        say(f"  {tr_book(found_words(each.found))}.{means} {follow_words(each.found.follow, on, on)}")
        if each.found.decided:
            by_book = follow_words(each.by_book, on, on)
            told = tr("The book says: {what} Decided otherwise: {why}.", what=by_book, why=each.found.decided)
            say(f"    {told}")
    for remark in came.remarks:
        say(f"  {tr(remark)}")
    if came.settled is not None:
        say_moved(came.settled)


def _decided(seen: list[Seen], otherwise: Sequence[str]) -> list[Seen]:
    """The findings with what is decided otherwise: `1=nothing: new gears`."""
    from fleetcare.intake.sheet_words import follow_from

    for each in otherwise:
        place, told = _halves(each, "otherwise")
        follow, _, why = told.partition(":")
        if not place.isdigit() or not 1 <= int(place) <= len(seen):
            raise BadInput(
                saying("{place} is none of the findings.", place=shown(place)),
                remedy="Count them in the order they are given, from 1 on.",
            )
        index = int(place) - 1
        seen[index] = replace(seen[index], otherwise=follow_from(follow), decided=plain(why, "note"))
    return seen


def _halves(text: str, field: str) -> tuple[str, str]:
    name, sign, value = (part.strip() for part in text.partition("="))
    if not sign or not name or not value:
        raise BadInput(
            saying("{text_} cannot be read.", text_=shown(text)),
            remedy=saying("Write --{field} “NAME=VALUE”.", field=field),
            field=field,
        )
    return name, value


def _photo(parts: Parts, path: Path) -> str:
    from fleetcare.intake.photos import MOST_BYTES, clean_photo

    try:
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except OSError as trouble:
        reason = (trouble.strerror or "unknown").lower()
        raise BadPhoto(
            saying("{name} cannot be read ({reason}).", name=path.name, reason=reason), remedy="Look at its name."
        ) from None
    return parts.photos.keep(clean_photo(raw, path.name))
