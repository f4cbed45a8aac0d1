"""The one SQLite file with everything derived from a base, except its full-text index.

It may be deleted at any time. If it is damaged or has another schema, the first process to notice
deletes it and makes it again.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, contextmanager, suppress
from typing import TYPE_CHECKING, Any, TypeVar

from kb.core.errors import ConflictError, DerivedError, Place
from kb.storage.cache_folder import cache_folder, temporary_folder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

Made = TypeVar("Made")

FILE = "derived.sqlite3"
LOCK = "lock.sqlite3"
"""An empty database, used only for its lock."""
SCHEMA = 11
"""Raise it whenever a table, how a note is read, or what of it is indexed changes."""
BUSY_SECONDS = 15.0

TABLES = """
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT) WITHOUT ROWID;
CREATE TABLE note (path TEXT PRIMARY KEY, size INTEGER, mtime_ns INTEGER, looked_ns INTEGER,
                   digest TEXT, head INTEGER, record TEXT);
CREATE TABLE fact (path TEXT PRIMARY KEY, note TEXT, remarks TEXT, mark TEXT) WITHOUT ROWID;
CREATE TABLE card (path TEXT PRIMARY KEY, card TEXT) WITHOUT ROWID;
CREATE TABLE indexed (path TEXT PRIMARY KEY, digest TEXT) WITHOUT ROWID;
CREATE TABLE word (word TEXT PRIMARY KEY) WITHOUT ROWID;
CREATE TABLE near (mark TEXT, paths TEXT, rows BLOB);
CREATE TABLE kept (of TEXT, part TEXT, mark TEXT, value BLOB, PRIMARY KEY (of, part));
CREATE TABLE report (question TEXT PRIMARY KEY, fingerprint TEXT, text TEXT, at INTEGER)
    WITHOUT ROWID
"""


class DerivedStore:
    """Derived data of one base.

    `birth` identifies the file opened last: if it changes, the file was made again and is empty.

    Args:
        folder: A private folder, see `cache_folder`.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.birth = ""

    @classmethod
    def of(cls, root: Path) -> DerivedStore:
        """The store of the base at `root`.

        Raises:
            DerivedError: Its folder belongs to somebody else.
        """
        return cls(cache_folder(root))

    def run(self, work: Callable[[sqlite3.Connection], Made]) -> Made:
        """Do some work on the open file.

        If the file is damaged, it is made again, empty; if its disk is full or read-only, a
        temporary one takes its place. Then the work is repeated.

        Raises:
            DerivedError: It cannot be kept anywhere, or another process does not release it.
        """
        try:
            return self._run_once(work)
        except sqlite3.DatabaseError as error:
            # A file that another process is writing is not damaged and stays.
            if getattr(error, "sqlite_errorcode", 0) != sqlite3.SQLITE_BUSY:
                self.throw_away()
        except OSError:
            pass
        with suppress(sqlite3.DatabaseError, OSError):
            return self._run_once(work)
        self.use_temporary()
        try:
            return self._run_once(work)
        except (sqlite3.DatabaseError, OSError) as error:
            raise DerivedError(
                f"missbook's own files cannot be written: {error}",
                place=Place(str(self.folder)),
                hint="free some space there and try again",
            ) from error

    def write(self, work: Callable[[sqlite3.Connection], Made]) -> Made:
        """Do some work in one transaction, which holds the write lock from its start. See `run`."""

        def whole(db: sqlite3.Connection) -> Made:
            db.execute("BEGIN IMMEDIATE")
            made = work(db)
            db.execute("COMMIT")  # a failure closes the connection, which takes everything back
            return made

        return self.run(whole)

    @contextmanager
    def building(self) -> Iterator[None]:
        """Hold a lock for work longer than a transaction; the system releases it with the process.

        Raises:
            ConflictError: Another process has held it for longer than most builds take.
        """
        path = self.folder / LOCK
        with closing(sqlite3.connect(path, timeout=BUSY_SECONDS, isolation_level=None)) as db:
            try:
                db.execute("BEGIN EXCLUSIVE")
            except sqlite3.DatabaseError as error:
                if getattr(error, "sqlite_errorcode", 0) == sqlite3.SQLITE_BUSY:
                    message = "another missbook is updating its files"
                    raise ConflictError(message, place=Place(str(path))) from error
                path.unlink(missing_ok=True)  # damaged: nobody holds it
            yield

    def use_temporary(self) -> None:
        """Go on in a temporary folder, which is empty: the disk takes nothing more."""
        self.folder = temporary_folder()

    def _run_once(self, work: Callable[[sqlite3.Connection], Made]) -> Made:
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        path = self.folder / FILE
        with closing(sqlite3.connect(path, timeout=BUSY_SECONDS, isolation_level=None)) as db:
            if db.execute("PRAGMA user_version").fetchone()[0] != SCHEMA:
                _make(db)
            self.birth = str(about(db, "birth"))
            db.execute("PRAGMA synchronous = OFF")
            return work(db)

    def throw_away(self) -> None:
        """Delete the file; its next use makes it again."""
        for ending in ("", "-journal", "-wal", "-shm"):
            with suppress(OSError):
                (self.folder / (FILE + ending)).unlink()


def about(db: sqlite3.Connection, key: str) -> str:
    """A value about a whole table; empty if none was put."""
    row = db.execute("SELECT value FROM about WHERE key = ?", (key,)).fetchone()
    return str(row[0]) if row else ""


def put_about(db: sqlite3.Connection, key: str, value: str) -> None:
    """Put such a value."""
    db.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (key, value))


def fill(db: sqlite3.Connection, table: str, rows: list[tuple[Any, ...]]) -> None:
    """Replace all rows of a table."""
    db.execute(f"DELETE FROM {table}")
    if rows:
        marks = ", ".join("?" * len(rows[0]))
        db.executemany(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", rows)


def read_parts(db: sqlite3.Connection, of: str, mark: str) -> dict[str, bytes]:
    """The parts by name that were put under that mark; none if others were."""
    sql = "SELECT part, value FROM kept WHERE of = ? AND mark = ?"
    return dict(db.execute(sql, (of, mark)).fetchall())


def put_parts(
    db: sqlite3.Connection, of: str, mark: str, parts: Iterable[tuple[str, bytes]]
) -> None:
    """Put parts in place of those that were there."""
    db.execute("DELETE FROM kept WHERE of = ?", (of,))
    rows = ((of, part, mark, value) for part, value in parts)
    db.executemany("INSERT INTO kept VALUES (?, ?, ?, ?)", rows)


def _make(db: sqlite3.Connection) -> None:
    """Make all tables, unless another process has done so in the meantime."""
    db.execute("BEGIN IMMEDIATE")
    if db.execute("PRAGMA user_version").fetchone()[0] != SCHEMA:
        names = db.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        for (name,) in names:
            quoted = name.replace('"', '""')
            db.execute(f'DROP TABLE IF EXISTS "{quoted}"')
        for statement in TABLES.split(";"):
            db.execute(statement)
        put_about(db, "birth", os.urandom(8).hex())
        db.execute(f"PRAGMA user_version = {SCHEMA}")
    db.execute("COMMIT")
