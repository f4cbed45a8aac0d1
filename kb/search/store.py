# ruff: noqa: ANN401 - Whoosh has no types
"""Whoosh as it is kept on disk: segments are written leanly; `segment` reads them.

All use of Whoosh's private names is here. Version 2.7.4 is pinned and frozen, so they are too;
a test compares what is read with Whoosh's own readers.
"""

from __future__ import annotations

import gc
import sys
import warnings
from array import array
from itertools import pairwise
from types import ModuleType
from typing import TYPE_CHECKING, Any, TypeVar

from kb.search.segment import DamagedError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path


def _import_whoosh() -> None:
    """Import Whoosh without urllib.request, half of its cost for a name that nobody uses."""
    name = "urllib.request"
    stub = None
    if name not in sys.modules:
        stub = ModuleType(name)
        stub.urlretrieve = None  # type: ignore[attr-defined]
        sys.modules[name] = stub
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import whoosh.index  # noqa: F401
    finally:
        if stub is not None and sys.modules.get(name) is stub:
            del sys.modules[name]


_import_whoosh()

from pickle import dumps  # noqa: E402

from whoosh import columns, fields  # noqa: E402
from whoosh.codec.whoosh3 import WHOOSH3_HEADER_MAGIC, W3TermInfo  # noqa: E402
from whoosh.filedb.filestore import FileStorage  # noqa: E402
from whoosh.index import TOC, FileIndex, clean_files  # noqa: E402
from whoosh.system import pack_ushort  # noqa: E402
from whoosh.util.numeric import length_to_byte  # noqa: E402
from whoosh.writing import SegmentWriter  # noqa: E402

NAME = "notes"
FIELD = "text"
LENGTH = columns.NumericColumn("I", default=0)
BLOCK = 2048
"""Postings in a block: large ones unpickle faster than Whoosh's 128."""
COMPRESS_BYTES = 4096
"""Smaller blocks are not worth the time to compress."""


Made = TypeVar("Made")


def _guarded(read: Callable[[], Made]) -> Made:
    """Call `read`; whatever Whoosh raises becomes a `DamagedError`.

    Whoosh leaves files open when it fails: they are let go here, where nobody is warned of it.
    """
    problem = ""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        try:
            return read()
        except Exception as error:  # it raises anything at all
            problem = repr(error)
        gc.collect()
    raise DamagedError(problem)


class _Lists:
    """The postings of one key while a segment is being written."""

    __slots__ = ("docs", "positions", "weights")

    def __init__(self) -> None:
        self.docs = array("I")
        self.weights: list[int] = []
        self.positions: list[bytes] = []


class _LeanTermInfo(W3TermInfo):  # type: ignore[misc]
    """Term statistics set at once instead of posting by posting."""

    def __init__(
        self, docs: Sequence[int], weights: Sequence[int], bounds: tuple[int, int]
    ) -> None:
        super().__init__()
        self._weight, self._df = float(sum(weights)), len(docs)
        self._minlength, self._maxlength = bounds
        self._maxweight, self._minid, self._maxid = max(weights), docs[0], docs[-1]


class LeanWriter(SegmentWriter):  # type: ignore[misc]
    """Writes one new segment in Whoosh's format, holding its posting lists in memory."""

    def __init__(self, index: Any) -> None:
        super().__init__(index, _lk=False)
        self._lists: dict[str, _Lists] = {}
        self._bounds = (1 << 30, 1)

    def add_page(self, entries: Mapping[str, tuple[int, bytes]], record: Any, length: int) -> int:
        """Add a document; returns its number in the new segment."""
        doc, lists = self.docnum, self._lists
        for key, (weight, positions) in entries.items():
            held = lists.get(key)
            if held is None:
                held = lists[key] = _Lists()
            held.docs.append(doc)
            held.weights.append(weight)
            held.positions.append(positions)
        writer = self.perdocwriter
        writer.start_doc(doc)
        writer.add_field(FIELD, _SCHEMA[FIELD], None, length)
        writer.add_field("record", _SCHEMA["record"], record, 0)
        writer.add_column_value("length", LENGTH, length)
        writer.finish_doc()
        self._bounds = (min(self._bounds[0], length), max(self._bounds[1], length))
        self._added = True
        self.docnum += 1
        return int(doc)

    def _flush_segment(self) -> None:
        self.perdocwriter.close()
        writer = self.fieldwriter
        writer.start_field(FIELD, _SCHEMA[FIELD])
        number, table, file = pack_ushort(writer._fieldid), writer._tindex, writer._postfile
        for key in sorted(self._lists, key=str.encode):
            held = self._lists[key]
            info = _LeanTermInfo(held.docs, held.weights, self._bounds)
            if len(held.docs) == 1:
                info.set_inlined(held.docs, held.weights, held.positions)
            else:
                start = file.tell()
                self._write_blocks(file, held)
                info.set_extent(start, file.tell() - start)
            table.add(number + key.encode(), info.to_bytes())
        writer.finish_field()
        writer.close()

    def _write_blocks(self, file: Any, held: _Lists) -> None:
        file.write(WHOOSH3_HEADER_MAGIC)
        low, high = (length_to_byte(bound) for bound in self._bounds)
        total = len(held.docs)
        for start in range(0, total, BLOCK):
            docs = held.docs[start : start + BLOCK]
            weights = held.weights[start : start + BLOCK]
            deltas = [docs[0], *(b - a for a, b in pairwise(docs))]
            same = 1.0 if all(weight == 1 for weight in weights) else None
            shown = None if same else tuple(weights)
            raw = dumps((tuple(deltas), shown, tuple(held.positions[start : start + BLOCK])), 4)
            squeezed = 3 if len(raw) > COMPRESS_BYTES else 0
            if squeezed:
                import zlib

                raw = zlib.compress(raw, 1)
            about = dumps((len(docs), docs[-1], max(weights), squeezed, low, high), 4)
            size = len(about) + len(raw)
            file.write_int(-size if start + BLOCK >= total else size)
            file.write(about)
            file.write(raw)


def create(folder: Path) -> None:
    """Make an empty index of generation 0 in an empty folder."""
    TOC.create(FileStorage(str(folder)), _SCHEMA, NAME)


def open_writer(folder: Path) -> LeanWriter:
    """A writer on the latest generation. The caller holds the lock."""
    return _guarded(lambda: LeanWriter(FileIndex(FileStorage(str(folder)), _SCHEMA, NAME)))


def commit(writer: LeanWriter, deleted: Mapping[str, set[int]], dropped: set[str]) -> int:
    """Finish a new segment and publish it with the older ones; returns the new generation.

    Args:
        writer: Its segment is added if it has any document.
        deleted: Documents that are gone, by segment.
        dropped: Segments that are gone as a whole.
    """
    kept = [segment for segment in writer.segments if segment.segment_id() not in dropped]
    for segment in kept:
        for doc in deleted.get(str(segment.segment_id()), ()):
            segment.delete_document(doc)
    if writer._added:
        kept.append(writer._finalize_segment())
    else:
        writer._close_segment()
    TOC(writer.schema, kept, writer.generation).write(writer.storage, NAME)
    clean_files(writer.storage, NAME, writer.generation, kept)
    writer._finish()
    return int(writer.generation)


def segment_id(writer: LeanWriter) -> str:
    """The id of the segment being written."""
    return str(writer.newsegment.segment_id())


_SCHEMA = fields.Schema(text=fields.KEYWORD(scorable=True), record=fields.STORED)
_SCHEMA[FIELD].format.posting_size = -1
