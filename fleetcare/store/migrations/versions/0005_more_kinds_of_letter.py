"""More kinds of letter, their bytes in a table of their own, and the hours in which a person is left alone."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

OLD_KINDS = ("garage letter", "reading request", "come in")
KINDS = (
    "garage letter",
    "reading request",
    "second reading request",
    "reading still wanted",
    "past late",
    "finding",
    "bay day",
    "bay day moved",
    "letters not delivered",
    "come in",
)
STATES = ("due", "leased", "sent", "failed", "expired", "nothing to say")
FIXED = ("person", "kind", "period", "message_id", "subject", "to_mail", "decided_at", "expires_at")
"""What never changes of a letter; how far it is does."""
QUIET = "quiet_from BETWEEN 0 AND 23 AND quiet_until BETWEEN 0 AND 23"
GIVEN = "a reading stays as it was given"


def upgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        _letters_anew(KINDS, with_raw=False)
        _people_anew(
            sa.Column("quiet_from", sa.Integer(), server_default="21", nullable=False),
            sa.Column("quiet_until", sa.Integer(), server_default="7", nullable=False),
            sa.CheckConstraint(QUIET, name="quiet_hours_of_day"),
        )
        return
    _take_kinds(KINDS)
    op.execute("DROP TRIGGER delivery_stays ON delivery")
    _bodies()
    op.execute("INSERT INTO delivery_body (delivery_id, raw) SELECT id, raw FROM delivery")
    op.drop_column("delivery", "raw")
    op.execute(f"CREATE TRIGGER delivery_stays BEFORE UPDATE ON delivery {_when_changed(FIXED)}")
    refused = "FOR EACH ROW EXECUTE FUNCTION refuse()"
    op.execute(f"CREATE TRIGGER delivery_body_stays BEFORE UPDATE OR DELETE ON delivery_body {refused}")
    op.execute("CREATE TRIGGER delivery_body_is_not_emptied BEFORE TRUNCATE ON delivery_body EXECUTE FUNCTION refuse()")
    for name, hour in (("quiet_from", "21"), ("quiet_until", "7")):
        op.add_column("person", sa.Column(name, sa.Integer(), server_default=hour, nullable=False))
    op.create_check_constraint("quiet_hours_of_day", "person", QUIET)


def downgrade() -> None:
    """Letters of kinds that an older program cannot read are left out."""
    if op.get_bind().dialect.name == "sqlite":
        _people_anew()
        _letters_anew(OLD_KINDS, with_raw=True)
        return
    op.drop_constraint("quiet_hours_of_day", "person")
    op.drop_column("person", "quiet_until")
    op.drop_column("person", "quiet_from")
    op.execute("DROP TRIGGER delivery_stays ON delivery")
    op.add_column("delivery", sa.Column("raw", sa.LargeBinary(), nullable=True))
    op.execute("UPDATE delivery SET raw = delivery_body.raw FROM delivery_body WHERE delivery_id = id")
    op.alter_column("delivery", "raw", nullable=False)
    op.drop_table("delivery_body")
    _take_kinds(OLD_KINDS)
    op.execute(f"CREATE TRIGGER delivery_stays BEFORE UPDATE ON delivery {_when_changed((*FIXED, 'raw'))}")


def _take_kinds(kinds: tuple[str, ...]) -> None:
    """PostgreSQL: the ledger takes these kinds from now on."""
    condition = f"kind IN ({_listed(kinds)})"
    op.drop_constraint("kind_known", "delivery")
    if kinds == OLD_KINDS:
        op.execute("ALTER TABLE delivery DISABLE TRIGGER delivery_is_kept")
        op.execute(f"DELETE FROM delivery WHERE NOT ({condition})")  # noqa: S608 - nothing from outside
        op.execute("ALTER TABLE delivery ENABLE TRIGGER delivery_is_kept")
    op.create_check_constraint("kind_known", "delivery", condition)


def _when_changed(columns: tuple[str, ...]) -> str:
    changed = " OR ".join(f'OLD."{column}" IS DISTINCT FROM NEW."{column}"' for column in columns)
    return f"FOR EACH ROW WHEN ({changed}) EXECUTE FUNCTION refuse()"


def _letters_anew(kinds: tuple[str, ...], *, with_raw: bool) -> None:
    """SQLite changes no condition of a table, so the ledger is made anew; its guards go with the old one."""
    condition = f"kind IN ({_listed(kinds)})"
    for guard in ("delivery_stays", "delivery_is_kept"):
        op.execute(f"DROP TRIGGER {guard}")
    op.drop_index("delivery_by_state")
    if with_raw:
        # The bytes of all letters, with nothing that leans on the ledger while that is made anew.
        op.execute("CREATE TABLE bodies_before AS SELECT delivery_id, raw FROM delivery_body")
        op.execute("DROP TRIGGER delivery_body_stays")
        op.execute("DROP TRIGGER delivery_body_is_kept")
        op.drop_table("delivery_body")
    op.rename_table("delivery", "delivery_before")
    names = ", ".join(_delivery(condition, with_raw=with_raw))
    source = "delivery_before JOIN bodies_before ON delivery_id = id" if with_raw else "delivery_before"
    op.execute(f"INSERT INTO delivery ({names}) SELECT {names} FROM {source} WHERE {condition}")  # noqa: S608
    if with_raw:
        op.drop_table("bodies_before")
    else:
        _bodies()
        op.execute(f"INSERT INTO delivery_body SELECT id, raw FROM delivery_before WHERE {condition}")  # noqa: S608
    op.drop_table("delivery_before")
    op.create_index("delivery_by_state", "delivery", ["state"])
    stays = f"SELECT RAISE(ABORT, '{GIVEN}')"
    fixed = ", ".join(f'"{column}"' for column in (*FIXED, *(("raw",) if with_raw else ())))
    op.execute(f"CREATE TRIGGER delivery_stays BEFORE UPDATE OF {fixed} ON delivery BEGIN {stays}; END")
    op.execute(f"CREATE TRIGGER delivery_is_kept BEFORE DELETE ON delivery BEGIN {stays}; END")
    if not with_raw:
        op.execute(f"CREATE TRIGGER delivery_body_stays BEFORE UPDATE ON delivery_body BEGIN {stays}; END")
        op.execute(f"CREATE TRIGGER delivery_body_is_kept BEFORE DELETE ON delivery_body BEGIN {stays}; END")


def _bodies() -> None:
    op.create_table(
        "delivery_body",
        sa.Column("delivery_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("raw", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["delivery_id"], ["delivery.id"]),
        sa.PrimaryKeyConstraint("delivery_id"),
    )


def _delivery(condition: str, *, with_raw: bool) -> list[str]:
    table = op.create_table(
        "delivery",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("period", sa.String(), nullable=False),
        sa.Column("message_id", sa.String(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("to_mail", sa.String(), nullable=False),
        *((sa.Column("raw", sa.LargeBinary(), nullable=False),) if with_raw else ()),
        sa.Column("decided_at", sa.String(), nullable=False),
        sa.Column("expires_at", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("next_try_at", sa.String(), nullable=True),
        sa.Column("leased_until", sa.String(), nullable=True),
        sa.Column("last_answer", sa.Text(), nullable=False),
        sa.Column("sent_at", sa.String(), nullable=True),
        sa.CheckConstraint(condition, name="kind_known"),
        sa.CheckConstraint(f"state IN ({_listed(STATES)})", name="state_known"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("person", "kind", "period", name="one_letter_a_period"),
    )
    return [column.name for column in table.columns]


def _people_anew(*added: sa.Column[int] | sa.CheckConstraint) -> None:
    """SQLite adds no condition to a table, so the table is made anew with these."""
    op.rename_table("person", "person_before")
    names = ("key", "name", "mail", "zone", "unit", "roles", "letter_weekday", "letter_hour")
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
        *added,
        sa.CheckConstraint("letter_hour BETWEEN 0 AND 23", name="hour_of_day"),
        sa.CheckConstraint("letter_weekday BETWEEN 0 AND 6", name="day_of_week"),
        sa.CheckConstraint("unit IN ('km', 'mi')", name="unit_known"),
        sa.PrimaryKeyConstraint("key"),
    )
    listed = ", ".join(names)
    op.execute(f"INSERT INTO person ({listed}) SELECT {listed} FROM person_before")  # noqa: S608
    op.drop_table("person_before")


def _listed(words: tuple[str, ...]) -> str:
    return ", ".join(f"'{word}'" for word in words)
