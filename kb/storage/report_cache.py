"""Reports as last shown, so that the same one asked for again appears at once.

A report is valid while its fingerprint, of all files, the day and the program, is the same.
"""

from __future__ import annotations

import json
import os
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kb import __version__
from kb.storage.derived_store import put_parts, read_parts
from kb.storage.scan import FileStat, mark_of

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterator, Mapping

    from numpy.typing import NDArray

    from kb.storage.note_catalogue import Catalogue

Columns = dict[str, "NDArray[Any]"]

MOST_KEPT = 40
"""Reports kept; the oldest are dropped."""


def recall(catalogue: Catalogue, fingerprint: str, question: Mapping[str, object]) -> str | None:
    """The report last shown, if it would be the same now.

    Args:
        catalogue: That of the base.
        fingerprint: Identifies files, day and program; empty if a file may change unseen.
        question: The report's name, options and form.
    """
    sql = "SELECT text FROM report WHERE question = ? AND fingerprint = ?"
    row = catalogue.read(lambda db: db.execute(sql, (_asked(question), fingerprint)).fetchone())
    return str(row[0]) if row and fingerprint else None


def keep(catalogue: Catalogue, fingerprint: str, question: Mapping[str, object], text: str) -> None:
    """Keep a report, unless a file may change unseen."""
    if not fingerprint:
        return

    def work(db: sqlite3.Connection) -> None:
        sql = "SELECT coalesce(max(at), 0) + 1 FROM report"
        at = db.execute(sql).fetchone()[0]
        row = (_asked(question), fingerprint, text, at)
        db.execute("INSERT OR REPLACE INTO report VALUES (?, ?, ?, ?)", row)
        old = "SELECT question FROM report ORDER BY at DESC LIMIT -1 OFFSET ?"
        db.execute(f"DELETE FROM report WHERE question IN ({old})", (MOST_KEPT,))

    catalogue.store.write(work)


def kept_columns(
    catalogue: Catalogue, fingerprint: str, name: str, work: Callable[[], Columns]
) -> Columns:
    """Columns by name: those worked out last, if they would be the same now."""
    import numpy as np  # not needed by a report that is shown again

    if not fingerprint:
        return work()
    parts = catalogue.read(lambda db: read_parts(db, name, fingerprint))
    if parts:
        return {part: np.frombuffer(value) for part, value in parts.items()}
    made = work()
    rows = [(part, column.tobytes()) for part, column in made.items()]
    catalogue.store.write(lambda db: put_parts(db, name, fingerprint, rows))
    return made


def _asked(question: Mapping[str, object]) -> str:
    return json.dumps(question, sort_keys=True, default=str)


@cache
def code_mark() -> str:
    """Identifies the program: its version, and names, sizes and times of its files."""
    return __version__ + mark_of(sorted(_files(str(Path(__file__).parent.parent))))


def _files(folder: str) -> Iterator[FileStat]:
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.is_file():
                stat = entry.stat()
                yield FileStat(entry.path, stat.st_size, stat.st_mtime_ns)
            elif entry.name != "__pycache__":
                yield from _files(entry.path)
