"""Health, headers, logs, and what is answered when something goes wrong that nobody foresaw."""

from __future__ import annotations

import base64
import hashlib
import io
import logging
import re
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import httpx
import pytest

from fleetcare.actions.ports import Change, ReadView, Store, WriteUnit
from fleetcare.actions.write_letters import write_come_in_letter
from fleetcare.assemble import Parts, assemble
from fleetcare.calendar_feed.values import FeedBody, FeedStamp
from fleetcare.errors import StoreBusy, StoreFull, StoreTrouble
from fleetcare.fleet.access import Fetch, Purpose
from fleetcare.page.render import static_folder
from fleetcare.page.style import SHEETS
from fleetcare.settings.new_home import write_new_home
from fleetcare.web.app import STATIC_LIFE_S, create_app
from fleetcare.web.server import open_socket, port_of
from tests.web.conftest import Served, answering
from tests.web.pages import page_of

ENTRY = "sha256-" + base64.b64encode(hashlib.sha256((static_folder() / "entry.js").read_bytes()).digest()).decode(
    "ascii"
)
POLICY = (
    f"default-src 'none'; style-src 'self'; font-src 'self' data:; script-src 'self' '{ENTRY}'; img-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
ALWAYS = {
    # OWASP ASVS 5.0: 3.4.3, 3.4.5, 3.4.4, 14.3.2.
    "content-security-policy": POLICY,
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "cache-control": "no-store",
}


class Falling:
    """A store that raises the same whatever it is asked; while `trouble` is None it is the store within."""

    def __init__(self, within: Store) -> None:
        self.within = within
        self.trouble: Exception | None = None

    def _fall(self) -> None:
        if self.trouble is not None:
            raise self.trouble
        return

    @contextmanager
    def read(self) -> Iterator[ReadView]:
        """As the store within."""
        self._fall()
        with self.within.read() as view:
            yield view

    @contextmanager
    def write(self, change: Change, *, typed: bool = True) -> Iterator[WriteUnit]:
        """As the store within."""
        self._fall()
        with self.within.write(change, typed=typed) as unit:
            yield unit

    def feed_stamp(self, key_hash: str, now: datetime) -> FeedStamp | None:
        """As the store within."""
        self._fall()
        return self.within.feed_stamp(key_hash, now)

    def feed_by_key(self, key_hash: str, now: datetime) -> FeedBody | None:
        """As the store within."""
        self._fall()
        return self.within.feed_by_key(key_hash, now)

    def note_fetch(self, key_hash: str, fetch: Fetch) -> None:
        """As the store within."""
        self._fall()
        self.within.note_fetch(key_hash, fetch)

    def close(self) -> None:
        """The store within is closed by whoever opened it."""


@contextmanager
def falling(shared: Served) -> Iterator[tuple[str, Falling]]:
    """The shared garage served once more, on a store that can be made to fail; with its base address."""
    store = Falling(shared.parts.store)
    sock = open_socket("127.0.0.1", 0)
    parts: Parts = replace(shared.parts, store=store)
    url = f"http://127.0.0.1:{port_of(sock)}"
    with answering(create_app(parts), sock):
        yield url, store


def addresses(served: Served) -> list[tuple[str, dict[str, str]]]:
    """Every page there is to see, good and bad, with what a browser sends along."""
    teo = served.session("teo")
    stop = served.key(Purpose.STOP_LETTERS, person="teo")
    sign_in = served.key(Purpose.SIGN_IN, person="teo")
    url = served.url
    return [
        (f"{url}/", {}),
        (f"{url}/", teo),
        (f"{url}/readings", teo),
        (f"{url}/vehicles/BE/reading", teo),
        (f"{url}/vehicles/XX/reading", teo),
        (served.odometer("BE"), {}),
        (f"{url}/o/x", {}),
        (f"{url}/sign-in", {}),
        (f"{url}/sign-in/{sign_in}", {}),
        (f"{url}/sign-in/x", {}),
        (f"{url}/letters/stop/{stop}", {}),
        (f"{url}/nothing-here", {}),
        (f"{url}/healthz", {}),
        (f"{url}/api/due", {}),
        (f"{url}/api/openapi.json", {}),
        (f"{url}/static/nothing.css", {}),
    ]


def test_it_lives_and_is_ready(shared: Served, client: httpx.Client) -> None:
    assert client.get(f"{shared.url}/healthz").text == "alive\n"
    # Many watchers ask with HEAD.
    heads = [client.head(f"{shared.url}/{path}") for path in ("healthz", "readyz")]
    assert [(answer.status_code, answer.content) for answer in heads] == [(200, b"")] * 2
    answer = client.get(f"{shared.url}/readyz")
    letters = {"waiting": 0, "oldest_waits_minutes": 0, "came_back": 0, "ran_out_of_time": 0}
    assert (answer.status_code, answer.json()) == (
        200,
        {"ready": True, "troubles": [], "letters": letters, "calendars_not_read": 0},
    )


def test_without_a_garage_it_is_not_ready(tmp_path: Path, client: httpx.Client) -> None:
    write_new_home(tmp_path / "home")
    parts = assemble(tmp_path / "home", {})
    sock = open_socket("127.0.0.1", 0)
    try:
        with answering(create_app(parts, troubles=lambda: ("the timetable sleeps",)), sock):
            url = f"http://127.0.0.1:{port_of(sock)}"
            answer = client.get(f"{url}/readyz")
            assert answer.status_code == 503
            assert answer.json()["troubles"] == ["the timetable sleeps", "there is no garage here yet"]
            assert client.get(f"{url}/healthz").status_code == 200
            for path in ("/", "/sign-in", "/o/x", "/readings", "/api/due", "/nothing"):
                assert client.get(url + path).status_code < 500, path
    finally:
        parts.close()


def test_letters_that_wait_for_long_are_told(served: Served, client: httpx.Client) -> None:
    write_come_in_letter(served.parts.store, served.parts.desk, "teo@karstridge.example", now=served.clock.now())
    served.clock.move(timedelta(minutes=15))
    assert client.get(f"{served.url}/readyz").status_code == 200
    served.clock.move(timedelta(seconds=1))
    answer = client.get(f"{served.url}/readyz")
    assert answer.status_code == 503
    assert "letter" in answer.json()["troubles"][0]
    assert "teo" not in answer.text


@pytest.mark.parametrize(
    ("trouble", "status"),
    [
        (StoreBusy("Another program holds the database; nothing was changed."), 503),
        (StoreFull("There is no room left on the disk; nothing was changed."), 507),
        (StoreTrouble("The database cannot be opened."), 503),
    ],
)
def test_while_the_store_is_away_everything_says_so_and_then_goes_on(
    shared: Served, client: httpx.Client, trouble: StoreTrouble, status: int
) -> None:
    feed = f"/feeds/{shared.key(Purpose.FEED, person='teo')}.ics"
    page = shared.odometer("BE").removeprefix(shared.url)
    with falling(shared) as (url, store):
        store.trouble = trouble
        for path in ("/", page, "/sign-in/x", "/api/due"):
            answer = client.get(url + path)
            assert (answer.status_code, answer.headers["retry-after"]) == (status, "5"), path
        posted = client.post(url + page, data={"odo": "84210"})
        assert posted.status_code == status
        assert "Your reading was not saved." in page_of(posted).words
        # Nobody has fetched this feed yet, so there is no copy of it. A calendar reader keeps what it has on 503 and
        # comes again; a feed is never shown empty or gone.
        polled = client.get(url + feed)
        assert (polled.status_code, polled.headers["retry-after"]) == (503, "300")
        since = f"feeds are answered from their last good copies since {shared.clock.now():%Y-%m-%d %H:%M} UTC"
        assert client.get(f"{url}/readyz").json() == {"ready": False, "troubles": [since, str(trouble)]}
        assert client.get(f"{url}/healthz").status_code == 200
        store.trouble = None
        assert client.get(url + page).status_code == 200
        assert client.get(url + feed).status_code == 200
        assert client.get(f"{url}/readyz").status_code == 200


def test_what_nobody_foresaw_is_a_page_with_a_short_mark_and_no_inside(
    shared: Served, client: httpx.Client, caplog: pytest.LogCaptureFixture
) -> None:
    """ASVS 16.5.1 and 16.5.4: a generic answer and a last-resort handler; the mark finds the cause in the log."""
    page = shared.odometer("BE").removeprefix(shared.url)
    feed = f"/feeds/{shared.key(Purpose.FEED, person='teo')}.ics"
    with falling(shared) as (url, store):
        store.trouble = RuntimeError("inner secret at /srv/garage.py")
        shown = client.get(url + page)
        posted = client.post(url + page, data={"odo": "84210"})
        data = client.get(f"{url}/api/due")
        polled = client.get(url + feed)
    assert [answer.status_code for answer in (shown, posted, data, polled)] == [500] * 4
    for answer in (shown, posted, data, polled):
        for inside in ("secret", "RuntimeError", "Traceback", "garage.py", "Falling"):
            assert inside not in answer.text
    for answer in (shown, posted, data):
        assert {name: answer.headers[name] for name in ALWAYS} == ALWAYS
    found = re.search(r"tell who keeps the list: ([0-9A-F]{6})\b", page_of(shown).words)
    assert found is not None
    assert f"trouble {found[1]}" in caplog.text
    assert "inner secret" in caplog.text
    assert "Your reading was not saved." in page_of(posted).words
    assert re.search(r"[0-9A-F]{6}", data.json()["error"])


def test_every_answer_carries_the_headers_that_keep_it_safe(shared: Served, client: httpx.Client) -> None:
    for address, headers in addresses(shared):
        answer = client.get(address, headers=headers)
        assert {name: answer.headers.get(name) for name in ALWAYS} == ALWAYS, address
        assert "noindex" in answer.headers["x-robots-tag"]
        assert "server" not in answer.headers
        assert "access-control-allow-origin" not in answer.headers


def test_no_page_asks_anything_of_another_host(shared: Served, client: httpx.Client) -> None:
    own = urlsplit(shared.url).netloc
    seen: set[str] = set()
    for address, headers in addresses(shared):
        answer = client.get(address, headers=headers)
        if "text/html" not in answer.headers.get("content-type", ""):
            continue
        assert "<style" not in answer.text
        assert not re.search(r"<[^>]+\s(?:style|on[a-z]+)=", answer.text)
        for found in page_of(answer).addresses:
            absolute = urljoin(address, found)
            if absolute.startswith(("http:", "https:")):
                assert urlsplit(absolute).netloc == own, (address, found)
            if "/static/" in absolute:
                seen.add(absolute)
    assert seen
    for sheet in [each for each in seen if ".css" in each]:
        for found in re.findall(r"url\(([^)]+)\)", client.get(sheet).text):
            target = urljoin(sheet, found.strip("\"'"))
            assert target.startswith("data:") or urlsplit(target).netloc == own
            assert target.startswith("data:") or client.get(target).status_code == 200, target


def test_sheets_and_fonts_may_be_kept_for_long(shared: Served, client: httpx.Client) -> None:
    for name in (*SHEETS, "find.js"):
        answer = client.get(f"{shared.url}/static/{name}")
        assert answer.status_code == 200
        assert answer.headers["cache-control"] == f"public, max-age={STATIC_LIFE_S}"
    for climb in ("../render.py", "..%2frender.py", "%2e%2e/render.py", "../../../etc/passwd"):
        assert client.get(f"{shared.url}/static/{climb}").status_code == 404


def test_no_key_gets_into_the_log(shared: Served, client: httpx.Client, capfd: pytest.CaptureFixture[str]) -> None:
    """With uvicorn's own log settings and every logger of Python open, over good answers, bad ones and broken calls."""
    kept = io.StringIO()
    handler = logging.StreamHandler(kept)
    logging.getLogger().addHandler(handler)
    levels = {name: logging.getLogger(name).level for name in ("", "uvicorn", "uvicorn.error", "fleetcare")}
    try:
        for name in levels:
            logging.getLogger(name).setLevel(logging.DEBUG)
        # The client's own log is not the server's.
        logging.getLogger("httpx").setLevel(logging.CRITICAL)
        logging.getLogger("httpcore").setLevel(logging.CRITICAL)
        with falling(shared) as (url, store):
            key = shared.odometer("BE").rpartition("/")[2]
            paths = [f"/o/{key}", shared.feed("teo").removeprefix(shared.url), f"/sign-in/{key}", f"/x/{key}"]
            for trouble in (None, RuntimeError("stumbled"), StoreBusy("busy")):
                store.trouble = trouble
                for path in paths:
                    client.get(url + path, headers={"Cookie": f"fleetcare={key}", "Authorization": f"Bearer {key}"})
                    client.post(url + path, data={"odo": key})
            broken = urlsplit(url)
            with socket.create_connection((broken.hostname, broken.port), timeout=10) as raw:
                raw.sendall(f"GET /o/{key} HTTP/9.9 {key}\r\nno header\r\n\r\n".encode())
                raw.recv(4096)
    finally:
        logging.getLogger().removeHandler(handler)
        for name, level in levels.items():
            logging.getLogger(name).setLevel(level)
        for name in ("httpx", "httpcore"):
            logging.getLogger(name).setLevel(logging.NOTSET)
    printed = capfd.readouterr()
    told = kept.getvalue() + printed.out + printed.err
    assert "stumbled" in told  # the log was open
    with shared.parts.store.read() as view:
        feed_key = shared.feed("teo").rpartition("/")[2].removesuffix(".ics")
        assert not [secret for secret in (key, feed_key) if secret in told]
        assert not [each.hash for purpose in Purpose for each in view.keys(purpose) if each.hash in told]
