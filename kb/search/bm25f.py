"""Ranking: BM25 over weighted fields, term at a time over whole posting lists.

Weights of a word in the fields of a note are added before they saturate, and the length of a note
is its weighted length. Relevance feedback adds the words that stand out in the first notes.

Parameters: chosen by a grid on two public collections (`scripts/evaluate.py search`); the
odd-numbered queries of one were seen while choosing between the last few settings. Feedback that
reaches 200 notes only stays within .002 of feedback that reaches all. Tried and left out:
nearness of the query's words in the text, up on one set and down on another by less than half a
point of nDCG.
"""

import math
from array import array
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from heapq import nlargest
from typing import NamedTuple

from kb.search.document import TITLE_END, exact

K1 = 1.5
B = 0.75
FEEDBACK_DOCS = 3
FEEDBACK_TERMS = 60
COMMON_FRACTION = 0.2
"""Words in a larger fraction of all notes are not added: they cost the most and say the least."""
FEEDBACK_REACH = 200
"""Feedback reorders this many notes: the best of those that hold a word of the query."""
FEEDBACK_SHARE = 1.0
"""Weight of the best added word, in units of one word of the query."""


GAP = 2
"""Words between those of a name that is not written as one: aldosterone to renin ratio."""
LOST = 1_000_000

KEPT_LISTS = 3000
"""Posting lists of words kept in memory while an index is open."""

Form = tuple[tuple[str, int], ...]
"""Keys in order, each with its distance from the first: one key is a word, several a phrase."""


class Postings(NamedTuple):
    """A posting list: live notes in order, and the weight of the word in each."""

    docs: Sequence[int]
    weights: Sequence[float]


class Group(NamedTuple):
    """One thing looked for: any of `forms`.

    Its occurrences are counted together, as if they were one word.
    """

    forms: tuple[Form, ...]
    weight: float = 1.0


class _Norms(dict[int, float]):
    """The saturation term of each note by number, computed on first use."""

    def __init__(self, length: Callable[[int], int], mean: float) -> None:
        self._length, self._scale = length, K1 * B / mean

    def __missing__(self, doc: int) -> float:
        norm = self[doc] = K1 * (1 - B) + self._scale * self._length(doc)
        return norm


