"""One segment of the index, read from Whoosh's own files without Whoosh.

Importing Whoosh costs more than a search does, so that only writing needs it. The format is that
of version 2.7.4, which is pinned and frozen; a test compares what is read here with what Whoosh's
own readers see. Not a public format: only what our writer writes is understood.
"""

from __future__ import annotations

import sys
import zlib
from array import array
from io import BytesIO
from itertools import accumulate
from mmap import ACCESS_READ, mmap
from struct import Struct
from typing import TYPE_CHECKING, Any, NamedTuple

try:  # each of these pulls in a whole library that a short search does not need
    from _md5 import md5  # type: ignore[import-not-found]
    from _pickle import load, loads
except ImportError:
    from hashlib import md5
    from pickle import load, loads

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

FIELD_NUMBER = b"\x00\x00"
"""The one field that is indexed; its number leads every key."""
BLOCK_MAGIC = b"W3Bl"
TABLE_MAGIC = b"HSH3"
TABLE_START = 13
"""Keys begin behind the table's own heading."""

START = Struct("!qi")
PLACE = Struct("!qi")
SLOT = Struct("!Iq")
LENGTHS = Struct("!ii")
SIZE = Struct("!i")
ABOUT = Struct("!BfIBBfII")
DIRECTORY_SIZE = 256 * PLACE.size


class DamagedError(Exception):
    """The index's files are missing, damaged or of another kind."""


class Postings(NamedTuple):
    """A posting list: documents in order, weights, and positions as bytes of `array('H')`."""

    docs: Sequence[int]
    weights: Sequence[float]
    positions: Sequence[bytes]


NOTHING = Postings((), (), ())


