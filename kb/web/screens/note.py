"""A note as a page: its text, its history and related notes; and its pictures."""

import posixpath
from urllib.parse import quote

from flask import Blueprint, Response, flash, request
from flask.typing import ResponseReturnValue
from markupsafe import Markup

from kb.core.errors import NotFoundError, QueryError
from kb.core.model import Note
from kb.formats.markdown import to_page
from kb.presentation.report_model import Entry
from kb.services.note_editing import save_note
from kb.services.session import Session
from kb.web.links import note_address
from kb.web.view_helpers import opened, see_other, show

NEAR_COUNT = "5"
PICTURES = {
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
    ".gif": "image/gif",
    ".webp": "image/webp",
    ".svg": "image/svg+xml",
}
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
"""A drawing may have its own styles, but runs nothing even when opened by itself."""

screen = Blueprint("note", __name__)


@screen.get("/note/<path:path>")
def note(path: str) -> ResponseReturnValue:
    """The note with that path; its id and its title redirect to it."""
    session = opened(indexed=True)
    found = session.note(path)
    if found.path != path:
        return see_other(note_address(found.path))
    return show(
        "note.html",
        title=found.title,
        note=found,
        body=body_html(session, found),
        areas=[area for area in session.exam.areas if area.id in found.areas],
        history=session.report("history", {"words": found.path}),
    )


def body_html(session: Session, note: Note, body: str | None = None) -> Markup:
    """Safe HTML of a note's text, or of `body` in its place."""
    files = session.base.files

    def address(path: str, picture: bool) -> str:
        if path not in files:
            return ""
        if picture:
            return f"/file/{quote(path)}" if _kind(path) else ""
        return note_address(path) if path.casefold().endswith(".md") else ""

    text = session.body(note) if body is None else body
    first, _, rest = text.lstrip("\r\n").partition("\n")
    if first.strip() == f"# {note.title}":  # the page's own heading
        text = rest
    # Safe: HTML in the text is shown as text.
    return Markup(to_page(text, note.path, address))


def _near(session: Session, note: Note) -> tuple[list[Entry], list[Entry]]:
    """Notes near one, and those that should perhaps be linked."""
    report = session.report("map", {"words": note.path, "limit": NEAR_COUNT})
    return report.entries("near"), report.entries("suggestions")


@screen.get("/note/<path:path>/near")
def related(path: str) -> str:
    """Notes related to one; its page shows them once it is scrolled to them."""
    session = opened(indexed=True)
    found = session.note(path)
    near, unlinked = _near(session, found)
    return show("related.html", title="Related notes", note=found, near=near, unlinked=unlinked)


@screen.post("/note/<path:path>/link")
def link(path: str) -> ResponseReturnValue:
    """Write a link to another note at the end of this one."""
    session = opened(indexed=True)
    note, other = session.note(path), session.note(request.form.get("other", ""))
    unlinked = _near(session, note)[1]
    written = next((dict(entry.fields)["link"] for entry in unlinked if entry.note == other.id), "")
    if not written:
        raise QueryError("that link is there already", hint="load the note again")
    text, digest = session.text(note)
    save_note(session, note, f"{text.rstrip()}\n\nSee {written}.\n", digest, small=True)
    flash(f"Linked to {other.title}.")
    return see_other(f"{note_address(note.path)}#done")


def _kind(path: str) -> str:
    return PICTURES.get(posixpath.splitext(path)[1].casefold(), "")


@screen.get("/file/<path:path>")
def picture(path: str) -> ResponseReturnValue:
    """A picture in the base; no other kind of file is served."""
    kind = _kind(path)
    if not kind:
        raise NotFoundError("only pictures are shown here")
    response = Response(opened().attachment(path), mimetype=kind)
    response.headers["Content-Security-Policy"] = PICTURE_POLICY
    return response
