"""One generation of the index, opened for searching."""

from __future__ import annotations

from bisect import bisect_left
from functools import cached_property
from heapq import nlargest
from typing import TYPE_CHECKING

from kb.core.errors import DerivedError
from kb.core.ids import NoteId
from kb.core.model import Hit, SearchResult
from kb.language.normalise import key
from kb.language.normalise import words as words_of
from kb.language.query import parse_query
from kb.search.bm25f import FEEDBACK_DOCS, FEEDBACK_REACH, Collection, Group
from kb.search.document import exact, weights
from kb.search.index_sync import count_off
from kb.search.regularisation import SMOOTHED, smooth
from kb.search.segment import DamagedError, Postings, Segment, open_segments

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from kb.language.abbreviations import Entries, Glossary
    from kb.search.bm25f import Form
    from kb.search.document import Page, Record
    from kb.search.index_sync import Files, Ghosts, Listing, Stamp
    from kb.search.loose import Loose
    from kb.search.query_expansion import Wanted
    from kb.search.similarity import Column

EXACT_TITLE = 1000.0
EXACT_CONCEPT = 300.0
"""Added to a note whose whole title, or one of whose concepts, is what was typed."""
LEVEL = 2e-9
"""Scores nearer than this differ by the order of adding up alone."""
KEPT_RECORDS = 500
KEPT_VECTORS = 2000
"""Notes, and words of notes, held in memory while an index is open."""
SAMPLED = 20
"""One score in so many tells roughly where the best begin."""
TRIES = 5
"""How often to look again when another process publishes a new generation meanwhile."""


