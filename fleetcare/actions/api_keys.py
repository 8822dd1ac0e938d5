"""Keys for programs: which are in use, and how they end."""

from __future__ import annotations

from datetime import datetime

from fleetcare.actions.ports import Change, ReadView, Store
from fleetcare.errors import NotFound
from fleetcare.fleet.access import AccessKey, Purpose
from fleetcare.fleet.naming import person_called
from fleetcare.language import Saying, later, saying

SHORTEST = 12
"""So much of a hash names one key."""


def api_keys(store: Store, person: str, *, now: datetime) -> tuple[AccessKey, ...]:
    """The keys of this person (key or name) that open the API, oldest first. Raises NotFound."""
    with store.read() as view:
        return _in_use(view, person_called(view.people(), person).key, now)


def end_api_keys(store: Store, person: str, name: str, *, who: str, now: datetime) -> int:
    """Ends the keys of that name at once, all of them if it is empty; how many. Raises NotFound."""
    with store.write(Change(who, "API keys ended", now)) as unit:
        owner = person_called(unit.people(), person).key
        keys = _in_use(unit, owner, now)
        ended = [key for key in keys if not name or key.name.casefold() == name.casefold()]
        if name and not ended:
            raise NotFound("API key", name, [key.name for key in keys])
        for key in ended:
            unit.use_up_key(key.hash, now)
            unit.log_change(owner, "link", _told(key), later("ended"))
        return len(ended)


def end_api_key(store: Store, person: str, short: str, *, who: str, now: datetime) -> None:
    """Ends one key of this person, by the beginning of its hash; ended twice it counts once. Raises NotFound."""
    with store.write(Change(who, "API key ended", now)) as unit:
        owner = person_called(unit.people(), person).key
        theirs = [key for key in unit.keys(Purpose.API) if key.person == owner]
        found = next((key for key in theirs if len(short) >= SHORTEST and key.hash.startswith(short)), None)
        if found is None:
            raise NotFound("API key", short, [key.name for key in theirs])
        if unit.use_up_key(found.hash, now):
            unit.log_change(owner, "link", _told(found), later("ended"))


def _told(key: AccessKey) -> Saying:
    return saying("api key {name} in use", name=key.name) if key.name else saying("api key without a name in use")


def _in_use(view: ReadView, owner: str, now: datetime) -> tuple[AccessKey, ...]:
    return tuple(key for key in view.keys(Purpose.API) if key.person == owner and key.opens(Purpose.API, now))
