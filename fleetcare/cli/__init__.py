"""The commands. Each parses, calls one action and shows what came of it; heavy parts are loaded where they are used."""

from __future__ import annotations

from fleetcare.cli.frame import app, main

__all__ = ["app", "main"]
