"""A reading that was acknowledged is never lost, and one that is sent again counts once. The small numbers."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults import reading_kills, reading_syncs
from tests.faults.reading_server import ReadingServer, demo_server

KILLS = 5
SYNCS = 20


@pytest.fixture
def server(tmp_path: Path) -> Iterator[ReadingServer]:
    made = demo_server(tmp_path / "home")
    try:
        yield made
    finally:
        made.kill()


def test_killed_under_readings_it_loses_none_that_was_acknowledged_and_doubles_none(server: ReadingServer) -> None:
    report = reading_kills.run(server, KILLS, seed=7)
    assert report.acknowledged >= KILLS
    assert (report.lost, report.doubled) == ([], []), str(report)


def test_nothing_is_acknowledged_before_it_is_on_the_disk(server: ReadingServer, tmp_path: Path) -> None:
    if not reading_syncs.can_trace():
        pytest.skip("no strace on the path; install one to see the order of writes and answers")
    found = reading_syncs.run(server, SYNCS, tmp_path / "trace")
    assert (found.answers, found.early) == (SYNCS, 0)


def test_an_answer_before_the_sync_would_be_noticed() -> None:
    """The guard can fail."""
    write, sync = 'pwrite64(9</h/f.sqlite3-wal>, "x", 1, 0) = 1', "fdatasync(9</h/f.sqlite3-wal>) = 0"
    answer = 'sendto(12<socket:[1]>, "HTTP/1.1 201 Created", 20, 0, NULL, 0) = 20'
    assert reading_syncs.order_of("\n".join((write, sync, answer))) == reading_syncs.Order(1, 0)
    assert reading_syncs.order_of("\n".join((write, answer, sync))) == reading_syncs.Order(1, 1)
    assert reading_syncs.order_of("\n".join((write, sync, answer, answer))) == reading_syncs.Order(2, 1)
