"""One generation of the index, opened for searching.

The titles shown while typing come from the same search as the answer: two ways of searching
disagreed on one query in six.
"""

import math
from collections.abc import Mapping
from heapq import nlargest

from kb.core.ids import NoteId
from kb.core.search_result import Hit, SearchResult
from kb.language.normalise import key
from kb.language.normalise import words as words_of
from kb.language.query import parse_query
from kb.language.snippets import best_passage
from kb.search.bm25f import FEEDBACK_DOCS, FEEDBACK_REACH, Group
from kb.search.document import TITLE_WEIGHT, exact
from kb.search.index_reader import IndexReader
from kb.search.query_expansion import Wanted
from kb.search.regularisation import SMOOTHED, smooth

EXACT_TITLE = 1000.0
EXACT_CONCEPT = 300.0
"""Added to a note whose whole title, or one of whose concepts, is what was typed."""
LEVEL = 2e-9
"""Scores nearer than this differ by the order of adding up alone."""
ANSWERED_SHARE = 0.26
"""If words are lacking, a note that holds a smaller share of the query is no answer."""
PASSING_SHARE = 0.8
"""What a word that a note only mentions counts there, in units of one in its title or concepts."""
TOPIC_WORDS = 4
"""A longer query usually lacks some word."""
COMPARED_SHARE = 0.4
"""A note compares two names if it scores this share of the best note on each."""
ORDINARY_SHARE = 0.2
"""Weight of an everyday word, in units of one that carries the question."""
CLEAR_LEAD = 1.03
LEAD = 1e-3
"""The first note by the query's own words stays first, by LEAD, whatever feedback lifts, if its
score is at least CLEAR_LEAD times the next."""


class Searcher(IndexReader):
    """Searches one generation of the index; see `Index` for what it promises."""

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

        That is when words are lacking and every note holds too small a share of the query, rare
        words counting more, and those of which the note is about.
        """
        if not wanted.lacking or wanted.sides or len(wanted.things) > TOPIC_WORDS:
            return False
        collection = self.collection
        whole = sum(map(_carried, wanted.lacking)) * collection.idf(0)
        held = dict.fromkeys(scores, 0.0)
        for forms, word in wanted.things:
            docs, weights = collection.occurrences(Group(forms=forms))
            worth = _carried(word) * collection.idf(len(docs))
            whole += worth if docs else 0.0
            for doc, weight in zip(docs, weights, strict=True):
                if doc in held:
                    held[doc] += worth * (1.0 if weight >= TITLE_WEIGHT else PASSING_SHARE)
        return max(held.values(), default=0.0) < ANSWERED_SHARE * whole

    def _hit(self, doc: int, weight: float, wanted: Wanted) -> Hit:
        """One note found, with its best passage and the line of the file that begins on."""
        stored = self._stored(doc)
        passage, line = best_passage(stored["body"], wanted.worth, wanted.sequences)
        at = stored["line"] + line - 1 if line else 0
        return self._bare_hit(doc, weight)._replace(passage=passage, line=at)

    def _bare_hit(self, doc: int, weight: float) -> Hit:
        return Hit(note=NoteId(self._stored(doc)["note"]), path=self.path(doc), weight=weight)

    def _scores(
        self, wanted: Wanted, allowed: set[int] | None
    ) -> tuple[dict[int, float], dict[int, float], dict[int, float]]:
        """Scores of all matches, of the pool that holds the best, and the part of a score that is
        for having exactly that title or concept.
        """
        collection = self.collection
        scores: dict[int, float] = {}
        collection.score(wanted.groups, scores)
        related, typed = self._add_weaker(scores, wanted)
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
        _put_below(scores, related, typed)
        if pool is not scores:
            pool.update({doc: scores[doc] for doc in pool})
        return scores, pool, exactly

    def _add_weaker(self, scores: dict[int, float], wanted: Wanted) -> tuple[set[int], set[int]]:
        """Add what related names are worth, in no note more than the typed name is in any.

        Returns:
            Where nothing else was typed, the notes that only have the related name, and those that
            have the typed one; else none.
        """
        related: set[int] = set()
        typed: set[int] = set()
        for weaker in wanted.weaker:
            extra: dict[int, float] = {}
            own: dict[int, float] = {}
            self.collection.score((weaker.group,), extra)
            self.collection.score((weaker.typed,), own)
            most = min(own.values(), default=math.inf)
            for doc, worth in extra.items():
                more = worth if doc in own else min(worth, most)
                scores[doc] = scores.get(doc, 0.0) + more
            if weaker.alone:
                related |= extra.keys() - own.keys()
                typed |= own.keys()
        return related - typed, typed

    def _comparing(self, wanted: Wanted, scores: Mapping[int, float]) -> list[int]:
        """For `X or Y` the note that compares them, if there is one, then the best on each."""
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
        """Lift notes whose whole title or concept was typed; returns by how much."""
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
        """The best notes; ties by path, so that numbering does not matter."""
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

    def vectors(self) -> dict[str, Mapping[str, int]]:
        """Words and weights of every note by path, in order of path."""
        by_path = sorted((path, doc) for doc, path in self.path_of().items())
        return {path: self._vector(doc) for path, doc in by_path}


def _put_below(scores: dict[int, float], lower: set[int], upper: set[int]) -> None:
    """Scale the scores of some notes down so that none reaches any of the others."""
    least = min((scores[doc] for doc in upper if doc in scores), default=math.inf)
    most = max((scores[doc] for doc in lower if doc in scores), default=0.0)
    if most >= least - LEAD:
        factor = max(0.0, least - LEAD) / most
        for doc in lower & scores.keys():
            scores[doc] *= factor


def _carried(word: str) -> float:
    """How much of a question a word carries: a number nothing, an everyday word little."""
    from kb.language.spelling import is_common

    if word[0].isdigit():
        return 0.0
    return ORDINARY_SHARE if is_common(word) else 1.0


def _reach(scores: Mapping[int, float]) -> dict[int, float]:
    """The best notes by score, and any that tie with the last of them."""
    if len(scores) <= FEEDBACK_REACH:
        return dict(scores)
    least = nlargest(FEEDBACK_REACH, scores.values())[-1] - LEVEL
    return {doc: score for doc, score in scores.items() if score >= least}
