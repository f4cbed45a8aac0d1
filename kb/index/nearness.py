"""Which notes are near to each other by their words."""

from __future__ import annotations

from math import log2
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

BLOCK = 512
"""Notes compared with all others at once: keeps the table of similarities small."""
LEAST = 0.05
"""Smaller similarities are left out."""


def neighbours(
    vectors: Mapping[int, Mapping[str, float]], idf: Callable[[str], float], count: int
) -> dict[int, tuple[tuple[int, float], ...]]:
    """For every note the `count` nearest others, nearest first, with cosines in [0, 1].

    Args:
        vectors: Keys and weights of every note by number.
        idf: Inverse document frequency of a key.
        count: How many at most.

    Source: own, because any damped weight does: cosine of (1 + log2 weight) x idf.
    """
    import numpy as np
    from scipy.sparse import csr_matrix

    docs = sorted(vectors)
    number: dict[str, int] = {}
    columns: list[int] = []
    values: list[float] = []
    ends = [0]
    for doc in docs:
        row = {
            number.setdefault(name, len(number)): (1 + log2(weight)) * idf(name)
            for name, weight in vectors[doc].items()
        }
        length = sum(value * value for value in row.values()) ** 0.5 or 1.0
        columns.extend(row)
        values.extend(value / length for value in row.values())
        ends.append(len(columns))
    if not number:
        return dict.fromkeys(docs, ())
    matrix = csr_matrix((values, columns, ends), shape=(len(docs), len(number)))
    across = matrix.T.tocsc()
    found: dict[int, tuple[tuple[int, float], ...]] = {}
    for start in range(0, len(docs), BLOCK):
        table: NDArray[np.float64] = (matrix[start : start + BLOCK] @ across).toarray()
        for offset, row_values in enumerate(table):
            at = start + offset
            row_values[at] = 0.0
            best = np.argsort(-row_values, kind="stable")[:count]
            found[docs[at]] = tuple(
                (docs[int(other)], min(1.0, float(row_values[other])))
                for other in best
                if row_values[other] >= LEAST
            )
    return found
