"""What a report said, kept until anything changes: asked again it is answered at once.

Derived and safe to delete. It holds for the same question (report, options, day, form) as long as
no file of the base changed, the day is the same where the person is, and the code is the same.
"""

from __future__ import annotations

import json
import os
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from kb import __version__
from kb.core.ids import digest
from kb.storage.kept import put, span_of_day
from kb.storage.scan import RACY_NS, look, mark_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import datetime

    from kb.storage.note_catalogue import FileStat

FOLDER = "said"
MOST_KEPT = 40
"""Answers kept; beyond that the oldest go."""


class Said:
    """One question, and what was answered to it before.

    Args:
        root: The base.
        now: The present moment, aware.
        question: The report's name and options, the day asked for, and the form of the answer.
    """

    def __init__(self, root: Path, now: datetime, question: Mapping[str, object]) -> None:
        self._root, self._now = root, now
        asked = json.dumps(question, sort_keys=True, default=str)
        self._path = root / ".missbook" / FOLDER / f"{digest(asked)}.json"
        self._header = [__version__, _code_mark(), asked]

    def recall(self) -> str | None:
        """The answer, if it would be the same now; else None."""
        try:
            header, mark, begins, ends, text = json.loads(self._path.read_bytes())
            if header != self._header or not begins <= self._now.timestamp() < ends:
                return None
            return str(text) if look(self._root).mark == mark else None
        except (OSError, ValueError, TypeError):
            return None

    def keep(self, text: str, files: Sequence[FileStat], day: datetime | None) -> None:
        """Keep an answer, unless a file may still change unseen.

        Args:
            text: What was said.
            files: All files of the base as they were looked at before it was read.
            day: A moment of the day for which it holds, where the person is; None when a day was
                asked for, so that the moment does not matter.
        """
        newest_ns = max((entry.mtime_ns for entry in files), default=0)
        if newest_ns > self._now.timestamp() * 1e9 - RACY_NS:
            return
        begins, ends = span_of_day(day) if day else (0.0, 1e18)
        mark = mark_of([(entry.path, entry.size, entry.mtime_ns) for entry in files])
        put(self._path, json.dumps([self._header, mark, begins, ends, text]).encode())
        with suppress(OSError):
            self._make_room()

    def _make_room(self) -> None:
        kept = sorted(self._path.parent.glob("*.json"), key=lambda path: path.stat().st_mtime_ns)
        for path in kept[:-MOST_KEPT]:
            path.unlink(missing_ok=True)


def _code_mark() -> str:
    """Stands for the program as it is: names, sizes and times of its files."""
    found = [
        (entry.path, entry.stat().st_size, entry.stat().st_mtime_ns)
        for entry in _files(str(Path(__file__).parent.parent))
    ]
    return mark_of(sorted(found))


def _files(folder: str) -> Iterator[os.DirEntry[str]]:
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.is_dir():
                if entry.name != "__pycache__":
                    yield from _files(entry.path)
            else:
                yield entry
