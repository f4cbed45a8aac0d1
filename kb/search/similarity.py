"""Which notes are similar by their words: the nearest others of each, kept and brought up to date.

The weight of a word follows from how many notes hold it, by steps. A note that changes therefore
changes the weights of few others, and all the rest that is kept is what a new comparison of all
with all would find.
"""

from __future__ import annotations

from itertools import chain, pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from kb.core.ids import digest

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

NEAREST = 5
"""Others given for a note."""
KEPT = 16
"""Others kept of a note: a list that has lost some mostly still has the nearest."""
LEAST = 0.1
"""Smaller cosines are left out: a few common words make no tie."""
STEPS = 2
"""In each doubling of the notes with a word: 1, 1.4, 2, 2.8, 4 and so on."""
BLOCK = 128
"""Notes compared with all others at once, to keep the table of cosines small."""
MOST_CHANGED_FRACTION = 0.2
"""If more of the notes have changed, no list is carried over."""
DIGITS = 9
HAIR = 10.0**-DIGITS
FLOOR = LEAST - HAIR / 2
UNKNOWN = np.inf

ROW = np.dtype(
    [("mark", "<u8"), ("above", "<f8"), ("others", "<i4", KEPT), ("cosines", "<f8", KEPT)]
)
"""The nearest others of a note by number, nearest first, with -1 where there are no more.

`mark` stands for its words and their weights. The list holds every other whose cosine is higher
than `above`; where that is `UNKNOWN`, it is still to be made.
"""


class Likeness:
    """The nearest others of notes, which are numbered in order of path.

    Args:
        vectors: Words and weights of every note.

    Attributes:
        rows: A `ROW` for each note.
    """

    def __init__(self, vectors: Sequence[Mapping[str, float]]) -> None:
        self._matrix, marks = _unit_rows(vectors)
        self._across = self._matrix.T.tocsr()
        self.rows = np.zeros(len(vectors), ROW)
        self.rows["mark"], self.rows["above"], self.rows["others"] = marks, UNKNOWN, -1

    def carry_over(self, kept: NDArray[Any], numbers: NDArray[np.int_]) -> None:
        """Take over the lists as they were before some notes changed, with what that changes.

        Args:
            kept: Their rows.
            numbers: The number of each now, or -1; those of notes that are left ascend.
        """
        rows = self.rows
        same = (numbers >= 0) & (kept["mark"] == np.append(rows["mark"], np.uint64(0))[numbers])
        changed = np.setdiff1d(np.arange(len(rows)), numbers[same])
        if len(changed) > MOST_CHANGED_FRACTION * len(rows):
            return
        rows[numbers[same]] = kept[same]
        rows["others"] = np.append(np.where(same, numbers, -1), -1)[rows["others"]]
        there = rows["others"] >= 0
        lost = np.flatnonzero((~there & (rows["cosines"] > 0)).any(axis=1))
        there &= rows["cosines"] > rows["above"][:, None]
        found = [self._pairs(part, None) for part in _blocks(changed)]
        others, notes, cosines = map(np.concatenate, zip(*found, strict=True))
        touched, new = np.union1d(lost, notes), cosines > rows["above"][notes]
        own, place = np.nonzero(there[touched])
        own = touched[own]
        self._put(
            touched,
            np.append(own, notes[new]),
            np.append(rows["others"][own, place], others[new]),
            np.append(rows["cosines"][own, place], cosines[new]),
            rows["above"][touched],
        )
        few = (rows["cosines"][touched] > 0).sum(axis=1) < NEAREST
        rows["above"][touched[few & (rows["above"][touched] > FLOOR)]] = UNKNOWN

    def fill(self, numbers: NDArray[np.int_]) -> None:
        """Make the lists of these notes that are still to be made."""
        missing = numbers[self.rows["above"][numbers] == UNKNOWN]
        for part in _blocks(missing):
            self._put(part, *self._pairs(part, KEPT + 2), np.full(len(part), FLOOR))

    def _pairs(
        self, part: NDArray[np.int_], count: int | None
    ) -> tuple[NDArray[np.int_], NDArray[np.int_], NDArray[np.float64]]:
        """Notes of `part`, others of each, and the cosines of the two.

        Args:
            part: Numbers of notes.
            count: How many of the nearest at least, the note itself among them; None for those
                others whose lists the note belongs in.
        """
        table = self._matrix[part] @ self._across
        sizes = np.diff(table.indptr)
        if count is None:
            least = self.rows["above"][table.indices]
        else:
            rows = (table.data[begin:end] for begin, end in pairwise(table.indptr))
            last = [np.partition(row, -count)[-count] if len(row) > count else 0.0 for row in rows]
            least = np.repeat(np.maximum(last, LEAST), sizes)
        near = np.flatnonzero(table.data > least - HAIR)
        notes, others = np.repeat(part, sizes)[near], table.indices[near].astype(int)
        cosines = np.minimum(1.0, np.round(table.data[near], DIGITS))
        kept = (notes != others) & (cosines >= (LEAST if count else least[near]))
        return notes[kept], others[kept], cosines[kept]

    def _put(
        self,
        numbers: NDArray[np.int_],
        notes: NDArray[np.int_],
        others: NDArray[np.int_],
        cosines: NDArray[np.float64],
        above: NDArray[np.float64],
    ) -> None:
        """Make the lists of the notes `numbers`, which ascend, from all pairs above `above`."""
        rows = self.rows
        order = np.lexsort((others, -cosines, notes))
        notes, others, cosines = notes[order], others[order], cosines[order]
        begins = np.searchsorted(notes, numbers)
        sizes = np.searchsorted(notes, numbers, "right") - begins
        place = np.arange(len(notes)) - np.repeat(begins, sizes)
        kept = place < KEPT
        rows["others"][numbers], rows["cosines"][numbers] = -1, 0.0
        rows["others"][notes[kept], place[kept]] = others[kept]
        rows["cosines"][notes[kept], place[kept]] = cosines[kept]
        rows["above"][numbers] = np.where(sizes > KEPT, rows["cosines"][numbers, -1], above)


