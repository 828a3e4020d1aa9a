"""Bringing a database to the newest revision, and telling whether it is there.

`python -m bot.store.migrate "What changes"` writes the next revision from what the tables say; read it over
before you commit it.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text

from bot.seal import Sealer
from bot.store.engine import Store, is_postgres, open_store

_FOLDER = Path(__file__).parent / "migrations"
_LOCK = 0x64756E6E  # any number, the same in every process


def upgrade(store: Store) -> None:
    """Bring the database of `store` to the newest revision, whole or not at all. Processes that start at the
    same time wait for the first of them."""
    with store.write() as conn:
        if is_postgres(conn):
            conn.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
        command.upgrade(_config(conn), "head")


def is_current(conn: Connection) -> bool:
    """Tell whether the database is at the newest revision."""
    newest = ScriptDirectory.from_config(_config(conn)).get_current_head()
    return MigrationContext.configure(conn).get_current_revision() == newest


def _config(conn: Connection) -> Config:
    config = Config()
    config.set_main_option("script_location", str(_FOLDER).replace("%", "%%"))
    config.attributes["connection"] = conn
    return config


def _write_revision(subject: str) -> None:
    """Compare the tables with a scratch database at the newest revision; write the difference."""
    with tempfile.TemporaryDirectory() as folder:
        store = open_store(f"sqlite:///{folder}/scratch.db", Sealer("", {}, b""))
        upgrade(store)
        with store.write() as conn:
            config = _config(conn)
            number = len(list(ScriptDirectory.from_config(config).walk_revisions())) + 1
            command.revision(config, subject, autogenerate=True, rev_id=f"{number:04}")
        store.close()


if __name__ == "__main__":
    _write_revision(" ".join(sys.argv[1:]))
