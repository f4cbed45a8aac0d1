"""Which notes are near each other, kept until the index changes: reading all words for it is slow.

Derived and safe to delete; what cannot be read, or is of another state of the index, is made anew.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from kb.storage.kept import put

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

Near = tuple[tuple[str, float], ...]

FILE = "near.json"
SCHEMA = 1
"""Raise it whenever nearness is computed in another way."""


class NearKept:
    """What is kept for one state of an index.

    Args:
        folder: Where derived files go.
        mark: Stands for the state of the index.
        count: How many notes are looked for near each.
    """

    def __init__(self, folder: Path, mark: str, count: int) -> None:
        self._path = folder / FILE
        self._header = [SCHEMA, mark, count]

    def read(self) -> dict[str, Near]:
        """The near notes of every note, by path, that was asked for in this state."""
        try:
            header, near = json.loads(self._path.read_bytes())
            if header != self._header:
                return {}
            return {path: tuple((str(o), float(c)) for o, c in row) for path, row in near.items()}
        except (OSError, ValueError, TypeError, AttributeError):
            return {}

    def write(self, near: Mapping[str, Near]) -> None:
        """Keep them."""
        put(self._path, json.dumps([self._header, near]).encode())
