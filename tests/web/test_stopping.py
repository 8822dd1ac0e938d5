"""A real serving process that is told to stop, and started again."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest

from fleetcare.actions.links import make_key
from fleetcare.assemble import assemble
from fleetcare.fleet.access import Purpose
from tests.web.stored import used

PATIENCE_S = 60.0


@contextmanager
def process(
    *words: str, home: Path, log: Path, **environment: str
) -> Iterator[tuple[subprocess.Popen[str], dict[str, object]]]:
    """A fleetcare command that serves, once it answers, with the line it printed."""
    environ = {name: value for name, value in os.environ.items() if not name.startswith("FLEETCARE_")} | environment
    with open(log, "a", encoding="utf-8") as errors:
        running = subprocess.Popen(
            [sys.executable, "-c", "from fleetcare.cli import main; main()"]
            + [*words, "--home", str(home), "--port", "0", "--json"],
            stdout=subprocess.PIPE,
            stderr=errors,
            text=True,
            env=environ,
        )
        try:
            assert running.stdout is not None
            line = running.stdout.readline()
            assert line, log.read_text(encoding="utf-8")
            yield running, json.loads(line)
        finally:
            if running.poll() is None:
                running.kill()
            running.wait(20)
            if running.stdout is not None:
                running.stdout.close()


def stop(running: subprocess.Popen[str], number: signal.Signals = signal.SIGTERM) -> tuple[int, float]:
    """Tells it to stop; exit code, and seconds until it was gone."""
    begun = time.monotonic()
    running.send_signal(number)
    return running.wait(20), time.monotonic() - begun


def letters(home: Path) -> dict[str, bytes]:
    """Every letter in the folder, by file name."""
    return {path.name: path.read_bytes() for path in (home / "letters").glob("*.eml")}


def deliveries(home: Path) -> list[tuple[object, ...]]:
    """Who got what for which period, and how it stands."""
    parts = assemble(home, {})
    try:
        with parts.store.read() as view:
            return [(d.person, d.kind, d.period, d.message_id, d.state, d.tries) for d in view.deliveries()]
    finally:
        parts.close()


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_told_to_stop_it_finishes_what_is_under_way_and_a_restart_sends_nothing_twice(tmp_path: Path) -> None:
    home, log = tmp_path / "home", tmp_path / "log"
    with process("demo", home=home, log=log) as (running, told):
        readings = told["readings"]
        assert isinstance(readings, dict)
        address = str(readings["BE"])
        _wait_for_letters(home)
        with under_way(address, "odo=84210") as finish:
            running.send_signal(signal.SIGTERM)
            time.sleep(0.5)
            answer = finish()
        begun = time.monotonic()
        assert running.wait(20) == 0, log.read_text(encoding="utf-8")
        assert time.monotonic() - begun < 10
    assert answer.startswith(b"HTTP/1.1 200"), answer[:200]
    key = urlsplit(address).path.rpartition("/")[2]
    first, rows = letters(home), deliveries(home)
    assert first
    with process("serve", home=home, log=log) as (running, told):
        front = str(told["front"])
        assert httpx.get(front + "o/" + key, trust_env=False).status_code == 200
        _wait_until_ready(front)
        code, took_s = stop(running)
        assert (code, took_s < 10) == (0, True)
    assert letters(home) == first
    assert deliveries(home) == rows
    parts = assemble(home, {})
    try:
        assert [r for r in used(parts.store, "BE") if r.value == 84210]
    finally:
        parts.close()
    assert key not in log.read_text(encoding="utf-8")
    assert "Traceback" not in log.read_text(encoding="utf-8")


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_an_idle_connection_does_not_keep_it_from_stopping(tmp_path: Path) -> None:
    """SIGINT, as Ctrl-C sends it, ends alike."""
    with process("serve", home=tmp_path / "home", log=tmp_path / "log") as (running, told):
        place = urlsplit(str(told["front"]))
        with socket.create_connection((str(place.hostname), place.port or 80), timeout=20) as idle:
            idle.sendall(b"GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n")
            came = b""
            while not came.endswith(b"alive\n"):
                came += idle.recv(4096)
            code, took_s = stop(running, signal.SIGINT)
    assert (code, took_s < 10) == (0, True)


@contextmanager
def under_way(address: str, body: str) -> Iterator[Callable[[], bytes]]:
    """A POST whose last byte is still to come; what is given sends it and returns the answer."""
    place = urlsplit(address)
    with socket.create_connection((str(place.hostname), place.port or 80), timeout=20) as line:
        head = (
            f"POST {place.path} HTTP/1.1\r\nHost: {place.netloc}\r\nConnection: close\r\n"
            f"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {len(body)}\r\n\r\n"
        )
        line.sendall((head + body[:-1]).encode())
        time.sleep(0.3)

        def finish() -> bytes:
            line.sendall(body[-1:].encode())
            return b"".join(iter(lambda: line.recv(65536), b""))

        yield finish


def _wait_for_letters(home: Path) -> None:
    end = time.monotonic() + PATIENCE_S
    while not letters(home) and time.monotonic() < end:
        time.sleep(0.1)


def _wait_until_ready(front: str) -> None:
    end = time.monotonic() + PATIENCE_S
    while httpx.get(front + "readyz", trust_env=False).status_code != 200 and time.monotonic() < end:
        time.sleep(0.1)


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="processes as Linux tells of them")
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL])
def test_a_search_for_bay_days_ends_with_the_server_however_that_ends(tmp_path: Path, number: signal.Signals) -> None:
    home, log = tmp_path / "home", tmp_path / "log"
    # By itself it would plan in its first minute, and one plan is worked out at a time.
    with process("demo", home=home, log=log, FLEETCARE_PLAN_AGAIN="false") as (running, told):
        front = str(told["front"])
        _wait_until_ready(front)
        parts = assemble(home, {})
        with parts.store.read() as view:
            garage = view.garage()
        assert garage is not None
        key = make_key(
            parts.store, parts.keys, now=parts.clock.now(), who="test", purpose=Purpose.API, person=garage.list_keeper
        )
        parts.close()
        signed = {"Authorization": f"Bearer {key}"}
        began = httpx.post(f"{front}api/plan/propose", json={}, headers=signed, trust_env=False)
        assert began.status_code == 202, began.text
        child = _child_of(running.pid)
        code, took_s = stop(running, number)
        assert _is_gone(child)
    if number is signal.SIGTERM:
        assert (code, took_s < 15) == (0, True)
    assert "Traceback" not in log.read_text(encoding="utf-8")


def _child_of(asking: int) -> int:
    """The process that searches, once there is one."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        for each in Path("/proc").glob("[0-9]*"):
            try:
                parent = int((each / "stat").read_text(encoding="utf-8").rpartition(")")[2].split()[1])
                words = (each / "cmdline").read_bytes()
            except OSError:
                continue
            if parent == asking and b"apart_child" in words:
                return int(each.name)
        time.sleep(0.05)
    raise AssertionError("no search began")


def _is_gone(process: int) -> bool:
    """Ended within a while; what nobody has waited for yet counts as that."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        try:
            if Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] == "Z":
                return True
        except OSError:
            return True
        time.sleep(0.05)
    return False