def _blocks(numbers: NDArray[np.int_]) -> list[NDArray[np.int_]]:
    return np.array_split(numbers, 1 + len(numbers) // BLOCK)


def _unit_rows(vectors: Sequence[Mapping[str, float]]) -> tuple[Any, NDArray[np.uint64]]:
    """A sparse row of length 1 for each note, and the mark of each.

    Source: own, because any damped weight does: (1 + log2 weight) x idf, with the inverse document
    frequency of the ranking, its counts by steps.
    """
    from scipy.sparse import csr_matrix

    names = dict.fromkeys(chain.from_iterable(vectors))
    number_of = {name: number for number, name in enumerate(names)}
    keys = np.fromiter(map(number_of.__getitem__, chain.from_iterable(vectors)), int)
    held_count, count = _stepped(np.bincount(keys)), _stepped(np.array([len(vectors)]))
    idf = np.log(1 + (np.maximum(count - held_count, 0.0) + 0.5) / (held_count + 0.5))
    weights = np.fromiter(chain.from_iterable(held.values() for held in vectors), float)
    values = (1 + np.log2(np.maximum(weights, 1.0))) * idf[keys]
    starts = np.append(0, np.cumsum([*map(len, vectors)], dtype=int))
    marks = np.array([int(digest(name), 16) for name in names], np.uint64)
    sums = np.append(np.uint64(0), np.cumsum(marks[keys] * values.view(np.uint64)))
    note = np.repeat(np.arange(len(vectors)), np.diff(starts))
    lengths = np.sqrt(np.bincount(note, values**2, len(vectors)))
    shape = (len(vectors), len(names))
    matrix = csr_matrix((values / lengths[note], keys, starts), shape=shape)
    return matrix, np.diff(sums[starts])


def _stepped(counts: NDArray[np.int_]) -> NDArray[np.float64]:
    found: NDArray[np.float64] = 2 ** (np.round(STEPS * np.log2(np.maximum(counts, 1))) / STEPS)
    return found
