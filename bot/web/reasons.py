"""Why something stands in the inbox: the id of a rule or occasion comes in, its reason in words goes out."""

from __future__ import annotations

from dataclasses import dataclass

from bot.core.follow import Content
from bot.web.words import _


@dataclass(frozen=True, slots=True)
class Why:
    """What a rule or occasion says of itself, in the language of the screen; `source` stays as written."""

    rule: str
    words: str
    source: str
    ask: str
    subject: str  # baby, mother, or '' where it is about the follow-up itself


def why(content: Content, rule: str) -> Why:
    """Give the reason; an id that the present edition does not know any more is shown as it is."""
    occasion = content.occasions.get(rule)
    if occasion is not None:
        return Why(rule, _(occasion.why), occasion.source, _(occasion.ask), "")
    known = next((each for each in content.rules.rules if each.id == rule), None)
    if known is None:
        return Why(rule, rule, "", "", "")
    return Why(rule, _(known.why), known.source, _(known.ask) if known.ask else "", known.subject)
