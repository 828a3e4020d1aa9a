"""What she writes: a question, the moment and her truth come in; her words go out, or '' for silence."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from bot.cohort.draws import pick, whole
from bot.cohort.people import Woman
from bot.cohort.world import Words, World

ASKS = ("ask-", "again-", "check-")  # what the keys of texts that ask begin with
GO_NOW = frozenset({"advice-go-now", "advice-go-now-mother", "go-repeat"})  # they ask whether she goes

IN_TALK = timedelta(minutes=10)


@dataclass(slots=True)
class Mouth:
    """`wrote_at` is when her last text came in: with the phone in her hand she answers the next question."""

    woman: Woman
    world: World
    random: Random
    wrote_at: datetime | None = None

    @property
    def _words(self) -> Words:
        return self.world.words[self.woman.language]

    def answer(self, text_key: str, at: datetime) -> str:
        """What she writes back to a text: an answer to what it asks, or '' for silence."""
        if text_key == "practice":
            return self._practice()
        if self.woman.wrong_number:
            return ""
        if text_key in GO_NOW:
            return self._whether_she_goes()
        if text_key == "go-cannot":
            return str(whole(self.random, 1, 4)) if self._does(self.world.assumed.dangers.answered) else ""
        if text_key.startswith(ASKS):
            return self._to_question(text_key, at)
        return ""

    def _practice(self) -> str:
        """Her answer at the bedside, or what the owner of a wrong number says."""
        if self.woman.wrong_number:
            return self._said("wrong_number")
        return "1" if self._does(self.world.assumed.replies.practice) else ""

    def _whether_she_goes(self) -> str:
        assumed = self.world.assumed.dangers
        if not self._does(assumed.answered):
            return ""
        return "1" if self._does(assumed.goes) else "0"

    def _to_question(self, text_key: str, at: datetime) -> str:
        assumed = self.world.assumed.replies
        chance = assumed.answered[min(self.woman.day(at), len(assumed.answered) - 1)]
        if self.wrote_at is not None and at - self.wrote_at < IN_TALK:
            chance = assumed.goes_on
        elif text_key.startswith("again-"):
            chance *= assumed.again
        if not self._does(chance):
            return ""
        danger = self.woman.danger(at)
        if danger is not None and danger.named and not danger.told:
            danger.told = True
            return self.names(danger.sign)
        other = self.random.random()
        for what, share in (("opt_out", assumed.opt_out), ("call_me", assumed.call_me)):
            if other < share:
                return self._said(what)
            other -= share
        words = self._to(text_key.split("-", 1)[1].removesuffix("-twins"), at)
        chats = self._does(assumed.chat) and self._words.says.get("chat")
        return f"{words}. {self._said('chat')}" if chats else words

    def _does(self, chance: float) -> bool:
        return self.random.random() < chance

    def names(self, sign: str) -> str:
        return pick(self.random, self._words.sign[sign])

    def values(self, at: datetime) -> dict[str, tuple[float, float]]:
        """What she says on the phone to a counsellor: the truth."""
        worry = float(self.woman.in_trouble(at))
        feeds, wet = self._count("feeds", at), self._count("wet_nappies", at)
        return {"worry": (worry, worry), "feeds": (feeds, feeds), "wet_nappies": (wet, wet)}

    def _to(self, question: str, at: datetime) -> str:
        ill, trouble = self.woman.in_trouble(at), self.woman.trouble
        if question in ("feeds", "wet_nappies", "dirty_nappies"):
            return self._number(question, self._count(question, at))
        if question == "pain":
            return str(self.woman.pain + (5 if ill and self.woman.hurts else 0))
        if question == "other_food":
            return self._yes_or_no(question, self.woman.other_food and self.woman.day(at) >= 5)
        return self._yes_or_no(
            question, ill and trouble is not None and trouble.named and question == "worry"
        )

    def _yes_or_no(self, question: str, yes: bool) -> str:
        """The digit that texts offer, or her own words."""
        if not self._does(self.world.assumed.replies.in_words):
            return "1" if yes else "0"
        known = self._words.yes if yes else self._words.no
        return pick(self.random, known.get(question) or known["worry"])

    def _number(self, question: str, number: int) -> str:
        assumed, draw = self.world.assumed.replies, self.random.random
        if draw() < assumed.vague:
            return self._said("vague")
        words = self._words.numbers[question].get(str(number), ())
        return pick(self.random, words) if draw() < assumed.in_words and words else str(number)

    def _count(self, question: str, at: datetime) -> int:
        """Her count of the last 24 hours. Usual counts by day are common practice, no source."""
        day, extra = self.woman.day(at), int(self.random.random() * 3)
        usual = {
            "feeds": self.woman.usual_feeds + extra - 1,
            "wet_nappies": min(day, 6) + extra,
            "dirty_nappies": min(day, 3) + extra,
        }[question]
        if not self.woman.in_trouble(at):
            return usual
        trouble = self.world.assumed.trouble
        share = {
            "feeds": trouble.feeds,
            "wet_nappies": trouble.wet_nappies,
            "dirty_nappies": trouble.dirty_nappies,
        }
        return int(usual * share[question])

    def _said(self, what: str) -> str:
        """A language that the corpus gives no such words for says it in English."""
        return pick(self.random, self._words.says.get(what) or self.world.words["en"].says[what])
