"""Which notes are similar by their words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

BLOCK = 512
"""Notes compared with all others at once, to keep the table of similarities small."""
LEAST = 0.05
"""Smaller similarities are left out."""


def neighbours(
    vectors: Sequence[Mapping[str, float]], rows: Collection[int], count: int
) -> dict[int, tuple[tuple[int, float], ...]]:
    """For each wanted note the `count` nearest others, nearest first, with cosines in [0, 1].

    Args:
        vectors: Keys and weights of every note by number; empty for one that is gone.
        rows: Numbers of the notes wanted.
        count: How many others at most.

    Source: own, because any damped weight does: cosine of (1 + log2 weight) x idf, with the
    inverse document frequency of the ranking.
    """
    import numpy as np
    from scipy.sparse import csr_matrix

    number_of: dict[str, int] = {}
    keys = [number_of.setdefault(name, len(number_of)) for held in vectors for name in held]
    if not keys:
        return dict.fromkeys(sorted(rows), ())
    total = len(vectors)
    live_count = sum(map(bool, vectors))
    held_count = np.bincount(keys)
    idf = np.log(1 + (live_count - held_count + 0.5) / (held_count + 0.5))
    weights = np.array([weight for held in vectors for weight in held.values()], dtype=float)
    values = (1 + np.log2(np.maximum(weights, 1.0))) * idf[keys]
    starts = np.concatenate(([0], np.cumsum([len(held) for held in vectors])))
    matrix = csr_matrix((values, np.array(keys), starts), shape=(total, len(number_of)))
    lengths = np.sqrt(np.asarray(matrix.multiply(matrix).sum(axis=1)).ravel())
    matrix = matrix.multiply(1 / np.where(lengths > 0, lengths, 1.0)[:, None]).tocsr()
    across = matrix.T.tocsr()
    wanted = sorted(rows)
    found: dict[int, tuple[tuple[int, float], ...]] = {}
    for start in range(0, len(wanted), BLOCK):
        part = wanted[start : start + BLOCK]
        table: NDArray[np.float64] = np.round((matrix[part] @ across).toarray(), 9)
        for row, near in zip(part, table, strict=True):
            near[row] = 0.0
            # The best few by partition, then any that tie with the last of them, by number.
            least = np.partition(near, -min(count, total))[-min(count, total)]
            best = np.flatnonzero(near >= max(float(least), LEAST))
            order = best[np.argsort(-near[best], kind="stable")][:count]
            found[row] = tuple((int(other), min(1.0, float(near[other]))) for other in order)
    return found
