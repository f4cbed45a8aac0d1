"""What turning a query into groups of forms must know of an index."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kb.language.abbreviations import Glossary
    from kb.search.bm25f import Collection, Form, Postings


class Lexicon(Protocol):
    """The words of an index: which there are, and how many notes have each."""

    collection: Collection

    @property
    def glossary(self) -> Glossary:
        """The base's own abbreviations, and those that come with missbook."""
        ...

    @property
    def vocabulary(self) -> Sequence[str]:
        """Every word as written, sorted."""
        ...

    def known_words(self, prefix: str, limit: int) -> list[str]:
        """Some words that begin so."""
        ...

    def frequency(self, name: str) -> tuple[int, float]:
        """How many notes have a key, and its weight in all of them."""
        ...

    def postings(self, name: str) -> Postings:
        """The notes that have a key, with its weight in each."""
        ...

    def holds(self, form: Form) -> bool:
        """Whether any note has a form."""
        ...
