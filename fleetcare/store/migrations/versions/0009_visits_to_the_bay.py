"""Visits to the bay: which services, hands-on and standing in turn, pencilled or inked."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "bay_visit",
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("begins_at", sa.String(), nullable=False),
        sa.Column("free_at", sa.String(), nullable=False),
        sa.Column("mechanic", sa.String(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("lines", sa.Text(), nullable=False),
        sa.Column("stretches", sa.Text(), nullable=False),
        sa.Column("moved_from", sa.String(), nullable=True),
        sa.CheckConstraint("free_at > begins_at", name="ends_after_it_begins"),
        sa.CheckConstraint("number >= 1", name="counted_from_one"),
        sa.CheckConstraint("state IN ('pencilled', 'inked', 'rubbed out')", name="state_known"),
        sa.ForeignKeyConstraint(["mark"], ["vehicle.mark"]),
        sa.PrimaryKeyConstraint("mark", "number"),
    )


def downgrade() -> None:
    op.drop_table("bay_visit")
