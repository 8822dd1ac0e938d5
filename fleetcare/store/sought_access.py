"""Words by which things are found, in the database: an index of our own, alike on both databases.

Neither the full text of SQLite nor that of PostgreSQL: they split and fold words differently, one needs triggers and
the other an extension to look for beginnings of words, and a mark of two letters is no word to either. A table of
folded words, sorted by their code points, finds every beginning by a range of its key.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, ClassVar

import sqlalchemy as sa
from sqlalchemy import Index
from sqlmodel import Field, SQLModel

from fleetcare.fleet.component import LineKey
from fleetcare.fleet.sought import Sought, SoughtKind
from fleetcare.store.cells import Columns
from fleetcare.store.column_kinds import one_of
from fleetcare.store.row_reads import RowReads
from fleetcare.store.row_writes import RowWrites

_BY_CODE_POINT = sa.String().with_variant(sa.String(collation="C"), "postgresql")
_LAST = "\U0010ffff"
"""Sorts behind whatever may follow the beginning of a word."""


class SoughtWordRow(SQLModel, table=True):
    """A word of a thing. Made from other tables, in the same transaction; never the only copy."""

    __tablename__: ClassVar[str] = "sought_word"
    __table_args__ = (one_of("kind", SoughtKind), Index("sought_word_by_thing", "kind", "thing"))
    kind: str = Field(primary_key=True)
    word: str = Field(primary_key=True, sa_type=_BY_CODE_POINT)
    thing: str = Field(primary_key=True, sa_type=_BY_CODE_POINT)
    mark: str


WORD = SQLModel.metadata.tables["sought_word"]


class SoughtReads(RowReads):
    """The part of `ReadView` that finds things by their words."""

    def sought(self, kind: SoughtKind, words: Sequence[str], at_most: int) -> tuple[tuple[str, str], ...]:
        """Thing and mark, those with whole words first."""
        if not words:
            return ()
        own = sa.or_(*(_begins(WORD, word) for word in words))
        whole = sa.func.sum(sa.case((WORD.c.word.in_(words), 1), else_=0))
        thing = WORD.c.thing.desc() if kind.is_newest_first else WORD.c.thing
        query = (
            sa.select(WORD.c.thing, WORD.c.mark)
            .where(WORD.c.kind == kind.value, own, *(_either(kind, word) for word in words))
            .group_by(WORD.c.thing, WORD.c.mark)
            .order_by(whole.desc(), thing)
            .limit(at_most)
        )
        return tuple((row.thing, row.mark) for row in self._connection.execute(query))

    def sought_lines(self, words: Sequence[tuple[str, frozenset[str]]], at_most: int) -> tuple[LineKey, ...]:
        """Lines, sorted."""
        line = SQLModel.metadata.tables["line"]
        services = sorted(set().union(*(named for _, named in words)))
        if not services:
            return ()
        each = [sa.or_(line.c.service.in_(sorted(named)), line.c.mark.in_(_vehicles(word))) for word, named in words]
        of_vehicle = sa.or_(*(line.c.mark.in_(_vehicles(word)) for word, _ in words))
        query = (
            sa.select(line.c.mark, line.c.component, line.c.service)
            .where(of_vehicle, line.c.service.in_(services), *each)
            .order_by(line.c.mark, line.c.component, line.c.service)
            .limit(at_most)
        )
        return tuple(sorted(LineKey(*row) for row in self._connection.execute(query)))


class SoughtWrites(RowWrites, SoughtReads):
    """The part of a write unit that keeps the words in step with the things."""

    def _keep_words(self, things: Iterable[Sought]) -> None:
        """The words of these things from now on."""
        rows: list[Columns] = []
        for each in things:
            self._forget_words(each.kind, [each.thing])
            rows += [
                {"kind": each.kind.value, "word": word, "thing": each.thing, "mark": each.mark} for word in each.words
            ]
        self._add(WORD, rows)

    def _forget_words(self, kind: SoughtKind, things: Sequence[str]) -> None:
        if things:
            self._run(sa.delete(WORD).where(WORD.c.kind == kind.value, WORD.c.thing.in_(things)))


def _begins(table: Any, word: str) -> sa.ColumnElement[bool]:
    return sa.and_(table.c.word >= word, table.c.word < word + _LAST)


def _things(kind: SoughtKind, word: str) -> sa.Select[tuple[str]]:
    inner = WORD.alias()
    return sa.select(inner.c.thing).where(inner.c.kind == kind.value, _begins(inner, word))


def _vehicles(word: str) -> sa.Select[tuple[str]]:
    return _things(SoughtKind.VEHICLE, word)


def _either(kind: SoughtKind, word: str) -> sa.ColumnElement[bool]:
    """The word is the thing's own, or its vehicle's."""
    own = WORD.c.thing.in_(_things(kind, word))
    return own if kind in (SoughtKind.VEHICLE, SoughtKind.PERSON) else sa.or_(own, WORD.c.mark.in_(_vehicles(word)))
