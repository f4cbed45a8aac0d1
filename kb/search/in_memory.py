"""Pages held in memory, asked as an index is: for a file that carries its own."""

from array import array
from collections.abc import Iterable, Mapping

from kb.language.abbreviations import Glossary
from kb.search.bm25f import Collection, Postings
from kb.search.document import Page, entries

NONE = Postings((), ())


class PageReader:
    """Which pages have which words, and where.

    Attributes:
        lengths: Weighted length of each page.
        seen: The words as written.
        glossary: Abbreviations and names.
        collection: What ranking needs to know of all pages.
    """

    def __init__(self, pages: Iterable[Page], glossary: Glossary) -> None:
        self.glossary, self.lengths, self.seen = glossary, array("L"), set[str]()
        self.lists: dict[str, Postings] = {}
        self._places: dict[str, dict[int, bytes]] = {}
        for number, page in enumerate(pages):
            found, length = entries(page, self.seen)
            self.lengths.append(length)
            for name, (weight, places) in found.items():
                held = self.lists.setdefault(name, Postings([], []))
                held.docs.append(number)  # type: ignore[attr-defined]
                held.weights.append(weight)  # type: ignore[attr-defined]
                self._places.setdefault(name, {})[number] = places
        self.collection = Collection(
            (self.lengths.__getitem__, sum(self.lengths)),
            self.postings,
            self._positions,
            self.frequency,
            len(self.lengths),
        )

    def postings(self, name: str) -> Postings:
        """Pages with a key."""
        return self.lists.get(name, NONE)

    def _positions(self, name: str) -> Mapping[int, bytes]:
        return self._places.get(name, {})

    def frequency(self, name: str) -> tuple[int, float]:
        """Pages with a word, and its whole weight in them."""
        held = self.postings(name)
        return len(held.docs), float(sum(held.weights))
