"""Many writers at once: one after the other, nothing lost, nobody refused."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

from fleetcare.store.sql_store import open_store
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, MINUTE, NOW, settle_in
from tests.store.writer import count_up, start


def test_four_processes_that_read_and_then_write_lose_nothing(database_url: str) -> None:
    open_store(database_url).close()
    running = [start("count", database_url, "25") for _ in range(4)]
    for process in running:
        said = process.communicate(timeout=120)
        assert process.returncode == 0, said
    store = open_store(database_url)
    with store.read() as view:
        garage = view.garage()
        assert garage is not None
        assert garage.name == "100"
        assert view.version() == 100
    store.close()


def test_threads_that_read_and_then_write_lose_nothing(database_url: str) -> None:
    store = open_store(database_url, busy_timeout_s=60)
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda _: count_up(store, 10), range(8)))
    with store.read() as view:
        garage = view.garage()
        assert garage is not None
        assert garage.name == "80"
    store.close()


def test_several_processes_may_make_the_same_new_database(sqlite_url: str) -> None:
    running = [start("open", sqlite_url) for _ in range(4)]
    for process in running:
        said = process.communicate(timeout=120)
        assert process.returncode == 0, said


def test_one_letter_goes_to_one_of_many_senders(database_url: str) -> None:
    store = open_store(database_url, busy_timeout_s=60)
    with store.write(CHANGE) as unit:
        unit.add_delivery(kr.letter())
        number = unit.deliveries()[0].id or 0
    ready = threading.Barrier(8)

    def take(_: int) -> bool:
        ready.wait(30)
        with store.write(CHANGE) as unit:
            return unit.lease_delivery(number, NOW, NOW + MINUTE) is not None

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(take, range(8))) == 1
    store.close()


def test_the_same_reading_from_eight_phones_counts_once(database_url: str) -> None:
    store = open_store(database_url, busy_timeout_s=60)
    settle_in(store)

    def send(_: int) -> int:
        with store.write(CHANGE) as unit:
            return unit.add_readings([kr.reading()])

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(send, range(40))) == 1
    store.close()


def test_polls_from_ever_new_threads_do_not_pile_up_connections(sqlite_url: str) -> None:
    store = open_store(sqlite_url)
    with store.write(CHANGE) as unit:
        unit.put_key(kr.key())
        unit.put_feed(kr.contents())
    for _ in range(20):
        thread = threading.Thread(target=lambda: store.feed_by_key("aa11", NOW))
        thread.start()
        thread.join()
    assert len(store._idle_pollers) == 1
    with ThreadPoolExecutor(4) as pool:
        assert set(pool.map(lambda _: store.feed_by_key("aa11", NOW), range(100))) == {kr.feed()}
    store.close()
