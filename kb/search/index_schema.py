"""What the full-text index holds of a note, as Whoosh's own fields.

Every note is one document: its keys with weight and positions (`text`); its path, weighted length,
and its words with their weights again, for feedback and likeness (columns); its id, body and the
line on which the body begins (stored).
"""

from __future__ import annotations

import sys
import warnings
from types import ModuleType
from typing import TYPE_CHECKING, Any

NETWORK = "urllib.request"
"""Whoosh imports it for a name that nobody uses. Leaving it out saves 17 ms of CPU time, a sixth of
a bare process, at the start of every search; nothing else of Whoosh is touched."""

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    stub = ModuleType(NETWORK)
    stub.urlretrieve = None  # type: ignore[attr-defined]
    if sys.modules.setdefault(NETWORK, stub) is stub:
        import whoosh.compat  # noqa: F401

        del sys.modules[NETWORK]
    from whoosh import columns, fields, formats
    from whoosh.codec.whoosh3 import W3Codec
    from whoosh.index import create_in, open_dir
    from whoosh.reading import TermNotFound

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

__all__ = ["NAME", "TEXT", "Keys", "TermNotFound", "codec", "create_in", "open_dir", "schema"]

NAME = "notes"
TEXT = "text"
BLOCK = 2048
"""Postings in a block: large blocks are read faster than Whoosh's own 128."""


class Keys(fields.FieldType):  # type: ignore[misc]
    """A field whose words are already keys, each with its weight and positions."""

    format = formats.Format()
    analyzer = vector = column_type = None
    indexed = True
    scorable = stored = unique = False

    def __init__(self) -> None:
        """There are no options."""

    def index(
        self, value: Mapping[str, tuple[int, bytes]], **_: object
    ) -> Iterator[tuple[bytes, int, float, bytes]]:
        """Keys in UTF-8, each with its weight twice, as Whoosh wants it, and its positions."""
        for key, (weight, positions) in value.items():
            yield key.encode(), weight, float(weight), positions

    def to_bytes(self, value: str | bytes) -> bytes:
        """A key as the index stores it."""
        return value if isinstance(value, bytes) else value.encode()


class LeanCodec(W3Codec):  # type: ignore[misc]
    """Whoosh's codec without a length beside every posting, which our ranking does not use."""

    length_stats = False


def schema() -> Any:  # noqa: ANN401 - Whoosh has no types
    """The schema of the index."""
    return fields.Schema(
        text=Keys(),
        path=fields.COLUMN(columns.VarBytesColumn(write_offsets_cutoff=0)),
        words=fields.COLUMN(columns.VarBytesColumn(write_offsets_cutoff=0)),
        length=fields.COLUMN(columns.NumericColumn("I", default=0)),
        note=fields.STORED,
        body=fields.STORED,
        line=fields.STORED,
    )


def codec() -> LeanCodec:
    """How segments are written."""
    return LeanCodec(blocklimit=BLOCK, compression=1)
