"""Coming in: the form for a link, what is said when it was sent, the button that uses it up."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.people import Garage
from fleetcare.language import tr
from fleetcare.page.cards.frame import COME_IN_URL, Frame, Plate, bare_frame, garage_plate
from fleetcare.wording import counted_words

MAIL_FIELD = "mail"
KEY_FIELD = "key"
BEGIN_COMMAND = 'fleetcare init --keeper "First name Surname" --mail name@example.org'


@dataclass(frozen=True, slots=True)
class ComeInCard:
    """The form for a link. notice: said above it, such as a link used up; is_mind: somebody must act on it."""

    frame: Frame
    plate: Plate
    lead: str
    action_url: str
    typed: str
    problem: str
    notice_head: str
    notice: str


@dataclass(frozen=True, slots=True)
class LookInMailCard:
    """What is said when the form was sent, whether the address is known or not."""

    frame: Frame
    plate: Plate
    told: str
    again_url: str


@dataclass(frozen=True, slots=True)
class ConfirmCard:
    """The page behind a link: looking at it uses nothing up, the button does. hidden: name and value."""

    frame: Frame
    plate: Plate
    lead: str
    action_url: str
    hidden: tuple[tuple[str, str], ...]


def come_in_card(
    *,
    garage: Garage,
    today: date,
    action_url: str = COME_IN_URL,
    link_minutes: int = 15,
    stay_days: int = 90,
    typed: str = "",
    problem: str = "",
    link_is_over: bool = False,
    nobody_is_here: bool = False,
) -> ComeInCard:
    """The form for a link. problem: what is wrong with the address typed. link_is_over: a used or old link led here.
    nobody_is_here: the garage has not begun, so no address is known."""
    head, notice = "", ""
    if nobody_is_here:
        head = tr("Nobody belongs to this garage yet.")
        notice = tr("It begins on the machine that serves it: {command}", command=BEGIN_COMMAND)
    elif link_is_over:
        head = tr("This link was used already, or its time is over.")
        notice = tr("Ask for a new one here; nothing is lost.")
    return ComeInCard(
        frame=bare_frame(tr("Come in"), garage=garage, today=today),
        plate=garage_plate(garage),
        lead=(
            tr(
                "No password here. Type your mail address and the garage sends you a link. It opens once, "
                "within {minutes}, and then this device stays in for {days}.",
                minutes=counted_words(link_minutes, "minute", "minutes"),
                days=counted_words(stay_days, "day", "days"),
            )
        ),
        action_url=action_url,
        typed=typed,
        problem=problem,
        notice_head=head,
        notice=notice,
    )


def look_in_mail_card(*, garage: Garage, today: date, list_keeper_name: str = "") -> LookInMailCard:
    """What is said when the form was sent. list_keeper_name: first name of who keeps the list."""
    ask = (
        tr("Ask {list_keeper_name}, who keeps the list.", list_keeper_name=list_keeper_name)
        if list_keeper_name
        else tr("Ask who keeps the list.")
    )
    return LookInMailCard(
        frame=bare_frame(tr("Look in your mail"), garage=garage, today=today),
        plate=garage_plate(garage),
        told=tr("If the garage knows that address, a link is on its way. Nothing after five minutes? {ask}", ask=ask),
        again_url=COME_IN_URL,
    )


def confirm_card(
    *,
    garage: Garage,
    today: date,
    action_url: str,
    person_name: str = "",
    key: str = "",
    stay_days: int = 90,
) -> ConfirmCard:
    """The page behind a link of one person. key: sent with the form, if it does not stand in `action_url`."""
    hello = tr("You come in as {person_name}.", person_name=person_name) if person_name else tr("This link is good.")
    return ConfirmCard(
        frame=bare_frame(tr("Come in"), garage=garage, today=today),
        plate=garage_plate(garage),
        lead=tr(
            "{hello} This device then stays in for {days}.", hello=hello, days=counted_words(stay_days, "day", "days")
        ),
        action_url=action_url,
        hidden=((KEY_FIELD, key),) if key else (),
    )
