"""The web application: `Parts` come in, the Flask application comes out."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from apiflask import APIFlask
from flask import Blueprint, Flask, url_for
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException

from bot.store.viewer import Role
from bot.web import (
    api,
    case,
    case_acts,
    catch_up,
    chase,
    enrol,
    errors,
    health,
    inbox,
    login,
    on_call,
    proposals,
    report,
    review,
    reviews,
    schedule,
    schedule_edit,
    schedule_publish,
    schedule_trial,
    shift,
    slip,
    staff,
    stranger,
    texts,
    ward,
)
from bot.web.api_schema import describe
from bot.web.formats import add_filters
from bot.web.parts import Parts
from bot.web.security import guard
from bot.web.words import lazy, say_in_templates

# Pages for people, and doors for machines that check their callers themselves.
PAGES: tuple[Blueprint, ...] = (
    login.pages,
    inbox.pages,
    case.pages,
    case_acts.pages,
    stranger.pages,
    shift.pages,
    catch_up.pages,
    chase.pages,
    on_call.pages,
    reviews.pages,
    review.pages,
    ward.pages,
    enrol.pages,
    slip.pages,
    schedule.pages,
    schedule_edit.pages,
    schedule_publish.pages,
    schedule_trial.pages,
    report.pages,
    proposals.pages,
    texts.pages,
    staff.pages,
)
DOORS: tuple[Blueprint, ...] = (health.door, api.door)
# What stands at the head of every page: endpoint, words, and the role that it needs.
WAYS: tuple[tuple[str, str, Role], ...] = (
    ("inbox.page", lazy("Inbox"), Role.counsellor),
    ("chase.page", lazy("To reach"), Role.counsellor),
    ("reviews.page", lazy("Reviews"), Role.counsellor),
    ("ward.page", lazy("Ward"), Role.counsellor),
    ("schedule.page", lazy("Schedule"), Role.manager),
    ("report.page", lazy("Report"), Role.lead),
    ("proposals.page", lazy("Words"), Role.lead),
    ("staff.page", lazy("Staff"), Role.manager),
)


def create_app(given: Parts) -> Flask:
    """Build the application from its parts; nothing is asked of database or network yet."""
    app = APIFlask(
        __name__,
        title="Dunnock",
        version="1",
        spec_path="/api/openapi.json",
        docs_path=None,
        json_errors=False,
        template_folder=str(Path(__file__).parent / "templates"),
    )
    app.extensions["dunnock"] = given
    app.config.update(
        SECRET_KEY=given.secret_key,
        SESSION_COOKIE_NAME="dunnock",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_SECURE=given.https,
        WTF_CSRF_TIME_LIMIT=None,  # as long as the session: a form may lie open through a busy afternoon
        MAX_CONTENT_LENGTH=2_000_000,
        SEND_FILE_MAX_AGE_DEFAULT=timedelta(days=1),
    )
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    describe(app)
    say_in_templates(app)
    add_filters(app)
    guard(app, DOORS)
    for blueprint in PAGES + DOORS:
        app.register_blueprint(blueprint)
    errors.show_errors(app, CSRFError, HTTPException)

    @app.context_processor
    def _page() -> dict[str, object]:
        return {"demo": given.demo, "ways": WAYS, "static_file": _static_file}

    return app


def _static_file(name: str) -> str:
    """Give the address of a static file, with a stamp that changes when the file does."""
    file = Path(__file__).parent / "static" / name
    return url_for("static", filename=name, v=int(file.stat().st_mtime))
