"""The first tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


FIXED = ("mark", "meter", "day", "value_tenths", "unit", "entered_at", "by", "door", "split")
"""What never changes of a reading; state and note do."""
GUARDED = ("log", "reading", "delivery")
LETTER = ("person", "kind", "period", "message_id", "subject", "to_mail", "raw", "decided_at", "expires_at")
"""What never changes of a letter; how far it is does."""


def _guards(database: str) -> list[str]:
    """Triggers: the log only grows, a reading stays as it was given, a letter as it was decided."""
    if database == "sqlite":
        stays = "SELECT RAISE(ABORT, 'a reading stays as it was given')"
        fixed = ", ".join(f'"{column}"' for column in FIXED)
        letter = ", ".join(f'"{column}"' for column in LETTER)
        return [
            "CREATE TRIGGER log_stays BEFORE UPDATE ON log BEGIN SELECT RAISE(ABORT, 'the log only grows'); END",
            "CREATE TRIGGER log_is_kept BEFORE DELETE ON log BEGIN SELECT RAISE(ABORT, 'the log only grows'); END",
            f"CREATE TRIGGER reading_stays BEFORE UPDATE OF {fixed} ON reading BEGIN {stays}; END",
            f"CREATE TRIGGER reading_is_kept BEFORE DELETE ON reading BEGIN {stays}; END",
            f"CREATE TRIGGER delivery_stays BEFORE UPDATE OF {letter} ON delivery BEGIN {stays}; END",
            f"CREATE TRIGGER delivery_is_kept BEFORE DELETE ON delivery BEGIN {stays}; END",
        ]
    refusal = "RAISE EXCEPTION 'what is written stays as it was given'"
    return [
        f"CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {refusal}; END $$",
        "CREATE TRIGGER log_stays BEFORE UPDATE OR DELETE ON log FOR EACH ROW EXECUTE FUNCTION refuse()",
        f"CREATE TRIGGER reading_stays BEFORE UPDATE ON reading {_when_changed(FIXED)}",
        "CREATE TRIGGER reading_is_kept BEFORE DELETE ON reading FOR EACH ROW EXECUTE FUNCTION refuse()",
        f"CREATE TRIGGER delivery_stays BEFORE UPDATE ON delivery {_when_changed(LETTER)}",
        "CREATE TRIGGER delivery_is_kept BEFORE DELETE ON delivery FOR EACH ROW EXECUTE FUNCTION refuse()",
        *(
            f"CREATE TRIGGER {table}_is_not_emptied BEFORE TRUNCATE ON {table} EXECUTE FUNCTION refuse()"
            for table in GUARDED
        ),
    ]


def _when_changed(columns: tuple[str, ...]) -> str:
    changed = " OR ".join(f'OLD."{column}" IS DISTINCT FROM NEW."{column}"' for column in columns)
    return f"FOR EACH ROW WHEN ({changed}) EXECUTE FUNCTION refuse()"


def _guards_off(database: str) -> list[str]:
    if database == "sqlite":
        return [f"DROP TRIGGER {table}_{end}" for table in GUARDED for end in ("stays", "is_kept")]
    # The triggers of a table go with it; the function can go once nothing calls it.
    return ["DROP FUNCTION refuse() CASCADE"]


def upgrade() -> None:
    op.create_table(
        "access_key",
        sa.Column("hash", sa.String(), nullable=False),
        sa.Column("purpose", sa.String(), nullable=False),
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("made_at", sa.String(), nullable=False),
        sa.Column("expires_at", sa.String(), nullable=True),
        sa.Column("revoked_at", sa.String(), nullable=True),
        sa.CheckConstraint(
            "purpose IN ('feed', 'odometer', 'sign-in', 'session', 'api', 'stop letters')", name="purpose_known"
        ),
        sa.PrimaryKeyConstraint("hash"),
    )
    with op.batch_alter_table("access_key", schema=None) as batch_op:
        batch_op.create_index("access_key_by_purpose", ["purpose", "person"], unique=False)

    op.create_table(
        "booking",
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("first_day", sa.String(), nullable=False),
        sa.Column("end_day", sa.String(), nullable=False),
        sa.Column("marks", sa.Text(), nullable=False),
        sa.Column("distance", sa.String(), nullable=True),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("duty", sa.String(), nullable=False),
        sa.Column("event", sa.String(), nullable=False),
        sa.CheckConstraint("unit IN ('km', 'mi')", name="unit_known"),
        sa.CheckConstraint("end_day > first_day", name="ends_after_it_begins"),
        sa.PrimaryKeyConstraint("key"),
    )
    op.create_table(
        "delivery",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("period", sa.String(), nullable=False),
        sa.Column("message_id", sa.String(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("to_mail", sa.String(), nullable=False),
        sa.Column("raw", sa.LargeBinary(), nullable=False),
        sa.Column("decided_at", sa.String(), nullable=False),
        sa.Column("expires_at", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("next_try_at", sa.String(), nullable=True),
        sa.Column("leased_until", sa.String(), nullable=True),
        sa.Column("last_answer", sa.Text(), nullable=False),
        sa.Column("sent_at", sa.String(), nullable=True),
        sa.CheckConstraint("kind IN ('garage letter', 'reading request', 'come in')", name="kind_known"),
        sa.CheckConstraint(
            "state IN ('due', 'leased', 'sent', 'failed', 'expired', 'nothing to say')", name="state_known"
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("person", "kind", "period", name="one_letter_a_period"),
    )
    with op.batch_alter_table("delivery", schema=None) as batch_op:
        batch_op.create_index("delivery_by_state", ["state"], unique=False)

    op.create_table(
        "due_window",
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("component", sa.String(), nullable=False),
        sa.Column("service", sa.String(), nullable=False),
        sa.Column("early", sa.String(), nullable=True),
        sa.Column("likely", sa.String(), nullable=True),
        sa.Column("late", sa.String(), nullable=True),
        sa.Column("cause", sa.String(), nullable=True),
        sa.Column("no_date", sa.String(), nullable=True),
        sa.CheckConstraint("(early IS NULL) = (no_date IS NOT NULL)", name="window_or_reason"),
        sa.CheckConstraint("early <= likely AND likely <= late", name="in_order"),
        sa.PrimaryKeyConstraint("mark", "component", "service"),
    )
    op.create_table(
        "feed",
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("etag", sa.String(), nullable=False),
        sa.Column("modified_at", sa.String(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("person"),
    )
    op.create_table(
        "garage",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("garage_id", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("zone", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("list_keeper", sa.String(), nullable=False),
        sa.CheckConstraint("unit IN ('km', 'mi')", name="unit_known"),
        sa.CheckConstraint("id = 1", name="one_row"),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "log",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("at", sa.String(), nullable=False),
        sa.Column("subject", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("before", sa.Text(), nullable=False),
        sa.Column("after", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("log", schema=None) as batch_op:
        batch_op.create_index("log_by_subject", ["subject", "id"], unique=False)

    op.create_table(
        "person",
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("mail", sa.String(), nullable=False),
        sa.Column("zone", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("roles", sa.Text(), nullable=False),
        sa.Column("letter_weekday", sa.Integer(), nullable=True),
        sa.Column("letter_hour", sa.Integer(), nullable=False),
        sa.CheckConstraint("unit IN ('km', 'mi')", name="unit_known"),
        sa.CheckConstraint("letter_hour BETWEEN 0 AND 23", name="hour_of_day"),
        sa.CheckConstraint("letter_weekday BETWEEN 0 AND 6", name="day_of_week"),
        sa.PrimaryKeyConstraint("key"),
    )
    op.create_table(
        "published",
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("uid", sa.String(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.String(), nullable=False),
        sa.Column("modified_at", sa.String(), nullable=False),
        sa.Column("content_hash", sa.String(), nullable=False),
        sa.Column("time_hash", sa.String(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("sort_key", sa.String(), nullable=False),
        sa.Column("withdrawn_at", sa.String(), nullable=True),
        sa.CheckConstraint("sequence >= 0", name="sequence_counts_up"),
        sa.PrimaryKeyConstraint("person", "uid"),
    )
    op.create_table(
        "stand",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("id = 1", name="one_row"),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "vehicle",
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("called", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("keeper", sa.String(), nullable=False),
        sa.Column("drivers", sa.Text(), nullable=False),
        sa.Column("description", sa.Text(), nullable=False),
        sa.Column("vin", sa.String(), nullable=False),
        sa.Column("in_service_on", sa.String(), nullable=True),
        sa.Column("entered_on", sa.String(), nullable=True),
        sa.Column("usual_split", sa.Text(), nullable=False),
        sa.Column("yearly_km", sa.String(), nullable=True),
        sa.Column("laid_up", sa.Text(), nullable=False),
        sa.Column("towed_by", sa.Text(), nullable=False),
        sa.Column("out_of_fleet_on", sa.String(), nullable=True),
        sa.Column("max_km_per_day", sa.String(), nullable=False),
        sa.CheckConstraint("kind IN ('car', 'van', 'light truck', 'heavy truck', 'bus', 'trailer')", name="kind_known"),
        sa.CheckConstraint("unit IN ('km', 'mi')", name="unit_known"),
        sa.PrimaryKeyConstraint("mark"),
    )
    op.create_table(
        "component",
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("fluid_grade", sa.String(), nullable=False),
        sa.Column("fluid_capacity_l", sa.String(), nullable=True),
        sa.Column("facts", sa.Text(), nullable=False),
        sa.Column("fitted_on", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(
            ["mark"],
            ["vehicle.mark"],
        ),
        sa.PrimaryKeyConstraint("mark", "key"),
    )
    op.create_table(
        "event",
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("day", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("component", sa.String(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["mark"],
            ["vehicle.mark"],
        ),
        sa.PrimaryKeyConstraint("mark", "day", "kind", "component"),
    )
    op.create_table(
        "line",
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("component", sa.String(), nullable=False),
        sa.Column("service", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("history", sa.String(), nullable=False),
        sa.Column("entered_on", sa.String(), nullable=True),
        sa.CheckConstraint("history IN ('new', 'unknown', 'recorded')", name="history_known"),
        sa.ForeignKeyConstraint(
            ["mark"],
            ["vehicle.mark"],
        ),
        sa.PrimaryKeyConstraint("mark", "component", "service"),
    )
    op.create_table(
        "meter",
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("digits", sa.Integer(), nullable=False),
        sa.Column("rolls_over", sa.Boolean(), nullable=False),
        sa.Column("changes", sa.Text(), nullable=False),
        sa.Column("delivery_value", sa.String(), nullable=False),
        sa.CheckConstraint("unit IN ('km', 'mi', 'h')", name="unit_known"),
        sa.CheckConstraint("digits BETWEEN 1 AND 12", name="digits_of_a_dial"),
        sa.ForeignKeyConstraint(
            ["mark"],
            ["vehicle.mark"],
        ),
        sa.PrimaryKeyConstraint("mark", "key"),
    )
    op.create_table(
        "reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("meter", sa.String(), nullable=False),
        sa.Column("day", sa.String(), nullable=False),
        sa.Column("value_tenths", sa.BigInteger(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("entered_at", sa.String(), nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("door", sa.String(), nullable=False),
        sa.Column("split", sa.Text(), nullable=True),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("door IN ('command', 'file', 'api', 'phone')", name="door_known"),
        sa.CheckConstraint("state IN ('used', 'held', 'superseded', 'taken back')", name="state_known"),
        sa.CheckConstraint("unit IN ('km', 'mi', 'h')", name="unit_known"),
        sa.CheckConstraint("value_tenths BETWEEN 0 AND 1000000000000", name="value_of_a_dial"),
        sa.ForeignKeyConstraint(
            ["mark"],
            ["vehicle.mark"],
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("mark", "meter", "day", "value_tenths", "unit", name="one_and_the_same_reading"),
    )
    op.create_table(
        "work",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("component", sa.String(), nullable=False),
        sa.Column("service", sa.String(), nullable=False),
        sa.Column("day", sa.String(), nullable=False),
        sa.Column("value_tenths", sa.BigInteger(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("unit IN ('', 'km', 'mi', 'h')", name="unit_known"),
        sa.CheckConstraint("value_tenths BETWEEN -1 AND 1000000000000", name="value_of_a_dial"),
        sa.ForeignKeyConstraint(
            ["mark"],
            ["vehicle.mark"],
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint(
            "mark", "component", "service", "day", "value_tenths", "unit", name="one_and_the_same_work"
        ),
    )
    op.create_table(
        "finding",
        sa.Column("work_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("look_again_on", sa.String(), nullable=True),
        sa.Column("settled_on", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(
            ["work_id"],
            ["work.id"],
        ),
        sa.PrimaryKeyConstraint("work_id", "position"),
    )
    for statement in _guards(op.get_bind().dialect.name):
        op.execute(statement)


def downgrade() -> None:
    for statement in _guards_off(op.get_bind().dialect.name):
        op.execute(statement)
    op.drop_table("finding")
    op.drop_table("work")
    op.drop_table("reading")
    op.drop_table("meter")
    op.drop_table("line")
    op.drop_table("event")
    op.drop_table("component")
    op.drop_table("vehicle")
    op.drop_table("stand")
    op.drop_table("published")
    op.drop_table("person")
    with op.batch_alter_table("log", schema=None) as batch_op:
        batch_op.drop_index("log_by_subject")

    op.drop_table("log")
    op.drop_table("garage")
    op.drop_table("feed")
    op.drop_table("due_window")
    with op.batch_alter_table("delivery", schema=None) as batch_op:
        batch_op.drop_index("delivery_by_state")

    op.drop_table("delivery")
    op.drop_table("booking")
    with op.batch_alter_table("access_key", schema=None) as batch_op:
        batch_op.drop_index("access_key_by_purpose")

    op.drop_table("access_key")
