"""A mailbox server for the tests of this folder."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.mail_in.imap_server import ImapServer
from tests.mailer.conftest import certificate as certificate
from tests.mailer.conftest import other_certificate as other_certificate


@pytest.fixture
def server() -> Iterator[ImapServer]:
    """A mailbox without encryption."""
    with ImapServer() as running:
        yield running
