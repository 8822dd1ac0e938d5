"""Plain message pages: no such page, no right to see it, a machine that stumbled, a link that is over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.people import Garage
from fleetcare.language import tr
from fleetcare.page.cards.frame import COME_IN_URL, ROAD_URL, Frame, Link, bare_frame
from fleetcare.wording import of_person


@dataclass(frozen=True, slots=True)
class MessageCard:
    """What happened and what to do. is_mind: somebody must act. mark: short, to tell who keeps the list."""

    frame: Frame
    heading: str
    told: str
    is_mind: bool
    link: Link | None
    mark: str


def not_found_card(*, garage: Garage, today: date) -> MessageCard:
    """There is no such page."""
    return _card(
        garage,
        today,
        tr("There is no such page"),
        tr("Vehicles are sold and sheets renumbered; start from the road ahead."),
        link=Link(tr("Road ahead"), ROAD_URL),
    )


def no_right_card(
    *,
    garage: Garage,
    today: date,
    owner_name: str = "",
    list_keeper_name: str = "",
    may_come_in: bool = False,
) -> MessageCard:
    """The reader may not see this page. owner_name: whose page it is. may_come_in: coming in may open it."""
    heading = (
        tr("That page is {of_person}", of_person=of_person(owner_name))
        if owner_name
        else tr("That page is not open to you")
    )
    if may_come_in:
        told = tr("It is for people who came in.")
    elif list_keeper_name:
        told = tr("{list_keeper_name} can let you in.", list_keeper_name=list_keeper_name)
    else:
        told = tr("Who keeps the list can let you in.")
    return _card(garage, today, heading, told, link=Link(tr("Come in"), COME_IN_URL) if may_come_in else None)


def link_over_card(*, garage: Garage, today: date, vehicle_name: str = "", list_keeper_name: str = "") -> MessageCard:
    """A reading link that was revoked, is unknown or out of time. A sign-in link leads to the come in page instead."""
    ask = list_keeper_name or tr("who keeps the list")
    about = tr(" for {vehicle_name}", vehicle_name=vehicle_name) if vehicle_name else ""
    return _card(
        garage,
        today,
        tr("This link is over"),
        tr(
            "This link{about} was used already, or its time is over. Ask {ask} for a new one; nothing is lost.",
            about=about,
            ask=ask,
        ),
        is_mind=True,
    )


def busy_card(*, garage: Garage, today: date, reading_is_lost: bool = False) -> MessageCard:
    """Somebody else is writing just now; trying again helps."""
    return _card(
        garage,
        today,
        tr("The garage is busy just now"),
        tr("{not_saved} Go back and send it again in a minute.", not_saved=_not_saved(reading_is_lost)),
        is_mind=reading_is_lost,
    )


def trouble_card(
    *,
    garage: Garage,
    today: date,
    mark: str = "",
    reading_is_lost: bool = False,
    list_keeper_name: str = "",
) -> MessageCard:
    """The machine stumbled. mark: short, stands in the log beside the cause. reading_is_lost: it was not saved."""
    told = _not_saved(reading_is_lost)
    todo = tr("Write it down and try in a minute.") if reading_is_lost else tr("Try again in a minute.")
    foot = tr("tell {value}: {mark}", value=list_keeper_name or tr("who keeps the list"), mark=mark) if mark else ""
    return _card(garage, today, tr("The garage’s machine stumbled"), f"{told} {todo}", is_mind=True, mark=foot)


def told_card(*, garage: Garage, today: date, heading: str, told: str, link: Link | None = None) -> MessageCard:
    """Any other message, such as letters stopped. link: where one can go on, if anywhere."""
    return _card(garage, today, heading, told, link=link)


def _not_saved(reading_is_lost: bool) -> str:
    return tr("Your reading was not saved.") if reading_is_lost else tr("Nothing was changed.")


def _card(
    garage: Garage,
    today: date,
    heading: str,
    told: str,
    *,
    is_mind: bool = False,
    link: Link | None = None,
    mark: str = "",
) -> MessageCard:
    frame = bare_frame(heading, garage=garage, today=today, home_url=link.url if link and link.url == ROAD_URL else "")
    return MessageCard(frame, heading, told, is_mind, link, mark)
