"""The token of forms, for a script that sends again what a lost connection held back."""

from flask import Blueprint, Response, jsonify

from kb.web import request_guard

screen = Blueprint("token", __name__)


@screen.get("/token")
def token() -> Response:
    """The token that a form of this browser must carry; only this page can read it."""
    return jsonify(token=request_guard.token())
