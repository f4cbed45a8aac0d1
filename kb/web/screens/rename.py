"""Rename an area, a source or a concept: what would change, then the change itself."""

from collections.abc import Mapping
from typing import Any, cast

from flask import Blueprint, flash, request
from flask.typing import ResponseReturnValue

from kb.core.errors import KBError, QueryError
from kb.core.ids import RenameKind
from kb.services.renaming import rename
from kb.web.view_helpers import opened, refusal, see_other, show

KINDS = ("area", "source", "concept")
screen = Blueprint("rename", __name__)


@screen.get("/rename")
def ask() -> str:
    """The form, filled in as far as the address says."""
    return _form(request.args)


def _form(typed: Mapping[str, str], **more: Any) -> str:  # noqa: ANN401
    return show("rename.html", title="Rename", kinds=KINDS, typed=typed, **more)


@screen.post("/rename")
def change() -> ResponseReturnValue:
    """Show what would change, or, once that was seen, change it."""
    session = opened()
    kind, old, new = (request.form.get(name, "").strip() for name in ("kind", "old", "new"))
    sure = "sure" in request.form
    try:
        if kind not in KINDS:
            raise QueryError("choose what to rename: an area, a source or a concept")
        done = rename(session, cast("RenameKind", kind), old, new, dry_run=not sure)
    except KBError as error:
        return _form(request.form, **refusal(error)), 400
    if not sure:
        return _form(request.form, lines=done.told())
    session.reload()
    flash(f"{old} is now called {new}.")
    return see_other("/undo")
