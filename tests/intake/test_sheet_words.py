"""What is written on a sheet in words becomes values, strictly, and what cannot be read is refused with an example."""

from __future__ import annotations

from decimal import Decimal

import pytest

from fleetcare.errors import FleetcareError
from fleetcare.intake.sheet_words import (
    fill_from,
    follow_from,
    hands_from,
    part_from,
    seen_from,
    torque_from,
)
from fleetcare.quantities import DistanceUnit, TorqueUnit
from fleetcare.settings.finding_files import load_findings
from fleetcare.settings.places import shipped_config
from fleetcare.work.findings import Follow, FollowKind
from fleetcare.work.found import Seen
from fleetcare.work.order import Filled, PartUsed, TorqueSet

BOOK = load_findings(shipped_config() / "findings.toml")


def test_words_become_values() -> None:
    assert fill_from("rear-axle = 2,6") == Filled("rear-axle", "", Decimal("2.6"))
    assert torque_from("rear-axle/cover bolts=40") == TorqueSet("rear-axle", "cover bolts", Decimal(40), TorqueUnit.NM)
    for text in ("30 lb·ft", "30 lbf ft", "30 LB FT", "30 lb.ft"):
        assert torque_from(f"rear-axle/fill plug={text}").unit is TorqueUnit.LBF_FT
    assert part_from("sealant = 1 tube @ 12.90") == PartUsed("sealant", Decimal(1), "tube", Decimal("12.90"))
    assert part_from("lint-free wipes") == PartUsed("lint-free wipes")
    assert hands_from("Teo=140") == ("Teo", 140)
    assert seen_from("rear-axle/pattern/drive side=toe", BOOK) == Seen("rear-axle", "pattern", "toe", "drive side")
    assert seen_from("brakes/pads/front left=4.5 mm", BOOK) == Seen(
        "brakes", "pads", place="front left", value=Decimal("4.5")
    )


def test_what_follows_is_read_as_it_is_said() -> None:
    assert follow_from("Nothing") == Follow(FollowKind.NOTHING)
    assert follow_from("do not drive") == Follow(FollowKind.HOLD)
    assert follow_from("look again 500 mi or 28 days") == Follow(
        FollowKind.LOOK_AGAIN, Decimal(500), DistanceUnit.MI, 28
    )
    assert follow_from("look again after 800 km") == Follow(FollowKind.LOOK_AGAIN, Decimal(800), DistanceUnit.KM)
    assert follow_from("look again 1 day") == Follow(FollowKind.LOOK_AGAIN, days=1)
    assert follow_from("shorten to 0.5") == Follow(FollowKind.SHORTEN, factor=Decimal("0.5"))


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (fill_from, "2.6"),
        (fill_from, "rear-axle=much"),
        (fill_from, "rear-axle=-1"),
        (fill_from, "rear-axle=2600"),
        (torque_from, "rear-axle/cover bolts=forty"),
        (torque_from, "rear-axle/cover bolts=40 kN"),
        (torque_from, "rear-axle=40"),
        (part_from, ""),
        (part_from, "sealant=some"),
        (part_from, "sealant=1 @ a lot"),
        (hands_from, "Teo"),
        (hands_from, "Teo=0"),
        (hands_from, "Teo=1.5"),
        (follow_from, "look again"),
        (follow_from, "look again 999999 days"),
        (follow_from, "shorten 2"),
        (follow_from, "perhaps"),
        (lambda text: seen_from(text, BOOK), "rear-axle=flakes"),
        (lambda text: seen_from(text, BOOK), "brakes/pads/front left=thin"),
        (lambda text: seen_from(text, BOOK), "rear-axle/magnets=flakes"),
    ],
)
def test_what_cannot_be_read_is_refused(read: object, text: str) -> None:
    with pytest.raises(FleetcareError) as refused:
        read(text)  # type: ignore[operator]
    assert len(str(refused.value)) > 15
