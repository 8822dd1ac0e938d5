"""A served garage for the tests with real subscribers."""

from __future__ import annotations

from tests.web.conftest import prepared, served

__all__ = ["prepared", "served"]
