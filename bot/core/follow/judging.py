"""Ask triage about every baby, keep what it looked at, and put what it found into the inbox."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from uuid import UUID

from bot.core.escalation import News
from bot.core.follow.draft import Draft
from bot.core.follow.events import Judged
from bot.core.outbox import Priority
from bot.core.pair_facts import facts_of
from bot.core.states import Urgency
from bot.core.triage import facts_from_json, triage

# A worried mother may write the same danger five times in a minute: one text with what to do serves her,
# and it is said again when she still writes half an hour later. Common practice, no source.
ADVICE_AGAIN = timedelta(minutes=30)


def judge(
    draft: Draft, *, inbound: UUID | None = None, silence: bool = False, leave: frozenset[str] = frozenset()
) -> list[News]:
    """Run triage for each living baby with its mother's facts; raise what holds, except the rules in `leave`.

    Gives what holds now, gravest first. A finding about the mother is one finding, not one a baby.
    """
    news: dict[tuple[str, int | None], News] = {}
    for baby in draft.pair.living:
        told = facts_of(draft.pair, baby, draft.now, draft.content.questions, silence=silence)
        facts = facts_from_json(told)
        verdict = triage(facts, draft.content.rules)
        key = f"judged:{baby.ordinal}:{draft.now.isoformat()}:{inbound or ''}"
        draft.effects.append(Judged(key, baby.ordinal, facts, verdict))
        for finding in verdict.fired:
            if finding.rule not in leave:
                about = None if finding.subject == "mother" else baby.ordinal
                item = News(finding.rule, about, finding.urgency, inbound)
                news[item.rule, item.baby] = item
    return sorted(news.values(), key=lambda item: -item.urgency)


def raise_and_advise(draft: Draft, news: Sequence[News], once: str) -> bool:
    """Raise the findings and tell the mother what the gravest of those not yet told asks of her.

    Gives whether a text was made. The words she used are never repeated to her.
    """
    recent = _told_recently(draft)
    fresh = draft.raise_news(news)
    tell = [item for item in news if item in fresh or (item.rule, item.baby) not in recent]
    if not tell or not draft.pair.can_text():
        return False
    gravest = max(tell, key=lambda item: item.urgency)
    advice = draft.content.rules.advice(gravest.rule)
    if advice is None:
        return False
    priority = Priority.go_now if gravest.urgency is Urgency.go_now else Priority.answer
    draft.say(f"{once}:{advice}", advice, priority)
    return True


def _told_recently(draft: Draft) -> set[tuple[str, int | None]]:
    standing = draft.pair.open_escalation
    findings = standing.findings if standing else ()
    return {(f.rule, f.baby) for f in findings if draft.now - f.last_at < ADVICE_AGAIN}