class Collection:
    """What ranking needs to know about all live notes.

    Args:
        lengths: Weighted length of a note by number, and the sum of all.
        postings: Live postings of a key.
        positions: Positions of a word by note, as bytes of `array('H')`.
        frequency: Number of live notes with a key, and its whole weight in them.
        live_count: How many notes there are.
    """

    def __init__(
        self,
        lengths: tuple[Callable[[int], int], int],
        postings: Callable[[str], Postings],
        positions: Callable[[str], Mapping[int, bytes]],
        frequency: Callable[[str], tuple[int, float]],
        live_count: int,
    ) -> None:
        self.postings, self.frequency, self.live_count = postings, frequency, live_count
        self._positions = positions
        self.norms = _Norms(lengths[0], max(1.0, lengths[1] / max(1, live_count)))
        self._saturated_word = lru_cache(KEPT_LISTS)(self._saturated)

    def idf(self, found_count: int) -> float:
        """Inverse document frequency, never negative.

        Source: robertson2009, equation 3.2 with 1 added inside the logarithm.
        """
        return math.log(1 + (self.live_count - found_count + 0.5) / (found_count + 0.5))

    def occurrences(self, group: Group) -> tuple[Sequence[int], Sequence[float]]:
        """Notes that hold any form of a group, and how often, title words counting more."""
        if len(group.forms) == 1 and len(group.forms[0]) == 1:
            lists = self.postings(group.forms[0][0][0])
            return lists.docs, lists.weights
        total: dict[int, float] = {}
        for form in group.forms:
            if len(form) == 1:
                lists = self.postings(form[0][0])
                pairs: Iterable[tuple[int, float]] = zip(lists.docs, lists.weights, strict=True)
            else:
                pairs = self.phrase(form).items()
            for doc, weight in pairs:
                total[doc] = total.get(doc, 0.0) + weight
        docs = sorted(total)
        return docs, [total[doc] for doc in docs]

    def holds(self, form: Form) -> bool:
        """Whether any live note has a word or phrase."""
        if len(form) == 1:
            return self.frequency(form[0][0])[0] > 0
        return bool(self.phrase(form))

    def phrase(self, form: Form) -> dict[int, float]:
        """How often words stand at these distances from each other, by note.

        Where the phrase stands in the title it counts as much as its least word does.
        """
        if not all(self.frequency(name)[0] for name, _ in form):  # quicker than to read the lists
            return {}
        lists = [self.postings(name) for name, _ in form]
        order = sorted(range(len(form)), key=lambda number: len(lists[number].docs))
        first = order[0]
        shared = set(lists[first].docs)
        for number in order[1:]:
            shared.intersection_update(lists[number].docs)
        if not shared:
            return {}
        held_at = [self._positions(name) for name, _ in form]
        heavy = [dict(zip(held.docs, held.weights, strict=True)) for held in lists]
        found: dict[int, float] = {}
        for doc in shared:
            starts: set[int] | None = None
            for (_, offset), places in zip(form, held_at, strict=True):
                here = {place - offset for place in array("H", places[doc])}
                starts = here if starts is None else starts & here
                if not starts:
                    break
            if starts:
                count = float(len(starts))
                if min(starts) < TITLE_END or len(starts) == 1:
                    least = min(weights[doc] for weights in heavy)
                    if min(starts) < TITLE_END:
                        count = max(count, least)
                found[doc] = count
        return found

    def nearby(self, names: Sequence[str]) -> Form:
        """Words that follow each other in some note with at most GAP others between, as a phrase
        with the distances they have where they are nearest; empty if no note has them so.
        """
        there = all(self.frequency(name)[0] for name in names)
        shared = set.intersection(*(set(self.postings(n).docs) for n in names)) if there else ()
        held_at = [self._positions(name) for name in names] if shared else []
        best: tuple[int, ...] = (len(names) + GAP,)
        for doc in shared:  # in no order: of all notes the nearest, whatever their numbers
            places = [array("H", held[doc]) for held in held_at]
            for start in places[0]:
                steps, last = [0], start
                for held in places[1:]:
                    last = min((place for place in held if last < place), default=start + LOST)
                    steps.append(last - start)
                best = min(best, (last - start, *steps))
        return tuple(zip(names, best[1:], strict=True)) if len(best) > 1 else ()

    def score(self, wanted: Iterable[Group], scores: dict[int, float]) -> None:
        """Add to each note the score of the groups it holds.

        Args:
            wanted: What to look for.
            scores: By note; changed in place.

        Source: robertson2009, equation 3.15 without the constant factor k1 + 1; fields weighted
        as in robertson2004.
        """
        get = scores.get
        for group in wanted:
            held = self.saturated(group)
            worth = group.weight * self.idf(len(held))
            if not scores:
                scores.update({doc: worth * part for doc, part in held.items()})
                continue
            for doc, part in held.items():
                scores[doc] = get(doc, 0.0) + worth * part

    def score_again(
        self,
        groups: Iterable[Group],
        scores: dict[int, float],
        vector: Callable[[int], Mapping[str, float]],
    ) -> None:
        """Add the score of single words to notes that already have a score, and to no others.

        The same as `score`, but for many words and few notes: it reads the notes, not the lists.

        Args:
            groups: Single words.
            scores: By note; changed in place.
            vector: Keys and weights of a note.
        """
        worth = [
            (name := group.forms[0][0][0], group.weight * self.idf(self.frequency(name)[0]))
            for group in groups
        ]
        for doc, score in scores.items():
            held, norm = vector(doc), self.norms[doc]
            scores[doc] = score + sum(
                [
                    value * (weight / (weight + norm))
                    for name, value in worth
                    if name in held
                    for weight in (held[name],)
                ]
            )

    def saturated(self, group: Group) -> dict[int, float]:
        """How often notes hold a group, saturated: from 0 to 1.

        Kept for single words, since people look for the same words again and again.
        """
        single = len(group.forms) == len(group.forms[0]) == 1
        return (self._saturated_word if single else self._saturated)(group.forms)

    def _saturated(self, forms: tuple[Form, ...]) -> dict[int, float]:
        norms = self.norms
        docs, weights = self.occurrences(Group(forms=forms))
        return {
            doc: weight / (weight + norms[doc]) for doc, weight in zip(docs, weights, strict=True)
        }

    def titled(self, groups: Sequence[Group]) -> bool:
        """Whether some note has everything looked for in its title."""
        shared: set[int] | None = None
        for group in groups:
            found: set[int] = set()
            for form in group.forms:
                held = [self.postings(exact("w", (name,))).docs for name, _ in form]
                found.update(set(held[0]).intersection(*held[1:]))
            shared = found if shared is None else shared & found
            if not shared:
                return False
        return bool(shared)

    def expand(self, vectors: Sequence[Mapping[str, float]], known: set[str]) -> list[Group]:
        """Words that stand out in the first notes, with weights beside the query's own.

        Args:
            vectors: Keys and weights of those notes.
            known: Keys of the query; they may come again and gain weight.

        Source: amati2003, Bose-Einstein 1 with weights scaled to the best word.
        """
        summed: dict[str, float] = {}
        for vector in vectors:
            for name, weight in vector.items():
                summed[name] = summed.get(name, 0.0) + weight
        worth: dict[str, float] = {}
        for name, weight in summed.items():
            found_count, whole = self.frequency(name)
            if not whole or (len(vectors) > 1 and found_count < 2 and name not in known):
                continue
            if found_count > COMMON_FRACTION * self.live_count:
                continue
            mean = whole / self.live_count
            worth[name] = weight * math.log2((1 + mean) / mean) + math.log2(1 + mean)
        best = nlargest(FEEDBACK_TERMS, worth.items(), key=lambda item: (item[1], item[0]))
        if not best or best[0][1] <= 0:
            return []
        top = best[0][1]
        return [
            Group(forms=(((name, 0),),), weight=FEEDBACK_SHARE * value / top)
            for name, value in best
            if value > 0
        ]
