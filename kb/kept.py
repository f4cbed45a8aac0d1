"""What `find` shows of every note, kept from the last time it was computed in full.

Derived and safe to delete. It holds as long as no file of the base changed, the day is the same
and the code is of the same schema; then a search needs neither notes, nor log, nor settings.
"""

from __future__ import annotations

import json
import marshal
import os
from contextlib import suppress
from typing import TYPE_CHECKING, BinaryIO, NamedTuple

from kb import __version__

try:  # hashlib itself loads a whole cryptographic library
    from _blake2 import blake2b
except ImportError:
    from hashlib import blake2b

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

SCHEMA = 1
"""Raise it whenever what is kept, or how a note is judged, changes."""

RACY_NS = 2_000_000_000
"""A file whose time is this close to the look at it may change again without showing it."""

Row = tuple[object, ...]


class Look(NamedTuple):
    """A look at all files of a base: equal marks mean that nothing changed."""

    mark: str
    newest_ns: int


class Header(NamedTuple):
    """For what the rows hold.

    `mark` is that of the files, `fingerprint` that of the index; between the two moments, in
    seconds since 1970, it is `day` where the person is.
    """

    schema: int
    version: str
    mark: str
    fingerprint: str
    day: str
    day_begins: float
    day_ends: float

    @classmethod
    def fresh(
        cls, seen: Look, fingerprint: str, day: str, day_begins: float, day_ends: float
    ) -> Header:
        """A header of this schema and version."""
        return cls(SCHEMA, __version__, seen.mark, fingerprint, day, day_begins, day_ends)


def look(root: Path) -> Look:
    """Names, sizes and times of all files of a base that are not hidden."""
    found: list[tuple[str, int, int]] = []
    _walk(str(root), "", found)
    found.sort()
    mark = blake2b(marshal.dumps(found, 2), digest_size=16).hexdigest()
    return Look(mark, max((mtime for _, _, mtime in found), default=0))


def _walk(folder: str, prefix: str, found: list[tuple[str, int, int]]) -> None:
    with os.scandir(folder) as entries:
        for entry in entries:
            name = entry.name
            if name[0] == ".":
                continue
            if entry.is_dir(follow_symlinks=False):
                _walk(entry.path, f"{prefix}{name}/", found)
            elif entry.is_file(follow_symlinks=False):
                stat = entry.stat(follow_symlinks=False)
                found.append((prefix + name, stat.st_size, stat.st_mtime_ns))


class Kept:
    """The kept rows of one base.

    Args:
        folder: Where derived files go.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._path = folder / "find.jsonl"

    def header(self) -> Header | None:
        """For what the rows hold; None when there are none of this schema and version."""
        try:
            with self._path.open("rb") as stream:
                found = Header(*json.loads(stream.readline()))
        except (OSError, ValueError, TypeError):
            return None
        return found if (found.schema, found.version) == (SCHEMA, __version__) else None

    def rows(self, names: Iterable[str]) -> dict[str, Row]:
        """Rows of these notes, as far as there are any."""
        found: dict[str, Row] = {}
        with suppress(OSError, ValueError), self._path.open("rb") as stream:
            start = len(stream.readline())
            end = stream.seek(0, os.SEEK_END)
            for name in names:
                row = _seek(stream, start, end, name)
                if row is not None:
                    found[name] = row
        return found

    def write(self, header: Header, rows: Mapping[str, Row]) -> None:
        """Keep rows by name. A disk that refuses is passed over: nothing is lost by it."""
        lines = [json.dumps(header)]
        lines += [
            json.dumps([name, *rows[name]], ensure_ascii=True)
            for name in sorted(rows, key=lambda name: json.dumps(name).encode())
        ]
        beside = self._path.with_name(f"find-{os.getpid()}.new")
        with suppress(OSError):
            beside.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
            beside.replace(self._path)
        with suppress(OSError):
            beside.unlink(missing_ok=True)


def _seek(stream: BinaryIO, start: int, end: int, name: str) -> Row | None:
    """Find a row by bisection over lines sorted by name."""
    wanted = f"[{json.dumps(name)},".encode()
    low, high = start, end
    while low < high:
        middle = (low + high) // 2
        stream.seek(middle)
        if middle > start:
            stream.seek(middle - 1)
            stream.readline()
        at = stream.tell()
        line = stream.readline()
        if not line or at >= high:
            high = middle
        elif line.startswith(wanted):
            return tuple(json.loads(line)[1:])
        elif line < wanted:
            low = at + len(line)
        else:
            high = middle
    return None
