"""Sends the letters of a home until none waits, to be killed: python -m tests.faults.sending_process HOME PORT START"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from fleetcare.actions.send_letters import send_due_letters
from tests.faults.mail_world import LEASE, FastClock, open_home, waiting


def main(home: str, port: str, started_s: str) -> None:
    """Says so before the first letter."""
    clock = FastClock(float(started_s))
    parts = open_home(Path(home), clock, int(port))
    print("begins", flush=True)
    while waiting(parts.store):
        send_due_letters(parts.store, parts.mailer, parts.clock, lease=LEASE)
        time.sleep(0.05)


if __name__ == "__main__":
    main(*sys.argv[1:])
