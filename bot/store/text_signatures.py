"""Who has signed single texts, as they stood: by language, key and hash. A text that changed has another
hash, and no signature; one that is changed back has its own again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection, select
from sqlalchemy.dialects import postgresql, sqlite

from bot.store.engine import is_postgres
from bot.store.tables import text_signature


@dataclass(frozen=True, slots=True)
class TextSignature:
    """`language` is a tag such as hi or hi-Latn; `by` the account, None for one signed on the server."""

    language: str
    text_key: str
    sha256: str
    by: UUID | None
    name: str
    role: str
    registration: str
    at: datetime


def keep_text_signatures(conn: Connection, signed: Iterable[TextSignature]) -> None:
    """Keep signatures; of the same words the first one stands."""
    rows = [asdict(each) for each in signed]
    if rows:
        new = (postgresql.insert if is_postgres(conn) else sqlite.insert)(text_signature)
        conn.execute(new.on_conflict_do_nothing(), rows)


def text_signatures(conn: Connection) -> dict[tuple[str, str, str], TextSignature]:
    """Give every signature by language, key and hash."""
    found = (TextSignature(**row._asdict()) for row in conn.execute(select(text_signature)))
    return {(each.language, each.text_key, each.sha256): each for each in found}
