"""The language that a person chose; empty for none."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("person", sa.Column("language", sa.String(), nullable=False, server_default=""))


def downgrade() -> None:
    op.drop_column("person", "language")
