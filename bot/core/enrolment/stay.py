"""What every part of one enrolment refers to: where, under which name, when they left."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from bot.core.ids import derived_id
from bot.core.pair import Site


@dataclass(frozen=True, slots=True)
class Stay:
    """`site` and `discharged_at` (UTC) are None where they could not be read; the rest is examined."""

    site: Site | None
    external_id: str
    discharged_at: datetime | None
    now: datetime

    @property
    def tz(self) -> ZoneInfo | None:
        return self.site.tz if self.site else None

    def an_id(self, *what: object) -> UUID:
        """Give the id of a thing of this enrolment: the same for the same moment, site and external id."""
        return derived_id(self.now, self.site.id if self.site else "", self.external_id, *what)

    def day(self, instant: datetime) -> date:
        """Give the date of an instant at the site."""
        return instant.astimezone(self.tz).date()
