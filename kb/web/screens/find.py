"""Find: notes by words, with filters as a plain form, and titles while words are typed."""

from flask import Blueprint, Response, jsonify, request

from kb.core.wording import visible
from kb.presentation.options import LONGEST
from kb.web.links import note_address
from kb.web.view_helpers import opened, show_report

LEAST_LETTERS = 2
SUGGESTION_COUNT = 6
screen = Blueprint("find", __name__)


@screen.get("/find")
def find() -> str:
    """Notes for the words in the address."""
    return show_report("find", template="find.html")


@screen.get("/find/suggest")
def suggest() -> Response:
    """Titles and addresses of notes for words whose last is still being typed."""
    words = request.args.get("words", "").strip()
    if not LEAST_LETTERS <= len(words) <= LONGEST:
        return jsonify(notes=[])
    session = opened(indexed=True)
    known = {note.id: note for note in session.base.notes}
    hits = session.search(words, limit=SUGGESTION_COUNT).hits
    notes = [known[hit.note] for hit in hits if hit.note in known]
    return jsonify(
        notes=[{"title": visible(note.title), "address": note_address(note.path)} for note in notes]
    )
