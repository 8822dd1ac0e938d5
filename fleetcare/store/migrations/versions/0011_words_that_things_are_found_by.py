"""Words by which vehicles, sheets, findings and people are found, filled from what is there."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

_WORD = re.compile(r"[^\W_]+")
_BLOCK = 5000


def upgrade() -> None:
    by_code_point = sa.String().with_variant(sa.String(collation="C"), "postgresql")
    made = op.create_table(
        "sought_word",
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("word", by_code_point, nullable=False),
        sa.Column("thing", by_code_point, nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.CheckConstraint("kind IN ('vehicle', 'sheet', 'finding', 'person')", name="kind_known"),
        sa.PrimaryKeyConstraint("kind", "word", "thing"),
    )
    op.create_index("sought_word_by_thing", "sought_word", ["kind", "thing"])
    rows = [
        {"kind": kind, "word": word, "thing": thing, "mark": mark}
        for kind, thing, mark, *texts in _things(op.get_bind())
        for word in sorted({word for text in texts for word in _folded(text)})
    ]
    for start in range(0, len(rows), _BLOCK):
        op.bulk_insert(made, rows[start : start + _BLOCK])


def downgrade() -> None:
    op.drop_index("sought_word_by_thing", "sought_word")
    op.drop_table("sought_word")


def _things(line: sa.Connection) -> Iterator[tuple[str, ...]]:
    """Kind, what stands for the thing, mark, and the texts its words are in."""
    titles: dict[str, list[str]] = {}
    for row in _all(line, "SELECT mark, title FROM component"):
        titles.setdefault(row.mark, []).append(row.title)
    for row in _all(line, "SELECT mark, name, called, keeper, drivers FROM vehicle"):
        texts = (row.mark, row.name, row.called, row.keeper, *json.loads(row.drivers), *titles.get(row.mark, []))
        yield "vehicle", row.mark, row.mark, *texts
    for row in _all(line, "SELECT key, name FROM person"):
        yield "person", row.key, "", row.key, row.name
    for row in _all(line, "SELECT number, mark, title, note, told, services FROM work_order"):
        lines = [f"{component} {service}" for component, service, *_ in json.loads(row.services)]
        texts = (f"{row.number:04d}", str(row.number), row.title, row.note, row.told, *lines)
        yield "sheet", f"{row.number:08d}", row.mark, *texts
    for row in _all(line, "SELECT sheet, place_on_sheet, mark, component, kind, words, place, day, note FROM found"):
        thing = f"{row.day}/{row.sheet:08d}/{row.place_on_sheet}"
        yield "finding", thing, row.mark, row.words, row.place, row.component, row.kind, row.note, f"{row.sheet:04d}"
    noted = (
        "SELECT w.id, w.mark, w.component, w.service, w.day, f.position, f.text "
        "FROM work w JOIN finding f ON f.work_id = w.id"
    )
    for row in _all(line, noted):
        yield "finding", f"{row.day}/work/{row.id}/{row.position}", row.mark, row.text, f"{row.component} {row.service}"


def _all(line: sa.Connection, query: str) -> Iterator[Any]:
    return iter(line.execute(sa.text(query)).all())


def _folded(text: str) -> list[str]:
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))
    return [word[:40] for word in _WORD.findall(plain)]
