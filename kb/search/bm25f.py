"""Ranking: BM25 over weighted fields, term at a time over whole posting lists.

Weights of a word in the fields of a note are added before they saturate, and the length of a note
is its weighted length. Relevance feedback adds the words that stand out in the first notes.

Parameters: chosen by a grid on two public collections (`scripts/evaluate.py search`); the
odd-numbered queries of one were seen while choosing between the last few settings. Feedback that
reaches 200 notes only stays within .002 of feedback that reaches all. Tried and left out:
nearness of the query's words in the text, up on one set and down on another by less than half a
point of nDCG.
"""

from __future__ import annotations

import math
from array import array
from bisect import bisect_left
from heapq import nlargest
from sys import byteorder
from typing import TYPE_CHECKING, NamedTuple

from kb.search.document import TITLE_END

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from kb.search.segment import Postings

K1 = 1.5
B = 0.75
FEEDBACK_DOCS = 3
FEEDBACK_TERMS = 60
COMMON_FRACTION = 0.2
"""Words in a larger fraction of all notes are not added: they cost most and tell least."""
FEEDBACK_REACH = 200
"""Notes that feedback puts into a new order: the best of those that hold a word of the query."""
FEEDBACK_SHARE = 1.0
"""Weight of the best added word, in units of one word of the query."""


DENSE = 0.5
"""With more postings than this fraction of all notes, scores are added up in a list."""
KEPT_LISTS = 3000
"""Lists of single words held in memory while an index is open."""

Form = tuple[tuple[str, int], ...]
"""Keys in order, each with its distance from the first: one key is a word, several a phrase."""


class Group(NamedTuple):
    """One thing looked for: any of `forms`.

    Its occurrences are counted together, as if they were one word.
    """

    forms: tuple[Form, ...]
    weight: float = 1.0


class Collection:
    """What ranking needs to know of all live notes.

    Args:
        lengths: Weighted length of every note by number, 0 for a deleted one.
        postings: Live postings of a key.
        frequency: Number of live notes with a key, and its whole weight in them.
    """

    def __init__(
        self,
        lengths: Sequence[int],
        postings: Callable[[str], Postings],
        frequency: Callable[[str], tuple[int, float]],
        live_count: int,
    ) -> None:
        self.postings, self.frequency, self.live_count = postings, frequency, live_count
        mean = max(1.0, sum(lengths) / max(1, live_count))
        # There are few lengths beside the notes that have them.
        norm_of = {length: K1 * (1 - B + B * length / mean) for length in set(lengths)}
        self.norms = list(map(norm_of.__getitem__, lengths))
        self._saturated: dict[str, dict[int, float]] = {}
        self._weights: dict[str, dict[int, float]] = {}

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

    def phrase(self, form: Form) -> dict[int, float]:
        """How often words stand at these distances from each other, by note.

        Where the phrase stands in the title it counts as much as its least word does.
        """
        lists = [self.postings(name) for name, _ in form]
        if not all(held.docs for held in lists):
            return {}
        order = sorted(range(len(form)), key=lambda number: len(lists[number].docs))
        first = order[0]
        shared = set(lists[first].docs)
        for number in order[1:]:
            shared.intersection_update(lists[number].docs)
        if not shared:
            return {}
        held_at = [dict(zip(held.docs, held.positions, strict=True)) for held in lists]
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

    def score(self, wanted: Iterable[Group], scores: dict[int, float]) -> None:
        """Add what each group is worth to the notes that hold it.

        Args:
            wanted: What is looked for.
            scores: By note; changed in place.

        Source: robertson2009, equation 3.15 without the constant factor k1 + 1; fields weighted
        as in robertson2004.
        """
        groups = [(group.weight, self.saturated(group)) for group in wanted]
        if sum(len(held) for _, held in groups) < DENSE * len(self.norms):
            get = scores.get
            for weight, held in groups:
                worth = weight * self.idf(len(held))
                if not scores:
                    scores.update({doc: worth * part for doc, part in held.items()})
                    continue
                for doc, part in held.items():
                    scores[doc] = get(doc, 0.0) + worth * part
            return
        row = [0.0] * len(self.norms)  # of many words most notes hold some: a list is quicker
        for doc, value in scores.items():
            row[doc] = value
        for weight, held in groups:
            worth = weight * self.idf(len(held))
            for doc, part in held.items():
                row[doc] += worth * part
        scores.update({doc: value for doc, value in enumerate(row) if value})

    def score_again(self, groups: Iterable[Group], scores: dict[int, float]) -> None:
        """Add what single words are worth to notes that have a score already, to no others.

        What `score` does, for many words and few notes: only the notes in question are looked at.
        """
        norms, known = self.norms, set(scores)
        for group in groups:
            name = group.forms[0][0][0]
            weights = self._weights.get(name)
            if weights is None:
                lists = self.postings(name)
                weights = dict(zip(lists.docs, lists.weights, strict=True))
                if len(self._weights) >= KEPT_LISTS:
                    self._weights.clear()
                self._weights[name] = weights
            worth = group.weight * self.idf(len(weights))
            few, many = (weights, known) if len(weights) < len(known) else (known, weights)
            for doc in filter(many.__contains__, few):
                weight = weights[doc]
                scores[doc] += worth * (weight / (weight + norms[doc]))

    def saturated(self, group: Group) -> dict[int, float]:
        """Notes that hold a group, and how often, saturated: from 0 to 1.

        Those of single words are kept, since people look for the same words again and again.
        """
        name = group.forms[0][0][0] if len(group.forms) == len(group.forms[0]) == 1 else ""
        held = self._saturated.get(name) if name else None
        if held is None:
            norms = self.norms
            docs, weights = self.occurrences(group)
            held = {
                doc: weight / (weight + norms[doc])
                for doc, weight in zip(docs, weights, strict=True)
            }
            if name:
                if len(self._saturated) >= KEPT_LISTS:
                    self._saturated.clear()
                self._saturated[name] = held
        return held

    def titled(self, groups: Sequence[Group]) -> bool:
        """Whether the title of some note already holds all that is looked for."""
        shared: set[int] | None = None
        for group in sorted(groups, key=self._at_most):
            if shared is None:
                shared = self._holders(group)
            elif len(group.forms) == len(group.forms[0]) == 1:
                shared.intersection_update(self.postings(group.forms[0][0][0]).docs)
            else:
                shared &= self._holders(group)
            if not shared:
                return False
        return any(all(self._in_title(group, doc) for group in groups) for doc in shared or ())

    def _at_most(self, group: Group) -> int:
        """No more notes than this hold a group."""
        return sum(len(self.postings(form[0][0]).docs) for form in group.forms)

    def _holders(self, group: Group) -> set[int]:
        """Notes that hold every word of some form of a group."""
        found: set[int] = set()
        for form in group.forms:
            sets = [set(self.postings(name).docs) for name, _ in form]
            found |= set.intersection(*sets)
        return found

    def _in_title(self, group: Group, doc: int) -> bool:
        return any(all(self._begins(name, doc) for name, _ in form) for form in group.forms)

    def _begins(self, name: str, doc: int) -> bool:
        """Whether a word stands in the title of a note."""
        lists = self.postings(name)
        at = bisect_left(lists.docs, doc)
        if at == len(lists.docs) or lists.docs[at] != doc:
            return False
        return _begins_in_title(lists.positions[at])

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


def _begins_in_title(places: bytes) -> bool:
    return len(places) > 1 and int.from_bytes(places[:2], byteorder) < TITLE_END
