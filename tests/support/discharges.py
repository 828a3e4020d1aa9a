"""Invented discharge details as the API takes them: a whole one by default, each value changed by its dotted
name. A value of `GONE` takes the name out.

By default a term baby of 3,250 g, born at 06:15 on Monday 2 March 2026 at a site in Nairobi (UTC+3), leaves
the next day at 14:00 and is enrolled 20 minutes later.
"""

from __future__ import annotations

import copy
from datetime import UTC, datetime
from typing import Any

from bot.core.enrolment import Terms
from bot.core.pair import OnCall
from tests.support.pairs import a_site

NOW = datetime(2026, 3, 3, 11, 20, tzinfo=UTC)
GONE = object()

_WHOLE: dict[str, Any] = {
    "external_id": "W-1001",
    "site": "lakeside",
    "mother": {"name": "Amina", "phone": "07700 900123", "language": "en", "phone_shared": False},
    "babies": [
        {
            "name": "Nia",
            "born_at": "2026-03-02T06:15",
            "sex": "female",
            "birth_weight_g": 3250,
            "gestation_weeks": 39.5,
        }
    ],
    "discharged_at": "2026-03-03T14:00",
    "consent": {"texts": True, "calls": True, "taken_by": "Ruth", "language": "en"},
    "preferred_hour": 10,
}
ASSESSMENT: dict[str, Any] = {
    "position": {"neck": "yes", "turned": "yes", "close": "yes", "supported": "no"},
    "attachment": {"chin": "yes", "mouth": "yes", "lower_lip": "not_seen", "areola": "yes"},
    "suckling": "effective",
    "weight_g": 3150,
}


def details(**changes: Any) -> dict[str, Any]:
    """Give the whole example; `mother__age=19` or `babies__0__sex=None` changes one value."""
    raw = copy.deepcopy(_WHOLE)
    for name, value in changes.items():
        *path, last = name.split("__")
        inner: Any = raw
        for step in path:
            inner = inner[int(step)] if step.isdigit() else inner.setdefault(step, {})
        if value is GONE:
            inner.pop(last)
        else:
            inner[int(last) if last.isdigit() else last] = value
    return raw


def terms(**changes: Any) -> Terms:
    """A demo with one site in Nairobi; its numbers are read as British, as the invented ones are."""
    on_call = (OnCall("Ward", "+447700900110"),)
    site = a_site(**{"region": "GB", "on_call": on_call} | changes.pop("site", {}))
    given: dict[str, Any] = {"sites": {site.code: site}, "languages": ("en", "ar"), "demo": True}
    return Terms(**given | changes)
