"""Similar notes deserve similar scores: each of the best is lifted by those near it.

A note that answers in other words ranks low by the words alone, but it is near to several notes
that rank high.

Parameters: a share of .5 helped a little more on the collections measured (scripts/README.md),
but lowered a single note searched for by its own words; so .3.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import count
from math import sqrt

SMOOTHED = 50
"""How many notes are compared: the best by their own words."""
NEAREST = 10
"""How many of the most similar notes lift each."""
SHARE = 0.3
"""What an identical note adds, as a fraction of its lead over the last."""


def smooth(scores: Sequence[float], vectors: Sequence[Mapping[str, float]]) -> list[float]:
    """Scores with each note lifted by those like it.

    Args:
        scores: Best first.
        vectors: Keys and weights of the same notes.

    Source: diaz2007 for the principle. Our own choice: what is added (SHARE times the sum, over the
    nearest, of likeness times lead) and the likeness (the cosine between notes in which a word
    counts 1 if it occurs once and 2 if more often).
    """
    masks = _masks(vectors)
    inverse = [1 / sqrt(mask.bit_count() or 1) for mask in masks]
    leads = [score - scores[-1] for score in scores]
    others = list(zip(masks, inverse, leads, strict=True))
    lifted = []
    for at, (score, mask) in enumerate(zip(scores, masks, strict=True)):
        near = [((mask & other).bit_count() * scale, lead) for other, scale, lead in others]
        del near[at]
        near.sort(reverse=True)
        gained = sum(likeness * lead for likeness, lead in near[:NEAREST])
        lifted.append(score + SHARE * inverse[at] * gained)
    return lifted


def _masks(vectors: Sequence[Mapping[str, float]]) -> list[int]:
    """Notes as integers with two bits a word, so that one operation counts what two share."""
    numbers = count()
    bits: defaultdict[str, int] = defaultdict(lambda: 1 << next(numbers))
    bit_of = bits.__getitem__
    once = [sum(map(bit_of, vector)) for vector in vectors]  # bits of one note never meet: a sum
    width = len(bits)
    return [
        mask + (sum(bit_of(name) for name, weight in vector.items() if weight > 1) << width)
        for mask, vector in zip(once, vectors, strict=True)
    ]
