"""Answers by mail count once, also if the process that takes them is killed again and again. The small number."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from pathlib import Path

from tests.faults import reply_kills
from tests.mail_in.imap_server import ImapServer

KILLS = 5


def test_killed_while_answers_lie_in_the_mailbox_it_counts_each_once(tmp_path: Path) -> None:
    with ImapServer() as server:
        report = reply_kills.run(server, tmp_path / "home", KILLS, seed=4)
    assert (report.kills, report.answers) == (KILLS, KILLS * reply_kills.ANSWERS_A_KILL)
    assert report.is_clean, str(report)
    assert report.told == 1, "one of ten figures is doubtful"


def test_an_answer_that_is_lost_or_counted_twice_would_be_noticed() -> None:
    """The guard can fail."""
    one, two, stranger = Decimal(12400), Decimal(12401), Decimal(7)
    for taken, lost, doubled in (
        (Counter([one, two]), [], []),
        (Counter([one]), [two], []),
        (Counter([one, one, two]), [], [one]),
        (Counter([one, two, stranger]), [], [stranger]),
    ):
        report = reply_kills.Report()
        reply_kills.judge(report, [one, two], taken)
        assert (report.lost, report.doubled) == (lost, doubled)
        assert report.is_clean is not bool(lost or doubled)
    assert not reply_kills.Report(unread=1).is_clean
