"""The version in which something was last written about a vehicle, so that a process knows what it still knows."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "fact_stamp",
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("version", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("mark"),
    )


def downgrade() -> None:
    op.drop_table("fact_stamp")
