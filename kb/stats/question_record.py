"""A question's own record: what its hits and misses say of the next answer to it."""

from __future__ import annotations

STRENGTH = 2.0
"""How firmly one question is taken to be like the others; questions of one area differ as widely
as that in public sets of learner responses."""


def record_chance(hits: int, misses: int, usual: float) -> float:
    """The chance of a right answer to a question, from its own answers so far.

    Args:
        hits: Right answers to it.
        misses: Wrong answers to it.
        usual: The chance for a question not met before.

    Source: kleinman1973, the posterior mean of a beta distribution around the usual chance.
    """
    return (hits + STRENGTH * usual) / (hits + misses + STRENGTH)
