"""Tables whose rows are written once: the database itself refuses to change or delete them."""

from __future__ import annotations

from sqlalchemy import DDL, Table, event

FUNCTION = """
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN
  RAISE EXCEPTION 'rows of % are written once', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$
"""
POSTGRES_TRIGGER = """
CREATE TRIGGER tr_{table}_written_once BEFORE UPDATE OR DELETE ON {table}
FOR EACH ROW EXECUTE FUNCTION refuse_change()
"""
SQLITE_TRIGGER = """
CREATE TRIGGER tr_{table}_no_{change} BEFORE {change} ON {table}
BEGIN SELECT RAISE(ABORT, 'rows of {table} are written once'); END
"""


def statements(table: str, dialect: str) -> list[str]:
    """Give the statements that make `table` append-only on PostgreSQL or SQLite."""
    if dialect == "postgresql":
        return [FUNCTION, POSTGRES_TRIGGER.format(table=table)]
    return [SQLITE_TRIGGER.format(table=table, change=change) for change in ("UPDATE", "DELETE")]


def keep_rows(*tables: Table) -> None:
    """Make each table append-only whenever the metadata creates it."""
    for table in tables:
        for dialect in ("postgresql", "sqlite"):
            for statement in statements(table.name, dialect):
                ddl = DDL(statement.replace("%", "%%"))  # type: ignore[no-untyped-call]  # so in SQLAlchemy
                event.listen(table, "after_create", ddl.execute_if(dialect=dialect))