class Segment:
    """One segment, opened for reading.

    Args:
        folder: The folder of the index.
        name: The segment's id, which is also the name of its file.
        count: Documents in it, deleted ones included.
        deleted: Numbers of deleted documents.

    Raises:
        DamagedError: The file is missing or damaged.
    """

    def __init__(self, folder: Path, name: str, count: int, deleted: Sequence[int] = ()) -> None:
        self.id, self.count, self.deleted = name, count, frozenset(deleted)
        try:
            with (folder / f"{name}.seg").open("rb") as file:
                self._data = mmap(file.fileno(), 0, access=ACCESS_READ)
        except (OSError, ValueError) as problem:
            raise DamagedError(str(problem)) from problem
        try:
            self._open()
        except Exception as problem:  # unpickling what is damaged raises anything at all
            self._data.close()
            raise DamagedError(str(problem)) from problem

    def _open(self) -> None:
        data, name = self._data, self.id
        start, _ = START.unpack_from(data, 0)
        parts = loads(data[start:])

        def part(ending: str) -> tuple[int, int]:
            held = parts[name + ending]
            return held["offset"], held["length"]

        self._posts = part(".pst")[0]
        self._table, length = part(".trm")
        if data[self._table : self._table + 4] != TABLE_MAGIC:
            raise DamagedError("not a table of keys")
        end = self._table + length - SIZE.size
        extras = end - SIZE.unpack_from(data, end)[0]
        self._places = extras - DIRECTORY_SIZE
        self._keys_end = self._table + PLACE.unpack_from(data, self._places)[0]
        self._lengths = part(".length.col")
        self._stored = part("._stored.col")
        self._rows: tuple[Sequence[int], Sequence[int]] | None = None

    def _find(self, key: str) -> tuple[int, int]:
        """Where what is told of a key begins and ends; (0, 0) if there is no such key."""
        data, table = self._data, self._table
        wanted = FIELD_NUMBER + key.encode()
        mark = int.from_bytes(md5(wanted, usedforsecurity=False).digest()[-4:], "big")
        first, slot_count = PLACE.unpack_from(data, self._places + (mark & 255) * PLACE.size)
        if not slot_count:
            return 0, 0
        slot = (mark >> 8) % slot_count
        for _ in range(slot_count):
            held, at = SLOT.unpack_from(data, table + first + slot * SLOT.size)
            if not at:
                break
            if held == mark:
                at += table
                key_size, value_size = LENGTHS.unpack_from(data, at)
                at += LENGTHS.size
                if data[at : at + key_size] == wanted:
                    return at + key_size, at + key_size + value_size
            slot = slot + 1 if slot + 1 < slot_count else 0
        return 0, 0

    def frequency(self, key: str) -> tuple[int, float]:
        """Documents with a key, and its whole weight in them, deleted documents included."""
        start, _ = self._find(key)
        if not start:
            return 0, 0.0
        _, weight, count, *_ = ABOUT.unpack_from(self._data, start)
        return count, weight

    def postings(self, key: str) -> Postings:
        """The whole list of a key, deleted documents included."""
        data = self._data
        start, end = self._find(key)
        if not start:
            return NOTHING
        if data[start]:  # a list of one stands with its key
            return Postings(*loads(data[start + ABOUT.size : end]))
        at = self._posts + PLACE.unpack_from(data, start + ABOUT.size)[0]
        if data[at : at + 4] != BLOCK_MAGIC:
            raise DamagedError("not a list of documents")
        at += 4
        docs: list[int] = []
        weights: list[float] = []
        positions: list[bytes] = []
        size = 1
        while size > 0:
            (size,) = SIZE.unpack_from(data, at)
            at += SIZE.size
            block = BytesIO(data[at : at + abs(size)])
            at += abs(size)
            squeezed = load(block)[3]
            rest = block.read()
            deltas, shown, places = loads(zlib.decompress(rest) if squeezed else rest)
            docs.extend(accumulate(deltas))
            weights.extend([1.0] * len(deltas) if shown is None else shown)
            positions.extend(places)
        return Postings(docs, weights, positions)

    def names(self) -> Iterator[str]:
        """Every key, in order."""
        data, at = self._data, self._table + TABLE_START
        while at < self._keys_end:
            key_size, value_size = LENGTHS.unpack_from(data, at)
            at += LENGTHS.size
            yield data[at + len(FIELD_NUMBER) : at + key_size].decode()
            at += key_size + value_size

    def lengths(self) -> Sequence[int]:
        """Length of every document in order."""
        start, size = self._lengths
        found = _numbers("I", self._data[start : start + size])
        found.extend([0] * (self.count - len(found)))  # zeros at the end are left out
        return found

    def stored(self, doc: int) -> Any:  # noqa: ANN401 - whatever was stored
        """What was stored of a document."""
        if self._rows is None:
            self._rows = self._stored_rows()
        offsets, sizes = self._rows
        start = self._stored[0] + offsets[doc]
        return loads(zlib.decompress(self._data[start : start + sizes[doc]]))["record"]

    def _stored_rows(self) -> tuple[Sequence[int], Sequence[int]]:
        """Where each document begins, and its size."""
        data, count = self._data, self.count
        start, size = self._stored
        end = start + size - 1
        code = chr(data[end])
        offsets: Sequence[int] = ()
        if code == "X":  # of many documents the places are written down as well
            code, offset_code = chr(data[end - 2]), chr(data[end - 1])
            end -= 2 + count * array(offset_code).itemsize
            offsets = _numbers(offset_code, data[end : end + count * array(offset_code).itemsize])
        width = array(code).itemsize
        sizes = _numbers(code, data[end - count * width : end])
        return offsets or [0, *accumulate(sizes)], sizes

    def close(self) -> None:
        """Let go of the file."""
        self._data.close()


def _numbers(code: str, raw: bytes) -> array[int]:
    found: array[int] = array(code, raw)
    if sys.byteorder == "little":
        found.byteswap()
    return found


def open_segments(folder: Path, rows: Sequence[tuple[str, int, Sequence[int]]]) -> list[Segment]:
    """Open segments given as (id, documents, deleted documents).

    Raises:
        DamagedError: One of them is missing or damaged.
    """
    opened: list[Segment] = []
    try:
        for name, count, deleted in rows:
            opened.append(Segment(folder, name, count, deleted))
    except DamagedError:
        for segment in opened:
            segment.close()
        raise
    return opened
