"""Between areas: do a learner's areas differ by more than chance alone would make them?"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

ONE_IN_TEN = NormalDist().inv_cdf(0.9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A beta distribution of the chance over areas; `strength`, the sum of its shapes, is infinite
    when the areas differ no more than chance would make them. `beyond_chance` is whether chance
    alone would make them differ so much less than once in ten.
    """

    mean: float
    strength: float
    beyond_chance: bool

    @property
    def sd_fraction(self) -> float:
        """The standard deviation of the chance over areas, a fraction."""
        return math.sqrt(self.mean * (1 - self.mean) / (self.strength + 1))


def spread_between(right_counts: Sequence[float], tried_counts: Sequence[float]) -> Spread | None:
    """Fit how far areas differ, from the answers in each.

    Args:
        right_counts: Right answers in each area.
        tried_counts: Answers in each, in the same order; areas without any are left out.

    Returns:
        None with fewer than three areas, or when nothing or everything was right.

    Raises:
        ValueError: The two rows differ in length.

    Source: kleinman1973, moments of the beta-binomial, each area weighing as its answers; chance by
    Pearson's chi-squared, its 90th centile by the cube-root approximation (any textbook).
    """
    pairs = [(x, n) for x, n in zip(right_counts, tried_counts, strict=True) if n > 0]
    total = sum(n for _, n in pairs)
    if len(pairs) < 3:
        return None
    mean = sum(x for x, _ in pairs) / total
    if not 0 < mean < 1:
        return None
    observed = sum(n * (x / n - mean) ** 2 for x, n in pairs) / (mean * (1 - mean))
    by_chance = len(pairs) - 1
    reach = total - sum(n * n for _, n in pairs) / total
    if reach <= by_chance or observed <= by_chance:
        return Spread(mean=mean, strength=math.inf, beyond_chance=False)
    part = 2 / (9 * by_chance)
    limit = by_chance * (1 - part + ONE_IN_TEN * math.sqrt(part)) ** 3
    share = (observed - by_chance) / (reach - by_chance)
    strength = max(0.0, 1 / share - 1)
    return Spread(mean=mean, strength=strength, beyond_chance=observed > limit)
