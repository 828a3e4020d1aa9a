"""Who looks: every query about people takes a `Viewer`, so nobody sees more than role and sites allow."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from bot.core.errors import NotAllowed


class Role(StrEnum):
    """What a person may do; each role may do what those before it may."""

    counsellor = "counsellor"
    lead = "lead"
    manager = "manager"
    admin = "admin"

    def reaches(self, least: Role) -> bool:
        """Tell whether this role may do what `least` may."""
        order = list(Role)
        return order.index(self) >= order.index(least)


@dataclass(frozen=True, slots=True)
class Viewer:
    """A signed-in person or a token: id, role, and the ids of the sites whose people may be seen.

    `staff_id` is the token's own id where another system looks (`is_token`).
    """

    staff_id: UUID
    role: Role
    sites: frozenset[UUID]
    is_token: bool = False

    @property
    def person_id(self) -> UUID:
        """The id of the person who acts. Raises NotAllowed for a token: who did it must be staff."""
        if self.is_token:
            raise NotAllowed("Only a signed-in person can do this, not a token.")
        return self.staff_id

    def needs(self, least: Role) -> None:
        """Raise NotAllowed unless the role reaches `least`."""
        if not self.role.reaches(least):
            raise NotAllowed(f"This needs the role {least.value} or above.")
