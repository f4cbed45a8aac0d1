"""Recognition: an answer to a question met before flatters, and by how much.

Parameters: the log odds of a repeat are lifted by 1.3 within a day, .75 within a week and .35
later. By how much more or less for this learner (`SHIFTS`, prior SD .3) is learned from own
papers and from the rise between first and later answers to the same questions, of which .2 (SD
.2) counts as learning. Before that rise was used, 80% ranges of 300 simulated doctors held 89 in
100 scores.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from kb.stats.logistic import expit, logit
from kb.stats.standing import rough_chances

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from kb.core.model import Attempt
    from kb.stats.history import History

# On the log odds, by days since the question was last answered: within a day, within a week, later.
WITHIN_DAY = 1.3
WITHIN_WEEK = 0.75
LATER = 0.35
SPREAD = 0.3
PASSES = 3
SHIFTS = np.array([-0.5, -0.25, 0.0, 0.25, 0.5])
DAY_SPREAD = 0.3
LEARNING = 0.2
LEARNING_SPREAD = 0.2
LEAST_REPEATS = 50
MOST_REPEATS = 2000


def flattery(gap_days: ArrayLike) -> NDArray[np.float64]:
    """How far recognition lifts the log odds of answers, by the days since each was last met.

    Args:
        gap_days: Days since the last answer to the same question; nan when not known.

    Returns:
        Lifts of the log odds, at least 0; an unknown gap counts as a long one.

    Source: own, because it was measured on public sets of learner responses: about 1.3 within a
    day, .75 within a week, .35 later.
    """
    gaps = np.asarray(gap_days, dtype=float)
    return np.select([gaps < 1, gaps < 7], [WITHIN_DAY, WITHIN_WEEK], LATER)


def lifts(history: History) -> NDArray[np.float64]:
    """The lift of each answer of a history, 0 for a first encounter.

    Source: own, see `flattery`.
    """
    last: dict[str, float] = {}
    rows: list[int] = []
    gaps: list[float] = []
    for row, (question, day) in enumerate(zip(history.questions, history.days, strict=True)):
        before = last.get(question)
        if before is not None:
            rows.append(row)
            gaps.append(day - before)
        last[question] = day
    found = np.zeros(len(history))
    found[rows] = flattery(np.array(gaps))
    return found


def evidence_weights(
    history: History, shift: float = 0.0, lift: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """How much each answer says about a question not met before: 1 for a first encounter.

    With chance p for a fresh question and p' > p for a recognised one, a right answer counts
    (1 - p') / (1 - p) and a wrong one p' / p: the slope of the likelihood in the log odds, so that
    neither flatters on the whole.

    Args:
        history: One learner's answers.
        shift: Added to every lift above 0; what the learner's own papers taught.
        lift: The lifts of the history, if the caller has them already.

    Source: own, because it equates the score of a logistic likelihood with and without an offset.
    """
    return _weights(history, lifts(history) if lift is None else lift, shift)


def _weights(history: History, lift: NDArray[np.float64], shift: float) -> NDArray[np.float64]:
    weights = np.ones(len(history))
    repeat = lift > 0
    if not repeat.any():
        return weights
    lift = np.where(repeat, np.maximum(0.0, lift + shift), 0.0)
    rights = np.asarray(history.rights)
    for _ in range(PASSES):
        fresh = np.clip(rough_chances(history, weights), 0.02, 0.98)
        seen = expit(logit(fresh) + lift)
        weights = np.where(repeat, np.where(rights, (1 - seen) / (1 - fresh), seen / fresh), 1.0)
    return weights


def learned_shift(
    history: History,
    papers: Sequence[Sequence[int]],
    lift: NDArray[np.float64] | None = None,
) -> float:
    """What the learner's own answers say of the size of recognition, to be added to every lift.

    Papers hold questions not met before. If they go worse than the answers before them lead to
    expect, these were flattered by more than the starting values say; if better, by less. Without a
    paper, the rise from first to later answers says a little (`learning_weights`).

    Args:
        history: One learner's answers.
        papers: The rows of each paper that was sat, in order.
        lift: The lifts of the history, if the caller has them already.

    Returns:
        The expected shift of the log odds; 0 without a repeated question.

    Source: own, because it is a posterior mean over five sizes, prior of mean 0 and SD .3, the
    score of a paper being taken as normal with a day effect of SD .3 on the log odds.
    """
    lift = lifts(history) if lift is None else lift
    if not lift.any():
        return 0.0
    rights = np.asarray(history.rights, dtype=float)
    log_weights = learning_weights(history, SHIFTS, lift) - 0.5 * (SHIFTS / SPREAD) ** 2
    for place, shift in enumerate(SHIFTS if papers else ()):
        chances = rough_chances(history, _weights(history, lift, float(shift)))
        for rows in papers:
            p, count = float(chances[rows[0]]), len(rows)
            spread = count * p * (1 - p)
            variance = spread + (DAY_SPREAD * spread) ** 2
            gap = rights[list(rows)].sum() - count * p
            log_weights[place] -= 0.5 * (gap**2 / variance + math.log(variance))
    weights = np.exp(log_weights - np.max(log_weights))
    return float(weights @ SHIFTS / weights.sum())


def learning_weights(
    history: History, shifts: NDArray[np.float64], lift: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """How well each size of recognition agrees with the rise from first to later answers.

    What later answers to the same questions gained is learning and recognition together. Learning
    between two rounds is taken as .2 on the log odds, SD .2: first-round answers alone
    under-forecast a paper by about four points.

    Args:
        history: One learner's answers.
        shifts: Sizes, as what is added to every lift.
        lift: The lifts of the history, if the caller has them already.

    Returns:
        A log weight for each; all 0 with fewer than 50 repeated answers.

    Source: own, because it is a normal likelihood of the rise, with starting values measured on
    public sets of learner responses.
    """
    lift = lifts(history) if lift is None else lift
    rows = np.flatnonzero(lift > 0)[-MOST_REPEATS:]
    if len(rows) < LEAST_REPEATS:
        return np.zeros(len(shifts))
    first: dict[str, bool] = {}
    for question, right in zip(history.questions, history.rights, strict=True):
        first.setdefault(question, right)
    then = _share([first[history.questions[row]] for row in rows])
    later = _share([history.rights[row] for row in rows])
    rise = math.log(later / (1 - later)) - math.log(then / (1 - then))
    learned = rise - float(lift[rows].mean()) - np.asarray(shifts)
    noise = 1 / (then * (1 - then)) + 1 / (later * (1 - later))
    variance = LEARNING_SPREAD**2 + noise / len(rows)
    return np.asarray(-0.5 * (learned - LEARNING) ** 2 / variance)


def _share(rights: Sequence[bool]) -> float:
    return (sum(rights) + 1) / (len(rights) + 2)


def paper_rows(attempts: Sequence[Attempt]) -> tuple[tuple[int, ...], ...]:
    """The rows of each paper or mock that was sat: round `paper`, by sitting, else by day.

    Source: own, because it only groups.
    """
    found: dict[str, list[int]] = {}
    for row, attempt in enumerate(attempts):
        if attempt.round == "paper":
            found.setdefault(attempt.sitting or attempt.day.isoformat(), []).append(row)
    return tuple(tuple(rows) for rows in found.values())
