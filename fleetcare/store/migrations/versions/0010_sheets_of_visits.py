"""Which visit to the bay a sheet belongs to, and on what day a visit's next hand was before its sheet moved it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("work_order", sa.Column("visit", sa.Integer(), nullable=False, server_default="0"))
    op.add_column("bay_visit", sa.Column("hands_moved_from", sa.String(), nullable=True))


def downgrade() -> None:
    op.drop_column("bay_visit", "hands_moved_from")
    op.drop_column("work_order", "visit")
