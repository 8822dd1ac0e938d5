"""What lies on the shelf: consumables and parts, counted down by closed work."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "shelf",
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("amount", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("pack", sa.String(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key"),
    )
    op.create_table(
        "shelf_draw",
        sa.Column("sheet", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("amount", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("sheet", "key"),
    )


def downgrade() -> None:
    op.drop_table("shelf_draw")
    op.drop_table("shelf")
