"""What the columns of several tables are held to."""

from __future__ import annotations

from sqlalchemy import CheckConstraint

MOST_TENTHS = 10**12
"""Of any meter value."""


def one_of(column: str, kind: type, *, or_empty: bool = False) -> CheckConstraint:
    """That a column holds a value of that enumeration, or nothing where `or_empty`."""
    values = [member.value for member in kind]  # type: ignore[attr-defined]
    words = ", ".join(f"'{value}'" for value in ([""] if or_empty else []) + values)
    return CheckConstraint(f"{column} IN ({words})", name=f"{column}_known")
