"""Receipts: what was answered under a key, on every store."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from fleetcare.actions.ports import Receipt, Store
from fleetcare.errors import Clash
from tests.contracts.karst_ridge import CHANGE

NOON = datetime(2026, 4, 14, 12, tzinfo=UTC)


def receipt(key: str, made_at: datetime = NOON, answer: bytes = b"<p>Saved</p>\0\xff") -> Receipt:
    return Receipt(key, "what was sent", made_at, 200, answer)


def test_what_was_answered_comes_back_to_the_byte(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_receipt(receipt("a"))
        assert unit.receipt("a") == receipt("a")
    with store.read() as view:
        assert view.receipt("a") == receipt("a")
        assert view.receipt("b") is None


def test_a_key_answers_once(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_receipt(receipt("a"))
    with pytest.raises(Clash), store.write(CHANGE) as unit:
        unit.put_receipt(receipt("a", answer=b"something else"))
    with store.read() as view:
        assert view.receipt("a") == receipt("a")


def test_old_ones_are_forgotten_and_no_others(store: Store) -> None:
    with store.write(CHANGE) as unit:
        unit.put_receipt(receipt("old", NOON - timedelta(days=2)))
        unit.put_receipt(receipt("edge", NOON - timedelta(days=1)))
        unit.put_receipt(receipt("new"))
    with store.write(CHANGE) as unit:
        assert unit.drop_receipts(NOON - timedelta(days=1)) == 1
    with store.read() as view:
        assert [view.receipt(key) is not None for key in ("old", "edge", "new")] == [False, True, True]
