"""Alembic's revisions of the schema. `bot.store.migrate` runs and writes them."""
