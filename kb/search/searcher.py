"""One generation of the index, opened for searching."""

from __future__ import annotations

from functools import cached_property
from heapq import nlargest
from typing import TYPE_CHECKING, Any, NamedTuple

from kb.core.ids import NoteId
from kb.core.search_result import Hit, SearchResult
from kb.language.normalise import key
from kb.language.normalise import words as words_of
from kb.language.query import parse_query
from kb.language.snippets import best_passage
from kb.search.bm25f import FEEDBACK_DOCS, FEEDBACK_REACH, Collection, Group, Postings
from kb.search.document import exact, unpack_words
from kb.search.index_schema import NAME, TEXT, TermNotFound, open_dir
from kb.search.regularisation import SMOOTHED, smooth

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from pathlib import Path

    from kb.language.abbreviations import Entries, Glossary
    from kb.search.bm25f import Form
    from kb.search.query_expansion import Wanted

EXACT_TITLE = 1000.0
EXACT_CONCEPT = 300.0
"""Added to a note whose whole title, or one of whose concepts, is what was typed."""
LEVEL = 2e-9
"""Scores nearer than this differ by the order of adding up alone."""
ANSWERED_SHARE = 0.42
"""A note that holds a smaller share of the query is no answer to it where words are lacking."""
TOPIC_WORDS = 4
"""Of a longer query some words are lacking as a rule."""
COMPARED_SHARE = 0.4
"""A note compares two names that has so much of each as the best note on it."""
ORDINARY_SHARE = 0.4
"""What a lacking word that is no name, drug or disease carries, in units of one that is."""
KEPT_LISTS = 3000
KEPT_VECTORS = 2000
"""Posting lists, and words of notes, held in memory while an index is open."""
CLEAR_LEAD = 1.03
LEAD = 1e-3
"""The first note by the query's own words stays first, by so much, whatever feedback lifts, where
its score is at least so many times the next one's."""
SAMPLED = 20
"""One score in so many tells roughly where the best begin."""


class Words(NamedTuple):
    """The words of a base as written, in small letters.

    `beginning` gives some that begin so, `every` all of them, sorted.
    """

    beginning: Callable[[str, int], list[str]]
    every: Callable[[], list[str]]


class _Segment(NamedTuple):
    """One part of the index; numbers of its notes are counted from `base`."""

    reader: Any
    base: int
    paths: Any
    words: Any
    lengths: Any


