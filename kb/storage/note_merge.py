"""Two note files -> one, in an order that loses nothing wherever it fails."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from kb.formats.note_merging import merge_texts, repoint
from kb.storage import atomic_files
from kb.storage.attempt_store import LOG
from kb.storage.note_catalogue import decode_strictly


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A file of the base, and the digest of what was read of it."""

    path: str
    digest: str


def merge_notes(
    root: Path, keep: Expected, other: Expected, linking: Iterable[str], written: str
) -> str:
    """Make two notes one, under the lock; returns where the text of the second was set aside.

    The first is written whole before anything else changes, then the links of the notes in
    `linking`, and the second goes last, after a copy of it was made. So wherever it fails no
    question link and no word is lost, and doing it again finishes it.

    Args:
        root: The base.
        keep: The note that stays, as it was read.
        other: The note that goes, as it was read.
        linking: Paths of other notes that link to the second.
        written: The moment to stamp on the first, ISO 8601.

    Raises:
        ConflictError: One of the two changed since it was read; nothing was written.
        KBError: A file cannot be edited, or the disk refused.
    """
    with atomic_files.locked(root / LOG):
        keep_text, other_text = _as_expected(root, keep), _as_expected(root, other)
        merged = merge_texts(keep_text, keep.path, other_text, other.path, written)
        edits: list[tuple[Expected, str]] = [(keep, merged)]
        for path in linking:
            raw = atomic_files.read_bytes(root / path, path)
            text = decode_strictly(raw, path)
            new = repoint(text, path, other.path, keep.path)
            if new != text:
                edits.append((Expected(path=path, digest=atomic_files.digest(raw)), new))
        for at, new in edits:
            atomic_files.replace_file(
                root / at.path, new.encode(), shown=at.path, expected=at.digest
            )
        aside = _set_note_aside(root, other)
        atomic_files.remove_file(root / other.path, shown=other.path, expected=other.digest)
    return aside


def _as_expected(root: Path, note: Expected) -> str:
    raw = atomic_files.read_bytes(root / note.path, note.path)
    atomic_files.check_digest(atomic_files.digest(raw), note.digest, note.path)
    return decode_strictly(raw, note.path)


def _set_note_aside(root: Path, note: Expected) -> str:
    """Copy a note to a text file beside it, which is no note and never overwrites another."""
    raw = atomic_files.read_bytes(root / note.path, note.path)
    folder, _, name = note.path.rpartition("/")
    tail, numbers = "", count(2)
    while True:
        path = f"{folder}/set-aside-{Path(name).stem}{tail}.txt".lstrip("/")
        there = root / path
        taken = atomic_files.size_of(there) is not None
        if taken and there.read_bytes() == raw:
            return path
        if not taken:
            atomic_files.replace_file(there, raw, shown=path, expected="")
            return path
        tail = f"-{next(numbers)}"
