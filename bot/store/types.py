"""Column types that mean the same on both engines.

`Instant` is an aware moment in UTC, `Sealed` a sealed value, `Word` a state or other fixed word, `Json` plain
data, `WordSet` a set of words or small numbers.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any, TypeVar

from sqlalchemy import JSON, CheckConstraint, Dialect, LargeBinary, SmallInteger, String, Text, TypeDecorator
from sqlalchemy.dialects.postgresql import JSONB, TIMESTAMP
from sqlalchemy.types import TypeEngine

from bot.core.states import Urgency

W = TypeVar("W", bound=StrEnum)

# JSON null and SQL null are the same nothing here.
Json: TypeEngine[Any] = JSON(none_as_null=True).with_variant(JSONB(none_as_null=True), "postgresql")


class Instant(TypeDecorator[datetime]):
    """An aware datetime, in and out; comes out in UTC. timestamptz on PostgreSQL; on SQLite, which loses
    zones on reading, UTC text of fixed width, so that text order is time order. A naive value is refused."""

    impl = String
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        if dialect.name == "postgresql":
            return dialect.type_descriptor(TIMESTAMP(timezone=True))
        return dialect.type_descriptor(String(27))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a time without its zone: {value.isoformat()}")
        utc = value.astimezone(UTC)
        if dialect.name == "postgresql":
            return utc
        return utc.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if isinstance(value, str):
            value = datetime.fromisoformat(value)
        return None if value is None else value.astimezone(UTC)


class Sealed(TypeDecorator[bytes]):
    """What `Sealer.seal` gave for this row and column. Clear text is refused."""

    impl = LargeBinary
    cache_ok = True

    def process_bind_param(self, value: bytes | None, dialect: Dialect) -> bytes | None:
        if value is not None and not isinstance(value, bytes):
            raise TypeError("a value for a sealed column is not sealed")
        return value


class Word(TypeDecorator[W]):
    """A word of one enum, as text. `known_words` gives the CHECK that goes with it."""

    impl = Text
    cache_ok = True

    def __init__(self, words: type[W]) -> None:
        super().__init__()
        self.words = words

    def process_bind_param(self, value: W | str | None, dialect: Dialect) -> str | None:
        return None if value is None else self.words(value).value

    def process_result_value(self, value: Any, dialect: Dialect) -> W | None:
        return None if value is None else self.words(value)

    def __repr__(self) -> str:
        return f"Word({self.words.__name__})"


class UrgencyLevel(TypeDecorator[Urgency]):
    """An urgency as its number, so that the database orders by it."""

    impl = SmallInteger
    cache_ok = True

    def process_bind_param(self, value: int | None, dialect: Dialect) -> int | None:
        return None if value is None else int(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> Urgency | None:
        return None if value is None else Urgency(value)


class WordSet(TypeDecorator[frozenset[Any]]):
    """A set of words or small numbers, as a sorted JSON list."""

    impl = JSON
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(JSONB() if dialect.name == "postgresql" else JSON())

    def process_bind_param(self, value: Iterable[Any] | None, dialect: Dialect) -> Any:
        return None if value is None else sorted(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> frozenset[Any] | None:
        return None if value is None else frozenset(value)


def known_words(column: str, words: Iterable[str]) -> CheckConstraint:
    """Give the CHECK that `column` holds one of `words` only."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")
