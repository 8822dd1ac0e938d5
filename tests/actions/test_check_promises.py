"""The proofs over what is stored: each can fail, and none does by itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from fleetcare.actions.check_promises import check_promises
from fleetcare.actions.links import publish_feed
from fleetcare.actions.ports import Change
from fleetcare.digest.values import Delivery, DeliveryState, LetterKind
from fleetcare.due.outlook import DueWindow, NoDate
from fleetcare.fleet.component import LineKey
from fleetcare.meter.reading import Door, Reading
from fleetcare.quantities import MeterUnit
from tests.actions.garages import BASE_URL, DEMO_NOW, demo, pocket_leaves

TODAY = date(2026, 4, 14)


def test_each_promise_that_is_broken_is_named() -> None:
    """Every proof is broken once on purpose; none holds by chance."""
    stage = demo()
    publish_feed(stage.store, stage.rules, "noor", now=DEMO_NOW, base_url=BASE_URL)
    assert check_promises(stage.store, stage.rules, now=DEMO_NOW).broken == ()
    with stage.store.write(Change("test", "broken on purpose", DEMO_NOW)) as unit:
        windows = unit.windows()
        moved = next(key for key, window in windows.items() if isinstance(window, DueWindow))
        gone = next(key for key in windows if key != moved)
        unit.put_windows({moved: NoDate.NO_USE, LineKey("AN", "roof", "roof-rack"): NoDate.NO_USE})
        unit.drop_windows((gone,))
        reading = Reading("PO", "odometer", TODAY, Decimal(7), MeterUnit("mi"), DEMO_NOW, "noor", Door.FILE)
        unit.add_readings((reading,))
        (feed,) = unit.feed_contents([("noor", "")])
        unit.put_feed(replace(feed, head=feed.head + b"SUMMARY:Thistle: brake pads\r\n"))
    letter = Delivery(
        "teo",
        LetterKind.GARAGE,
        "2026-W16",
        "<a@b>",
        "Garage letter",
        "teo@karstridge.example",
        b"raw",
        DEMO_NOW,
        DEMO_NOW,
        DeliveryState.SENT,
    )
    # A store refuses the second of these; they are laid in behind its back.
    stage.store._memory.deliveries.update({1: replace(letter, id=1), 2: replace(letter, id=2)})
    broken = "\n".join(check_promises(stage.store, stage.rules, now=DEMO_NOW).broken)
    assert f"{moved} is stored as no use in sight, not early" in broken
    assert f"{gone} has neither" in broken
    assert "AN/roof/roof-rack is stored, but there is no such line" in broken
    assert f"{moved} stands at no use in sight, which no entry explains" in broken
    assert "no used reading contradicts another: PO, odometer: " in broken
    assert "noor is shown Thistle" in broken
    assert "teo has 2 of garage letter 2026-W16" in broken
    assert "Garage letter to teo counts as sent, but has no moment" in broken


def test_dates_of_yesterday_hold_until_somebody_works_the_day_out() -> None:
    """Nobody has worked the day out on which Pocket has left; its dates of the day before are no broken promise."""
    stage = demo()
    later = DEMO_NOW + timedelta(days=3)
    pocket_leaves(stage, later.date())
    assert check_promises(stage.store, stage.rules, now=later).broken == ()
    with stage.store.write(Change("test", "broken on purpose", DEMO_NOW)) as unit:
        key, window = next((k, w) for k, w in unit.windows(("PO",)).items() if isinstance(w, DueWindow))
        unit.put_windows({key: replace(window, late=window.late + timedelta(days=400))})
    broken = check_promises(stage.store, stage.rules, now=later).broken
    assert any(f"{key} is stored as" in sentence for sentence in broken)
