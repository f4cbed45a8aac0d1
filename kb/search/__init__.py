"""The full-text index: brought up to date note by note, searched with medical English in mind.

Everything in its folder is derived and safe to delete. This package alone knows Whoosh; it is
imported when an index is opened.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, TypeVar

from kb.search.document import Page
from kb.search.index_sync import IndexFiles, unless_damaged

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from kb.core.search_result import Hit, SearchResult
    from kb.search.index_sync import State
    from kb.search.kept_likeness import Near
    from kb.search.searcher import Searcher
    from kb.storage.derived_store import DerivedStore

__all__ = ["Index", "Page"]

Made = TypeVar("Made")


class Index:
    """The index of one base.

    Args:
        store: The store of the base; the index has a folder beside it.
        glossary: The base's own glossary.yaml, which need not exist.
    """

    def __init__(self, store: DerivedStore, glossary: Path | None = None) -> None:
        self._store, self._glossary = store, glossary
        self._files = IndexFiles(store)
        self._opened: tuple[State, Searcher] | None = None
        self._again: Callable[[], None] | None = None

    def sync(
        self,
        fingerprint: str,
        digests: Callable[[], Mapping[str, str]],
        page: Callable[[str], Page],
    ) -> None:
        """Bring the index up to date with the notes.

        Args:
            fingerprint: Of all (path, digest) pairs; if it equals the stored one there is nothing
                to do. Empty if unknown.
            digests: The digest of every note by path, called only if the fingerprint changed.
            page: The page at a path, called only for notes that changed.

        Raises:
            DerivedError: The index cannot be used and could not be built.
        """
        self._again = lambda: self._files.sync(fingerprint, digests, page)
        self._again()

    @property
    def empty(self) -> bool:
        """Whether there is no index yet, so that the next `sync` reads every note."""
        return self._files.state() is None

    def search(
        self,
        words: str,
        *,
        limit: int = 10,
        start: int = 0,
        paths: frozenset[str] | None = None,
    ) -> SearchResult:
        """Find notes for words as typed, best first.

        Args:
            words: Any text; phrases in double quotes must be there, words behind a minus not.
            limit: How many hits.
            start: How many hits to skip.
            paths: Only these notes; None for all.
        """
        return self._do(
            lambda searcher: searcher.search(words, limit=limit, start=start, paths=paths)
        )

    def similar(self, text: str, *, limit: int = 10) -> tuple[Hit, ...]:
        """Notes whose text covers `text` best; the weight is the fraction covered, 0 to 1."""
        return self._do(lambda searcher: searcher.similar(text, limit=limit))

    def neighbours(self, paths: frozenset[str] | None = None) -> dict[str, Near]:
        """The most similar others of every note, by path, as (path, cosine), nearest first.

        Comparing all words is slow, so what is found is kept and brought up to date. A note has the
        five nearest at most, and none below a cosine of 0.1.

        Args:
            paths: Only for these notes; None for all.
        """
        from kb.search.kept_likeness import neighbours

        mark = json.dumps((self._files.state() or ())[:2])
        return neighbours(self._store, mark, lambda: self._do(lambda one: one.vectors()), paths)

    def close(self) -> None:
        """Close the files; the next use opens them again."""
        if self._opened:
            self._opened[1].close()
            self._opened = None

    def _do(self, work: Callable[[Searcher], Made]) -> Made:
        """Do some work on the index as it is now.

        If it cannot be read, either another process has just changed it, or it is damaged and is
        rebuilt.
        """
        state = self._files.state()
        if (made := unless_damaged(lambda: work(self._searcher(state)))) is not None:
            return made
        self.close()
        if state == self._files.state():
            self._files.forget()
        if self._again:
            self._again()
        return work(self._searcher(self._files.state()))

    def _searcher(self, state: State | None) -> Searcher:
        if state is None:
            raise LookupError("there is no index")
        if self._opened and self._opened[0][:2] == state[:2]:
            return self._opened[1]
        from kb.search.searcher import Searcher

        self.close()
        searcher = Searcher(self._files.path(state), state.length, self._files, self._glossary)
        self._opened = (state, searcher)
        return searcher
