"""Recognition: an answer to a question met before flatters, and by how much."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from kb.stats.logistic import expit, logit
from kb.stats.standing import rough_chances

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kb.stats.again import Again
    from kb.stats.history import History

# On the log odds, by days since the question was last answered: within a day, within a week, later.
WITHIN_DAY = 1.3
WITHIN_WEEK = 0.75
LATER = 0.35
SPREAD = 0.3
PASSES = 3


def flattery(gap_days: float) -> float:
    """How far recognition lifts the log odds of an answer, by the days since it was last met.

    Args:
        gap_days: Days since the last answer to the same question; nan when not known.

    Returns:
        A lift of the log odds, at least 0; an unknown gap counts as a long one.

    Source: own, because it was measured on public sets of learner responses: about 1.3 within a
    day, .75 within a week, .35 later.
    """
    if gap_days < 1:
        return WITHIN_DAY
    return WITHIN_WEEK if gap_days < 7 else LATER


def lifts(history: History, shift: float = 0.0) -> NDArray[np.float64]:
    """The lift of each answer of a history, 0 for a first encounter.

    Args:
        history: One learner's answers.
        shift: Added to every lift above 0; what the learner's own papers taught.

    Source: own, see `flattery`.
    """
    found = np.zeros(len(history))
    last: dict[str, float] = {}
    for row, (question, day) in enumerate(zip(history.questions, history.days, strict=True)):
        before = last.get(question)
        if before is not None:
            gap = day - before
            found[row] = max(0.0, flattery(math.inf if math.isnan(gap) else gap) + shift)
        last[question] = day
    return found


def evidence_weights(history: History, shift: float = 0.0) -> NDArray[np.float64]:
    """How much each answer says about a question not met before: 1 for a first encounter.

    With chance p for a fresh question and p' > p for a recognised one, a right answer counts
    (1 - p') / (1 - p) and a wrong one p' / p: the slope of the likelihood in the log odds, so that
    neither flatters on the whole.

    Source: own, because it equates the score of a logistic likelihood with and without an offset.
    """
    lift = lifts(history, shift)
    weights = np.ones(len(history))
    repeat = lift > 0
    if not repeat.any():
        return weights
    rights = np.asarray(history.rights)
    for _ in range(PASSES):
        fresh = np.clip(rough_chances(history, weights), 0.02, 0.98)
        seen = expit(logit(fresh) + lift)
        weights = np.where(repeat, np.where(rights, (1 - seen) / (1 - fresh), seen / fresh), 1.0)
    return weights


def fresh_chances(
    again: Again, questions: Sequence[str], seen: NDArray[np.float64], day: float
) -> NDArray[np.float64]:
    """What the chances `seen` of known questions become when the same is asked in new words.

    Source: own, see `flattery`.
    """
    gaps = again.gaps(questions, day)
    lift = np.array([0.0 if gap is None else flattery(gap) for gap in gaps])
    return expit(logit(seen) - lift)
