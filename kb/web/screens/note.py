"""A note as a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint
from markupsafe import Markup

from kb.text.markdown import to_html
from kb.web.links import note_address
from kb.web.page import opened, see_other, show

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

NAV = None
screen = Blueprint("note", __name__)


@screen.get("/note/<path:path>")
def note(path: str) -> ResponseReturnValue:
    """The note of that path; its id, too, leads there."""
    session = opened()
    found = session.note(path)
    if found.path != path:
        return see_other(note_address(found.path))
    # Safe: to_html shows whatever HTML a note holds as text.
    body = Markup(to_html(session.body(found)))
    return show("note.html", title=found.title, note=found, body=body)
