"""Mail servers on this machine, a certificate of their own, and letters to send."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.mailer.servers import RealServer, ScriptedServer


@pytest.fixture(scope="session")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate for 127.0.0.1 and localhost that nobody vouches for, and its key."""
    return certificate_in(tmp_path_factory.mktemp("certificate"))


@pytest.fixture(scope="session")
def other_certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Another one of that kind, which does not vouch for the first."""
    return certificate_in(tmp_path_factory.mktemp("other-certificate"))


def certificate_in(folder: Path) -> tuple[Path, Path]:
    """A new certificate for 127.0.0.1 and localhost, and its key."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("the openssl command is not there to make a certificate with")
    cert, key = folder / "cert.pem", folder / "key.pem"
    subprocess.run(
        [openssl, "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
        + ["-days", "2", "-subj", "/CN=localhost", "-addext", "subjectAltName=IP:127.0.0.1,DNS:localhost"]
        + ["-keyout", str(key), "-out", str(cert)],
        check=True,
        capture_output=True,
    )
    return cert, key


@pytest.fixture
def server() -> Iterator[RealServer]:
    """A plain mail server."""
    with RealServer() as running:
        yield running


@pytest.fixture
def tls_server(certificate: tuple[Path, Path]) -> Iterator[RealServer]:
    """A mail server that wants STARTTLS, and sign-in by teo with an open secret."""
    with RealServer(certificate=certificate, user="teo", password="0pen secret") as running:
        yield running


@pytest.fixture
def scripted() -> Iterator[ScriptedServer]:
    """A mail server that does as it is told, also what no server should."""
    with ScriptedServer() as running:
        yield running
