"""What was answered to what was sent under a key, so that sending it again counts once; what an API key may do."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "receipt",
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("body", sa.String(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("answer", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint("status BETWEEN 200 AND 299", name="answered_well"),
        sa.PrimaryKeyConstraint("key"),
    )
    op.create_index("receipt_by_age", "receipt", ["made_at"])
    op.add_column("access_key", sa.Column("scope", sa.String(), server_default="all", nullable=False))


def downgrade() -> None:
    op.drop_column("access_key", "scope")
    op.drop_index("receipt_by_age", "receipt")
    op.drop_table("receipt")
