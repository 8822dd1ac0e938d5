"""Numbers learned from the garage, what dates are made of, and who vouched for a reading."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def _guards(database: str) -> list[str]:
    """Triggers: what was learned is added to, never changed."""
    if database == "sqlite":
        stays = "SELECT RAISE(ABORT, 'what was learned stays as it was')"
        return [
            f"CREATE TRIGGER fitted_stays BEFORE UPDATE ON fitted BEGIN {stays}; END",
            f"CREATE TRIGGER fitted_is_kept BEFORE DELETE ON fitted BEGIN {stays}; END",
        ]
    return [
        "CREATE TRIGGER fitted_stays BEFORE UPDATE OR DELETE ON fitted FOR EACH ROW EXECUTE FUNCTION refuse()",
        "CREATE TRIGGER fitted_is_not_emptied BEFORE TRUNCATE ON fitted EXECUTE FUNCTION refuse()",
    ]


def upgrade() -> None:
    op.create_table(
        "fitted",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("fitted_at", sa.String(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("numbers", sa.Text(), nullable=False),
        sa.Column("basis", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "line_inputs",
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("rules", sa.String(), nullable=False),
        sa.Column("whole", sa.Boolean(), nullable=False),
        sa.Column("numbers", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["mark"],
            ["vehicle.mark"],
        ),
        sa.PrimaryKeyConstraint("mark"),
    )
    # Plain, not in batch mode: that would make the table anew and lose its triggers.
    op.add_column("reading", sa.Column("vouched_by", sa.String(), server_default="", nullable=False))
    for statement in _guards(op.get_bind().dialect.name):
        op.execute(statement)


def downgrade() -> None:
    op.execute("ALTER TABLE reading DROP COLUMN vouched_by")
    op.drop_table("line_inputs")
    op.drop_table("fitted")
