"""Who is enrolled already: looked up by external id, and by phone, in one statement for many."""

from __future__ import annotations

from collections.abc import Collection
from uuid import UUID

from sqlalchemy import Connection, select, tuple_

from bot.core.states import EnrolmentState
from bot.store.engine import sealer_of
from bot.store.tables import enrolment, fixed, mother

Key = tuple[UUID, str]  # site and external id


def known_enrolments(conn: Connection, keys: Collection[Key]) -> dict[Key, UUID]:
    """Give the enrolments that stand under these external ids, closed ones too."""
    if not keys:
        return {}
    c = enrolment.c
    query = select(c.id, c.site, c.external_id).where(tuple_(c.site, c.external_id).in_(list(keys)))
    return {(row.site, row.external_id): row.id for row in conn.execute(query)}


def phones_in_use(conn: Connection, phones: Collection[str]) -> set[str]:
    """Give those of the numbers (E.164) that a mother under follow-up has, at any site."""
    keys = {sealer_of(conn).phone_key(phone): phone for phone in phones}
    if not keys:
        return set()
    query = (
        select(mother.c.phone_key)
        .join(enrolment, enrolment.c.mother == mother.c.id)
        .where(mother.c.phone_key.in_(list(keys)), enrolment.c.state != fixed(EnrolmentState.closed))
    )
    return {keys[key] for key in conn.scalars(query) if key is not None}


def is_registered(conn: Connection, site: UUID, external_id: str) -> bool:
    """Tell whether a site has a pair under this number of its register, a closed one too."""
    return bool(known_enrolments(conn, [(site, external_id)]))
