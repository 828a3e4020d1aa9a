"""What a counsellor does on a case: a form comes in, actions of the transition go out, and words about it.

Every act is one POST that stores all or nothing. Acts that decide something carry a stamp of what the person
saw; where something new has come in since, nothing is done and the page says so.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict

from bot.content.factory import load_factory
from bot.content.guides import guides
from bot.content.languages import is_latin, native
from bot.core.errors import Conflict, Invalid, NotFound, Problem
from bot.core.follow import events as act
from bot.core.pair import Pair
from bot.core.segments import count, sendable
from bot.core.states import EnrolmentState, EpisodeState, Urgency
from bot.steps.inbox import act as do_all
from bot.store.accounts import colleagues
from bot.store.sites import all_sites
from bot.store.views_case import case_file
from bot.store.views_record import complete_entry
from bot.web.case import done, is_waiting, seen_stamp, show
from bot.web.case_words import ENDS, REASONS
from bot.web.formats import day, moment
from bot.web.parts import parts
from bot.web.record_words import SOURCE_WORDS
from bot.web.said import entered, is_repeat
from bot.web.security import viewer
from bot.web.story import baby_name
from bot.web.way import LEARNED, later
from bot.web.way_words import HINDRANCE_WORDS
from bot.web.words import _, _n

pages = Blueprint("case_acts", __name__)

Form = MultiDict[str, str]
# The outcomes of a danger after which mother or baby may be kept where they went.
_STAYS = frozenset({"admitted", "referred_on"})


@dataclass(frozen=True, slots=True)
class Deed:
    """What to do and what to say when it is done."""

    actions: Sequence[act.Action]
    said: str
    to_inbox: bool = False


@pages.post("/pairs/<uuid:pair_id>/<what>")
def do(pair_id: UUID, what: str) -> ResponseReturnValue:
    """Do one act and lead back; a refused form is shown again with what it held."""
    ask = _ACTS.get(what)
    if ask is None:
        raise NotFound(_("There is no such page, or it is not one that you may see."))
    now, form = parts().clock.now(), request.form
    with parts().store.read() as conn:
        pair = case_file(conn, viewer(), pair_id).pair
    try:
        _nothing_new(pair, form)
        deed = ask(pair, form, now)
        if deed.actions:
            do_all(parts().store, parts().content(), viewer(), pair_id, deed.actions, now)
    except Invalid as error:
        faults = {problem.field: _(problem.message) for problem in error.problems}
        page = show(pair_id, faults=faults, answers=form, text=form.get("text", ""), refused=what)
        return page, 422
    except Conflict as error:
        return done(pair_id, _(str(error)), "wrong")
    if deed.to_inbox:
        flash(deed.said)
        return redirect(url_for("inbox.page"), 303)
    return done(pair_id, deed.said)


@pages.post("/pairs/<uuid:pair_id>/count")
def count_text(pair_id: UUID) -> str:
    """Count what is being written to her, without sending it."""
    with parts().store.read() as conn:
        case_file(conn, viewer(), pair_id)  # only for a pair that the viewer may see
    text = request.form.get("text", "")
    if request.headers.get("HX-Request"):
        return render_template("_counted.html", counted=count(sendable(text.strip())))
    return show(pair_id, text=text, counted=count(sendable(text.strip())))


def _nothing_new(pair: Pair, form: Form) -> None:
    """Refuse to decide on what the person has not seen."""
    if "seen" in form and form["seen"] != seen_stamp(pair.open_escalation):
        raise Conflict(
            _("Nothing was changed: something new came in since you opened this page. Read it, then decide.")
        )


# ---------------------------------------------------------------- the inbox item


def _take(pair: Pair, form: Form, now: datetime) -> Deed:
    _not_with_another(pair)
    return Deed([act.Take()], _("Yours now. The clock runs until you have spoken to her."))


def _release(pair: Pair, form: Form, now: datetime) -> Deed:
    _not_with_another(pair)
    return Deed([act.Release()], _("Put back: it waits for anybody."), to_inbox=True)


def _hand_over(pair: Pair, form: Form, now: datetime) -> Deed:
    _not_with_another(pair)
    with parts().store.read() as conn:
        names = colleagues(conn, viewer(), pair.site.id)
    chosen = next(((key, name) for key, name in names.items() if str(key) == form.get("to")), None)
    if chosen is None:
        raise Invalid([Problem("to", _("Choose to whom you hand it over."))])
    return Deed([act.HandOver(chosen[0])], _("%(name)s is asked to take it over.", name=chosen[1]))


def _accept(pair: Pair, form: Form, now: datetime) -> Deed:
    return Deed([act.AcceptHandOver()], _("Yours now. The clock runs until you have spoken to her."))


def _put_off(pair: Pair, form: Form, now: datetime) -> Deed:
    _not_with_another(pair)
    until = dict(later(now, pair)).get(form.get("later", ""))
    if until is None:
        raise Invalid([Problem("later", _("Choose when to look at it again."))])
    said = _("It waits until %(at)s. Anything new brings it back at once.", at=moment(until, pair.tz))
    return Deed([act.PutOff(until, _reason("put-off", form))], said, to_inbox=True)


def _going(pair: Pair, form: Form, now: datetime) -> Deed:
    _not_with_another(pair)
    learned = next((state for state in LEARNED if state.value == form.get("going")), None)
    if learned is None:
        raise Invalid([Problem("going", _("Choose what you learned."))])
    why = form.get("hindrance", "") if learned is EpisodeState.cannot else ""
    if learned is EpisodeState.cannot and why not in HINDRANCE_WORDS:
        raise Invalid([Problem("hindrance", _("Choose what keeps her from going."))])
    said = _("Noted. What follows from it stands below.")
    return Deed([*_taken_first(pair), act.Going(learned, why)], said)


def _spoke(pair: Pair, form: Form, now: datetime) -> Deed:
    _not_with_another(pair)
    return Deed(
        [*_taken_first(pair), act.Spoke()], _("Noted: you have spoken to her. The clock has stopped.")
    )


def _withdraw(pair: Pair, form: Form, now: datetime) -> Deed:
    baby = form.get("baby", type=int)
    why = _reason("withdraw", form)
    said = _("Withdrawn. It stays in the story, and comes back if she writes it again.")
    return Deed([act.WithdrawFinding(form.get("rule", ""), baby, why)], said)


def _urgency(pair: Pair, form: Form, now: datetime) -> Deed:
    level = form.get("urgency", "")
    if level not in Urgency.__members__ or level == Urgency.none.name:
        raise Invalid([Problem("urgency", _("Choose how soon."))])
    why = _reason("urgency", form)
    return Deed([act.SetUrgency(Urgency[level], why)], _("The urgency is changed, and the due time with it."))


def _close(pair: Pair, form: Form, now: datetime) -> Deed:
    _not_with_another(pair)
    found = form.get("found", "")
    if guides().found_words(found) == found:
        raise Invalid([Problem("found", _("Choose what was found before you close this."))])
    spoke = [act.Spoke()] if form.get("spoke") else []
    outcome = form.get("outcome", "")
    actions = [*_taken_first(pair), *spoke, act.Close(found, note_of(form), outcome)]
    if outcome in _STAYS and pair.state is EnrolmentState.following:
        said = _(
            "Closed. Who is still in hospital? Set 'Away for a while' under More, or %(name)s is asked as at "
            "home and expected at the review.",
            name=pair.mother.name,
        )
        return Deed(actions, said)
    return Deed(
        actions, _("Closed. %(name)s is with the schedule again.", name=pair.mother.name), to_inbox=True
    )


def note_of(form: Form) -> str:
    """Write the note of a call: the steps of the guide that were done, then her or his own words."""
    ticked = form.getlist("step")
    steps = {f"{guide.id}.{step.id}": step.do for guide in guides().all for step in guide.step}
    lines = [f"- {_(steps[key])}" for key in ticked if key in steps]
    return "\n".join([*lines, form.get("note", "").strip()]).strip()


def _not_with_another(pair: Pair) -> None:
    item = pair.open_escalation
    if item is None:
        raise Conflict(_("This pair has nothing open in the inbox any more."))
    if item.taken_by is not None and item.taken_by != viewer().staff_id:
        with parts().store.read() as conn:
            name = colleagues(conn, viewer()).get(item.taken_by, _("A colleague"))
        raise Conflict(_("%(name)s has taken this. Ask them to hand it over.", name=name))


def _taken_first(pair: Pair) -> list[act.Action]:
    return [act.Take()] if is_waiting(pair) else []


# ---------------------------------------------------------------- what is said both ways


def _answers(pair: Pair, form: Form, now: datetime) -> Deed:
    told = entered(pair, form)
    if is_repeat(pair, told, viewer().staff_id, now):
        return Deed([], _("This is stored already."))
    return Deed(told, _("Stored and judged as if she had written it. What follows from it stands below."))


def _write(pair: Pair, form: Form, now: datetime) -> Deed:
    text = form.get("text", "").strip()
    if not text:
        raise Invalid([Problem("text", _("Write something to send."))])
    n = count(sendable(text)).segments
    said = _n("It goes out now, as %(n)s part.", "It goes out now, as %(n)s parts.", n)
    return Deed([act.Write(form.get("key", "")[:40], text)], said)


def _confirm_phone(pair: Pair, form: Form, now: datetime) -> Deed:
    return Deed([act.ConfirmPhone()], _("The number is confirmed: texts go out from now on."))


def _stop(pair: Pair, form: Form, now: datetime) -> Deed:
    why = _reason("stop", form)
    return Deed([act.StopTexts(why)], _("No more texts. The schedule goes on: its contacts become calls."))


# ---------------------------------------------------------------- review and endings


def _review(pair: Pair, form: Form, now: datetime) -> Deed:
    on, at = _date("on_day", form), _time("at", form)
    standing = pair.expected_review
    if standing is not None and (standing.on_day, standing.at) == (on, at):
        return Deed([], _("The review is on that day already."))
    said = _("The review is on %(day)s now.", day=day(on))
    if pair.can_text():
        said += " " + _("She gets a text about it.")
    return Deed([act.MoveReview(on, at)], said)


def _hold(pair: Pair, form: Form, now: datetime) -> Deed:
    return Deed([act.Hold(_reason("hold", form))], _("Held: nothing is sent until somebody decides."))


def _away(pair: Pair, form: Form, now: datetime) -> Deed:
    until, why = _date("until", form), _reason("away", form)
    return Deed([act.Away(until, why)], _("Away. Looked at again on %(day)s.", day=day(until)))


def _resume(pair: Pair, form: Form, now: datetime) -> Deed:
    texting = form.get("texting", "yes") == "yes"
    said = _("Followed again, by text.") if texting else _("Followed again, by call or visit.")
    return Deed([act.Resume(texting)], said)


def _death(pair: Pair, form: Form, now: datetime) -> Deed:
    baby = form.get("baby", type=int)
    if baby not in [each.ordinal for each in pair.babies]:
        raise Invalid([Problem("baby", _("Choose which baby died."))])
    _sure(form, "death_sure")
    name = baby_name(pair, baby)
    return Deed(
        [act.RecordDeath(baby)], _("Recorded: %(name)s died. Nothing about this baby is sent.", name=name)
    )


def _mother_death(pair: Pair, form: Form, now: datetime) -> Deed:
    _sure(form, "mother_death_sure")
    said = _("Recorded: the mother died. Nothing is texted any more; people follow the baby.")
    return Deed([act.RecordMotherDeath()], said)


def _language(pair: Pair, form: Form, now: datetime) -> Deed:
    tag = form.get("language", "")
    if tag not in load_factory().texts.tags:
        raise Invalid([Problem("language", _("Choose a language."))])
    if not form.get("herself"):
        raise Invalid([Problem("herself", _("Make sure first that it is she who asks for it, and tick it."))])
    changed = act.SetLanguage(native(tag), is_latin(tag))
    return Deed([act.CheckedWho(), changed], _("Her texts are in that language from now on."))


def _offer(pair: Pair, form: Form, now: datetime) -> Deed:
    with parts().store.read() as conn:
        sites = {str(each.id): each for each in all_sites(conn)}
    chosen = sites.get(form.get("site", ""))
    if chosen is None or chosen.id == pair.site.id:
        raise Invalid([Problem("site", _("Choose which site shall follow them."))])
    said = _("%(site)s is asked. Until it accepts, they stay here.", site=chosen.name)
    return Deed([act.OfferMove(chosen.id)], said)


def _withdraw_offer(pair: Pair, form: Form, now: datetime) -> Deed:
    return Deed([act.WithdrawMove("withdrawn")], _("Withdrawn: they stay here."))


def _adverse(pair: Pair, form: Form, now: datetime) -> Deed:
    """Complete an entry of the register: what happened is known by then, its day, place and source."""
    on_day, place, source = _date("on_day", form), form.get("place", "").strip(), form.get("told_by", "")
    faults = []
    if on_day > pair.local(now).date() or on_day < pair.youngest.born_on - timedelta(days=1):
        faults.append(Problem("on_day", _("Choose a day from the birth to today.")))
    if not place:
        faults.append(Problem("place", _("Say where it was.")))
    if source not in SOURCE_WORDS:
        faults.append(Problem("told_by", _("Choose who says so.")))
    if faults:
        raise Invalid(faults)
    with parts().store.write() as conn:
        entry = UUID(form.get("entry", ""))
        note = form.get("note", "").strip()
        complete_entry(conn, viewer(), entry, pair.id, on_day, place, source, note, now)
    return Deed([], _("The entry is complete."))


def _finish(pair: Pair, form: Form, now: datetime) -> Deed:
    reason = form.get("reason", "")
    if reason not in ENDS:
        raise Invalid([Problem("reason", _("Choose why the follow-up ends."))])
    _sure(form, "finish_sure")
    return Deed([act.Finish(reason)], _("The follow-up has ended. Danger from this number is still heard."))


def _reason(what: str, form: Form) -> str:
    given = form.get("why", "")
    if given not in dict(REASONS[what]):
        raise Invalid([Problem(f"{what}_why", _("Choose why."))])
    return given


def _sure(form: Form, name: str) -> None:
    if not form.get(name):
        raise Invalid([Problem(name, _("Tick that you are sure: it stops every text at once."))])


def _date(name: str, form: Form) -> date:
    try:
        return date.fromisoformat(form.get(name, ""))
    except ValueError as error:
        raise Invalid([Problem(name, _("Choose a day."))]) from error


def _time(name: str, form: Form) -> time | None:
    given = form.get(name, "")
    try:
        return time.fromisoformat(given) if given else None
    except ValueError as error:
        raise Invalid([Problem(name, _("Write the time as 09:30, or leave it empty."))]) from error


_ACTS: Mapping[str, Callable[[Pair, Form, datetime], Deed]] = {
    "take": _take,
    "release": _release,
    "hand-over": _hand_over,
    "accept": _accept,
    "put-off": _put_off,
    "going": _going,
    "spoke": _spoke,
    "withdraw": _withdraw,
    "urgency": _urgency,
    "close": _close,
    "answers": _answers,
    "write": _write,
    "phone": _confirm_phone,
    "stop": _stop,
    "review": _review,
    "hold": _hold,
    "away": _away,
    "resume": _resume,
    "death": _death,
    "mother-death": _mother_death,
    "language": _language,
    "offer": _offer,
    "withdraw-offer": _withdraw_offer,
    "adverse": _adverse,
    "finish": _finish,
}
