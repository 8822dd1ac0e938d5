"""Calendars of people, vehicles and bays that are read by their URL, each with its last good copy."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "outside_calendar",
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("owner_kind", sa.String(), nullable=False),
        sa.Column("owner", sa.String(), nullable=False),
        sa.Column("url", sa.Text(), nullable=False),
        sa.Column("may_be_private", sa.Boolean(), nullable=False),
        sa.Column("etag", sa.Text(), nullable=False),
        sa.Column("last_modified", sa.String(), nullable=False),
        sa.Column("tried_at", sa.String(), nullable=True),
        sa.Column("good_at", sa.String(), nullable=True),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("trouble", sa.Text(), nullable=False),
        sa.Column("last_copy", sa.Text(), nullable=True),
        sa.CheckConstraint("failures >= 0", name="failures_count_up"),
        sa.CheckConstraint("owner_kind IN ('person', 'vehicle', 'bay')", name="owner_kind_known"),
        sa.PrimaryKeyConstraint("key"),
    )


def downgrade() -> None:
    op.drop_table("outside_calendar")
