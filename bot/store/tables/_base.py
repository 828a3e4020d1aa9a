"""What all tables share: one metadata, the names of constraints, and the shorthands for common columns."""

from __future__ import annotations

from enum import StrEnum
from typing import Any
from uuid import UUID

from sqlalchemy import (
    CheckConstraint,
    Column,
    ColumnElement,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    MetaData,
    Text,
    Uuid,
    literal_column,
)

from bot.store.types import Word, known_words

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)


def row_id() -> Column[UUID]:
    """The primary key: a time-ordered UUID that the program makes."""
    return Column(Uuid(), primary_key=True)


def link(target: str, **options: Any) -> Column[UUID]:
    """A column that must hold the id of a row of `target`."""
    return Column(Uuid(), ForeignKey(f"{target}.id"), nullable=False, **options)


def maybe_link(target: str, **options: Any) -> Column[UUID | None]:
    """A column that may hold the id of a row of `target`."""
    return Column(Uuid(), ForeignKey(f"{target}.id", **options), nullable=True)


def fixed(word: StrEnum) -> ColumnElement[str]:
    """Give a state as a literal. A partial index serves only queries that say its condition word for word;
    a bound parameter hides it from both engines' planners."""
    return literal_column(f"'{word.value}'", Text())


def state(words: type[StrEnum]) -> Column[Any]:
    """The column of a state; add `known_states` to its table."""
    return Column(Word(words), nullable=False)


def known_states(words: type[StrEnum], column: str = "state") -> CheckConstraint:
    """The CHECK generated from the enum: a state nobody named can't be stored."""
    return known_words(column, [word.value for word in words])


def partial_index(
    name: str, *columns: Column[Any], where: ColumnElement[bool], unique: bool = False
) -> Index:
    """An index over the rows that fit `where` only, on both engines."""
    return Index(name, *columns, unique=unique, postgresql_where=where, sqlite_where=where)


def of_baby() -> ForeignKeyConstraint:
    """The promise that (enrolment, baby) names a baby of that enrolment; no baby is none in particular."""
    return ForeignKeyConstraint(["enrolment", "baby"], ["baby.enrolment", "baby.ordinal"])
