"""The bedside form as somebody fills it in: a whole one by default, each field changed by name."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from flask import Flask

from tests.support.ward import Ward

_WHOLE: dict[str, Any] = {
    "site": "lakeside",
    "key": "bed-0001",
    "external_id": "W-77",
    "mother.name": "Amina Wanjiru",
    "mother.phone": "+44 7700 900555",
    "mother.phone_shared": "no",
    "mother.language": "en",
    "consent": ["texts", "calls"],
    "follow_up_by": "text",
    "preferred_hour": "10",
    "babies": "1",
    "babies.0.name": "Nia",
    "babies.0.born_at.day": "2026-03-04",
    "babies.0.born_at.hour": "03:20",
    "babies.0.sex": "female",
    "babies.0.birth_weight_g": "3100",
    "babies.0.gestation_weeks": "38+3",
    "babies.0.place": "with_mother",
    "babies.0.assessment.position.neck": "yes",
    "babies.0.assessment.suckling": "effective",
    "leaves": "now",
}


def filled_in(**changes: Any) -> dict[str, Any]:
    """Give the fields of the form; `mother__name='Halima'` changes one, None takes one out."""
    named = {name.replace("__", "."): value for name, value in changes.items()}
    return {name: value for name, value in (_WHOLE | named).items() if value is not None}


def demo_app(ward: Ward) -> Flask:
    """The ward's application as a demo, in which numbers reserved for fiction may be enrolled."""
    app = ward.app()
    app.extensions["dunnock"] = replace(app.extensions["dunnock"], demo=True)
    return app
