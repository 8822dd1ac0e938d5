"""Over TLS the certificate is held against the name in the address, though a number is what is connected to."""

from __future__ import annotations

import shutil
import socket
import ssl
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from fleetcare.calendar_in.limits import Limits
from fleetcare.calendar_in.reader import HttpCalendars
from fleetcare.errors import CalendarTrouble
from tests.calendar_in.texts import TODAY, source, trip


def certificate(folder: Path, name: str) -> tuple[Path, Path]:
    """A certificate for that name that nobody vouches for, and its key."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("the openssl command is not there to make a certificate with")
    cert, key = folder / f"{name}.pem", folder / f"{name}.key"
    subprocess.run(
        [openssl, "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2"]
        + ["-subj", f"/CN={name}", "-addext", f"subjectAltName=DNS:{name}", "-keyout", str(key), "-out", str(cert)],
        check=True,
        capture_output=True,
    )
    return cert, key


@contextmanager
def serving(cert: Path, key: Path) -> Iterator[int]:
    """A server that serves one trip over TLS to whoever takes its certificate; its port."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(cert, key)
    listening = socket.create_server(("127.0.0.1", 0))
    listening.settimeout(30)

    def serve() -> None:
        with suppress(OSError):
            while True:
                line, _ = listening.accept()
                with suppress(OSError), line, context.wrap_socket(line, server_side=True) as secure:
                    secure.recv(4096)
                    body = trip()
                    head = f"HTTP/1.1 200 OK\r\nContent-Type: text/calendar\r\nContent-Length: {len(body)}\r\n\r\n"
                    secure.sendall(head.encode() + body)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield int(listening.getsockname()[1])
    finally:
        listening.close()


def reader(trusted: Path | None) -> HttpCalendars:
    """A reader that trusts that certificate, or what the machine trusts."""
    tls = ssl.create_default_context(cafile=None if trusted is None else str(trusted))
    return HttpCalendars(openings=[("127.0.0.1", 0)], tls=tls, limits=Limits(total_s=20))


def test_the_certificate_has_to_be_in_order_and_for_that_name(tmp_path: Path) -> None:
    cert, key = certificate(tmp_path, "localhost")
    with serving(cert, key) as port:
        there = source(f"https://localhost:{port}/x.ics")
        answer = reader(cert).read(there, zone="UTC", today=TODAY)
        assert answer.copy is not None
        assert len(answer.copy.events) == 1
        for trusted, url in ((None, there.url), (cert, f"https://127.0.0.1:{port}/x.ics")):
            with pytest.raises(CalendarTrouble, match="certificate"):
                reader(trusted).read(source(url), zone="UTC", today=TODAY)
    other, other_key = certificate(tmp_path, "other.example")
    with serving(other, other_key) as port, pytest.raises(CalendarTrouble, match="certificate"):
        reader(other).read(source(f"https://localhost:{port}/x.ics"), zone="UTC", today=TODAY)
