"""A base's folder: read it as a `Base`, and write to it."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from kb.core.base_views import with_areas, with_repeats
from kb.core.errors import (
    FormatError,
    KBError,
    NoBaseError,
    NotFoundError,
    Place,
    Problem,
    Severity,
    why,
)
from kb.core.ids import NoteId
from kb.core.model import Base, Note
from kb.core.renames import with_names
from kb.core.settings import Exam, Study
from kb.formats import side_logs
from kb.formats.exam import parse_exam
from kb.formats.glossary_file import parse_glossary
from kb.formats.study import parse_study
from kb.formats.sync_copies import find_twins, twin_problem
from kb.language.abbreviations import Entries as Glossary
from kb.storage import atomic_files, attempt_store
from kb.storage.acts import began_on
from kb.storage.base_location import EXAM, GLOSSARY, STUDY
from kb.storage.note_catalogue import Catalogue, Listed, decode, decode_strictly
from kb.storage.scan import NOT_FOLLOWED, UNREADABLE, FileStat
from kb.storage.unread_files import LINK_HINT, unread_files

T = TypeVar("T")

LARGEST_ATTACHMENT = 20_000_000
"""Bytes of the largest picture that is read."""


def load(
    root: Path,
    catalogue: Catalogue,
    memory: attempt_store.LogMemory,
    found: tuple[FileStat, ...],
) -> Base:
    """Read the whole base; what is wrong with it goes into `Base.problems`.

    Args:
        root: Its folder.
        catalogue: Its notes.
        memory: What was read of its log before.
        found: Its files as scanned for the catalogue's last refresh.

    Raises:
        FormatError: exam.yaml cannot be understood, so that nothing can be computed.
        NoBaseError: The folder cannot be read.
    """
    try:
        return _load(root, catalogue, memory, found)
    except OSError as error:
        raise NoBaseError(f"{root} cannot be read: {why(error)}") from error


def _load(
    root: Path,
    catalogue: Catalogue,
    memory: attempt_store.LogMemory,
    found: tuple[FileStat, ...],
) -> Base:
    problems: list[Problem] = []

    def noted(read: tuple[T, Iterable[Problem]]) -> T:
        problems.extend(read[1])
        return read[0]

    exam = noted(_exam(root))
    study = noted(_settings(root, STUDY, parse_study, Study()))
    no_glossary: Glossary = ()
    glossary = noted(_settings(root, GLOSSARY, parse_glossary, no_glossary))
    listed = catalogue.listed()
    notes = noted(assign_ids(listed))
    problems += _misnamed(found)
    problems += unread_files(root, found)
    problems += _twins(root, [row.note.path for row in listed])
    logs = tuple(entry for entry in found if entry.path[:4].lower() == "log/")
    attempts, dismissals, more = attempt_store.read_log(root, logs, study, memory)
    problems += more
    seen = noted(attempt_store.read_side_log(root, logs, side_logs.READINGS))
    chosen = noted(attempt_store.read_side_log(root, logs, side_logs.CHANCE_ORDER))
    drawn = noted(attempt_store.read_side_log(root, logs, side_logs.DRAWS))
    held = noted(attempt_store.read_side_log(root, logs, side_logs.HELD_BACK))
    bare = noted(attempt_store.read_side_log(root, logs, side_logs.SCORES))
    renamed = noted(attempt_store.read_side_log(root, logs, side_logs.RENAMES))
    kept = [row for row in held if row.draw == held[0].draw]
    base = Base(
        exam=exam,
        study=study,
        notes=notes,
        attempts=attempts,
        dismissals=dismissals,
        readings=tuple(row for row in seen if row.id not in memory.voided),
        reading_choices=chosen,
        draws=(*(row for row in drawn if row.draw not in memory.voided), *kept),
        scores=tuple(row for row in bare if row.id not in memory.voided),
        renamed=tuple(row for row in renamed if row.id not in memory.voided),
        begun_on=began_on(root, found),
        other_remarks=memory.other_remarks,
        files=frozenset(entry.path for entry in found if UNREADABLE not in entry.path),
        glossary=glossary,
        problems=tuple(sorted(problems, key=lambda problem: problem.sort_key)),
    )
    base = with_names(base)
    drawn_count = len(base.draws) - len(kept)
    return replace(
        base,
        attempts=with_repeats(with_areas(base.attempts, notes)),
        draws=base.draws[:drawn_count],
        held_back=tuple(row.question for row in base.draws[drawn_count:]),
    )


def _misnamed(found: tuple[FileStat, ...]) -> list[Problem]:
    problems: list[Problem] = []
    for entry in found:
        if entry.size == NOT_FOLLOWED:
            path = entry.path.removesuffix(UNREADABLE)
            severity: Severity = "error" if path.lower().endswith(".md") else "caution"
            message = "a link or device; what is there is not read"
            problems.append(Problem(Place(path), "link", message, LINK_HINT, severity))
        elif UNREADABLE in entry.path:
            message = "a name that is not UTF-8; left out"
            hint = "rename the file or folder"
            problems.append(Problem(Place(entry.path), "bad-name", message, hint))
    return problems


def _twins(root: Path, paths: list[str]) -> list[Problem]:
    found = [
        twin_problem(original, copy, read_note(root, original)[0], read_note(root, copy)[0])
        for original, copy in find_twins(paths)
    ]
    return [problem for problem in found if problem is not None]


def _exam(root: Path) -> tuple[Exam, list[Problem]]:
    atomic_files.check_plain(root / EXAM, EXAM, linked=False)  # a scan would not see it change
    text, problems = decode(atomic_files.read_bytes(root / EXAM, EXAM), EXAM)
    exam, more = parse_exam(text, EXAM)
    if exam is None:
        raise FormatError.of((*problems, *more)[0])
    return exam, [*problems, *more]


def _settings(
    root: Path, name: str, parse: Callable[[str, str], tuple[T, Iterable[Problem]]], absent: T
) -> tuple[T, list[Problem]]:
    """What a settings file holds; `absent` if there is none."""
    try:
        atomic_files.check_plain(root / name, name, linked=False)
        raw = atomic_files.read_bytes(root / name, name)
    except NotFoundError:
        return absent, []
    text, problems = decode(raw, name)
    made, more = parse(text, name)
    return made, [*problems, *more]


def assign_ids(listed: Iterable[Listed]) -> tuple[tuple[Note, ...], list[Problem]]:
    """Give every note an id of its own.

    It is the id in its front matter, or its file name. Two files of one name get their paths as
    ids; if two notes claim one id, that is a Problem, and the first keeps it.
    """
    rows = list(listed)
    problems = [problem for row in rows for problem in row.problems]
    notes = [row.note for row in rows]
    counts = Counter([note.id for note in notes])
    twice: dict[str, list[Note]] = {}
    for note in notes:
        if counts[note.id] > 1:
            twice.setdefault(note.id, []).append(note)
    for at, note in enumerate(notes) if twice else ():
        if twins := twice.get(note.id):
            claims = [twin for twin in twins if twin.id != Path(twin.path).stem]
            if note in claims[1:]:
                hint = f"{claims[0].path} has it; give this note another 'id:'"
                problems.append(
                    Problem(
                        place=note.place,
                        code="duplicate-note-id",
                        message=f"the id '{note.id}' belongs to another note",
                        hint=hint,
                    )
                )
            if note not in claims[:1]:
                notes[at] = replace(note, id=NoteId(note.path.removesuffix(".md")))
    return tuple(notes), problems


def edit_file(
    root: Path, path: str, edit: Callable[[str], str], expected: str | None = None
) -> None:
    """Apply `edit` to the text of a note or a settings file, under the lock.

    Args:
        root: The base.
        path: The file's path in it. The settings of the person are made if there are none.
        edit: Old text -> new text.
        expected: Digest of the text that the edit was made for; None for whatever is there now.

    Raises:
        ConflictError: The file changed in between; nothing was written.
        FormatError: It is not UTF-8 and must not be rewritten.
    """
    with atomic_files.locked(root / attempt_store.LOG):
        try:
            raw = atomic_files.read_bytes(root / path, path)
            found = atomic_files.digest(raw)
        except NotFoundError:
            if path != STUDY:
                raise
            raw, found = b"", ""
        atomic_files.check_digest(found, expected, path)
        text = decode_strictly(raw, path)
        new = edit(text)
        if new != text:
            atomic_files.replace_file(root / path, new.encode(), shown=path, expected=found)


def create_note(root: Path, path: str, text: str) -> None:
    """Write a new note; a file of that name is never overwritten.

    Raises:
        ConflictError: There is one already.
        KBError: Its folder is a link, in which no note is read.
    """
    if (root / path).parent.resolve() != (root.resolve() / path).parent:
        message = "this folder is a link, which is not followed; nothing was written"
        hint = "put the real folder in its place"
        raise KBError(message, place=Place(path.rpartition("/")[0]), hint=hint)
    with atomic_files.locked(root / attempt_store.LOG):
        atomic_files.replace_file(root / path, text.encode(), shown=path, expected="")


def create_base(root: Path, exam: str, study: str) -> None:
    """Write the two settings files of a new base.

    Raises:
        ConflictError: There is a base already.
    """
    for name, text in ((STUDY, study), (EXAM, exam)):
        if not (name == STUDY and (root / name).exists()):
            atomic_files.replace_file(
                root / name, text.encode(), shown=str(root / name), expected=""
            )


def read_note(root: Path, path: str) -> tuple[str, str]:
    """Text and digest of a note's file."""
    raw = atomic_files.read_bytes(root / path, path)
    return decode(raw, path)[0], atomic_files.digest(raw)


def read_attachment(root: Path, path: str) -> bytes:
    """The bytes of a file of the base other than a note, such as a picture.

    Raises:
        NotFoundError: It lies outside the base, behind a link, or is too large to be one.
    """
    target = root / path
    inside = root.resolve() / path
    try:
        fitting = target.resolve() == inside and target.stat().st_size <= LARGEST_ATTACHMENT
    except (OSError, ValueError):  # removed meanwhile, or not a possible name
        fitting = False
    if not fitting:
        raise NotFoundError(f"no file '{path}' in the base")
    return atomic_files.read_bytes(target, path)
