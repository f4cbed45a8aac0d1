"""The catalogue: what every note says, kept so that unchanged notes are not parsed again.

A note is parsed again if the size or time of its file changed, or if it was written so shortly
before the last scan that a change might not show.
"""

from __future__ import annotations

import json
import time
from datetime import UTC, date, datetime
from pathlib import Path
from sys import intern
from typing import TYPE_CHECKING, Any, NamedTuple

from kb.core.errors import FormatError, Place, Problem, why
from kb.core.ids import AreaId, NoteId, digest
from kb.storage.derived_store import DerivedStore, about, put_about
from kb.storage.scan import LARGEST_NOTE, RACY_NS, FileStat, is_note, mark_of, scan

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterable

    from kb.core.model import Note

HEAD_DIGITS = 11
"""Digests of front matter have 44 bits: SQLite adds them up, and its integers have 64."""


class Listed(NamedTuple):
    """One note of the catalogue; `digest` is that of the file's bytes."""

    note: Note
    digest: str
    problems: tuple[Problem, ...]


MOST_TRIES = 3
"""How often the list is brought up to date again before it is taken as it is."""


class Catalogue:
    """The notes of one base, refreshed from the files on every use."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.store = DerivedStore.of(root)
        self.step: Callable[[int, int], None] | None = None
        self.mark = ""
        """Identifies all files as of the last refresh; empty if one may change unseen."""
        self._files: tuple[FileStat, ...] = ()
        self._birth = ""
        self._listed: dict[str, tuple[tuple[str, str], Listed]] = {}

    def refresh(self, files: tuple[FileStat, ...] | None = None) -> None:
        """Bring the catalogue up to date with the files, which are scanned unless given.

        Raises:
            DerivedError: There is no room for it anywhere.
        """
        looked_ns = time.time_ns()
        self._files = scan(self.root) if files is None else files
        mark = mark_of(self._files)
        self.mark = mark if is_settled(self._files, looked_ns) else ""
        known = self.store.run(lambda db: about(db, "files"))
        if not self.mark or known != mark:
            self.store.write(self._update)
        self._birth = self.store.birth

    def base_mark(self, code: str) -> str:
        """Identifies everything known of the base except the text of its notes.

        Empty if a file other than a note may change unseen.

        Args:
            code: Identifies the program.
        """
        asked = f"{code} {self.mark}"
        known = self.read(lambda db: about(db, "base")).split("\n") if self.mark else []
        if known[:1] == [asked]:
            return str(known[1])
        others = [entry for entry in self._files if not is_note(entry.path)]
        if not is_settled(others, time.time_ns()):
            return ""
        sql = "SELECT count(*), sum(head) FROM note"
        mark = digest(
            code, mark_of(others), *map(str, self.read(lambda db: db.execute(sql).fetchone()))
        )
        if self.mark:
            self.store.write(lambda db: put_about(db, "base", f"{asked}\n{mark}"))
        return mark

    def read(self, work: Callable[[sqlite3.Connection], Any]) -> Any:  # noqa: ANN401
        """Do some work on the store as of the last refresh."""
        made = self.store.run(work)
        if self.store.birth != self._birth:  # made again since, here or by another process
            self.refresh(self._files)
            made = self.store.run(work)
        return made

    def listed(self) -> tuple[Listed, ...]:
        """All notes in order of path, as of the last refresh."""
        rows = self._rows()
        known = self._listed
        stale = [row for row in rows if row[0] not in known or known[row[0]][0] != row[1:]]
        records = json.loads(f"[{','.join(row[2] for row in stale)}]")  # faster than one by one
        made = {
            path: _listed(path, mark, record)
            for (path, mark, _), record in zip(stale, records, strict=True)
        }
        self._listed = {row[0]: (row[1:], made.get(row[0]) or known[row[0]][1]) for row in rows}
        return tuple(row for _, row in self._listed.values())

    def _rows(self) -> list[tuple[str, str, str]]:
        """Path, digest and record of every note: brought up to date again if another process, which
        had looked at the files before, has put back what it saw.
        """
        sql = "SELECT path, digest, record FROM note ORDER BY path"
        for _ in range(MOST_TRIES):
            mark, rows = self.read(lambda db: (about(db, "files"), db.execute(sql).fetchall()))
            if mark == self.mark and (mark or [row[0] for row in rows] == sorted(self._notes())):
                break
            self.refresh(self._files)
        return list(rows)

    def _notes(self) -> dict[str, FileStat]:
        fitting = (e for e in self._files if is_note(e.path) and e.size < LARGEST_NOTE)
        return {entry.path: entry for entry in fitting}

    def note(self, path: str) -> Listed | None:
        """The note at a path, if there is one."""
        sql = "SELECT digest, record FROM note WHERE path = ?"
        row = self.read(lambda db: db.execute(sql, (path,)).fetchone())
        return _listed(path, row[0], json.loads(row[1])) if row else None

    def _update(self, db: sqlite3.Connection) -> None:
        notes = self._notes()
        sql = "SELECT path, size, mtime_ns, mtime_ns <= looked_ns - ? FROM note"
        known = {path: (size, at, sure) for path, size, at, sure in db.execute(sql, (RACY_NS,))}
        stale = [e for e in notes.values() if known.get(e.path) != (e.size, e.mtime_ns, True)]
        gone = known.keys() - notes.keys()
        db.executemany("DELETE FROM note WHERE path = ?", [(path,) for path in gone])
        for number, entry in enumerate(stale, start=1):
            if self.step:
                self.step(number, len(stale))
            db.execute("INSERT OR REPLACE INTO note VALUES (?, ?, ?, ?, ?, ?, ?)", self._row(entry))
        if db.execute("SELECT 1 FROM note WHERE looked_ns = 0").fetchone():
            self.mark = ""  # a file that cannot be read may become readable without a new time
        put_about(db, "files", self.mark)

    def _row(self, entry: FileStat) -> tuple[object, ...]:
        from kb.formats.note import parse_note
        from kb.storage.atomic_files import digest as file_digest

        looked_ns = time.time_ns()
        problems: Iterable[Problem]
        try:
            raw = (self.root / entry.path).read_bytes()
        except OSError as error:
            looked_ns, mark = 0, f"unreadable {entry.mtime_ns}"
            note, problems = _unreadable(entry.path, error)
        else:
            mark = file_digest(raw)
            text, unread = decode(raw, entry.path)
            modified = datetime.fromtimestamp(entry.mtime_ns / 1e9, UTC)
            note, _, more = parse_note(text, entry.path, modified)
            problems = (*unread, *more)
        record = _record(note, tuple(problems))
        return (
            entry.path, entry.size, entry.mtime_ns, looked_ns, mark, _head(entry.path, record),
            json.dumps(record),
        )  # fmt: skip


def is_settled(files: Iterable[FileStat], looked_ns: int) -> bool:
    """Whether no file was written so shortly before the scan that it may change unseen."""
    return max((entry.mtime_ns for entry in files), default=0) <= looked_ns - RACY_NS


def decode(raw: bytes, path: str) -> tuple[str, tuple[Problem, ...]]:
    """The text of a file; bytes that are not UTF-8 are shown as such, with a Problem."""
    try:
        return raw.decode("utf-8"), ()
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        problem = Problem(
            place=Place(path, line),
            code="not-utf8",
            message="the file is not UTF-8",
            hint="save it as UTF-8; nothing in it was changed",
        )
        return raw.decode("utf-8", errors="replace"), (problem,)


def decode_strictly(raw: bytes, path: str) -> str:
    """The text of a file that may be rewritten.

    Raises:
        FormatError: It is not UTF-8.
    """
    text, problems = decode(raw, path)
    if problems:
        raise FormatError.of(problems[0])
    return text


def _unreadable(path: str, error: OSError) -> tuple[Note, tuple[Problem, ...]]:
    from kb.core.model import Note

    note = Note(id=NoteId(Path(path).stem), path=path, title=Path(path).stem)
    message = f"cannot be read: {why(error)}"
    return note, (Problem(place=Place(path), code="unreadable", message=message),)


def _record(note: Note, problems: tuple[Problem, ...]) -> list[Any]:
    return [
        note.id,
        note.title,
        note.areas,
        note.concepts,
        note.questions,
        note.basis,
        note.checked.isoformat() if note.checked else None,
        note.written_on.isoformat() if note.written_on else None,
        note.written_at.isoformat() if note.written_at else None,
        note.dated,
        [(link.target, link.text, link.path, link.line) for link in note.links],
        [(p.place.line, p.code, p.message, p.hint, p.severity) for p in problems],
        [(heading.text, heading.level, heading.line) for heading in note.headings],
        note.word_count,
        note.table_row_count,
    ]


def _head(path: str, record: list[Any]) -> int:
    """A digest of a note's front matter, links and errors, but not of its text."""
    links = [(target, text, to) for target, text, to, _ in record[10]]
    problems = [problem for problem in record[11] if problem[4] == "error"]
    raw = json.dumps([path, record[:10], links, problems])
    return int(digest(raw)[:HEAD_DIGITS], 16)


def _listed(path: str, mark: str, row: list[Any]) -> Listed:
    from kb.core.model import Heading, Link, Note

    note = Note(
        id=NoteId(row[0]),
        path=path,
        title=row[1],
        areas=tuple([AreaId(intern(area)) for area in row[2]]),
        concepts=tuple(row[3]),
        questions=tuple(row[4]),
        basis=row[5],
        checked=date.fromisoformat(row[6]) if row[6] else None,
        written_on=date.fromisoformat(row[7]) if row[7] else None,
        written_at=datetime.fromisoformat(row[8]) if row[8] else None,
        dated=row[9],
        headings=tuple([Heading(text=h[0], level=h[1], line=h[2]) for h in row[12]]),
        links=tuple([Link(target=k[0], text=k[1], path=k[2], line=k[3]) for k in row[10]]),
        word_count=row[13],
        table_row_count=row[14],
    )
    problems = tuple(
        [
            Problem(place=Place(path, p[0]), code=p[1], message=p[2], hint=p[3], severity=p[4])
            for p in row[11]
        ]
    )
    return Listed(note, mark, problems)