class Searcher:
    """Searches one generation; see `Index` for what it promises.

    Args:
        folder: The index.
        length: Weighted length of all live notes together.
        words: The words of the base as written.
        glossary: The base's own glossary.yaml, which need not exist.
    """

    def __init__(self, folder: Path, length: int, words: Words, glossary: Path | None) -> None:
        self._words, self._glossary_path = words, glossary
        self._reader = open_dir(str(folder), NAME).reader()
        parts = self._reader.leaf_readers()
        self._segments = [_opened(part, base) for part, base in parts if part.doc_count_all()]
        self._total = self._reader.doc_count_all()
        self._lists: dict[str, Postings] = {}
        self._positions: dict[str, dict[int, bytes]] = {}
        self._counts: dict[str, tuple[int, float]] = {}
        self._vectors: dict[int, dict[str, int]] = {}
        self.live_count = self._reader.doc_count()
        self._lost = self._count_lost()
        self.collection = Collection(
            (self.length, length), self.postings, self.positions, self.frequency, self.live_count
        )

    def _count_lost(self) -> dict[str, tuple[int, int]]:
        """Counts and weights of the words of deleted notes, which the index still counts."""
        found: dict[str, tuple[int, int]] = {}
        for doc in self.deleted():
            for name, weight in self.vector(doc).items():
                count, whole = found.get(name, (0, 0))
                found[name] = (count + 1, whole + weight)
        return found

    def deleted(self) -> list[int]:
        """Numbers of the deleted notes."""
        if self.live_count == self._total:
            return []
        return [
            base + doc
            for reader, base, *_ in self._segments
            if reader.has_deletions()
            for doc in range(reader.doc_count_all())
            if reader.is_deleted(doc)
        ]

    def close(self) -> None:
        """Let go of the files."""
        self._reader.close()

    # Lists

    def _matchers(self, name: str) -> Iterator[tuple[int, Any]]:
        for segment in self._segments:
            try:
                yield segment.base, segment.reader.postings(TEXT, name)
            except TermNotFound:
                continue

    def postings(self, name: str) -> Postings:
        """Live postings of a key."""
        held = self._lists.get(name)
        if held is None:
            docs: list[int] = []
            weights: list[float] = []
            for base, matcher in self._matchers(name):
                number, weight, step = matcher.id, matcher.weight, matcher.next
                active = matcher.is_active
                while active():
                    docs.append(base + number())
                    weights.append(weight())
                    step()
            if len(self._lists) >= KEPT_LISTS:
                self._lists.clear()
            held = self._lists[name] = Postings(docs, weights)
        return held

    def positions(self, name: str) -> Mapping[int, bytes]:
        """Positions of a word by note, as bytes of `array('H')`."""
        held = self._positions.get(name)
        if held is None:
            held = {}
            for base, matcher in self._matchers(name):
                while matcher.is_active():
                    held[base + matcher.id()] = matcher.value()
                    matcher.next()
            if len(self._positions) >= KEPT_LISTS:
                self._positions.clear()
            self._positions[name] = held
        return held

    def frequency(self, name: str) -> tuple[int, float]:
        """Live notes with a word, and its whole weight in them."""
        known = self._counts.get(name)
        if known is None:
            count, whole = self._lost.get(name, (0, 0))
            count, whole = -count, -whole
            for segment in self._segments:
                try:
                    info = segment.reader.term_info(TEXT, name)
                except TermNotFound:
                    continue
                count += info.doc_frequency()
                whole += info.weight()
            known = self._counts[name] = (count, whole)
        return known

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

    def vector(self, doc: int) -> Mapping[str, int]:
        """Keys of a note with their weights."""
        held = self._vectors.get(doc)
        if held is None:
            segment, number = self._at(doc)
            held = unpack_words(segment.words[number])
            if len(self._vectors) >= KEPT_VECTORS:
                self._vectors.clear()
            self._vectors[doc] = held
        return held

    def _stored(self, doc: int) -> dict[str, Any]:
        segment, number = self._at(doc)
        found: dict[str, Any] = segment.reader.stored_fields(number)
        return found

    def numbers(self, paths: frozenset[str]) -> set[int]:
        """Numbers of the notes at these paths."""
        if len(paths) * SAMPLED < self._total:
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

    def holds(self, form: Form) -> bool:
        """Whether any live note has a word or phrase."""
        if len(form) == 1:
            return self.frequency(form[0][0])[0] > 0
        return bool(self.collection.phrase(form))

    # Searching

    def search(
        self, words: str, *, limit: int, start: int, paths: frozenset[str] | None
    ) -> SearchResult:
        """See `Index.search`."""
        from kb.search.query_expansion import look_for

        query = parse_query(words)
        allowed = None if paths is None else self.numbers(paths)
        wanted = look_for(self, query, allowed)
        scores, pool, exactly = self._scores(wanted, allowed)
        count = limit + start
        best = self._best(pool if count <= len(pool) else scores, count)[start:]
        hits = tuple(self._hit(doc, scores[doc] - exactly.get(doc, 0.0), wanted) for doc in best)
        answered = not self._unanswered(wanted, scores)
        return SearchResult(
            hits=hits if answered else (),
            total_count=len(scores) if answered else 0,
            also=wanted.also,
            nearest=wanted.nearest,
            searched=wanted.searched,
            lacking=wanted.lacking,
            sharing=() if answered else hits,
        )

    def _unanswered(self, wanted: Wanted, scores: Mapping[int, float]) -> bool:
        """Whether the words that carry the question are in no note.

        So it is when words are lacking and every note holds too small a share of the query, rare
        words counting more.
        """
        if not wanted.lacking or wanted.sides or len(wanted.things) > TOPIC_WORDS:
            return False
        collection = self.collection
        whole = sum(map(_worth_lacking, wanted.lacking)) * collection.idf(0)
        held = dict.fromkeys(scores, 0.0)
        for forms in wanted.things:
            docs = collection.occurrences(Group(forms=forms))[0]
            worth = collection.idf(len(docs))
            whole += worth if docs else 0.0
            for doc in docs:
                if doc in held:
                    held[doc] += worth
        return max(held.values(), default=0.0) < ANSWERED_SHARE * whole

    def rank(self, words: str, limit: int) -> tuple[Hit, ...]:
        """See `Index.rank`."""
        from kb.search.query_expansion import look_for

        scores, _, _ = self._scores(look_for(self, parse_query(words), None), None)
        best = self._best(scores, limit)
        return tuple(self._bare_hit(doc, scores[doc]) for doc in best)

    def _hit(self, doc: int, weight: float, wanted: Wanted) -> Hit:
        """One note found, with its best passage and the line of the file that begins on."""
        stored = self._stored(doc)
        passage, line = best_passage(stored["body"], wanted.worth, wanted.sequences)
        at = stored["line"] + line - 1 if line else 0
        return Hit(
            note=NoteId(stored["note"]),
            path=self.path(doc),
            weight=weight,
            passage=passage,
            line=at,
        )

    def _bare_hit(self, doc: int, weight: float) -> Hit:
        return Hit(note=NoteId(self._stored(doc)["note"]), path=self.path(doc), weight=weight)

    def _scores(
        self, wanted: Wanted, allowed: set[int] | None
    ) -> tuple[dict[int, float], dict[int, float], dict[int, float]]:
        """Scores of all that match, of those among which the best are, and what of a score is for
        being called just so.
        """
        collection = self.collection
        scores: dict[int, float] = {}
        collection.score(wanted.groups, scores)
        if wanted.weaker:
            extra: dict[int, float] = {}
            collection.score(wanted.weaker, extra)
            for doc, worth in extra.items():
                scores[doc] = scores.get(doc, 0.0) + worth
        self._restrict(scores, wanted, allowed)
        exactly = self._add_exact(scores, wanted)
        comparing = self._comparing(wanted, scores)
        leader = self._best(scores, 2)
        own = [scores[doc] for doc in leader]
        pool = scores
        if len(scores) > FEEDBACK_DOCS and not collection.titled(wanted.groups):
            pool = _reach(scores)
            vectors = [self.vector(doc) for doc in self._best(pool, FEEDBACK_DOCS)]
            collection.score_again(collection.expand(vectors, wanted.names), pool, self.vector)
            best = self._best(pool, SMOOTHED)
            lifted = smooth([pool[doc] for doc in best], [self.vector(doc) for doc in best])
            pool.update(zip(best, lifted, strict=True))
            scores.update(pool)
        first = leader[:1] if leader and own[0] >= CLEAR_LEAD * own[-1] else []
        for doc in reversed(list(dict.fromkeys([*comparing, *first]))):
            pool[doc] = scores[doc] = max(pool.values()) + LEAD
        return scores, pool, exactly

    def _comparing(self, wanted: Wanted, scores: Mapping[int, float]) -> list[int]:
        """Of `X or Y` the note that compares them, if there is one, then the best on each."""
        sides: list[dict[int, float]] = []
        for groups in wanted.sides:
            found: dict[int, float] = {}
            self.collection.score(groups, found)
            best = max(found.values(), default=1.0)
            sides.append({doc: score / best for doc, score in found.items() if doc in scores})
        if not all(sides):
            return []
        both = {doc: min(side.get(doc, 0.0) for side in sides) for doc in sides[0]} if sides else {}
        together = [doc for doc in self._best(both, 1) if both[doc] >= COMPARED_SHARE]
        return [*together, *(doc for side in sides for doc in self._best(side, 1))]

    def _add_exact(self, scores: dict[int, float], wanted: Wanted) -> dict[int, float]:
        """Lift notes whose whole title or concept was typed, and give back by how much."""
        added: dict[int, float] = {}
        if wanted.typed:
            for kind, worth in (("t", EXACT_TITLE), ("c", EXACT_CONCEPT)):
                for doc in self.postings(exact(kind, wanted.typed)).docs:
                    if doc in scores:
                        scores[doc] += worth
                        added[doc] = added.get(doc, 0.0) + worth
        return added

    def _restrict(self, scores: dict[int, float], wanted: Wanted, allowed: set[int] | None) -> None:
        gone: set[int] = set()
        if allowed is not None:
            gone.update(scores.keys() - allowed)
        for group in wanted.required:
            gone.update(scores.keys() - set(self.collection.occurrences(group)[0]))
        for group in wanted.excluded:
            gone.update(self.collection.occurrences(group)[0])
        for doc in gone:
            scores.pop(doc, None)

    def _best(self, scores: Mapping[int, float], count: int) -> list[int]:
        """The best notes; equal ones in order of path, however they are numbered."""
        top = nlargest(count, scores.values())
        if not top:
            return []
        least = top[-1] - LEVEL
        level = [(round(score, 9), doc) for doc, score in scores.items() if score >= least]
        if len({value for value, _ in level}) < len(level):
            level.sort(key=lambda pair: (-pair[0], self.path(pair[1])))
        else:
            level.sort(reverse=True)
        return [doc for _, doc in level[:count]]

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

    # Writing

    def similar(self, text: str, *, limit: int) -> tuple[Hit, ...]:
        """See `Index.similar`."""
        counted: dict[str, int] = {}
        for word in words_of(text):
            if name := key(word):
                counted[name] = counted.get(name, 0) + 1
        collection = self.collection
        groups = [Group(forms=(((name, 0),),), weight=float(n)) for name, n in counted.items()]
        scores: dict[int, float] = {}
        collection.score(groups, scores)
        whole = sum(g.weight * collection.idf(self.frequency(g.forms[0][0][0])[0]) for g in groups)
        best = self._best(scores, limit)
        return tuple(self._bare_hit(doc, scores[doc] / whole) for doc in best)

    def known_words(self, prefix: str, limit: int) -> list[str]:
        """Words of the base as written that begin with `prefix`."""
        return self._words.beginning(prefix, limit)

    @cached_property
    def vocabulary(self) -> list[str]:
        """Words of the base as written, sorted."""
        return self._words.every()

    def neighbours(
        self, count: int, paths: frozenset[str]
    ) -> dict[str, tuple[tuple[str, float], ...]]:
        """See `Index.neighbours`."""
        from kb.search.similarity import neighbours

        path_of = self.path_of()
        rows = [doc for doc, path in path_of.items() if path in paths]
        vectors = [self.vector(doc) if doc in path_of else {} for doc in range(self._total)]
        return {
            path_of[doc]: tuple((path_of[other], value) for other, value in found)
            for doc, found in neighbours(vectors, rows, count).items()
        }


