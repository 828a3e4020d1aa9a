"""What a WSGI server is pointed at: the application, built from the environment once in each process."""

from __future__ import annotations

from flask import Flask

from bot import settings, wiring


def app() -> Flask:
    """Build the application."""
    return wiring.web(wiring.build(settings.load()))
