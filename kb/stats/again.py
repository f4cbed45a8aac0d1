"""Missed again: how likely each question is to be answered right (or missed) now.

A question not met before is judged by the learner's standing in its area. One met before is
judged by that and by its own story: how often it came right or was missed, how the last answer
went and how long ago that was. The coefficients start from values pooled over public sets of
learner responses and move with the learner's own repeated answers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kb.stats.logistic import expit, fit_map, logit
from kb.stats.standing import Tracker

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kb.stats.history import History

# Features of an answer to a question met before, in this order.
REPEAT_FEATURES = (
    "one",  # 1
    "standing",  # log odds of the chance in the area
    "last_right",  # 1 if the last answer to it was right
    "hits",  # log(1 + right answers to it)
    "misses",  # log(1 + wrong answers to it)
    "away",  # log(1 + days since the last answer to it), 0 when not known
    "away_right",  # the same when the last answer was right: what was known is forgotten
    "retry_rate",  # log odds of the learner's own share right on retries so far, shrunk
)
REPEAT_START = np.array([0.2, 0.78, 0.35, 0.65, -0.5, -0.3, -0.15, 0.35])
REPEAT_SPREAD = np.array([1.0, 0.3, 0.3, 0.3, 0.3, 0.15, 0.15, 0.3])
# Features of a first answer: one, standing.
FIRST_START = np.array([-0.1, 0.9])
FIRST_SPREAD = np.array([0.5, 0.2])
# Refit on the learner's own repeats after each growth by a tenth, at least by five.
GROWTH = 1.1
LEAST_NEW = 5


@dataclass(slots=True)
class _Story:
    """What has happened to one question so far."""

    hits: int = 0
    misses: int = 0
    last_right: bool = False
    day: float = math.nan
    row: int = 0


class Again:
    """The chance that an answer is right, before each answer of a history and for any question now.

    Every figure at row i uses the rows before it only.

    Source: own, because it extends the performance factors of pavlik2009 (log odds from counts of
    successes and failures) by the area's standing and by power-law forgetting (wixted1991).
    """

    def __init__(self, history: History, tracker: Tracker | None = None) -> None:
        self.tracker = tracker or Tracker(history)
        self.history = history
        self._stories: dict[str, _Story] = {}
        self._retry = [0.0, 0.0]
        self._rows, self._features = self._collect()
        self._rights = np.asarray(history.rights, dtype=float)
        self._firsts = np.setdiff1d(np.arange(len(history)), self._rows)
        self._first_features = _first_features(self.tracker.chances[self._firsts])

    def chances(self) -> NDArray[np.float64]:
        """The chance that each answer of the history is right, said before it is seen.

        Source: own, because the coefficients are refitted whenever enough answers were added.
        """
        found = self.tracker.chances.copy()
        for rows, features, start, spread in (
            (self._firsts, self._first_features, FIRST_START, FIRST_SPREAD),
            (self._rows, self._features, REPEAT_START, REPEAT_SPREAD),
        ):
            found[rows] = _foretell(features, self._rights[rows], start, spread)
        return found

    def of_questions(
        self, questions: Sequence[str], areas: Sequence[str], day: float
    ) -> NDArray[np.float64]:
        """The chance that each of `questions` would be answered right on `day`, after all answers.

        Args:
            questions: Which, met before or not.
            areas: The area of each.
            day: The moment on the same count of days as the history.

        Source: own, because it applies the coefficients learned so far.
        """
        first = fit_map(self._first_features, self._rights[self._firsts], FIRST_START, FIRST_SPREAD)
        again = fit_map(self._features, self._rights[self._rows], REPEAT_START, REPEAT_SPREAD)
        standings = {area: self.tracker.standing(area).mean for area in dict.fromkeys(areas)}
        base = logit(np.array([standings[area] for area in areas]))
        plain = np.zeros((len(questions), len(REPEAT_FEATURES)))
        plain[:, 0], plain[:, 1] = 1.0, base
        met = np.zeros(len(questions), dtype=bool)
        for row, question in enumerate(questions):
            story = self._stories.get(question)
            if story is not None:
                met[row] = True
                plain[row, 2:] = self._plain(story, day)
        return np.where(met, expit(plain @ again), expit(plain[:, :2] @ first))

    def gaps(self, questions: Sequence[str], day: float) -> tuple[float | None, ...]:
        """Days since each question was last answered; None if never, infinite if not known.

        Source: own, because it only looks it up.
        """
        found: list[float | None] = []
        for question in questions:
            story = self._stories.get(question)
            gap = None if story is None else day - story.day
            found.append(math.inf if gap is not None and math.isnan(gap) else gap)
        return tuple(found)

    def _collect(self) -> tuple[NDArray[np.int_], NDArray[np.float64]]:
        history, stories = self.history, self._stories
        rows: list[int] = []
        plain: list[tuple[float, ...]] = []
        seen = zip(history.questions, history.days, history.rights, strict=True)
        for row, (question, day, right) in enumerate(seen):
            story = stories.get(question)
            if story is None:
                story = stories[question] = _Story()
            else:
                rows.append(row)
                plain.append(self._plain(story, day))
                if not story.last_right:
                    self._retry[0] += right
                    self._retry[1] += 1
            if right:
                story.hits += 1
            else:
                story.misses += 1
            story.last_right, story.day, story.row = right, day, row
        index = np.asarray(rows, dtype=int)
        features = np.empty((len(rows), len(REPEAT_FEATURES)))
        if rows:
            table = np.asarray(plain)
            features[:, 0] = 1.0
            features[:, 1] = logit(self.tracker.chances[index])
            features[:, 2:] = table
        return index, features

    def _plain(self, story: _Story, day: float) -> tuple[float, ...]:
        gap = day - story.day
        away = math.log1p(max(0.0, gap)) if not math.isnan(gap) else 0.0
        right = float(story.last_right)
        rate = (self._retry[0] + 2.0) / (self._retry[1] + 4.0)
        return (
            right,
            math.log1p(story.hits),
            math.log1p(story.misses),
            away,
            away * right,
            math.log(rate / (1 - rate)),
        )


def _first_features(chances: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.column_stack((np.ones(len(chances)), logit(chances)))


def _foretell(
    features: NDArray[np.float64],
    rights: NDArray[np.float64],
    start: NDArray[np.float64],
    spread: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Chances before each row, the coefficients being refitted on the rows before it."""
    found = np.empty(len(features))
    done, beta = 0, start
    while done < len(features):
        until = min(len(features), max(done + LEAST_NEW, int(done * GROWTH)))
        found[done:until] = expit(features[done:until] @ beta)
        beta = fit_map(features[:until], rights[:until], start, spread, beta)
        done = until
    return found
