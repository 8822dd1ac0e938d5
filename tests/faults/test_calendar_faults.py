"""A calendar that fails costs nothing but its own freshness: each fault is told in a sentence, in time.

Limits are lower than in service, so that faults which go on for ever end soon; what is tested is that they end.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from fleetcare.calendar_in.limits import Limits
from fleetcare.calendar_in.reader import HttpCalendars
from fleetcare.errors import CalendarTrouble
from fleetcare.fleet.busy import CalendarAnswer, CalendarSource
from tests.calendar_in.texts import TODAY, source
from tests.faults.calendar_server import FAULTS, CalendarServer

QUICK = Limits(total_s=1.5, connect_s=1.0, read_s=0.7, cpu_s=2, series_s=0.2)
ENDS_WITHIN_S = 60.0
"""Far beyond any limit above: only a wait without an end gets there."""

REFUSED = {
    "drip": "in time",
    "drip-head": "in time",
    "silent": "in time",
    "endless": "MB",
    "endless-chunks": "MB",
    "announced": "MB",
    "bomb": "compressed",
    "reset": "cannot be reached",
    "short": "broke off",
    "no-http": "form of HTTP",
    "huge-head": "form of HTTP",
    "nothing": "broke off",
    "500": "500",
    "503": "503",
    "404": "no such calendar",
    "410": "no such calendar",
    "401": "does not let us in",
    "206": "206",
    "204": "204",
    "304": "nothing changed",
    "page": "no calendar",
    "page-as-calendar": "no calendar",
    "picture": "no calendar",
    "json": "no calendar",
    "empty": "no calendar",
    "odd-charset": "letters",
    "wrong-charset": "utf-8",
    "utf-16": "utf-8",
    "loop": "redirects",
    "ring": "redirects",
    "to-nowhere": "nowhere",
    "to-a-file": "nowhere",
    "to-ftp": "nowhere",
    "to-a-name": "nowhere",
    "to-odd": "nowhere",
    "cut": "cut off",
    "no-end": "cut off",
    "crossed": "nest",
    "deep": "deep",
    "many-events": "5000 events",
    "many-entries": "2000 entries",
    "many-lines": "lines",
    "slow-rules": "too long",
    "lunar": "Gregorian",
}
"""Fault, and what the sentence says."""

TAKEN_WITH_A_NOTICE = {
    "zone-bomb": (1, "no known time zone"),
    "millions": (0, "more often than daily"),
    "every-second": (0, "more often than daily"),
    "30-february": (0, "no month"),
}
"""Fault, entries that are left, and what one of the notices says."""

TAKEN = {"good": 1, "own-zone": 1, "one-long-line": 0}


@pytest.fixture
def server() -> Iterator[CalendarServer]:
    with CalendarServer() as running:
        yield running


def reader(limits: Limits = QUICK) -> HttpCalendars:
    """Reads from this machine, which is otherwise closed."""
    return HttpCalendars(openings=[("127.0.0.1", 0)], limits=limits)


def read(server: CalendarServer, fault: str, limits: Limits = QUICK) -> CalendarAnswer:
    """What comes of asking for that fault once."""
    return reader(limits).read(source(server.url(fault)), zone="America/Denver", today=TODAY)


def test_every_fault_has_its_verdict() -> None:
    assert {*REFUSED, *TAKEN_WITH_A_NOTICE, *TAKEN, "away"} == set(FAULTS)


@pytest.mark.parametrize("fault", REFUSED)
def test_a_fault_is_told_in_a_sentence_that_names_the_host_and_no_more(server: CalendarServer, fault: str) -> None:
    began_at = time.monotonic()
    with pytest.raises(CalendarTrouble) as told:
        read(server, fault)
    assert time.monotonic() - began_at < ENDS_WITHIN_S
    sentence = str(told.value)
    assert REFUSED[fault] in sentence
    assert told.value.remedy, "it says what happens next, or what to do"
    assert "s3cret" not in repr(told.value) + sentence + repr(told.value.__cause__)


@pytest.mark.parametrize("fault", TAKEN_WITH_A_NOTICE)
def test_one_bad_event_is_left_out_and_named(server: CalendarServer, fault: str) -> None:
    answer = read(server, fault)
    assert answer.copy is not None
    entries, notice = TAKEN_WITH_A_NOTICE[fault]
    assert len(answer.copy.events) == entries
    assert any(notice in each for each in answer.copy.notices), answer.copy.notices


@pytest.mark.parametrize("fault", TAKEN)
def test_what_only_looks_odd_is_taken(server: CalendarServer, fault: str) -> None:
    answer = read(server, fault)
    assert answer.copy is not None
    assert (len(answer.copy.events), answer.copy.notices) == (TAKEN[fault], ())


@pytest.mark.parametrize("fault", ["endless", "endless-chunks"])
def test_an_endless_answer_is_left_once_it_is_over_the_limit(server: CalendarServer, fault: str) -> None:
    with pytest.raises(CalendarTrouble):
        read(server, fault, replace(QUICK, octets=1_000_000, total_s=20))
    # A megabyte is taken; what else was sent lies in the buffers of the two sockets, a few megabytes each.
    assert 1_000_000 <= server.sent < 20_000_000


def test_at_most_three_redirects_are_followed(server: CalendarServer) -> None:
    with pytest.raises(CalendarTrouble):
        read(server, "ring")
    assert len(server.visits) == 4


def test_a_calendar_is_asked_for_plainly(server: CalendarServer) -> None:
    read(server, "good")
    (visit,) = server.visits
    assert visit.headers["accept-encoding"] == "identity"
    assert visit.headers["user-agent"] == "fleetcare"
    assert not {"cookie", "authorization", "referer", "if-none-match", "if-modified-since"} & set(visit.headers)


def test_a_redirect_leads_to_no_address_that_is_closed(server: CalendarServer) -> None:
    """The first server may be called, the second not: a canary that must hear nothing."""
    with CalendarServer() as canary:
        only_first = HttpCalendars(openings=[("127.0.0.1", server.port)], limits=QUICK)
        spellings = (
            "127.0.0.1",
            "127.1",
            "2130706433",
            "0x7f000001",
            "0177.0.0.1",
            "localhost",
            "[::ffff:127.0.0.1]",
            "0",
        )
        for host in spellings:
            server.elsewhere = f"http://{host}:{canary.port}/good/x.ics"
            with pytest.raises(CalendarTrouble):
                only_first.read(source(server.url("away")), zone="UTC", today=TODAY)
        vouched_for = replace(source(server.url("away")), may_be_private=True)
        with pytest.raises(CalendarTrouble, match="may not be called"):
            HttpCalendars(limits=QUICK).read(vouched_for, zone="UTC", today=TODAY)
        assert canary.visits == []
        assert len(server.visits) == len(spellings) + 1
        both = HttpCalendars(openings=[("127.0.0.1", 0)], limits=QUICK)
        server.elsewhere = canary.url("good")
        assert both.read(source(server.url("away")), zone="UTC", today=TODAY).copy is not None
        assert len(canary.visits) == 1, "the canary can hear"


def test_this_machine_is_closed_unless_somebody_opens_it(server: CalendarServer) -> None:
    with pytest.raises(CalendarTrouble, match="may not be called"):
        HttpCalendars(limits=QUICK).read(source(server.url("good")), zone="UTC", today=TODAY)
    assert server.visits == []
    vouched_for = replace(source(server.url("good")), may_be_private=True)
    assert HttpCalendars(limits=QUICK).read(vouched_for, zone="UTC", today=TODAY).copy is not None


def test_a_machine_that_is_not_there_is_told(server: CalendarServer) -> None:
    for url in ("http://127.0.0.1:1/x.ics", "http://no-such-name.invalid/x.ics"):
        with pytest.raises(CalendarTrouble, match="cannot be reached"):
            reader().read(source(url), zone="UTC", today=TODAY)


def test_an_unchanged_calendar_is_not_sent_again(server: CalendarServer) -> None:
    server.etag, server.last_modified = '"v1"', "Tue, 14 Apr 2026 10:00:00 GMT"
    first = read(server, "good")
    known = kept(source(server.url("good")), first)
    assert reader().read(known, zone="UTC", today=TODAY) == CalendarAnswer(None, '"v1"', server.last_modified)
    assert server.visits[-1].headers["if-none-match"] == '"v1"'
    server.etag = '"v2"'
    changed = reader().read(known, zone="UTC", today=TODAY)
    assert (changed.copy is not None, changed.etag) == (True, '"v2"')
    server.etag = ""
    dated = replace(known, etag="")
    assert reader().read(dated, zone="UTC", today=TODAY).copy is None
    assert server.visits[-1].headers["if-modified-since"] == server.last_modified


def test_after_a_week_a_calendar_is_read_whole_even_if_it_says_it_did_not_change(server: CalendarServer) -> None:
    """Repeats move into sight as the days go by, though the calendar stays the same."""
    server.etag = '"v1"'
    known = kept(source(server.url("good")), read(server, "good"))
    later = TODAY.replace(day=TODAY.day + 7)
    answer = reader().read(known, zone="UTC", today=later)
    assert answer.copy is not None
    assert answer.copy.read_on == later
    assert "if-none-match" not in server.visits[-1].headers


def test_nothing_of_an_address_reaches_a_log(server: CalendarServer, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    server.elsewhere = server.url("good", secret="second-s3cret")
    read(server, "away")
    for fault in ("500", "reset", "page", "silent"):
        with pytest.raises(CalendarTrouble):
            read(server, fault)
    assert len(server.visits) == 6
    assert "s3cret" not in caplog.text


def test_all_faults_at_once_leave_good_calendars_as_quick_as_the_limits_say(server: CalendarServer) -> None:
    """Each is alone with its fault: five good ones beside them are read, and no thread is left at the end."""
    faults = ["drip", "drip-head", "silent", "endless", "reset", "cut", "loop", "page", "bomb", "slow-rules"]
    with ThreadPoolExecutor(15) as pool:
        bad = [pool.submit(read, server, fault) for fault in faults]
        good = [pool.submit(read, server, "good", replace(QUICK, cpu_s=5, total_s=30, read_s=20)) for _ in range(5)]
        assert all(isinstance(each.exception(ENDS_WITHIN_S), CalendarTrouble) for each in bad)
        copies = [each.result(ENDS_WITHIN_S).copy for each in good]
    assert all(copy is not None and len(copy.events) == 1 for copy in copies)
    assert not [thread for thread in threading.enumerate() if thread.name == "looking up a calendar"]


def kept(source_: CalendarSource, answer: CalendarAnswer) -> CalendarSource:
    """The calendar with that answer."""
    return replace(source_, copy=answer.copy, etag=answer.etag, last_modified=answer.last_modified)
