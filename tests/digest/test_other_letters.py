"""The request for a reading, and the way in."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from fleetcare.digest.letters import come_in_letter
from fleetcare.digest.reading_letters import reading_letter
from fleetcare.digest.values import Letter, LetterKind
from fleetcare.due.outlook import ReadingWanted, VehicleOutlook
from fleetcare.errors import BadInput
from tests.digest.karst_ridge import BASE, BELLOWS, GARAGE, LINKS, RAFT, STOP, TEO, TODAY

LINK = f"{BASE}/sign-in/k3y"


def _request(outlook: VehicleOutlook = BELLOWS) -> Letter:
    return reading_letter(
        garage=GARAGE,
        person=TEO,
        outlook=outlook,
        link=LINKS["BE"],
        link_until=date(2026, 4, 21),
        base_url=BASE,
        stop_url=STOP,
        today=TODAY,
    )


def test_a_reading_is_asked_for_with_last_times_figure_and_the_end_of_the_link() -> None:
    letter = _request()
    assert letter.kind is LetterKind.READING
    assert letter.subject == "Bellows: what does the odometer show?"
    assert f"Enter Bellows' reading:\n  {LINKS['BE']}\n  Last time 83 365 mi, on 12 March." in letter.plain
    assert "for Bellows\n  alone, until 21 April." in letter.plain
    assert "Enter Bellows’ reading</a>" in letter.html
    assert LINKS["BE"] in letter.html
    assert letter.stop_url == STOP


def test_what_the_odometer_is_expected_to_show_is_not_said() -> None:
    reckoned = replace(BELLOWS, reckoned_dial=Decimal(84210))
    assert "84 210" not in _request(reckoned).plain
    assert "84" not in re.sub(r"<style>.*</style>|style=\"[^\"]*\"", "", _request(reckoned).html)


def test_a_first_reading_is_asked_for_without_a_figure() -> None:
    letter = _request(replace(BELLOWS, wanted=ReadingWanted("odometer", TODAY, None, None)))
    assert "Bellows wants its odometer read: there is no reading yet." in letter.plain
    assert "Last time" not in letter.plain


def test_a_trailer_has_a_hub_odometer() -> None:
    assert _request(replace(RAFT, wanted=BELLOWS.wanted)).subject == "Raft: what does the hub odometer show?"


def test_the_way_in_names_its_end_in_the_readers_own_zone() -> None:
    letter = come_in_letter(garage=GARAGE, person=TEO, link=LINK, until=datetime(2026, 4, 14, 22, 20, tzinfo=UTC))
    assert letter.kind is LetterKind.COME_IN
    assert letter.subject == "Your way in to Karst Ridge Motor Club garage"
    assert "It works once, until 00:20 on Wednesday 15 April." in letter.plain
    assert LINK in letter.plain
    assert f'href="{LINK}"' in letter.html
    assert letter.stop_url == "", "it was asked for, there is nothing to stop"
    assert "safe to drive" not in letter.plain


def test_a_zone_nobody_knows_is_named() -> None:
    lost = replace(TEO, zone="Atlantis/Deep")
    with pytest.raises(BadInput, match="Atlantis/Deep"):
        come_in_letter(garage=GARAGE, person=lost, link=LINK, until=datetime(2026, 4, 14, 22, 20, tzinfo=UTC))
