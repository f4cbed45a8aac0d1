"""One generation of the index, opened for searching."""

from __future__ import annotations

from bisect import bisect_left
from heapq import nlargest
from typing import TYPE_CHECKING, Any

from kb.errors import DerivedError
from kb.index import store
from kb.index.pages import entries, exact
from kb.index.ranking import FEEDBACK_DOCS, Collection, Group
from kb.model import Answer, Hit, NoteId
from kb.text.english import key, words as words_of
from kb.text.query import parse_query

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from kb.index.pages import Record
    from kb.index.upkeep import Files, Stamp

EXACT_TITLE = 1000.0
EXACT_CONCEPT = 300.0
"""Added to a note whose whole title, or one of whose concepts, is what was typed."""
TRIES = 5
"""How often to look again when another process publishes a new generation meanwhile."""


class Reader:
    """Searches one generation; see `Index` for what it promises."""

    def __init__(self, files: Files, stamp: Stamp, glossary: Path | None) -> None:
        self._files, self._glossary_path = files, glossary
        self.stamp, self._segments = self._open(stamp)
        self._bases: list[int] = []
        lengths: list[int] = []
        dead: set[int] = set()
        for segment in self._segments:
            base = len(lengths)
            self._bases.append(base)
            lengths.extend(segment.lengths())
            dead.update(base + doc for doc in segment.deleted)
        for doc in dead:
            lengths[doc] = 0
        self._dead, self._total = dead, len(lengths)
        self._ghosts = files.ghosts(self.stamp) if dead else {}
        self._lists: dict[str, store.Postings] = {}
        self._counts: dict[str, tuple[int, float]] = {}
        self._records: dict[int, Record] = {}
        self.live_count = len(lengths) - len(dead)
        self.collection = Collection(lengths, self.postings, self.frequency, self.live_count)

    def _open(self, stamp: Stamp) -> tuple[Stamp, list[store.Segment]]:
        problem: Exception | None = None
        for _ in range(TRIES):
            if stamp.generation < 0:
                break
            try:
                return stamp, store.open_segments(self._files.folder, stamp.generation)
            except Exception as error:  # noqa: BLE001 - Whoosh raises anything on missing files
                problem = error
                stamp = self._files.stamp()
        hint = "delete .missbook and try again: nothing is lost"
        raise DerivedError("the index cannot be read", hint=hint) from problem

    def close(self) -> None:
        """Let go of the files."""
        for segment in self._segments:
            segment.close()

    # Lists

    def postings(self, name: str) -> store.Postings:
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
                if segment.deleted:
                    for doc, weight, places in zip(*part, strict=True):
                        if doc not in segment.deleted:
                            docs.append(base + doc)
                            weights.append(weight)
                            positions.append(places)
                else:
                    docs.extend(base + doc for doc in part.docs)
                    weights.extend(part.weights)
                    positions.extend(part.positions)
            held = store.Postings(docs, weights, positions)
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

    def record(self, doc: int) -> Record:
        """What is stored of a note."""
        held = self._records.get(doc)
        if held is None:
            number = len(self._bases) - 1
            while self._bases[number] > doc:
                number -= 1
            held = self._segments[number].stored(doc - self._bases[number])
            if len(self._records) > 500:
                self._records.clear()
            self._records[doc] = held
        return held

    def numbers(self, paths: frozenset[str]) -> set[int]:
        """Numbers of the notes at these paths."""
        base_of = {s.id: base for s, base in zip(self._segments, self._bases, strict=True)}
        rows = self._files.pages(self.stamp)
        return {base_of[rows[p][0]] + rows[p][1] for p in paths if p in rows}

    # Searching

    def search(
        self, words: str, *, limit: int, start: int, paths: frozenset[str] | None, prefix: bool
    ) -> Answer:
        """See `Index.search`."""
        from kb.index.looking import look_for

        query = parse_query(words)
        wanted = look_for(self, query, prefix)
        if not wanted.groups or not self.live_count:
            return Answer(hits=(), total_count=0, nearest=wanted.nearest)
        scores, count = self._scores(wanted, paths)
        best = self._best(scores, limit + start)[start:]
        from kb.index.marks import hit

        return Answer(
            hits=tuple(hit(self.record(doc), scores[doc], wanted) for doc in best),
            total_count=count,
            also=wanted.also,
            nearest=wanted.nearest,
        )

    def _scores(self, wanted: Any, paths: frozenset[str] | None) -> tuple[list[float], int]:
        collection = self.collection
        scores = [0.0] * self._total
        collection.score(wanted.groups, scores)
        self._restrict(scores, wanted, paths)
        found = [doc for doc, score in enumerate(scores) if score > 0]
        if wanted.feedback and len(found) > FEEDBACK_DOCS and not collection.titled(wanted.groups):
            self._feed_back(scores, found, wanted.names)
        for kind, worth in (("t", EXACT_TITLE), ("c", EXACT_CONCEPT)):
            for doc in self.postings(exact(kind, wanted.typed)).docs:
                if scores[doc] > 0:
                    scores[doc] += worth
        return scores, len(found)

    def _restrict(self, scores: list[float], wanted: Any, paths: frozenset[str] | None) -> None:
        if paths is not None:
            allowed = self.numbers(paths)
            for doc, score in enumerate(scores):
                if score and doc not in allowed:
                    scores[doc] = 0.0
        for group in wanted.required:
            held = set(self.collection.occurrences(group)[0])
            for doc, score in enumerate(scores):
                if score and doc not in held:
                    scores[doc] = 0.0
        for group in wanted.excluded:
            for doc in self.collection.occurrences(group)[0]:
                scores[doc] = 0.0

    def _feed_back(self, scores: list[float], found: Sequence[int], names: set[str]) -> None:
        vectors = [self.vector(doc) for doc in self._best(scores, FEEDBACK_DOCS)]
        more = [0.0] * self._total
        self.collection.score(self.collection.expand(vectors, names), more)
        for doc in found:
            scores[doc] += more[doc]

    def vector(self, doc: int) -> Mapping[str, float]:
        """Keys of a note with their weights."""
        found, _ = entries(self.record(doc))
        return {name: weight for name, (weight, _) in found.items() if name[0] != "\x01"}

    def _best(self, scores: Sequence[float], count: int) -> list[int]:
        """The best notes; equal ones in order of path, however they are numbered."""
        rounded = [(round(score, 9), doc) for doc, score in enumerate(scores) if score > 0]
        top = nlargest(count, rounded)
        if not top:
            return []
        least = top[-1][0]
        level = [pair for pair in rounded if pair[0] >= least] if len(top) == count else top
        values = [value for value, _ in level]
        if len(set(values)) < len(values):
            level.sort(key=lambda pair: (-pair[0], self.record(pair[1])[1]))
        else:
            level.sort(reverse=True)
        return [doc for _, doc in level[:count]]

    # Writing

    def similar(self, text: str, *, limit: int) -> tuple[Hit, ...]:
        """See `Index.similar`."""
        counted: dict[str, int] = {}
        for word in words_of(text):
            if name := key(word):
                counted[name] = counted.get(name, 0) + 1
        collection = self.collection
        groups = [Group(forms=(((name, 0),),), weight=float(n)) for name, n in counted.items()]
        scores = [0.0] * self._total
        collection.score(groups, scores)
        whole = sum(
            g.weight * collection.idf(self.frequency(g.forms[0][0][0])[0]) for g in groups
        )
        best = self._best(scores, limit)
        return tuple(
            Hit(note=NoteId(self.record(doc)[0]), weight=scores[doc] / whole) for doc in best
        )

    def known_words(self, prefix: str, limit: int) -> list[str]:
        """Words of the base as written that begin with `prefix`."""
        known = self.vocabulary()
        at = bisect_left(known, prefix)
        found = []
        while at < len(known) and known[at].startswith(prefix) and len(found) < limit:
            found.append(known[at])
            at += 1
        return found

    def vocabulary(self) -> list[str]:
        """Words of the base as written, sorted."""
        if not hasattr(self, "_vocabulary"):
            self._vocabulary = self._files.words(self.stamp)
        return self._vocabulary
