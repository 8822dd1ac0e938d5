"""Whose vehicles the front page of a large garage shows: everybody's, one's own, or those of one keeper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.people import Garage, Person
from fleetcare.language import tr
from fleetcare.page.cards.ticks import TICKED_AT_MOST, Tick
from fleetcare.wording import grouped

OF_FIELD = "of"
EVERYBODY, NOBODY = "*", "-"
"""Stand for no keeper's key: of every vehicle, and of those that nobody keeps."""


@dataclass(frozen=True, slots=True)
class Whose:
    """The choice on the front page. chosen: a keeper's key, `EVERYBODY` or `NOBODY`. is_first: the reader begins so.

    rows: to choose from, each with how many vehicles. typed: of more keepers than one would pick from, the name as
    typed; None where all are there. told: that nobody is called so.
    """

    chosen: str
    is_first: bool
    rows: tuple[Tick, ...]
    typed: str | None
    told: str

    def shows(self, outlook: VehicleOutlook) -> bool:
        """Whether the page has that vehicle."""
        return self.chosen == EVERYBODY or (outlook.vehicle.keeper or NOBODY) == self.chosen


def whose_vehicles(
    asked: str,
    outlooks: Sequence[VehicleOutlook],
    *,
    garage: Garage,
    reader: Person | None,
    names: Mapping[str, str],
    whole_names: Mapping[str, str],
) -> Whose | None:
    """None in a garage that is taken in at a glance.

    asked: a key, or a name in small or capital letters; empty for what the reader begins with: their own vehicles, if
    they keep any and not the list. names, whole_names: first and whole names by key.
    """
    if len(outlooks) <= TICKED_AT_MOST:
        return None
    kept = Counter(outlook.vehicle.keeper or NOBODY for outlook in outlooks)
    own = reader.key if reader is not None and reader.key in kept else ""
    asked, told = asked.strip(), ""
    first_chosen = own if own and own != garage.list_keeper else EVERYBODY
    if not asked:
        chosen = first_chosen
    elif asked in kept or asked == EVERYBODY:
        chosen = asked
    else:
        called = [
            k for k in kept if asked.casefold() in (names.get(k, "").casefold(), whole_names.get(k, "").casefold())
        ]
        chosen = called[0] if called else EVERYBODY
        told = "" if called else tr("Nobody who keeps a vehicle is called “{name}”.", name=asked)
    order = sorted(kept, key=lambda key: (key != own, key == NOBODY, whole_names.get(key, key).casefold(), key))
    is_many = len(kept) > TICKED_AT_MOST
    shown = [key for key in order if key in (own, chosen)] if is_many else order
    first = [names.get(key, key) for key in kept]
    rows = [Tick(EVERYBODY, tr("everybody’s, {number}", number=grouped(len(outlooks))), chosen == EVERYBODY)]
    for key in shown:
        name = names.get(key, key)
        called_so = name if first.count(name) == 1 else whole_names.get(key, key)
        number = grouped(kept[key])
        if key == own:
            text = tr("yours, {number}", number=number)
        elif key == NOBODY:
            text = tr("nobody’s, {number}", number=number)
        else:
            text = tr("of {name}, {number}", name=called_so, number=number)
        rows.append(Tick(key, text, key == chosen))
    return Whose(chosen, chosen == first_chosen, tuple(rows), (asked if told else "") if is_many else None, told)
