"""Staff and sites: who may sign in, as what and where, and on which days a site is closed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any
from uuid import UUID

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from bot.content.staff_words import LANGUAGES
from bot.core.errors import Conflict, NotAllowed, NotFound
from bot.core.pair import Site
from bot.steps.accounts import new_account, new_password
from bot.store.sites import change_site
from bot.store.staff import change_person, may_manage, people, person_of
from bot.store.viewer import Role
from bot.store.views_reviews import sites_seen
from bot.web.formats import day
from bot.web.parts import parts
from bot.web.security import machine_time, needs, viewer
from bot.web.words import _, lazy

pages = Blueprint("staff", __name__)

ROLES = {
    Role.counsellor: lazy("Counsellor: inbox, reviews, ward"),
    Role.lead: lazy("Lead: also the report"),
    Role.manager: lazy("Manager: also schedule and staff of her sites"),
    Role.admin: lazy("Admin: also managers, at every site"),
}


@pages.get("/staff")
@needs(Role.manager)
def page() -> str:
    return _page({}, {})


@pages.post("/staff")
@needs(Role.manager)
def add() -> ResponseReturnValue:
    """Add an account; its password stands on the answer and nowhere else."""
    form = request.form
    login, name = form.get("login", "").strip(), form.get("name", "").strip()
    role, codes = _role(form.get("role", "")), form.getlist("sites")
    faults: dict[str, str] = {}
    if not login or not login.isascii() or " " in login:
        faults["login"] = _("Give a login of Latin letters and digits, without spaces.")
    if not name:
        faults["name"] = _("Give the name that colleagues see.")
    if role is None:
        faults["role"] = _("Choose a role.")
    if not codes:
        faults["sites"] = _("Choose at least one site.")
    known = {site.code: site.id for site in _sites()}
    sites = [known[code] for code in codes if code in known]
    if len(sites) < len(codes) or (role is not None and not may_manage(viewer(), role, sites)):
        raise NotAllowed(_("You can't give this role or these sites."))
    if faults or role is None:
        return _page(form, faults), 422
    code = form.get("language", "")
    language = code if code in LANGUAGES else "en"
    try:
        password = new_account(parts().store, login, name, role, language, codes, machine_time())
    except Conflict as taken:
        return _page(form, {"login": _(str(taken))}), 422
    return _page({}, {}, shown=(name, login, password))


@pages.get("/staff/<uuid:person_id>")
@needs(Role.manager)
def one(person_id: UUID) -> str:
    with parts().store.read() as conn:
        person = person_of(conn, viewer(), person_id)
    sites = _sites()
    return render_template(
        "staff_person.html",
        person=person,
        roles=_roles(),
        site_options=[(site.code, site.name) for site in sites],
        chosen=[site.code for site in sites if site.id in person.sites],
        me=viewer().staff_id,
    )


@pages.post("/staff/<uuid:person_id>")
@needs(Role.manager)
def change(person_id: UUID) -> ResponseReturnValue:
    """Change role, sites and whether the account may sign in."""
    form = request.form
    role = _role(form.get("role", ""))
    chosen = [site.id for site in _sites() if site.code in form.getlist("sites")]
    active = form.get("active") == "yes"
    if role is None or (active and not chosen):
        flash(_("Choose a role and at least one site."), "wrong")
        return redirect(url_for(".one", person_id=person_id), 303)
    with parts().store.write() as conn:
        # Sites that are not the viewer's do not stand in the form: they stay as they are.
        chosen += person_of(conn, viewer(), person_id).sites - viewer().sites
        change_person(conn, viewer(), person_id, role=role, sites=chosen, active=active)
    flash(_("Stored. Who lost a role or a site signs in again."))
    return redirect(url_for(".page"), 303)


@pages.post("/staff/<uuid:person_id>/password")
@needs(Role.manager)
def password(person_id: UUID) -> ResponseReturnValue:
    """Give a new password; it stands on the answer and nowhere else."""
    with parts().store.read() as conn:
        person = person_of(conn, viewer(), person_id)
    made = new_password(parts().store, viewer(), person_id)
    return _page({}, {}, shown=(person.name, person.login, made))


@pages.post("/sites/<code>/closed")
@needs(Role.manager)
def closed(code: str) -> ResponseReturnValue:
    """Close a site on a day, or open it again. Plans of running pairs are made anew."""
    site = next((each for each in _sites() if each.code == code), None)
    if site is None:
        raise NotFound(_("There is no such site among yours."))
    try:
        on_day = date.fromisoformat(request.form.get("day", ""))
    except ValueError:
        flash(_("Choose a day."), "wrong")
        return redirect(url_for(".page", _anchor=f"site-{code}"), 303)
    again = request.form.get("what") == "open"
    days = site.closed_days - {on_day} if again else site.closed_days | {on_day}
    with parts().store.write() as conn:
        change_site(conn, replace(site, closed_days=days))
    said = _("%(site)s is open on %(day)s.") if again else _("%(site)s is closed on %(day)s.")
    said = said % {"site": site.name, "day": day(on_day)}
    rest = _("Reviews booked for a closed day stay: move them on the pages of their pairs.")
    flash(f"{said} {rest}")
    return redirect(url_for(".page", _anchor=f"site-{code}"), 303)


def _page(form: Mapping[str, Any], faults: Mapping[str, str], **given: Any) -> str:
    now = parts().clock.now()
    with parts().store.read() as conn:
        listed = people(conn, viewer())
    sites = _sites()
    return render_template(
        "staff.html",
        people=listed,
        sites=sites,
        site_options=[(site.code, site.name) for site in sites],
        names={site.id: site.name for site in sites},
        role_words=ROLES,
        roles=_roles(),
        form=form,
        chosen=request.form.getlist("sites") if form else (),
        faults=faults,
        ahead={
            site.code: sorted(d for d in site.closed_days if d >= now.astimezone(site.tz).date())
            for site in sites
        },
        me=viewer().staff_id,
        **given,
    )


def _roles() -> list[tuple[str, str]]:
    """The roles that the viewer may give."""
    return [(role.value, _(words)) for role, words in ROLES.items() if may_manage(viewer(), role, ())]


def _role(word: str) -> Role | None:
    return Role(word) if word in set(Role) else None


def _sites() -> list[Site]:
    with parts().store.read() as conn:
        return sites_seen(conn, viewer())
