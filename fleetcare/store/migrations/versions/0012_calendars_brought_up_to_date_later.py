"""Vehicles whose change stands in no calendar yet: a reading is answered before calendars that show it are renewed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table("feed_owed", sa.Column("mark", sa.String(), nullable=False), sa.PrimaryKeyConstraint("mark"))


def downgrade() -> None:
    op.drop_table("feed_owed")