def _opened(reader: Any, base: int) -> _Segment:  # noqa: ANN401 - Whoosh has no types
    names = ("path", "words", "length")
    return _Segment(reader, base, *(reader.column_reader(n, translate=False) for n in names))


def _worth_lacking(word: str) -> float:
    """How much of a question a word carries that no note has: a name all, a number nothing."""
    from kb.language.spelling import spelt_right

    if word[0].isdigit():
        return 0.0
    return 1.0 if word[0].isupper() or spelt_right(word) else ORDINARY_SHARE


def _reach(scores: Mapping[int, float]) -> dict[int, float]:
    """The best notes by score, and all that are level with the last of them."""
    if len(scores) <= FEEDBACK_REACH:
        return dict(scores)
    least = _ranked(scores.values(), FEEDBACK_REACH) - LEVEL
    return {doc: score for doc, score in scores.items() if score >= least}


def _ranked(values: Iterable[float], place: int) -> float:
    """The value at that place from the highest, counted from 1.

    Of many values only those above a bound that a few of them tell are sorted.
    """
    held = list(values)
    few = sorted(held[::SAMPLED])
    at = 2 * place // SAMPLED + SAMPLED
    if at < len(few):
        above = [value for value in held if value >= few[-at]]
        if len(above) >= place:
            held = above
    return sorted(held)[-place]
