"""The catalogue: what every note says, kept so that unchanged notes are not parsed again.

Derived and safe to delete. A note is stale when its bytes or our code changed: size and time of
the file only spare the hashing, and not for a file that changed about when it was last looked at.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import tempfile
import time
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from kb.core.errors import DerivedError, NoBaseError, Place, Problem
from kb.core.ids import AreaId, NoteId, QuestionId
from kb.core.model import Heading, Link, Note
from kb.formats.note import parse_note
from kb.storage.atomic_files import digest
from kb.storage.scan import RACY_NS, files_in, is_note

if TYPE_CHECKING:
    from collections.abc import Callable

CATALOGUE = "catalogue.sqlite3"

SCHEMA = 3
"""Raise it whenever what is stored, or how a note is read, changes."""

TABLES = """
CREATE TABLE note (path TEXT PRIMARY KEY, size INTEGER, mtime_ns INTEGER, looked_ns INTEGER,
                   digest TEXT, record TEXT);
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT);
"""


class FileStat(NamedTuple):
    """What a look at a folder tells about one file; in order of path."""

    path: str
    size: int
    mtime_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One note as the catalogue holds it; `digest` is that of the file's bytes."""

    note: Note
    digest: str
    problems: tuple[Problem, ...]


def derived_folder(root: Path) -> Path:
    """Where derived files go: .missbook in the base, or a temporary folder if that is read-only."""
    folder = root / ".missbook"
    try:
        folder.mkdir(exist_ok=True)
        if os.access(folder, os.W_OK):
            return folder
    except OSError:
        pass
    return _temporary_folder(root)


def _temporary_folder(root: Path) -> Path:
    name = blake2b(str(root.resolve()).encode(), digest_size=8).hexdigest()
    folder = Path(tempfile.gettempdir()) / f"missbook-{name}"
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def scan(root: Path) -> tuple[FileStat, ...]:
    """Every file of the base that is not hidden, sorted by path. Links are not followed.

    Raises:
        NoBaseError: A folder cannot be read.
    """
    try:
        return tuple(map(FileStat._make, files_in(root)))
    except OSError as error:
        why = error.strerror or str(error)
        raise NoBaseError(f"{root} cannot be read: {why.lower()}") from error


class Catalogue:
    """The notes of one base, refreshed from the files on every use."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.folder = derived_folder(root)
        self._path = self.folder / CATALOGUE
        self.step: Callable[[int, int], None] | None = None
        self._listed: dict[str, tuple[tuple[str, str], Listed]] = {}

    def refresh(self, files: tuple[FileStat, ...] | None = None) -> str:
        """Bring the catalogue up to date; returns the fingerprint of all notes.

        A missing, damaged or older catalogue is made anew; where the base's disk is full, in a
        temporary folder, so that nothing derived can stop a report.

        Raises:
            DerivedError: There is no room for it anywhere.
        """
        files = scan(self.root) if files is None else files
        try:
            return self._refresh_once(files)
        except sqlite3.DatabaseError as error:
            # A catalogue that another process is writing is not damaged and stays.
            if getattr(error, "sqlite_errorcode", 0) != sqlite3.SQLITE_BUSY:
                with suppress(OSError):
                    self._path.unlink(missing_ok=True)
        try:
            return self._refresh_once(files)
        except (sqlite3.DatabaseError, OSError):
            self.folder = _temporary_folder(self.root)
            self._path = self.folder / CATALOGUE
        try:
            return self._refresh_once(files)
        except (sqlite3.DatabaseError, OSError) as error:
            raise DerivedError(
                f"the catalogue of notes cannot be kept: {error}",
                place=Place(str(self.folder)),
                hint="free some space there and do it again",
            ) from error

    def _refresh_once(self, files: tuple[FileStat, ...]) -> str:
        with closing(self._open()) as store:
            return self._refresh(store, files)

    def listed(self) -> tuple[Listed, ...]:
        """All notes in order of path, as of the last refresh."""
        with closing(self._open()) as store:
            rows = store.execute("SELECT path, digest, record FROM note ORDER BY path").fetchall()
        known, self._listed = self._listed, {}
        for path, mark, record in rows:
            before = known.get(path)
            if before is None or before[0] != (mark, record):
                before = ((mark, record), _listed(path, mark, record))
            self._listed[path] = before
        return tuple(row for _, row in self._listed.values())

    def digests(self) -> dict[str, str]:
        """Digest of every note's bytes by its path."""
        with closing(self._open()) as store:
            return dict(store.execute("SELECT path, digest FROM note"))

    def digests_of(self, path: str) -> str:
        """Digest of one note's bytes, empty if it is not there."""
        with closing(self._open()) as store:
            row = store.execute("SELECT digest FROM note WHERE path = ?", (path,)).fetchone()
        return str(row[0]) if row else ""

    def discard(self) -> None:
        """Delete everything derived of this base."""
        shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir(parents=True, exist_ok=True)

    def _open(self) -> sqlite3.Connection:
        self.folder.mkdir(parents=True, exist_ok=True)
        store = sqlite3.connect(self._path, timeout=15.0, isolation_level=None)
        try:
            if store.execute("PRAGMA user_version").fetchone()[0] != SCHEMA:
                store.execute("BEGIN IMMEDIATE")
                if store.execute("PRAGMA user_version").fetchone()[0] != SCHEMA:
                    store.execute("DROP TABLE IF EXISTS note")
                    store.execute("DROP TABLE IF EXISTS about")
                    for statement in TABLES.split(";")[:-1]:
                        store.execute(statement)
                    store.execute(f"PRAGMA user_version = {SCHEMA}")
                store.execute("COMMIT")
            store.execute("PRAGMA synchronous = OFF")
        except BaseException:
            store.close()
            raise
        return store

    def _refresh(self, store: sqlite3.Connection, files: tuple[FileStat, ...]) -> str:
        notes = {entry.path: entry for entry in files if is_note(entry.path)}
        known = {
            path: (size, mtime_ns, looked_ns)
            for path, size, mtime_ns, looked_ns in store.execute(
                "SELECT path, size, mtime_ns, looked_ns FROM note"
            )
        }
        stale = [entry for path, entry in notes.items() if _stale(entry, known.get(path))]
        gone = known.keys() - notes.keys()
        if stale or gone or not known:
            self._update(store, stale, gone)
        row = store.execute("SELECT value FROM about WHERE key = 'fingerprint'").fetchone()
        return str(row[0]) if row else ""

    def _update(self, store: sqlite3.Connection, stale: list[FileStat], gone: set[str]) -> None:
        store.execute("BEGIN IMMEDIATE")
        digests: dict[str, str] = dict(store.execute("SELECT path, digest FROM note"))
        for path in gone:
            store.execute("DELETE FROM note WHERE path = ?", (path,))
            digests.pop(path, None)
        for number, entry in enumerate(stale, start=1):
            if self.step:
                self.step(number, len(stale))
            looked_ns = time.time_ns()
            try:
                raw = (self.root / entry.path).read_bytes()
            except OSError as error:
                record = _unreadable(entry.path, error)
                mark = f"unreadable {entry.mtime_ns}"
                self._put(store, entry, 0, mark, record)
                digests[entry.path] = mark
                continue
            mark = digest(raw)
            modified = datetime.fromtimestamp(entry.mtime_ns / 1e9, UTC)
            self._put(store, entry, looked_ns, mark, _record(raw, entry.path, modified))
            digests[entry.path] = mark
        total = blake2b(digest_size=16)
        for path in sorted(digests):
            total.update(f"{path}\0{digests[path]}\0".encode())
        sql = "INSERT OR REPLACE INTO about VALUES ('fingerprint', ?)"
        store.execute(sql, (total.hexdigest(),))
        store.execute("COMMIT")

    @staticmethod
    def _put(
        store: sqlite3.Connection, entry: FileStat, looked_ns: int, mark: str, record: str
    ) -> None:
        store.execute(
            "INSERT OR REPLACE INTO note VALUES (?, ?, ?, ?, ?, ?)",
            (entry.path, entry.size, entry.mtime_ns, looked_ns, mark, record),
        )


