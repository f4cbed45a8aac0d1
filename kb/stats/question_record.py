"""A question's own record: the chance of the next answer from its hits and misses."""

from __future__ import annotations

STRENGTH = 2.0
"""Prior strength of one question; questions of one area differ as widely in public data sets."""


def record_chance(hits: int, misses: int, usual: float) -> float:
    """The chance of a right answer to a question, from its own answers so far.

    Args:
        hits: Right answers to it.
        misses: Wrong answers to it.
        usual: The chance for a question not met before.

    Source: kleinman1973, the posterior mean of a beta distribution around the usual chance.
    """
    return (hits + STRENGTH * usual) / (hits + misses + STRENGTH)
