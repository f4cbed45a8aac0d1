"""One generation of the index, opened: which notes have which words, and where."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from functools import cache, cached_property, lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from kb.language.abbreviations import Entries, Glossary
from kb.language.normalise import key
from kb.search.bm25f import KEPT_LISTS, Collection, Postings
from kb.search.document import exact, unpack_words
from kb.search.index_schema import NAME, TEXT, TermNotFound, open_dir
from kb.search.index_sync import IndexFiles

KEPT_VECTORS = 2000
"""Words of notes kept in memory while an index is open."""
FEW_PATHS = 20
"""Up to one note in this many is looked up by its path; of more, all paths are read."""


class _Segment(NamedTuple):
    """One part of the index; numbers of its notes are counted from `base`."""

    reader: Any
    base: int
    paths: Any
    words: Any
    lengths: Any


class IndexReader:
    """The notes and words of one generation of the index.

    Args:
        folder: The index.
        length: Weighted length of all live notes together.
        written: Knows the words of the base as written.
        glossary: The base's own glossary.yaml, which need not exist.
    """

    def __init__(
        self, folder: Path, length: int, written: IndexFiles, glossary: Path | None
    ) -> None:
        self.written, self._glossary_path = written, glossary
        self._reader = open_dir(str(folder), NAME).reader()
        parts = self._reader.leaf_readers()
        self._segments = [_opened(part, base) for part, base in parts if part.doc_count_all()]
        self._total = self._reader.doc_count_all()
        self.postings = lru_cache(KEPT_LISTS)(self._postings)
        self.positions = lru_cache(KEPT_LISTS)(self._positions)
        self.frequency = cache(self._frequency)
        self.vector = lru_cache(KEPT_VECTORS)(self._vector)
        self.live_count = self._reader.doc_count()
        self._lost = self._count_lost()
        self.collection = Collection(
            (self.length, length), self.postings, self.positions, self.frequency, self.live_count
        )

    def _count_lost(self) -> dict[str, tuple[int, int]]:
        """Counts and weights of words in deleted notes, which the index still counts."""
        found: dict[str, tuple[int, int]] = {}
        for doc in self.deleted():
            for name, weight in self.vector(doc).items():
                count, whole = found.get(name, (0, 0))
                found[name] = (count + 1, whole + weight)
        return found

    def deleted(self) -> list[int]:
        """Numbers of the deleted notes."""
        return [
            part.base + doc
            for part in self._segments
            for doc in part.reader.segment().deleted_docs()
        ]

    def close(self) -> None:
        """Close the files."""
        self._reader.close()

    # Lists

    def _matchers(self, name: str) -> Iterator[tuple[int, Any]]:
        for segment in self._segments:
            with suppress(TermNotFound):
                yield segment.base, segment.reader.postings(TEXT, name)

    def _postings(self, name: str) -> Postings:
        """Live postings of a key."""
        docs: list[int] = []
        weights: list[float] = []
        for base, matcher in self._matchers(name):
            number, weight, step = matcher.id, matcher.weight, matcher.next
            active = matcher.is_active
            while active():
                docs.append(base + number())
                weights.append(weight())
                step()
        return Postings(docs, weights)

    def _positions(self, name: str) -> Mapping[int, bytes]:
        """Positions of a word by note, as bytes of `array('H')`."""
        held: dict[int, bytes] = {}
        for base, matcher in self._matchers(name):
            while matcher.is_active():
                held[base + matcher.id()] = matcher.value()
                matcher.next()
        return held

    def _frequency(self, name: str) -> tuple[int, float]:
        """Live notes with a word, and its whole weight in them."""
        lost_count, lost = self._lost.get(name, (0, 0))
        count, whole = -lost_count, -lost
        for segment in self._segments:
            with suppress(TermNotFound):
                info = segment.reader.term_info(TEXT, name)
                count += info.doc_frequency()
                whole += info.weight()
        return count, whole

    # Notes

    def _at(self, doc: int) -> tuple[_Segment, int]:
        """The segment of a note, and its number there."""
        for segment in reversed(self._segments):
            if segment.base <= doc:
                return segment, doc - segment.base
        raise IndexError(doc)

    def path(self, doc: int) -> str:
        """The path of a note."""
        segment, number = self._at(doc)
        return str(segment.paths[number].decode())

    @cached_property
    def length(self) -> Callable[[int], int]:
        """The weighted length of a note by its number."""
        if len(self._segments) == 1:
            one: Callable[[int], int] = self._segments[0].lengths.__getitem__
            return one

        def of_many(doc: int) -> int:
            segment, number = self._at(doc)
            return int(segment.lengths[number])

        return of_many

    def _vector(self, doc: int) -> Mapping[str, int]:
        """Keys of a note with their weights."""
        segment, number = self._at(doc)
        return unpack_words(segment.words[number])

    def _stored(self, doc: int) -> dict[str, Any]:
        segment, number = self._at(doc)
        found: dict[str, Any] = segment.reader.stored_fields(number)
        return found

    def numbers(self, paths: frozenset[str]) -> set[int]:
        """Numbers of the notes at these paths."""
        if len(paths) * FEW_PATHS < self._total:
            return {doc for path in paths for doc in self.postings(exact("p", (path,))).docs}
        return {doc for doc, path in self.path_of().items() if path in paths}

    def path_of(self) -> dict[int, str]:
        """Path of every note by number."""
        gone = set(self.deleted())
        return {
            segment.base + doc: segment.paths[doc].decode()
            for segment in self._segments
            for doc in range(segment.reader.doc_count_all())
            if segment.base + doc not in gone
        }

    @cached_property
    def glossary(self) -> Glossary:
        """Abbreviations and names: the stock, and the base's own on top."""
        from kb.formats.glossary_file import parse_glossary
        from kb.language.abbreviations import Glossary

        own: Entries = ()
        path = self._glossary_path
        if path is not None and path.is_file():
            text = path.read_bytes().decode("utf-8", errors="replace")
            own, _ = parse_glossary(text, path.name)
        return Glossary(own)

    @cached_property
    def vocabulary(self) -> list[str]:
        """Words of letters alone, as the base writes them, sorted."""
        return list(filter(str.isalpha, self.written.words()))

    def live(self, word: str) -> bool:
        """Whether a note still has a word: those of removed notes are kept until a rebuild."""
        return self.frequency(key(word))[0] > 0


def _opened(reader: Any, base: int) -> _Segment:  # noqa: ANN401 - Whoosh has no types
    names = ("path", "words", "length")
    return _Segment(reader, base, *(reader.column_reader(n, translate=False) for n in names))