def _stale(entry: FileStat, known: tuple[int, int, int] | None) -> bool:
    if known is None:
        return True
    size, mtime_ns, looked_ns = known
    return (size, mtime_ns) != (entry.size, entry.mtime_ns) or mtime_ns > looked_ns - RACY_NS


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


def _record(raw: bytes, path: str, modified: datetime) -> str:
    text, problems = decode(raw, path)
    note, _, more = parse_note(text, path, modified)
    return _dump(note, (*problems, *more))


def _unreadable(path: str, error: OSError) -> str:
    note = Note(id=NoteId(Path(path).stem), path=path, title=Path(path).stem)
    message = f"cannot be read: {(error.strerror or str(error)).lower()}"
    problem = Problem(place=Place(path), code="unreadable", message=message)
    return _dump(note, (problem,))


def _dump(note: Note, problems: tuple[Problem, ...]) -> str:
    return json.dumps(
        [
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
            [(heading.text, heading.level, heading.line) for heading in note.headings],
            [(link.target, link.text, link.path, link.line) for link in note.links],
            note.word_count,
            [(p.place.line, p.code, p.message, p.hint, p.severity) for p in problems],
        ],
        ensure_ascii=False,
        separators=(",", ":"),
    )


def _listed(path: str, mark: str, record: str) -> Listed:
    row: list[Any] = json.loads(record)
    note = Note(
        id=NoteId(row[0]),
        path=path,
        title=row[1],
        areas=tuple(AreaId(area) for area in row[2]),
        concepts=tuple(row[3]),
        questions=tuple(QuestionId(question) for question in row[4]),
        basis=row[5],
        checked=date.fromisoformat(row[6]) if row[6] else None,
        written_on=date.fromisoformat(row[7]) if row[7] else None,
        written_at=datetime.fromisoformat(row[8]) if row[8] else None,
        dated=row[9],
        headings=tuple(Heading(text=h[0], level=h[1], line=h[2]) for h in row[10]),
        links=tuple(Link(target=k[0], text=k[1], path=k[2], line=k[3]) for k in row[11]),
        word_count=row[12],
        place=Place(path, 1),
    )
    problems = tuple(
        Problem(place=Place(path, p[0]), code=p[1], message=p[2], hint=p[3], severity=p[4])
        for p in row[13]
    )
    return Listed(note=note, digest=mark, problems=problems)
