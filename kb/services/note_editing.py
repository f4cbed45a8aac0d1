"""Saving a note's whole text as it was edited: checked first, and refused if the file changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.core.errors import FormatError, KBError
from kb.formats.frontmatter import parse, set_value, split
from kb.formats.note import parse_note
from kb.formats.note_edits import with_line_ends_of
from kb.storage import base_folder as store

if TYPE_CHECKING:
    from datetime import date

    from kb.core.model import Note
    from kb.services.session import Session


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """What saving did: whether the file changed, and whether it was stamped as written now."""

    changed: bool
    stamped: bool


def body_of(text: str, path: str) -> str:
    """A whole text without its front matter."""
    return split(text, path)[0].body


def save_note(
    session: Session, note: Note, typed: str, expected: str, *, small: bool = False
) -> Saved:
    """Replace the whole text of a note's file. Its line ends stay as they are.

    A note whose text changed is stamped as written now, so that it is judged anew, unless the
    person changed `written` themselves or says that it was a small correction.

    Args:
        session: The open base.
        note: The note.
        typed: The whole text, front matter included.
        expected: Digest of the text that was edited.
        small: Judge the note as before.

    Raises:
        ConflictError: The file is no longer what `expected` says; nothing was saved.
        FormatError: The front matter cannot be used; the place names the line.
        KBError: There is no text, or the disk refused.
    """
    check(typed, note.path, session.today)
    stamp = session.now.isoformat(timespec="minutes")
    done = Saved(changed=False, stamped=False)

    def edit(old: str) -> str:
        nonlocal done
        text = with_line_ends_of(old, typed)
        same = body_of(old, note.path).strip() == body_of(text, note.path).strip()
        stamped = not (same or small) and _written(old, note.path) == _written(text, note.path)
        if stamped:
            text = set_value(text, note.path, "written", stamp)
        done = Saved(changed=text != old, stamped=stamped)
        return text

    store.edit_note(session.root, note.path, edit, expected)
    session.reload()
    return done


def check(text: str, path: str, today: date) -> None:
    """Refuse a text that would not be a note any more, or that would be hidden until some day.

    Raises:
        FormatError: Its front matter cannot be used, or says that it is written after `today`.
        KBError: It has no text.
    """
    note, body, problems = parse_note(text.replace("\r\n", "\n"), path)
    wrong = [problem for problem in problems if problem.severity == "error"]
    if wrong:
        first = wrong[0]
        raise FormatError(first.message, place=first.place, hint=first.hint)
    if note.written_on is not None and note.written_on > today:
        fields, _, _ = parse(text.replace("\r\n", "\n"), path)
        place = fields.place("written") if fields is not None else note.place
        message = f"written {note.written_on.isoformat()} is still to come"
        raise FormatError(message, place=place, hint="a note counts from that day on: mend the day")
    if not body.strip():
        raise KBError("an empty note was not saved", hint="give it a line of your own")


def _written(text: str, path: str) -> str:
    fields, _, _ = parse(text, path)
    return fields.text("written") if fields is not None else ""
