"""A garage's own values of the workshop: some tables of its file changed, and everything else left as it stands."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from fleetcare.bayplan.workshop import OpenHours
from fleetcare.errors import BadFile, BadSettings, Clash
from fleetcare.language import saying
from fleetcare.settings.days_off import DaysOff
from fleetcare.settings.garage_rules import OWN_CONFIG
from fleetcare.settings.places import SHIPPED_WORKSHOP, shipped_config
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText
from fleetcare.settings.workshop_file import Workshop, workshop_of
from fleetcare.wording import WEEKDAYS

HEAD = "# What this garage changes in the figures of the workshop; the shipped ones hold for everything else.\n"
_HEADER = re.compile(r"\[\[?\s*(?P<key>[A-Za-z0-9_-]+)")


def own_workshop_path(home: Path) -> Path:
    """Where a garage keeps its own values of the workshop."""
    return home / OWN_CONFIG / SHIPPED_WORKSHOP


def own_text(own: Path) -> str:
    """The text of that file; empty if there is none. Raises BadFile."""
    return text_of(own) if own.is_file() else ""


def state_of(text: str) -> str:
    """Changes with the text; a form that was shown another state is an old one."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def workshop_with(text: str, file: str = SHIPPED_WORKSHOP) -> Workshop:
    """The shipped values with those of a garage's own text over them. Raises BadFile."""
    shipped = TomlText(text_of(shipped_config() / SHIPPED_WORKSHOP), SHIPPED_WORKSHOP)
    return workshop_of([shipped, *([TomlText(text, file)] if text.strip() else [])])


def own_tables(text: str) -> dict[str, Any]:
    """The tables of a garage's own text, as they stand in it. Raises BadFile."""
    return dict(TomlText(text, SHIPPED_WORKSHOP).tables)


def with_tables(text: str, changes: Mapping[str, Any]) -> str:
    """The text with some of its tables put in place, or taken out where None is given. Comments elsewhere stay.

    A file whose tables are written in a way that cannot be cut out of the text is written anew as a whole.
    """
    wanted = {key: value for key, value in {**own_tables(text), **changes}.items() if value is not None}
    kept, held, is_out = list[str](), list[str](), False
    for line in text.splitlines(keepends=True):
        header = _HEADER.match(line)
        if header is not None:
            is_out = header["key"] in changes
            # Remarks above a table are about that table.
            kept += [] if is_out else held
        elif "profile" in changes and line.split("=")[0].strip() == "profile":
            continue
        held = [*held, line] if is_out and (not line.strip() or line.lstrip().startswith("#")) else []
        if not is_out:
            kept.append(line)
    body = "".join(kept).rstrip("\n") or HEAD.rstrip("\n")
    profile = "" if changes.get("profile") is None else f"profile = {_value(changes['profile'])}\n\n"
    added = "".join(
        f"\n{_table(key, changes[key])}" for key in changes if key != "profile" and changes[key] is not None
    )
    made = f"{profile}{body}\n{added}"
    try:
        if own_tables(made) == wanted:
            return made
    except BadFile:
        pass
    head = f"profile = {_value(wanted.pop('profile'))}\n" if "profile" in wanted else ""
    return HEAD + head + "".join(f"\n{_table(key, value)}" for key, value in wanted.items())


def laid_over(text: str, coming: str) -> str:
    """A garage's own text with the tables of another one over it; set-ups and orders one by one. Raises BadFile."""
    there, tables = own_tables(text), own_tables(coming)
    for key, names in (("setup", ("name",)), ("order", ("first", "then"))):
        if key in there and key in tables:
            both = [*there[key], *tables[key]]
            tables[key] = list({tuple(each.get(name) for name in names): each for each in both}.values())
    return with_tables(text, tables)


def figure_table(value: Decimal | int, there: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """The table of one figure; there: as it stands in the garage's own file, whose words on it stay."""
    kept = {name: said for name, said in (there or {}).items() if name in ("means", "status")}
    return {"value": value, **kept}


def hours_tables(hours: Sequence[OpenHours]) -> list[dict[str, Any]]:
    """The weekly hours as the file has them."""
    return [
        {
            "days": [WEEKDAYS[day].casefold() for day in each.weekdays],
            "from": _clock(each.start),
            "until": _clock(each.end),
            **({"people": list(each.people)} if each.people else {}),
            **({"unusual": True} if each.is_unusual else {}),
        }
        for each in hours
    ]


def closed_table(off: DaysOff) -> dict[str, Any] | None:
    """The days off as the file has them, None if there are none."""
    found: dict[str, Any] = {}
    if off.country:
        found["country"] = off.country
    if off.region:
        found["region"] = off.region
    if off.also:
        found["also"] = {day.isoformat(): why for day, why in off.also}
    if off.open_on:
        found["open_on"] = [day.isoformat() for day in off.open_on]
    return found or None


def written_beside(own: Path, text: str) -> Path:
    """The text in a file beside the garage's own, to be moved in its place once everything else is stored.

    Raises BadSettings if the folder cannot be written to; nothing is changed then.
    """
    beside = own.with_suffix(".new")
    try:
        own.parent.mkdir(parents=True, exist_ok=True)
        beside.write_text(text, encoding="utf-8")
    except OSError as error:
        raise BadSettings(
            saying(
                "The values of the workshop cannot be written to {parent} ({strerror}).",
                parent=own.parent,
                strerror=error.strerror,
            ),
            remedy="See to the rights of that folder.",
        ) from error
    return beside


def put_in_place(own: Path, text: str, *, shown: str) -> None:
    """Makes the text the garage's own file. Raises Clash if that is another one by now than was shown."""
    if state_of(own_text(own)) != shown:
        raise Clash("Somebody changed the workshop meanwhile. Here it is as it is now.")
    os.replace(written_beside(own, text), own)


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _table(key: str, value: Any) -> str:
    if isinstance(value, list):
        return "\n".join(f"[[{key}]]\n{_lines(each)}" for each in value) if value else f"{key} = []\n"
    return f"[{key}]\n{_lines(value)}"


def _lines(table: Mapping[str, Any]) -> str:
    return "".join(f"{_key(name)} = {_value(value)}\n" for name, value in table.items())


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{_key(name)} = {_value(inner)}' for name, inner in value.items())} }}"
    # a JSON string is a TOML basic string, but for the one control character that JSON leaves as it is
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
