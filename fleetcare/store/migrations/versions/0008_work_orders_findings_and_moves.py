"""Work orders, what was found on their sheets, and components that move from one vehicle to another."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

STATES = "'planned', 'in hand', 'standing', 'closed', 'deferred', 'abandoned'"
FOLLOWS = "'nothing', 'look again', 'shorten the next interval', 'do not drive'"


def _text(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text(), nullable=False) for name in names]


def _word(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.String(), nullable=False) for name in names]


def _word_or_none(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.String(), nullable=True) for name in names]


def upgrade() -> None:
    op.create_table(
        "work_order",
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        *_word("mark", "state", "title", "opened_on", "opened_by"),
        *_word_or_none("planned_on"),
        *_word("bay"),
        *_text("mechanics"),
        *_word_or_none("started_at", "stands_until", "until_day"),
        *_text("reason"),
        *_word_or_none("start_dial", "end_dial", "closed_on", "closed_at"),
        *_text("services", "stages", "fills", "torques", "parts", "hands", "note", "told"),
        *_word("signed_by", "handed_in"),
        *_text("photos"),
        *_word_or_none("was"),
        *_text("events"),
        sa.CheckConstraint("number > 0", name="number_of_a_sheet"),
        sa.CheckConstraint("(state = 'closed') = (closed_on IS NOT NULL)", name="closed_on_a_day"),
        sa.CheckConstraint(f"state IN ({STATES})", name="state_known"),
        sa.ForeignKeyConstraint(["mark"], ["vehicle.mark"]),
        sa.PrimaryKeyConstraint("number"),
    )
    op.create_index("work_order_by_mark", "work_order", ["mark", "number"], unique=False)
    op.create_table(
        "found",
        sa.Column("sheet", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("place_on_sheet", sa.Integer(), autoincrement=False, nullable=False),
        *_word("mark", "component", "kind", "grade"),
        *_text("words"),
        *_word("day", "place"),
        *_word_or_none("value"),
        *_word("unit"),
        *_word_or_none("limit_low", "limit_high", "at_dial"),
        *_word("follow"),
        *_word_or_none("follow_distance"),
        *_word("follow_unit"),
        sa.Column("follow_days", sa.Integer(), nullable=True),
        *_word_or_none("follow_factor"),
        *_text("todo"),
        *_word("by"),
        *_text("note", "decided", "photos"),
        *_word_or_none("settled_on"),
        *_word("settled_by"),
        *_text("settled_note"),
        sa.CheckConstraint("sheet > 0 AND place_on_sheet > 0", name="stands_on_a_sheet"),
        sa.CheckConstraint(f"follow IN ({FOLLOWS})", name="follow_known"),
        sa.ForeignKeyConstraint(["mark"], ["vehicle.mark"]),
        sa.ForeignKeyConstraint(["sheet"], ["work_order.number"]),
        sa.PrimaryKeyConstraint("sheet", "place_on_sheet"),
    )
    op.create_index("found_by_mark", "found", ["mark", "component"], unique=False)
    op.create_table(
        "component_move",
        *_word("to_mark", "to_component", "day", "from_mark", "from_component"),
        *_text("carried", "note"),
        sa.ForeignKeyConstraint(["from_mark"], ["vehicle.mark"]),
        sa.ForeignKeyConstraint(["to_mark"], ["vehicle.mark"]),
        sa.PrimaryKeyConstraint("to_mark", "to_component", "day"),
    )


def downgrade() -> None:
    for table in ("component_move", "found", "work_order"):
        op.drop_table(table)
