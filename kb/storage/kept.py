"""What `find` shows of every note, kept from the last time it was computed in full.

Derived and safe to delete. It holds as long as no file of the base changed but the text of a few
notes, the day is the same and the code is of the same schema; then a search needs neither the other
notes, nor log, nor settings.
"""

from __future__ import annotations

import json
import os
from contextlib import suppress
from datetime import timedelta
from typing import TYPE_CHECKING, BinaryIO, NamedTuple

from kb import __version__
from kb.storage.scan import FILES, listing

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import datetime
    from pathlib import Path

    from kb.storage.scan import Look

SCHEMA = 4
"""Raise it whenever what is kept, or how a note is judged, changes."""

ROWS = "find.jsonl"

Row = tuple[object, ...]


class Header(NamedTuple):
    """For what the rows hold.

    `mark` is that of the files, `fingerprint` that of the index; between the two moments, in
    seconds since 1970, it is `day` where the person is. `as_of` is the day asked for, if one was:
    then the moment does not matter.
    """

    schema: int
    version: str
    mark: str
    fingerprint: str
    day: str
    day_begins: float
    day_ends: float
    as_of: str = ""

    @classmethod
    def fresh(
        cls,
        seen: Look,
        fingerprint: str,
        day: str,
        day_begins: float,
        day_ends: float,
        as_of: str = "",
    ) -> Header:
        """A header of this schema and version."""
        return cls(SCHEMA, __version__, seen.mark, fingerprint, day, day_begins, day_ends, as_of)

    def holds(self, now: float, as_of: str) -> bool:
        """Whether the day is the one asked for."""
        return self.as_of == as_of and (bool(as_of) or self.day_begins <= now < self.day_ends)


def put(path: Path, raw: bytes) -> None:
    """Write a derived file whole. A disk that refuses is passed over: nothing is lost by it."""
    beside = path.with_name(f"{path.name}-{os.getpid()}.new")
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(raw)
        beside.replace(path)
    with suppress(OSError):
        beside.unlink(missing_ok=True)


def span_of_day(moment: datetime) -> tuple[float, float]:
    """When the day of a moment begins and ends where that is, in seconds since 1970."""
    begins = moment.replace(hour=0, minute=0, second=0, microsecond=0, fold=0)
    return begins.timestamp(), (begins + timedelta(days=1)).timestamp()


class Kept:
    """The kept rows of one base.

    Args:
        folder: Where derived files go.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._path = folder / ROWS

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

    def write(self, header: Header, rows: Mapping[str, Row], seen: Look, since_ns: int) -> None:
        """Keep rows by name. A disk that refuses is passed over: nothing is lost by it.

        Args:
            header: For what the rows hold.
            rows: By name.
            seen: All files of the base.
            since_ns: Files with a later time may change again unseen.
        """
        lines = [json.dumps(header)]
        lines += [
            json.dumps([name, *rows[name]], ensure_ascii=True)
            for name in sorted(rows, key=lambda name: json.dumps(name).encode())
        ]
        whole = "\n".join(lines) + "\n"
        put(self._path, whole.encode("ascii"))
        put(self.folder / FILES, listing(seen, since_ns))


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
