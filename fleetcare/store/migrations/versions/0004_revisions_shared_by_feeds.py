"""Revisions that several feeds share, what calendars say of a line, choices, names and fetches of feed keys."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

TAIL = b"END:VCALENDAR\r\n"
DIGEST_LENGTH = 32


def upgrade() -> None:
    connection = op.get_bind()
    feeds = connection.execute(sa.text("SELECT person, modified_at, body FROM feed ORDER BY person")).all()
    entries = connection.execute(sa.text("SELECT * FROM published ORDER BY person, uid")).mappings().all()
    op.drop_table("feed")
    op.drop_table("published")
    # Plain, not in batch mode: there is nothing that would need the table made anew.
    op.add_column("access_key", sa.Column("name", sa.String(), server_default="", nullable=False))
    op.add_column("access_key", sa.Column("replaced_at", sa.String(), nullable=True))
    op.create_table(
        "feed_fetch",
        sa.Column("hash", sa.String(), nullable=False),
        sa.Column("at", sa.String(), nullable=False),
        sa.Column("reader", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("hash"),
    )
    feed = op.create_table(
        "feed",
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("etag", sa.String(), nullable=False),
        sa.Column("modified_at", sa.String(), nullable=False),
        sa.Column("head", sa.LargeBinary(), nullable=False),
        sa.Column("form", sa.Text(), nullable=False),
        sa.Column("marks", sa.Text(), nullable=False),
        sa.Column("entries", sa.Text(), nullable=False),
        sa.Column("aside", sa.Text(), nullable=False),
        sa.Column("gone", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("person", "mark"),
    )
    revisions = op.create_table(
        "revision",
        sa.Column("id", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("uid", sa.String(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.String(), nullable=False),
        sa.Column("modified_at", sa.String(), nullable=False),
        sa.Column("content_hash", sa.String(), nullable=False),
        sa.Column("time_hash", sa.String(), nullable=False),
        sa.Column("digest", sa.String(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("sort_key", sa.String(), nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint("sequence >= 0", name="sequence_counts_up"),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("revision_by_uid", "revision", ["uid"], unique=False)
    op.create_table(
        "shown_line",
        *(sa.Column(name, sa.String(), nullable=False) for name in ("mark", "component", "service")),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("early", "likely", "late", "cause")),
        sa.Column("worn", sa.String(), nullable=True),
        sa.Column("pace", sa.String(), nullable=True),
        sa.PrimaryKeyConstraint("mark", "component", "service"),
    )
    op.create_table(
        "feed_choice",
        sa.Column("person", sa.String(), nullable=False),
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("topics", "dates", "marks", "alarms")),
        sa.PrimaryKeyConstraint("person"),
    )
    op.create_table(
        "feed_era",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("era", sa.Integer(), nullable=False),
        sa.CheckConstraint("id = 1", name="one_row"),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "farewell",
        sa.Column("hash", sa.String(), nullable=False),
        sa.Column("etag", sa.String(), nullable=False),
        sa.Column("modified_at", sa.String(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("hash"),
    )
    # What several feeds hold to the byte is one revision from now on.
    kept = {row["id"]: row for row in (_revision(entry) for entry in entries)}
    if kept:
        op.bulk_insert(revisions, list(kept.values()))
    served = [_feed(person, modified_at, bytes(body), entries) for person, modified_at, body in feeds]
    if served:
        op.bulk_insert(feed, served)


def _revision(entry: Any) -> dict[str, Any]:
    """A published entry as a revision: what it was counts on, so that nothing goes backwards."""
    body = bytes(entry["body"])
    same = ("uid", "sequence", "created_at", "modified_at", "content_hash", "time_hash")
    return {
        "id": _number(body),
        **{name: entry[name] for name in same},
        "digest": _digest(body),
        "size": len(body),
        # The three dates it rested on stood behind; they are kept apart now.
        "sort_key": " ".join(entry["sort_key"].split(" ")[:3]),
        "mark": "",
        "body": body,
    }


def _feed(person: str, modified_at: str, body: bytes, entries: Any) -> dict[str, Any]:
    """A feed as it was served, of its revisions. Without a form, it is looked through whole when it is next renewed."""
    theirs = [(_number(bytes(entry["body"])), entry) for entry in entries if entry["person"] == person]
    head = body[: body.index(b"BEGIN:VEVENT")] if b"BEGIN:VEVENT" in body else body.removesuffix(TAIL)
    current = sorted((entry["sort_key"], number) for number, entry in theirs if entry["withdrawn_at"] is None)
    parts = {number: bytes(entry["body"]) for number, entry in theirs}
    standing = [number for _, number in current if parts[number] in body]
    hashed = hashlib.sha256(head)
    for number in standing:
        hashed.update(_digest(parts[number]).encode("ascii"))
    gone = [[number, entry["withdrawn_at"]] for number, entry in theirs if entry["withdrawn_at"] is not None]
    return {
        "person": person,
        "mark": "",
        "etag": hashed.hexdigest()[:DIGEST_LENGTH],
        "modified_at": modified_at,
        "head": head,
        "form": "",
        "marks": "[]",
        "entries": json.dumps(standing, separators=(",", ":")),
        "aside": json.dumps([number for _, number in current if number not in standing], separators=(",", ":")),
        "gone": json.dumps(gone, separators=(",", ":")),
    }


def _number(body: bytes) -> int:
    return int(_digest(body)[:15], 16)


def _digest(body: bytes) -> str:
    return hashlib.sha256(body).hexdigest()[:DIGEST_LENGTH]


def downgrade() -> None:
    connection = op.get_bind()
    feeds = connection.execute(sa.text("SELECT * FROM feed WHERE mark = '' AND person <> ''")).mappings().all()
    revisions = {row["id"]: row for row in connection.execute(sa.text("SELECT * FROM revision")).mappings().all()}
    for table in ("farewell", "feed_era", "feed_choice", "shown_line", "revision", "feed", "feed_fetch"):
        op.drop_table(table)
    op.execute("ALTER TABLE access_key DROP COLUMN replaced_at")
    op.execute("ALTER TABLE access_key DROP COLUMN name")
    feed = op.create_table(
        "feed",
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("etag", sa.String(), nullable=False),
        sa.Column("modified_at", sa.String(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("person"),
    )
    published = op.create_table(
        "published",
        sa.Column("person", sa.String(), nullable=False),
        sa.Column("uid", sa.String(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("created_at", "modified_at")),
        *(sa.Column(name, sa.String(), nullable=False) for name in ("content_hash", "time_hash")),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("sort_key", sa.String(), nullable=False),
        sa.Column("withdrawn_at", sa.String(), nullable=True),
        sa.CheckConstraint("sequence >= 0", name="sequence_counts_up"),
        sa.PrimaryKeyConstraint("person", "uid"),
    )
    same = ("uid", "sequence", "created_at", "modified_at", "content_hash", "time_hash", "body", "sort_key")
    bodies, entries = [], []
    for each in feeds:
        standing, gone = json.loads(each["entries"]), dict(json.loads(each["gone"]))
        aside = json.loads(each["aside"])
        body = b"".join([bytes(each["head"]), *(bytes(revisions[number]["body"]) for number in standing), TAIL])
        bodies.append({name: each[name] for name in ("person", "etag", "modified_at")} | {"body": body})
        for number in (*standing, *aside, *gone):
            entry = {name: revisions[number][name] for name in same}
            entries.append(entry | {"person": each["person"], "withdrawn_at": gone.get(number)})
    if bodies:
        op.bulk_insert(feed, bodies)
    if entries:
        op.bulk_insert(published, entries)
