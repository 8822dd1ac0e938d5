"""Message pages: what went wrong or was done, in words, whatever the state of the store."""

from __future__ import annotations

import logging
from datetime import date

from fleetcare.actions.gather import garage_day
from fleetcare.actions.links import LINK_OVER
from fleetcare.assemble import Parts
from fleetcare.errors import StoreTrouble
from fleetcare.fleet.people import Garage
from fleetcare.language import tr
from fleetcare.page.cards.frame import ROAD_URL, Link
from fleetcare.page.cards.message import busy_card, not_found_card, told_card, trouble_card
from fleetcare.quantities import DistanceUnit

log = logging.getLogger(__name__)

NOBODY = Garage(name="fleetcare", zone="UTC", unit=DistanceUnit.KM)
"""Stands for the garage while there is none, or while it cannot be read."""


def here(parts: Parts) -> tuple[Garage, date]:
    """The garage and the day it is there."""
    garage, _ = _garage_and_keeper(parts)
    return garage, garage_day(garage, parts.clock.now())


def list_keeper_name(parts: Parts) -> str:
    """First name of who keeps the list, empty if nobody is down for it."""
    return _garage_and_keeper(parts)[1]


def trouble_page(parts: Parts, status: int, sentence: str, *, mark: str = "", posted: bool = False) -> str:
    """The page for an error. posted: somebody sent something, and it was not saved."""
    garage, keeper = _whatever_can_be_read(parts) if status >= 500 else _garage_and_keeper(parts)
    today = garage_day(garage, parts.clock.now())
    if status == 404:
        if sentence:
            return parts.pages.message(
                told_card(
                    garage=garage,
                    today=today,
                    heading=tr("This link is over") if sentence == LINK_OVER else tr("There is no such thing"),
                    told=tr(sentence),
                    link=None if sentence == LINK_OVER else Link(tr("Road ahead"), ROAD_URL),
                )
            )
        return parts.pages.message(not_found_card(garage=garage, today=today))
    if status == 503:
        return parts.pages.message(busy_card(garage=garage, today=today, reading_is_lost=posted))
    if status >= 500:
        card = trouble_card(garage=garage, today=today, mark=mark, reading_is_lost=posted, list_keeper_name=keeper)
        return parts.pages.message(card)
    heading = tr("That page is not open to you") if status == 403 else tr("That did not work")
    return parts.pages.message(told_card(garage=garage, today=today, heading=heading, told=tr(sentence)))


def told_page(parts: Parts, heading: str, told: str) -> str:
    """A page that says what was done, in the language in force."""
    garage, today = here(parts)
    return parts.pages.message(told_card(garage=garage, today=today, heading=tr(heading), told=tr(told)))


def _whatever_can_be_read(parts: Parts) -> tuple[Garage, str]:
    """The garage for the page about a trouble, which must stand whatever the trouble is."""
    try:
        return _garage_and_keeper(parts)
    except Exception:
        log.exception("the garage could not be read for the page about a trouble")
        return NOBODY, ""


def _garage_and_keeper(parts: Parts) -> tuple[Garage, str]:
    try:
        with parts.store.read() as view:
            garage = view.garage()
            people = view.people()
    except StoreTrouble:
        return NOBODY, ""
    if garage is None:
        return NOBODY, ""
    return garage, next((p.first_name for p in people if p.key == garage.list_keeper), "")
