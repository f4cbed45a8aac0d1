"""The page as one WSGI application: finds the screens, guards them, and shows errors calmly."""

import logging
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

from flask import Flask, jsonify, make_response, redirect, render_template, request
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import HTTPException, TooManyRequests

from kb.core import plugins
from kb.core.errors import ConflictError, KBError, NotFoundError, QueryError
from kb.core.labels import FIELDS, label
from kb.core.wording import CAUTION, NOT_FOR_CARE, capital, ended
from kb.presentation.render import OF_NOTES
from kb.web import links, login, places, request_guard, view_helpers
from kb.web.login import Door
from kb.web.narrow_tables import lead_of
from kb.web.option_labels import option_label
from kb.web.page_key import PageKey
from kb.web.session_holder import BusyError, Desk

SCREENS = "kb.web.screens"
PROMISED = ("screen",)
ASK_AGAIN_SECONDS = 1
"""For scripts; a page asks again at once, and then waits for its answer."""
LISTING = ("brief", "find", "map", "queue", "reread")
"""Reports whose notes are read beside their list, where there is room."""
TOO_MUCH = "That is too much for one form: 2 MB at most. Go back: what you typed is still there."
CALLED = (
    lead_of,
    links.area_address,
    links.cell_address,
    links.compare_address,
    links.entry_heads,
    links.note_address,
    option_label,
    places.place_of,
    places.way_to,
    request_guard.token,
    view_helpers.base_mark,
    view_helpers.entry_right,
    view_helpers.name_of,
    view_helpers.state_of,
)
"""Functions that templates call by their own names."""
STATUS: tuple[tuple[type[KBError], int], ...] = (
    (NotFoundError, 404),
    (QueryError, 400),
    (ConflictError, 409),
)


def create_app(
    root: Path,
    *,
    clock: Callable[[], datetime],
    device: str,
    port: int,
    key: str,
    as_of: date | None = None,
    lan: Door | None = None,
) -> Flask:
    """The page of one base.

    Args:
        root: The base's folder.
        clock: Gives the present moment, aware.
        device: Names this device's log files.
        port: Where it will listen; part of what the Host header may hold.
        as_of: Show the base as it was at the end of that day.
        lan: Who may come in from the local network; None for this machine only, without a
            passphrase.
    """
    app = Flask("kb.web")
    app.extensions["missbook"] = Desk(root, clock=clock, device=device, as_of=as_of)
    request_guard.install(app, request_guard.trusted_hosts(port, lan.hosts if lan else ()), port)
    login.install(app, PageKey(key, port), lan)
    app.teardown_request(view_helpers.give_back)
    for name in plugins.module_names(SCREENS):
        app.register_blueprint(plugins.load(SCREENS, name, PROMISED).screen)
    app.jinja_env.globals.update(
        caution=CAUTION,
        not_for_care=NOT_FOR_CARE,
        of_notes=OF_NOTES,
        listing=LISTING,
        fields=FIELDS,
        places=places.PLACES,
        cell_texts=links.cells,
        **{function.__name__: function for function in CALLED},
    )
    app.jinja_env.filters.update(
        value=links.figure,
        label=label,
        linked=links.with_links,
        line_links=view_helpers.line_links,
        sentence=capital,
        ended=ended,
        together=links.together,
    )
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    _say_errors(app)
    return app


def _say_errors(app: Flask) -> None:
    @app.errorhandler(KBError)
    def refused(error: KBError) -> ResponseReturnValue:
        status = next((code for kind, code in STATUS if isinstance(error, kind)), 500)
        return error_page(status, *view_helpers.message_and_hint(error))

    @app.errorhandler(BusyError)
    def busy(error: BusyError) -> ResponseReturnValue:
        if request.accept_mimetypes.best == "application/json":
            return error_page(503, "the base is being read", "ask again in a moment")
        page_of = {"title": "One moment", "going": error.going}
        response = make_response(render_template("busy.html", **page_of), 503)
        if request.method in request_guard.SAFE_METHODS:
            response.headers["Refresh"] = "0"
        response.headers["Retry-After"] = str(ASK_AGAIN_SECONDS)
        return response

    @app.errorhandler(request_guard.StaleFormError)
    def stale(_: request_guard.StaleFormError) -> ResponseReturnValue:
        if request.accept_mimetypes.best == "application/json":
            return error_page(403, "the token is an old one", "get a new one from /token")
        if request.endpoint == "login.enter":
            # A passphrase does not belong in a page: it is asked for again instead of sent on.
            return login.ask_again(request.form.get("next", "/"))
        fields = [
            (k, v) for k, v in request.form.items(multi=True) if k != request_guard.TOKEN_FIELD
        ]
        title = "Send it once more"
        return render_template("resend.html", title=title, fields=fields), 403

    @app.errorhandler(HTTPException)
    def unanswered(error: HTTPException) -> ResponseReturnValue:
        code = error.code or 500
        if code < 400:
            return error
        if code == 405 and request.method == "GET" and request.path.startswith("/log/"):
            # A phone reloads a refused form by itself, without the data that was sent.
            miss = request.path.startswith("/log/miss/")
            return redirect(request.path.rpartition("/")[0] if miss else "/log", code=303)
        plain = {404: "There is no such page.", 413: TOO_MUCH}
        own = type(error).description != error.description
        text = str(error.description) if own else plain.get(code, "This could not be done.")
        response = make_response(error_page(code, text))
        if isinstance(error, TooManyRequests) and error.retry_after:
            response.headers["Retry-After"] = str(error.retry_after)
        return response

    @app.errorhandler(Exception)
    def failed(error: Exception) -> ResponseReturnValue:
        logging.getLogger("missbook").exception("a page could not be made", exc_info=error)
        text = "Something went wrong inside missbook. Nothing was lost."
        return error_page(500, text, "the terminal where it was started says more")


def error_page(status: int, message: str, hint: str = "") -> ResponseReturnValue:
    """What went wrong, in one sentence: as JSON for our own script, otherwise as a page."""
    if request.accept_mimetypes.best == "application/json":
        return jsonify(error=message, hint=hint), status
    title = {401: "Sign in", 404: "Not found", 409: "Changed meanwhile"}.get(
        status, "That did not work"
    )
    page_of = {"title": title, "message": message, "hint": hint, "status": status}
    return render_template("error.html", **page_of), status
