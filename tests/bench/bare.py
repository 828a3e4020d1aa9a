"""The least that a hook under Flask could be: read the JSON, answer without a body."""

from __future__ import annotations

from flask import Flask, Response, request


def app() -> Flask:
    """Build the application."""
    bare = Flask(__name__)

    @bare.post("/replies")
    def replies() -> Response:
        request.get_json()
        return Response(status=204)

    return bare
