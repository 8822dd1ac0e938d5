"""The page behind the link that stops a letter: looking at it stops nothing, the button does."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.people import Garage
from fleetcare.language import tr
from fleetcare.page.cards.frame import Frame, Plate, bare_frame, garage_plate


@dataclass(frozen=True, slots=True)
class StopLettersCard:
    """What stops, and where the button leads."""

    frame: Frame
    plate: Plate
    lead: str
    action_url: str


def stop_letters_card(*, garage: Garage, today: date, action_url: str, person_name: str = "") -> StopLettersCard:
    """The page that asks once more. person_name: first name of whose letters they are."""
    whose = tr("{person_name}, the", person_name=person_name) if person_name else tr("The")
    return StopLettersCard(
        frame=bare_frame(tr("Stop the garage letter"), garage=garage, today=today),
        plate=garage_plate(garage),
        lead=(
            tr(
                "{whose} garage letter, the reading requests and word of what is past late or was found "
                "would not come any more. Calendar and pages stay as they are.",
                whose=whose,
            )
        ),
        action_url=action_url,
    )
