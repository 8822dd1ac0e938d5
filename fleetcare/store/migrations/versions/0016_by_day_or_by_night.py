"""By day or by night, as a person chose for their pages; `device` for as the device asks."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("person", sa.Column("light", sa.String(), nullable=False, server_default="device"))


def downgrade() -> None:
    op.drop_column("person", "light")
