"""The few scripts. Each is a comfort: every page is complete without."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent / "static"
ENTRY_SCRIPT = "entry.js"
FIND_SCRIPT = "find.js"
WAIT_SCRIPT = "wait.js"


@cache
def entry_script() -> str:
    """What the reading page carries inline, the only script that is: it would cost a thin line a request of its own."""
    return (FOLDER / ENTRY_SCRIPT).read_text("utf-8")


@cache
def entry_script_hash() -> str:
    """What stands for it in a content security policy (W3C CSP Level 3, 6.7.2.3): `sha256-...`."""
    return "sha256-" + base64.b64encode(hashlib.sha256(entry_script().encode()).digest()).decode("ascii")
