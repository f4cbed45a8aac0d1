"""Make two notes that say the same into one, with a preview."""

from flask import Blueprint, flash, request
from flask.typing import ResponseReturnValue

from kb.core.errors import ConflictError, QueryError
from kb.formats.note_merging import merge_texts
from kb.services.note_editing import body_of, later_written, merge_notes
from kb.web.links import note_address
from kb.web.screens.note import body_html
from kb.web.view_helpers import opened, see_other, show

screen = Blueprint("merge", __name__)


@screen.get("/merge")
def preview() -> str:
    """What the first note would become."""
    session = opened()
    keep, other = (session.note(request.args.get(name, "")) for name in ("keep", "other"))
    if keep.path == other.path:
        raise QueryError("a note cannot be merged with itself", hint="name two notes")
    (text, digest), (gone, gone_digest) = session.text(keep), session.text(other)
    written = later_written(keep, other, session.now)
    merged = merge_texts(text, keep.path, gone, other.path, written)
    return show(
        "merge.html",
        title="Merge two notes",
        keep=keep,
        other=other,
        digests=(digest, gone_digest),
        body=body_html(session, keep, body_of(merged, keep.path)),
        questions=sorted({*keep.questions, *other.questions}),
    )


@screen.post("/merge")
def merge() -> ResponseReturnValue:
    """Merge them as they were shown."""
    session = opened()
    keep, other = (session.note(request.form.get(name, "")) for name in ("keep", "other"))
    digests = (request.form.get("digest", ""), request.form.get("other_digest", ""))
    try:
        aside = merge_notes(session, keep, other, *digests)
    except ConflictError as error:
        hint = "go back and load the page again"
        raise ConflictError("one of the notes changed meanwhile", hint=hint) from error
    flash(f"Merged. The other text is kept in {aside}.")
    return see_other(f"{note_address(keep.path)}#done")
