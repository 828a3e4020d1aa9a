"""Ask triage about every baby, keep what it looked at, and put what it found into the inbox."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from uuid import UUID

from bot.core.escalation import News
from bot.core.facts_judged import judged
from bot.core.facts_read import facts_from_json
from bot.core.follow import episodes
from bot.core.follow.draft import Draft
from bot.core.follow.events import Judged
from bot.core.outbox import Priority
from bot.core.pair import Baby
from bot.core.pair_facts import facts_of
from bot.core.states import Urgency
from bot.core.triage import Verdict, triage

# A worried mother may write the same danger five times in a minute: one text with what to do serves her,
# and it is said again when she still writes half an hour later. Common practice, no source.
ADVICE_AGAIN = timedelta(minutes=30)


def judge(
    draft: Draft,
    *,
    told: frozenset[str] | None = None,
    inbound: UUID | None = None,
    silence: bool = False,
    leave: str = "",
) -> list[News]:
    """Run triage for each living baby with its mother's facts, after a death for the mother; keep each run.

    Gives what holds now, gravest first, except the rules of the ladder `leave`. Of a reply (`told` are the
    keys of what was said) or a silence only what would not hold without it: yesterday's danger is not brought
    by today's 'six'. A finding about the mother is one finding, not one a baby.
    """
    news: dict[tuple[str, int | None], News] = {}
    for baby in draft.pair.living or draft.pair.babies[:1]:
        facts, verdict = _triage(draft, baby, silence=silence)
        key = f"judged:{baby.ordinal}:{draft.now.isoformat()}:{inbound or ''}"
        draft.effects.append(Judged(key, baby.ordinal, facts, verdict))
        is_part = silence or told is not None
        held = _held_without(draft, baby, told or frozenset()) if is_part and verdict.fired else frozenset()
        for finding in verdict.fired:
            rule = draft.content.rules.rule(finding.rule)
            about = None if finding.subject == "mother" else baby.ordinal
            is_left = rule is None or rule.ladder == leave or finding.rule in held
            if not is_left and (about is None or draft.pair.living):
                item = News(finding.rule, about, finding.urgency, inbound)
                news[item.rule, item.baby] = item
    return sorted(news.values(), key=lambda item: -item.urgency)


def _triage(
    draft: Draft, baby: Baby, *, silence: bool = False, without: frozenset[str] = frozenset()
) -> tuple[dict[str, object], Verdict]:
    rules, known = draft.content.rules, draft.content.known
    facts = facts_of(draft.pair, baby, draft.now, known, silence=silence, without=without)
    return facts, triage(facts_from_json(facts, rules.vocabulary), rules)


def at_risk(draft: Draft, baby: Baby) -> bool:
    """Tell whether silence and doubt count sooner for this baby with its mother."""
    vocabulary = draft.content.rules.vocabulary
    facts = facts_of(draft.pair, baby, draft.now, draft.content.known)
    return "at_risk" in judged(facts_from_json(facts, vocabulary), vocabulary)


def _held_without(draft: Draft, baby: Baby, told: frozenset[str]) -> frozenset[str]:
    """The rules that would hold had she not said this, or not been silent."""
    _, verdict = _triage(draft, baby, without=told)
    return frozenset(finding.rule for finding in verdict.fired)


def raise_and_advise(draft: Draft, news: Sequence[News], once: str, *, of_baby: bool = True) -> bool:
    """Raise the findings and tell the mother what the gravest of those not yet told asks of her.

    Gives whether a text was made. The words she used are never repeated to her. Who names a danger is told
    what to do whatever became of the texts or the follow-up: she has just written from this number.

    of_baby  False after a death: only what is about the mother herself is told
    """
    recent = _told_recently(draft)
    fresh = draft.raise_news(news)
    hers = [item for item in news if of_baby or item.baby is None]
    if any(item.urgency is Urgency.go_now for item in hers):
        return episodes.tell(draft, hers, once)
    tell = [item for item in news if item in fresh or (item.rule, item.baby) not in recent]
    gravest = max((n for n in tell if of_baby or n.baby is None), key=lambda n: n.urgency, default=None)
    advice = draft.advice(gravest) if gravest else None
    if gravest is None or advice is None:
        return False
    if not draft.pair.can_text():
        return False
    draft.say(f"{once}:{advice}", advice, Priority.answer)
    return True


def _told_recently(draft: Draft) -> set[tuple[str, int | None]]:
    standing = draft.pair.open_escalation
    findings = standing.findings if standing else ()
    return {(f.rule, f.baby) for f in findings if draft.now - f.last_at < ADVICE_AGAIN}
