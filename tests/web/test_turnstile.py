"""What one address and one key may send in a minute; what is refused changes nothing and says when to come again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx

from fleetcare.fleet.access import Purpose
from fleetcare.web.turnstile import MISSES_A_MINUTE, NAMES_KEPT, SIGN_INS_A_MINUTE, Buckets
from tests.web.conftest import Prepared, serving
from tests.web.pages import page_of
from tests.web.stored import everything

NOON = datetime(2026, 4, 14, 12, tzinfo=UTC)


def test_a_bucket_holds_a_minutes_worth_and_fills_up_evenly() -> None:
    bucket = Buckets(6)
    for _ in range(6):
        assert not bucket.is_empty("a", NOON)
        bucket.take("a", NOON)
    assert bucket.is_empty("a", NOON)
    assert not bucket.is_empty("b", NOON)
    # Six a minute is one in ten seconds.
    assert bucket.is_empty("a", NOON + timedelta(seconds=9))
    assert not bucket.is_empty("a", NOON + timedelta(seconds=10))
    assert bucket.is_empty("a", NOON - timedelta(days=1))


def test_a_bucket_remembers_no_more_than_it_may() -> None:
    bucket = Buckets(1)
    for number in range(NAMES_KEPT + 5):
        bucket.take(str(number), NOON)
    assert len(bucket._left) == NAMES_KEPT
    assert bucket.is_empty(str(NAMES_KEPT + 4), NOON)
    assert not bucket.is_empty("0", NOON)


def test_who_sends_too_often_waits_and_nothing_is_changed(
    prepared: Prepared, tmp_path: Path, client: httpx.Client
) -> None:
    with serving(tmp_path / "home", prepared=prepared, sends_a_minute=5) as served:
        address = served.odometer("BE")
        for _ in range(5):
            assert client.post(address, data={"odo": "84k"}).status_code == 422
        before = everything(served.parts.store)
        refused = client.post(address, data={"odo": "84210"})
        assert (refused.status_code, refused.headers["retry-after"]) == (429, "60")
        assert "wait a minute" in page_of(refused).words
        api = client.post(
            f"{served.url}/api/readings", json={"vehicle": "BE", "value": 1}, headers=served.bearer("teo")
        )
        assert (api.status_code, list(api.json())) == (429, ["error"])
        assert client.get(address).status_code == 200, "looking is not counted"
        assert everything(served.parts.store).count("84210") == before.count("84210")
        served.clock.move(timedelta(minutes=1))
        assert client.post(address, data={"odo": "84210"}).status_code == 200


def test_who_tries_keys_gets_nothing_more_for_a_while(prepared: Prepared, tmp_path: Path, client: httpx.Client) -> None:
    with serving(tmp_path / "home", prepared=prepared, sends_a_minute=1000) as served:
        good = served.key(Purpose.ODOMETER, mark="BE")
        for number in range(MISSES_A_MINUTE):
            assert client.get(f"{served.url}/o/{number:043d}").status_code == 404
        # From here on a good key and a wrong one look alike, so that nothing can be learned by trying on.
        assert [client.get(f"{served.url}/o/{key}").status_code for key in (good, "x")] == [429, 429]
        assert client.get(served.url).status_code == 200
        served.clock.move(timedelta(minutes=1))
        assert client.get(f"{served.url}/o/{good}").status_code == 200


def test_a_way_in_is_asked_for_a_few_times_a_minute(prepared: Prepared, tmp_path: Path, client: httpx.Client) -> None:
    with serving(tmp_path / "home", prepared=prepared, sends_a_minute=1000) as served:
        asked = [client.post(f"{served.url}/sign-in", data={"mail": "no@one.example"}) for _ in range(12)]
        assert [a.status_code for a in asked] == [200] * SIGN_INS_A_MINUTE + [429, 429]
