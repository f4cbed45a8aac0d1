"""The full-text index: brought up to date note by note, searched with medical English in mind.

Everything in its folder is derived and safe to delete. This package alone knows Whoosh; it is
imported when an index is opened.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.search.document import Page
from kb.search.index_sync import Files

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from kb.core.model import Hit, SearchResult
    from kb.search.document import Record
    from kb.search.searcher import Reader

__all__ = ["Index", "Page"]


class Index:
    """The index of one base.

    Args:
        folder: Where derived files go; the index has a folder of its own in it.
        glossary: The base's own glossary.yaml, which need not exist.
    """

    def __init__(self, folder: Path, glossary: Path | None = None) -> None:
        self._folder = folder
        self._files = Files(folder)
        self._glossary = glossary
        self._opened: tuple[str, Reader] | None = None

    def sync(
        self,
        fingerprint: str,
        digests: Callable[[], Mapping[str, str]],
        page: Callable[[str], Page],
    ) -> None:
        """Bring the index up to date with the notes.

        Args:
            fingerprint: Stands for all (path, digest) pairs; equal to the stored one, nothing
                is to be done.
            digests: Digest of every note by path, asked only when the fingerprint changed.
            page: A note by path, asked only for those that changed.

        Raises:
            DerivedError: The index cannot be used and could not be rebuilt.
        """
        self._files.sync(fingerprint, digests, page)

    @property
    def fingerprint(self) -> str:
        """What the index was last brought up to date with; empty if there is none."""
        return self._files.stamp().fingerprint

    def holds(self, fingerprint: str) -> bool:
        """Whether the index is of that state of the notes, so that it may be searched as it is."""
        return bool(fingerprint) and self.fingerprint == fingerprint

    def search(
        self,
        words: str,
        *,
        limit: int = 10,
        start: int = 0,
        paths: frozenset[str] | None = None,
        prefix: bool = False,
    ) -> SearchResult:
        """Find notes for words as typed, best first.

        Args:
            words: Any text; phrases in double quotes must be there, words behind a minus not.
            limit: Hits wanted.
            start: Hits to pass over first.
            paths: Restrict the answer to these notes; None for all.
            prefix: The last word is still being typed.
        """
        return self._reader().search(words, limit=limit, start=start, paths=paths, prefix=prefix)

    def record_at(self, path: str) -> Record | None:
        """What is stored of the note at a path, if there is one."""
        return self._reader().record_at(path)

    def lay_over(self, pages: Sequence[Page]) -> None:
        """Search from now on as if the index held these pages instead of those at their paths.

        Nothing is written; `sync` and `close` end it. Once only, and only paths that it holds.
        """
        self._reader().lay_over(pages)

    def rank(self, words: str, *, limit: int) -> tuple[Hit, ...]:
        """The hits of `search` without their passages, for measuring long answers."""
        return self._reader().rank(words, limit)

    def similar(self, text: str, *, limit: int = 10) -> tuple[Hit, ...]:
        """Notes whose text covers `text` best; the weight is the fraction covered, 0 to 1."""
        return self._reader().similar(text, limit=limit)

    def neighbours(
        self, count: int = 5, paths: frozenset[str] | None = None
    ) -> dict[str, tuple[tuple[str, float], ...]]:
        """For every note by path the `count` most similar others, as (path, cosine in [0, 1]).

        Args:
            count: How many at most.
            paths: Only for these notes; None for all.
        """
        from kb.search.near_kept import NearKept

        reader = self._reader()
        kept = NearKept(self._folder, reader.stamp.mark, count)
        near = kept.read()
        wanted = reader.paths() if paths is None else paths & reader.paths()
        if missing := wanted - near.keys():
            near |= reader.neighbours(count, missing)
            kept.write(near)
        return {path: near[path] for path in sorted(wanted)}

    def close(self) -> None:
        """Let go of open files; the next use opens them again."""
        if self._opened:
            self._opened[1].close()
            self._opened = None

    def _reader(self) -> Reader:
        from kb.search.searcher import Reader

        stamp = self._files.stamp()
        if self._opened and self._opened[0] == stamp.mark:
            return self._opened[1]
        self.close()
        reader = Reader(self._files, stamp, self._glossary)
        self._opened = (reader.stamp.mark, reader)
        return reader
