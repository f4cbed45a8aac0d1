"""Write, link, edit and merge notes: checked first, and refused if a file changed meanwhile."""

from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from itertools import chain, count

from kb.core.errors import FormatError, KBError, QueryError
from kb.core.ids import AreaId, NoteId, QuestionId
from kb.core.model import Note
from kb.formats.frontmatter import add_to_list, parse, set_value, split
from kb.formats.note import format_note, parse_note, slug, storable
from kb.formats.note_edits import with_line_ends_of
from kb.services.session import Session
from kb.storage import base_folder as store


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """The outcome of saving: whether the file changed, and whether it was stamped as new."""

    changed: bool
    stamped: bool


def body_of(text: str, path: str) -> str:
    """A whole text without its front matter."""
    return split(text, path)[0].body


def save_note(
    session: Session, note: Note, typed: str, expected: str, *, small: bool = False
) -> Saved:
    """Replace the whole text of a note's file. Its line ends stay as they are.

    A note whose text changed is stamped as written now, so that it is judged afresh, unless the
    person changed `written` themselves or says that it was a `small` correction.

    `typed` is the whole text, front matter included; `expected` the digest of the one edited.

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

    store.edit_file(session.root, note.path, edit, expected)
    session.reload()
    return done


def check(text: str, path: str, today: date) -> None:
    """Refuse a text that would no longer be a note, or that would be hidden until a later day.

    Raises:
        FormatError: Its front matter cannot be used, or dates the note after `today`.
        KBError: It has no text.
    """
    note, body, problems = parse_note(text.replace("\r\n", "\n"), path)
    wrong = [problem for problem in problems if problem.severity == "error"]
    if wrong:
        raise FormatError.of(wrong[0])
    if note.written_on is not None and note.written_on > today:
        fields, _, _ = parse(text.replace("\r\n", "\n"), path)
        place = fields.place("written") if fields is not None else note.place
        message = f"written {note.written_on.isoformat()} is in the future"
        raise FormatError(
            message, place=place, hint="a note counts from that day on: correct the day"
        )
    if not body.strip():
        raise KBError("an empty note was not saved", hint="give it a line of your own")


def _written(text: str, path: str) -> str:
    fields, _, _ = parse(text, path)
    return fields.text("written") if fields is not None else ""


def link_note(session: Session, note: Note, question: QuestionId) -> None:
    """Link a missed question to the note that answers it."""
    path = note.path
    store.edit_file(session.root, path, lambda text: add_to_list(text, path, "questions", question))
    session.reload()


def add_note(session: Session, draft: Note, body: str) -> Note:
    """Write a new note into its area's folder, and return it as it is in the base.

    Raises:
        NotFoundError: Its area is not in the blueprint.
        KBError: It has no text, or the disk refused.
    """
    if not body.strip():
        raise KBError("an empty note was not written", hint="give it a line of your own")
    areas = tuple(session.exam.area(area).id for area in draft.areas)
    folder = storable(areas[0]) if areas else "notes"
    present = {path.casefold() for path in session.whole.files}
    stem = f"{folder}/{slug(draft.title)}"
    tries = chain([f"{stem}.md"], (f"{stem}-{number}.md" for number in count(2)))
    path = next(path for path in tries if path.casefold() not in present)
    note = replace(draft, areas=areas, path=path, written_at=session.now, dated=True)
    store.create_note(session.root, path, format_note(note, body))
    session.reload()
    written = (found for found in session.whole.notes if found.path == path)
    return next(written, note)  # another process may have removed it since


def give_areas(session: Session) -> tuple[int, int]:
    """Give notes without an area that of their folder, where it is called like one. Nothing else in
    them changes: a note that was dated by its file keeps that day. Returns how many got an area,
    and how many are still without.
    """
    names = {name.casefold(): a.id for a in session.exam.areas for name in (a.id, a.name)}
    bare = [note for note in session.whole.notes if not note.areas]
    given = 0
    for note in bare:
        folders = [part.casefold() for part in note.path.split("/")[-2::-1]]
        area = next((names[folder] for folder in folders if folder in names), "")
        # A note whose front matter cannot be edited stays as it is.
        with suppress(KBError):
            if area:
                store.edit_file(session.root, note.path, partial(_with_area, note, area))
                given += 1
    session.reload()
    return given, len(bare) - given


def _with_area(note: Note, area: str, text: str) -> str:
    text = set_value(text, note.path, "area", area)
    if note.dated or note.written_at is None:
        return text
    return set_value(text, note.path, "written", note.written_at.isoformat(timespec="minutes"))


def rewrite_note(
    session: Session, note: Note, body: str | None, expected: str | None = None
) -> None:
    """Replace a note's text (or keep it, when None) and stamp it as written now.

    Raises:
        ConflictError: The file is no longer what `expected` says.
    """
    stamp = session.now.isoformat(timespec="minutes")

    def edit(text: str) -> str:
        if body is not None:
            head = text[: len(text) - len(split(text, note.path)[0].body)]
            newline = "\r\n" if "\r\n" in text else "\n"
            text = head + body.strip("\r\n").replace("\r\n", "\n").replace("\n", newline)
            text += newline
        return set_value(text, note.path, "written", stamp)

    store.edit_file(session.root, note.path, edit, expected)
    session.reload()


def merge_notes(
    session: Session, keep: Note, other: Note, keep_digest: str, other_digest: str
) -> str:
    """Merge two notes; returns where the text of the second was set aside.

    The note that stays is stamped with the later of the two moments of writing, so that it
    is judged by what happened after both were written.

    Raises:
        QueryError: They are one note.
        ConflictError: A file is no longer what its digest says; nothing was written.
    """
    from kb.storage import note_merge

    if keep.path == other.path:
        raise QueryError("a note cannot be merged with itself", hint="name two notes")
    linking = [
        note.path
        for note in session.whole.notes
        if note.path not in (keep.path, other.path)
        and any(link.path == other.path for link in note.links)
    ]
    aside = note_merge.merge_notes(
        session.root,
        note_merge.Expected(path=keep.path, digest=keep_digest),
        note_merge.Expected(path=other.path, digest=other_digest),
        linking,
        later_written(keep, other, session.now),
    )
    session.name_act(f"{other.path} merged into {keep.path}")
    session.reload()
    return aside


def later_written(keep: Note, other: Note, now: datetime) -> str:
    """The later of the moments at which two notes were written, as in front matter."""
    days = [note.written_on for note in (keep, other) if note.written_on]
    moments = [note.written_at for note in (keep, other) if note.written_at]
    if not days:
        return now.isoformat(timespec="minutes")
    latest = max((moment.astimezone(now.tzinfo) for moment in moments), default=None)
    if latest is not None and latest.date() >= max(days):
        return latest.isoformat(timespec="minutes")
    return max(days).isoformat()


def blank_note(
    title: str, area: str, concepts: tuple[str, ...], questions: tuple[QuestionId, ...], basis: str
) -> Note:
    """A draft for `add_note`."""
    return Note(
        id=NoteId(slug(title)),
        path="",
        title=title.strip(),
        areas=(AreaId(area),) if area else (),
        concepts=concepts,
        questions=questions,
        basis=basis,
    )
