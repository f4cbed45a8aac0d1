"""Which notes are near to each other by their words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from numpy.typing import NDArray

BLOCK = 512
"""Notes compared with all others at once: keeps the table of similarities small."""
LEAST = 0.05
"""Smaller similarities are left out."""

Column = tuple["Sequence[int]", "Sequence[float]", float]


def neighbours(
    columns: Iterable[Column], total: int, rows: Collection[int], count: int
) -> dict[int, tuple[tuple[int, float], ...]]:
    """For each wanted note the `count` nearest others, nearest first, with cosines in [0, 1].

    Args:
        columns: For every key the notes that have it, their weights, and the key's inverse
            document frequency.
        total: Notes are numbered from 0 to `total` - 1.
        rows: Numbers of the notes wanted.
        count: How many others at most.

    Source: own, because any damped weight does: cosine of (1 + log2 weight) x idf.
    """
    import numpy as np
    from scipy.sparse import csr_matrix

    docs: list[NDArray[np.int64]] = []
    values: list[NDArray[np.float64]] = []
    sizes: list[int] = []
    for held, weights, idf in columns:
        docs.append(np.asarray(held, dtype=np.int64))
        values.append((1 + np.log2(np.maximum(np.asarray(weights, dtype=float), 1.0))) * idf)
        sizes.append(len(held))
    if not sum(sizes):
        return dict.fromkeys(sorted(rows), ())
    keys = np.repeat(np.arange(len(sizes)), sizes)
    shape = (total, len(sizes))
    matrix = csr_matrix((np.concatenate(values), (np.concatenate(docs), keys)), shape=shape)
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
            # The best few by partition, then all that equal the last of them: ties by number.
            least = np.partition(near, -min(count, total))[-min(count, total)]
            best = np.flatnonzero(near >= max(float(least), LEAST))
            order = best[np.argsort(-near[best], kind="stable")][:count]
            found[row] = tuple((int(other), min(1.0, float(near[other]))) for other in order)
    return found
