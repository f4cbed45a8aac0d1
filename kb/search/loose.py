"""Notes that are in no segment yet, as if they were one: for a search right after an edit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kb.search.document import entries, record, surface
from kb.search.segment import NOTHING, Postings

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from kb.search.document import Page, Record


class Loose:
    """Pages held in memory; what it offers is what `Segment` does.

    Args:
        pages: Every page once, in any order.
    """

    def __init__(self, pages: Sequence[Page]) -> None:
        self.id = ""
        self.count = len(pages)
        self.deleted: frozenset[int] = frozenset()
        self._records: list[Record] = []
        self._lengths: list[int] = []
        self._lists: dict[str, Postings] = {}
        seen: set[str] = set()
        for doc, page in enumerate(pages):
            found, length = entries(page, seen)
            self._lengths.append(length)
            self._records.append(record(page, found))
            for name, (weight, places) in found.items():
                docs, weights, positions = self._lists.setdefault(name, Postings([], [], []))
                docs.append(doc)  # type: ignore[attr-defined]
                weights.append(weight)  # type: ignore[attr-defined]
                positions.append(places)  # type: ignore[attr-defined]
        self.words = surface(seen)

    def frequency(self, key: str) -> tuple[int, float]:
        """Documents with a key, and its whole weight in them."""
        held = self.postings(key)
        return len(held.docs), float(sum(held.weights))

    def postings(self, key: str) -> Postings:
        """The whole list of a key."""
        return self._lists.get(key, NOTHING)

    def names(self) -> Iterator[str]:
        """Every key, in order."""
        return iter(sorted(self._lists))

    def lengths(self) -> Sequence[int]:
        """Length of every document in order."""
        return self._lengths

    def stored(self, doc: int) -> Any:  # noqa: ANN401 - as of a segment
        """What is stored of a document."""
        return self._records[doc]

    def close(self) -> None:
        """Nothing is open."""