class Reader:
    """Searches one generation; see `Index` for what it promises."""

    def __init__(self, files: Files, stamp: Stamp, glossary: Path | None) -> None:
        self._files, self._glossary_path = files, glossary
        self.stamp, segments = self._open(stamp)
        gone = any(segment.deleted for segment in segments)
        self._put_together(segments, files.ghosts(self.stamp) if gone else {})

    def _put_together(self, segments: Sequence[Segment | Loose], ghosts: Ghosts) -> None:
        self._segments, self._ghosts = segments, ghosts
        self._bases: list[int] = []
        lengths: list[int] = []
        dead: set[int] = set()
        for segment in segments:
            base = len(lengths)
            self._bases.append(base)
            lengths.extend(segment.lengths())
            dead.update(base + doc for doc in segment.deleted)
        for doc in dead:
            lengths[doc] = 0
        self._dead, self._total = dead, len(lengths)
        self._lists: dict[str, Postings] = {}
        self._counts: dict[str, tuple[int, float]] = {}
        self._vocabulary: list[str] | None = None
        self._records: dict[int, Record] = {}
        self._vectors: dict[int, Mapping[str, float]] = {}
        self.live_count = len(lengths) - len(dead)
        self.collection = Collection(lengths, self.postings, self.frequency, self.live_count)

    def lay_over(self, pages: Sequence[Page]) -> None:
        """Search as if the index held these pages instead of those at their paths.

        Nothing is written. The answers are those of an index brought up to date.
        """
        from kb.search.loose import Loose

        paths = {page.path for page in pages}
        ghosts = {name: dict(held) for name, held in self._ghosts.items()}
        held_at = {listing.segment: listing for listing in self._listings}
        for segment in self._segments:
            if segment.id not in held_at:
                continue
            gone = held_at[segment.id].numbers(paths)
            count_off(ghosts, segment, gone)
            segment.deleted |= gone
        self._put_together([*self._segments, Loose(pages)], ghosts)

    def _open(self, stamp: Stamp) -> tuple[Stamp, list[Segment]]:
        problem: Exception | None = None
        for _ in range(TRIES):
            if stamp.generation < 0:
                break
            try:
                return stamp, open_segments(self._files.folder, stamp.segments)
            except DamagedError as error:
                problem = error
                stamp = self._files.stamp()
        hint = "delete .missbook and try again: nothing is lost"
        raise DerivedError("the index cannot be read", hint=hint) from problem

    @cached_property
    def _listings(self) -> list[Listing]:
        return self._files.listings(self.stamp)

    def close(self) -> None:
        """Let go of the files."""
        for segment in self._segments:
            segment.close()

    # Lists

    def postings(self, name: str) -> Postings:
        """Live postings of a key over all segments."""
        held = self._lists.get(name)
        if held is not None:
            return held
        if len(self._segments) == 1 and not self._dead:
            held = self._segments[0].postings(name)
        else:
            docs: list[int] = []
            weights: list[float] = []
            positions: list[bytes] = []
            for base, segment in zip(self._bases, self._segments, strict=True):
                part = segment.postings(name)
                gone = segment.deleted
                if not gone.isdisjoint(part.docs):
                    live = [row for row in zip(*part, strict=True) if row[0] not in gone]
                    docs.extend(base + doc for doc, _, _ in live)
                    weights.extend(weight for _, weight, _ in live)
                    positions.extend(places for _, _, places in live)
                else:
                    docs.extend(base + doc for doc in part.docs)
                    weights.extend(part.weights)
                    positions.extend(part.positions)
            held = Postings(docs, weights, positions)
        if len(self._lists) > 2000:
            self._lists.clear()
        self._lists[name] = held
        return held

    def frequency(self, name: str) -> tuple[int, float]:
        """Live notes with a key, and its whole weight in them."""
        known = self._counts.get(name)
        if known is None:
            count, whole = 0, 0.0
            for segment in self._segments:
                held_count, held_whole = segment.frequency(name)
                gone_count, gone_whole = self._ghosts.get(segment.id, {}).get(name, (0, 0.0))
                count += held_count - gone_count
                whole += held_whole - gone_whole
            known = self._counts[name] = (count, whole)
        return known

    def record_at(self, path: str) -> Record | None:
        """What is stored of the note at a path, if there is one."""
        for doc in self.numbers(frozenset((path,))):
            return self.record(doc)
        return None

    def record(self, doc: int) -> Record:
        """What is stored of a note."""
        held = self._records.get(doc)
        if held is None:
            number = len(self._bases) - 1
            while self._bases[number] > doc:
                number -= 1
            held = self._segments[number].stored(doc - self._bases[number])
            if len(self._records) >= KEPT_RECORDS:
                self._records.clear()
            self._records[doc] = held
        return held

    def numbers(self, paths: frozenset[str]) -> set[int]:
        """Numbers of the notes at these paths."""
        base_of = {s.id: base for s, base in zip(self._segments, self._bases, strict=True)}
        return {
            base_of[listing.segment] + doc
            for listing in self._listings
            for doc in listing.numbers(paths)
        }

    def holds(self, form: Form) -> bool:
        """Whether any live note has a word or phrase."""
        if len(form) == 1:
            return self.frequency(form[0][0])[0] > 0
        return bool(self.collection.phrase(form))

    # Searching

    def search(
        self, words: str, *, limit: int, start: int, paths: frozenset[str] | None, prefix: bool
    ) -> SearchResult:
        """See `Index.search`."""
        from kb.search.query_expansion import look_for

        query = parse_query(words)
        allowed = None if paths is None else self.numbers(paths)
        wanted = look_for(self, query, prefix, allowed)
        scores, pool = self._scores(wanted, allowed)
        count = limit + start
        best = self._best(pool if count <= len(pool) else scores, count)[start:]
        from kb.search.marks import hit

        return SearchResult(
            hits=tuple(hit(self.record(doc), scores[doc], wanted) for doc in best),
            total_count=len(scores),
            also=wanted.also,
            nearest=wanted.nearest,
        )

    def rank(self, words: str, limit: int) -> tuple[Hit, ...]:
        """See `Index.rank`."""
        from kb.search.query_expansion import look_for

        scores, _ = self._scores(look_for(self, parse_query(words), False, None), None)
        best = self._best(scores, limit)
        return tuple(Hit(note=NoteId(self.record(doc)[0]), weight=scores[doc]) for doc in best)

    def _scores(
        self, wanted: Wanted, allowed: set[int] | None
    ) -> tuple[dict[int, float], dict[int, float]]:
        """Scores of all that match, and of those among which the best are."""
        collection = self.collection
        scores: dict[int, float] = {}
        collection.score(wanted.groups, scores)
        self._restrict(scores, wanted, allowed)
        pool = scores
        if wanted.feedback and len(scores) > FEEDBACK_DOCS and not collection.titled(wanted.groups):
            pool = _reach(scores)
            vectors = [self.vector(doc) for doc in self._best(pool, FEEDBACK_DOCS)]
            collection.score_again(collection.expand(vectors, wanted.names), pool)
            best = self._best(pool, SMOOTHED)
            lifted = smooth([pool[doc] for doc in best], [self.vector(doc) for doc in best])
            pool.update(zip(best, lifted, strict=True))
            scores.update(pool)
        if wanted.typed:
            for kind, worth in (("t", EXACT_TITLE), ("c", EXACT_CONCEPT)):
                for doc in self.postings(exact(kind, wanted.typed)).docs:
                    if doc in scores:
                        scores[doc] += worth
                        pool[doc] = scores[doc]
        return scores, pool

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

    def vector(self, doc: int) -> Mapping[str, float]:
        """Keys of a note with their weights."""
        held = self._vectors.get(doc)
        if held is None:
            held = {
                name: weight
                for name, weight in weights(self.record(doc)[10]).items()
                if name[:1] != "\x01"
            }
            if len(self._vectors) >= KEPT_VECTORS:
                self._vectors.clear()
            self._vectors[doc] = held
        return held

    def _best(self, scores: Mapping[int, float], count: int) -> list[int]:
        """The best notes; equal ones in order of path, however they are numbered."""
        top = nlargest(count, scores.values())
        if not top:
            return []
        least = top[-1] - LEVEL
        level = [(round(score, 9), doc) for doc, score in scores.items() if score >= least]
        if len({value for value, _ in level}) < len(level):
            level.sort(key=lambda pair: (-pair[0], self.record(pair[1])[1]))
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
        return tuple(
            Hit(note=NoteId(self.record(doc)[0]), weight=scores[doc] / whole) for doc in best
        )

    def known_words(self, prefix: str, limit: int) -> list[str]:
        """Words of the base as written that begin with `prefix`."""
        known = self.vocabulary()
        at = bisect_left(known, prefix)
        found: list[str] = []
        while at < len(known) and known[at].startswith(prefix) and len(found) < limit:
            found.append(known[at])
            at += 1
        return found

    def vocabulary(self) -> list[str]:
        """Words of the base as written, sorted."""
        if self._vocabulary is None:
            known = self._files.words(self.stamp)
            for segment in self._segments:
                if not isinstance(segment, Segment):
                    known = sorted(segment.words.union(known))
            self._vocabulary = known
        return self._vocabulary

    def paths(self) -> frozenset[str]:
        """Of all notes that the index holds."""
        return frozenset(self._path_of().values())

    def _path_of(self) -> dict[int, str]:
        base_of = {s.id: base for s, base in zip(self._segments, self._bases, strict=True)}
        return {
            base_of[listing.segment] + doc: path
            for listing in self._listings
            for doc, path in enumerate(listing.paths)
            if doc not in listing.deleted
        }

    def neighbours(
        self, count: int, paths: frozenset[str]
    ) -> dict[str, tuple[tuple[str, float], ...]]:
        """See `Index.neighbours`."""
        from kb.search.similarity import neighbours

        path_of = self._path_of()
        rows = [doc for doc, path in path_of.items() if path in paths]
        near = neighbours(self._columns(), self._total, rows, count)
        return {
            path_of[doc]: tuple((path_of[other], value) for other, value in found)
            for doc, found in near.items()
        }

    def _columns(self) -> Iterator[Column]:
        """Live notes, weights and inverse document frequency of every key that is a word."""
        names = {name for segment in self._segments for name in segment.names()}
        for name in sorted(names):
            if name[0] != "\x01":
                held = self.postings(name)
                if held.docs:
                    yield held.docs, held.weights, self.collection.idf(len(held.docs))


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
