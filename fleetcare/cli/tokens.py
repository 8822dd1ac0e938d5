"""Keys for programs: made, listed and ended by name."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

import typer

from fleetcare.cli.frame import AsJson, Home, command, parts_of, say, show_data
from fleetcare.cli.given_words import one_of, plain
from fleetcare.language import tr, tr_count


@command("token")
def token(
    person: Annotated[str, typer.Argument(help="Whose readings and looks they count as, by name or key.")],
    called: Annotated[str, typer.Option("--name", help="What the key is for, such as tracker.")] = "",
    scope: Annotated[
        str, typer.Option("--scope", help="look (dates, no entries), readings (entries, no dates), or all.")
    ] = "all",
    vehicle: Annotated[str, typer.Option("--vehicle", help="For that vehicle alone.")] = "",
    days: Annotated[int | None, typer.Option("--days", min=1, help="Ends after so many days.")] = None,
    revoke: Annotated[bool, typer.Option("--revoke", help="End the key of that name; without one, all.")] = False,
    as_list: Annotated[bool, typer.Option("--list", help="Show the keys in use instead, without themselves.")] = False,
    home: Home = None,
    as_json: AsJson = False,
) -> None:
    """Makes, lists or ends a key for the API. It is shown once; only its hash is kept."""
    from fleetcare.actions.api_keys import api_keys, end_api_keys
    from fleetcare.actions.links import make_key
    from fleetcare.fleet.access import Purpose, Scope

    with parts_of(home) as parts:
        now = parts.clock.now()
        if as_list:
            there = [
                {
                    "name": key.name,
                    "scope": key.scope.value,
                    "vehicle": key.mark or None,
                    "made": f"{key.made_at:%Y-%m-%d}",
                    "ends": None if key.expires_at is None else f"{key.expires_at:%Y-%m-%d}",
                }
                for key in api_keys(parts.store, person, now=now)
            ]
            if as_json:
                show_data(there)
                return
            for one in there:
                until = tr(", until {day}", day=one["ends"]) if one["ends"] else ""
                of = tr(", {mark} alone", mark=one["vehicle"]) if one["vehicle"] else ""
                name, made = one["name"] or tr("without a name"), tr("made {day}", day=one["made"])
                say(f"{name}: {one['scope']}{of}, {made}{until}")
            if not there:
                say(tr("There is no key."))
            return
        name = plain(called, "name")
        if revoke:
            ended = end_api_keys(parts.store, person, name, who="command", now=now)
            if as_json:
                show_data({"ended": ended})
            else:
                say(tr_count("{number} key ended.", "{number} keys ended.", ended, number=ended))
            return
        key = make_key(
            parts.store,
            parts.keys,
            now=now,
            who="command",
            purpose=Purpose.API,
            person=person,
            mark=vehicle,
            lasts=timedelta(days=days) if days else None,
            name=name,
            scope=one_of(Scope, scope),
        )
    if as_json:
        show_data({"api": key})
    else:
        say(tr("Send it as: {header}", header=f"Authorization: Bearer {key}"))
