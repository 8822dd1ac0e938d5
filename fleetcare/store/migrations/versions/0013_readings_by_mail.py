"""Readings that come as an answer by mail, the keys in the addresses they are sent to, and letters about them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

WIDENED = (("reading", "door", "mail"), ("access_key", "purpose", "reply"), ("delivery", "kind", "about an answer"))
"""Table, column, and the word that the column takes from now on."""
OLD = {
    "reading": ("command", "file", "api", "phone"),
    "access_key": ("feed", "odometer", "sign-in", "session", "api", "stop letters"),
    "delivery": (
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
    ),
}


def upgrade() -> None:
    for table, column, word in WIDENED:
        _take(table, column, OLD[table], _new(table, word))


def downgrade() -> None:
    """A reading that came by mail is kept, as one from a phone; keys and letters of it are left out."""
    theirs = "SELECT id FROM delivery WHERE kind = 'about an answer'"
    _unguarded("delivery_body", f"DELETE FROM delivery_body WHERE delivery_id IN ({theirs})")  # noqa: S608
    _unguarded("delivery", "DELETE FROM delivery WHERE kind = 'about an answer'")
    _unguarded("reading", "UPDATE reading SET door = 'phone' WHERE door = 'mail'")
    op.execute("DELETE FROM access_key WHERE purpose = 'reply'")
    for table, column, word in WIDENED:
        _take(table, column, _new(table, word), OLD[table])


def _new(table: str, word: str) -> tuple[str, ...]:
    # Where the word stands among the others, as the program lists them.
    before = OLD[table]
    return (*before[:-1], word, before[-1]) if table == "delivery" else (*before, word)


def _take(table: str, column: str, before: tuple[str, ...], words: tuple[str, ...]) -> None:
    """From now on the column takes these words."""
    if op.get_bind().dialect.name != "sqlite":
        op.drop_constraint(f"{column}_known", table)
        op.create_check_constraint(f"{column}_known", table, f"{column} IN ({_listed(words)})")
        return
    # SQLite changes no condition of a table, so it is made anew, as it was but for this one, with its guards.
    made = _made_by(table)
    old, new = (f"CHECK ({column} IN ({_listed(each)}))" for each in (before, words))
    anew = made[0].replace(old, new)
    if anew == made[0]:
        raise ValueError(f"the table {table} has no such condition")
    # Bodies lean on letters; they are looked at again when the whole is committed.
    op.execute("PRAGMA defer_foreign_keys = ON")
    op.execute(f"CREATE TABLE {table}_before AS SELECT * FROM {table}")  # noqa: S608 - nothing from outside
    _drop_guards(table)
    op.drop_table(table)
    op.execute(anew)
    op.execute(f"INSERT INTO {table} SELECT * FROM {table}_before")  # noqa: S608
    op.drop_table(f"{table}_before")
    for statement in made[1:]:
        op.execute(statement)


def _unguarded(table: str, statement: str) -> None:
    """Runs a statement that the table's guards would refuse."""
    if op.get_bind().dialect.name == "sqlite":
        guards = [each for each in _made_by(table) if each.startswith("CREATE TRIGGER")]
        _drop_guards(table)
        op.execute(statement)
        for guard in guards:
            op.execute(guard)
        return
    op.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
    op.execute(statement)
    op.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")


def _drop_guards(table: str) -> None:
    named = "SELECT name FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = :table"
    for (name,) in op.get_bind().execute(sa.text(named), {"table": table}).all():
        op.execute(f"DROP TRIGGER {name}")


def _made_by(table: str) -> list[str]:
    """What made the table, first itself, then its indexes and guards."""
    query = "SELECT sql FROM sqlite_schema WHERE tbl_name = :table AND sql IS NOT NULL ORDER BY type <> 'table', rowid"
    return [sql for (sql,) in op.get_bind().execute(sa.text(query), {"table": table})]


def _listed(words: tuple[str, ...]) -> str:
    return ", ".join(f"'{word}'" for word in words)
