"""Undo: what was done on this page's device, and taking any of it back."""

from flask import Blueprint, flash, request
from flask.typing import ResponseReturnValue

from kb.core.wording import capital
from kb.services.undoing import acts_done, moment, undo
from kb.web.view_helpers import opened, see_other, show

LISTED_COUNT = 15
screen = Blueprint("undo", __name__)


@screen.get("/undo")
def listed() -> str:
    """The acts of this device, the latest first."""
    acts = acts_done(opened())[:LISTED_COUNT]
    rows = [(act.id, moment(act), capital(act.told)) for act in acts]
    return show("undo.html", title="Undo", rows=rows)


@screen.post("/undo")
def take_back() -> ResponseReturnValue:
    """Take one act back."""
    session = opened()
    _, made = undo(session, request.form.get("act", ""))
    session.reload()
    flash(f"{capital(made.told)}.")
    return see_other("/undo")
