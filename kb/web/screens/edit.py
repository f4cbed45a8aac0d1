"""Edit a note as plain text, with a preview; nothing is overwritten unseen."""

from typing import Any

from flask import Blueprint, flash, request
from flask.typing import ResponseReturnValue

from kb.core.errors import ConflictError, KBError, NotFoundError
from kb.core.model import Note
from kb.formats.note_edits import differences
from kb.services.note_drafting import identifiers
from kb.services.note_editing import body_of, check, save_note
from kb.services.session import Session
from kb.web.links import note_address
from kb.web.screens.note import body_html
from kb.web.view_helpers import opened, refusal, see_other, show

BOM = "\ufeff"
MOST_LINES = 500
"""Most differing lines that are shown."""
screen = Blueprint("edit", __name__)


@screen.get("/note/<path:path>/edit")
def edit(path: str) -> ResponseReturnValue:
    """The whole file of a note in a field."""
    session = opened()
    note = session.note(path)
    if note.path != path:
        return see_other(f"{note_address(note.path)}/edit")
    text, digest = session.text(note)
    return _page(session, note, text.removeprefix(BOM), digest)


def _page(session: Session, note: Note, text: str, digest: str, **more: Any) -> str:  # noqa: ANN401
    return show(
        "edit.html",
        title=f"Edit: {note.title}",
        path=note.path,
        address=note_address(note.path),
        text=text,
        digest=digest,
        small=bool(request.form.get("small")),
        back=back_address(),
        **more,
    )


def back_address() -> str:
    """The scroll of notes that one came from; empty if from elsewhere."""
    given = request.values.get("back", "")
    return given if given.startswith("/read/") else ""


@screen.post("/note/<path:path>/edit")
def save(path: str) -> ResponseReturnValue:
    """Save the text, or show it as it will be read; what was typed stays in the field."""
    session = opened()
    typed = request.form.get("text", "").replace("\r\n", "\n")
    digest = request.form.get("digest", "")
    try:
        note = session.note(path)
    except NotFoundError:
        gone = "The note is no longer in the base. Your text is below: copy it."
        return show("edit.html", title="Edit", path=path, text=typed, gone=gone), 404
    try:
        if "preview" in request.form:
            check(typed, note.path, session.today)
            body = body_html(session, note, body_of(typed, note.path))
            return _page(session, note, typed, digest, preview=body)
        if "both" in request.form:
            typed = _both(session.text(note)[0].removeprefix(BOM), typed, note.path)
        warned = identifiers(typed)
        if warned and not request.form.get("confirmed"):
            return _page(session, note, typed, digest, warned=warned)
        done = save_note(session, note, typed, digest, small=bool(request.form.get("small")))
    except ConflictError as error:
        now, new_digest = session.text(note)
        if new_digest == digest:  # the file is unchanged: another process was writing elsewhere
            return _page(session, note, typed, digest, **refusal(error)), 409
        lines = differences(now, typed)
        if lines:
            shown = {"lines": lines[:MOST_LINES], "more_count": len(lines[MOST_LINES:])}
            return _page(session, note, typed, new_digest, **shown, now=now), 409
        return see_other(note_address(note.path))
    except KBError as error:
        why = refusal(error)
        if error.place is not None and error.place.line:
            why["refused"] = f"line {error.place.line}: {error.message}"
        return _page(session, note, typed, digest, **why), 400
    saved = "Saved; untested until its questions are tried again." if done.stamped else "Saved."
    flash(saved if done.changed else "Nothing was changed.")
    return see_other(back_address() or f"{note_address(note.path)}#done")


def _both(file: str, typed: str, path: str) -> str:
    """The file as it is now, with the lines of the text typed that it lacks at its end."""
    lines = differences(body_of(file, path), body_of(typed, path))
    own = [line.text for line in lines if line.side == "second"]
    return file.rstrip("\n") + "\n\n" + "\n".join(own) + "\n"
