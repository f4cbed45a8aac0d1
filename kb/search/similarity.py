"""Which notes are similar by their words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

BLOCK = 512
"""Notes compared with all others at once, to keep the table of similarities small."""
LEAST = 0.05
"""Smaller similarities are left out."""
COMMON_FRACTION = 0.05
"""A word in more of the notes than this proposes no pair, where others must do."""
DIGITS = 9
HAIR = 10.0**-DIGITS


def neighbours(
    vectors: Sequence[Mapping[str, float]], rows: Collection[int], count: int, least: float = 0.0
) -> dict[int, tuple[tuple[int, float], ...]]:
    """For each wanted note the `count` nearest others, nearest first, with cosines in [0, 1].

    Pairs are proposed by the words that they share, common ones left out: those add to a cosine no
    more than the product of the lengths that they have in the two notes. A note in which that could
    be enough keeps its common words, so no pair is missed; the higher `least`, the fewer do.

    Args:
        vectors: Keys and weights of every note by number; empty for one that is gone.
        rows: Numbers of the notes wanted.
        count: How many others at most.
        least: Smaller cosines are left out, and all below `LEAST`.

    Source: own, because the bound is the inequality of Cauchy and Schwarz.
    """
    import numpy as np

    wanted, least = sorted(rows), max(least, LEAST)
    if not any(vectors):
        return dict.fromkeys(wanted, ())
    matrix, held_count = _unit_rows(vectors)
    common = (held_count > COMMON_FRACTION * len(vectors))[matrix.indices]
    row = np.repeat(np.arange(len(vectors)), np.diff(matrix.indptr))
    length = np.sqrt(np.bincount(row, np.where(common, matrix.data, 0.0) ** 2, len(vectors)))
    light = length * length.max() < least - HAIR
    kept = matrix.copy()
    kept.data[common & light[row]] = 0.0
    kept.eliminate_zeros()
    across = kept.T.tocsr()
    found: dict[int, tuple[tuple[int, float], ...]] = {}
    for start in range(0, len(wanted), BLOCK):
        part = wanted[start : start + BLOCK]
        table = kept[part] @ across
        proposed: list[NDArray[np.int_]] = []
        for own, begin, end in zip(part, table.indptr[:-1], table.indptr[1:], strict=True):
            others, shared = table.indices[begin:end], table.data[begin:end]
            shared[others == own] = 0.0
            last = np.partition(shared, -count)[-count] if count < len(shared) else 0.0
            most = shared + length[own] * length[others] * (light[others] | light[own])
            proposed.append(others[most >= max(float(last), least) - HAIR])
        sizes = [len(others) for others in proposed]
        one, other = np.repeat(part, sizes), np.concatenate(proposed)
        cosines = np.asarray(matrix[one].multiply(matrix[other]).sum(axis=1)).ravel()
        cosines = np.where(one == other, 0.0, np.minimum(1.0, np.round(cosines, DIGITS)))
        ends = np.cumsum(sizes)
        for own, begin, end in zip(part, ends - sizes, ends, strict=True):
            best = np.lexsort((other[begin:end], -cosines[begin:end]))[:count] + begin
            pairs = zip(other[best].tolist(), cosines[best].tolist(), strict=True)
            found[own] = tuple(pair for pair in pairs if pair[1] >= least)
    return found


def _unit_rows(vectors: Sequence[Mapping[str, float]]) -> tuple[Any, NDArray[Any]]:
    """A sparse row of length 1 for each note, and how many notes hold each word.

    Source: own, because any damped weight does: (1 + log2 weight) x idf, with the inverse document
    frequency of the ranking.
    """
    import numpy as np
    from scipy.sparse import csr_matrix

    number_of: dict[str, int] = {}
    keys = [number_of.setdefault(name, len(number_of)) for held in vectors for name in held]
    live_count = sum(map(bool, vectors))
    held_count = np.bincount(keys)
    idf = np.log(1 + (live_count - held_count + 0.5) / (held_count + 0.5))
    weights = np.array([weight for held in vectors for weight in held.values()], dtype=float)
    values = (1 + np.log2(np.maximum(weights, 1.0))) * idf[keys]
    starts = np.concatenate(([0], np.cumsum([len(held) for held in vectors])))
    matrix = csr_matrix((values, np.array(keys), starts), shape=(len(vectors), len(number_of)))
    lengths = np.sqrt(np.asarray(matrix.multiply(matrix).sum(axis=1)).ravel())
    return matrix.multiply(1 / np.where(lengths > 0, lengths, 1.0)[:, None]).tocsr(), held_count
