"""Sentences are kept with their figures, so that they can be told in any language; older ones stay as they stand."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None

SAID = (
    ("reading", "note_said"),
    ("outside_calendar", "trouble_said"),
    ("bay_visit", "reason_said"),
    ("found", "settled_said"),
    ("log", "why_said"),
    ("log", "before_said"),
    ("log", "after_said"),
)


def upgrade() -> None:
    for table, column in SAID:
        op.add_column(table, sa.Column(column, sa.Text(), nullable=False, server_default=""))


def downgrade() -> None:
    for table, column in reversed(SAID):
        op.drop_column(table, column)
