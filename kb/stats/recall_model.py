"""Recall: how likely each question is to be answered right now.

A new question is judged by the chance in its area and by recent form. One met before is also judged
by its own record: how often it was right or missed, how the last answer went and how long ago. The
coefficients start from values pooled over public sets of learner responses and move with the
learner's own answers.

There are three logistic models (first meeting, after a miss, after a hit). The starting
coefficients were fitted on all learners of two public sets (`scripts/fit_again.py` prints them);
`SPREAD` says how far one learner may move. What helped most was two features for time (forgetting
over the first 50 answers, learning over the hundreds after them), and telling one round from the
next by the answers so far and the share of repeats. Those are held back by a stronger ridge (60
instead of 5): the public sets have rounds of a few hundred questions, and two simulated candidates
with rounds of 5,000 were forecast worse without it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, auto
from typing import TYPE_CHECKING

import numpy as np

from kb.stats.logistic import expit, fit_map, logit
from kb.stats.tracker import PRIOR_MEAN, Tracker, outcome_weights

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kb.core.answers import Codes
    from kb.stats.history import History

# A new question has the features "one", "standing", "form" and "last_in_area" only.
REPEAT_FEATURES = (
    "one",  # 1
    "standing",  # log odds of the chance in the area
    "hits",  # log(1 + right answers to it)
    "misses",  # log(1 + wrong answers to it)
    "between",  # log(1 + answers given since, at most 50) / 5: forgetting while others come
    "away",  # log(1 + hours since) / 3: forgetting as a power of time; 0 when not known
    "rounds",  # what log(1 + answers since) / 5 has beyond 50, up to 1,000: learning in between
    "so_far",  # log(1 + answers of the learner so far, at most 1,000) / 5, less 1
    "repeats",  # share of repeats among the answers so far, as if ten were none before
    "form",  # log odds of the faded share right over all areas, less .6
    "last_in_area",  # 0.5 or -0.5: whether the last answer in the area was right; 0 if none
)
SOON, LONG = 50, 1000
NO_REPEATS = 10


class Kind(IntEnum):
    """What came before an answer to its question; each kind has its own coefficients."""

    FIRST = auto()
    RETRY = auto()
    REVISIT = auto()


# Every set and every learner weighs the same, whatever its length. Success on a retry differs most
# between learners (32 to 74 in 100 between sets), so its constant may move furthest. First meetings
# are kept nearer to the standing than the fit has them: both sets are better calibrated that way.
START = {
    Kind.FIRST: np.array([-0.1, 0.88, 0.2, 0.1]),
    Kind.RETRY: np.array([1.09, 0.08, 0.69, -0.42, -1.86, -0.39, 0.59, -1.3, 0.96, 0.39, 0.49]),
    Kind.REVISIT: np.array([-1.06, -0.14, 1.29, 0.0, -0.35, -0.5, 1.68, -2.58, 2.4, 0.65, 0.38]),
}
SPREAD = {
    Kind.FIRST: np.array([0.35, 0.15, 0.1, 0.1]),
    Kind.RETRY: np.array([0.5, *[0.2] * 10]),
    Kind.REVISIT: np.array([0.5, *[0.2] * 10]),
}
GROWTH = 1.05
"""Following a history, coefficients are refitted whenever it has grown by a twentieth."""
FORM_FADE = 0.9
# Prior shares of recall, weighted and unweighted standing, for first meetings and for repeats; the
# evidence for each fades by `FADE` an answer.
PRIOR_SHARES = np.array([[0.6, 0.2, 0.2], [0.9, 0.05, 0.05]])
FADE = 0.98
REMEMBERED = 300
"""Answers after which the fading has left next to nothing."""
FORM_LEVEL = 0.6


@dataclass(frozen=True, slots=True)
class Rows:
    """The answers of one kind: their rows in the history, and their features."""

    index: NDArray[np.int_]
    features: NDArray[np.float64]


class Recall:
    """The chance that an answer is right, before each answer of a history and for any question now.

    Every figure at row i uses the rows before it only.

    Source: own, because it extends the performance factors of pavlik2009 (log odds from counts of
    successes and failures) by the area's standing, recent form and forgetting as a power of time
    (wixted1991).
    """

    def __init__(self, history: History, tracker: Tracker | None = None) -> None:
        self.history = history
        self.tracker = tracker or Tracker(history, outcome_weights(history))
        self._rights = np.asarray(history.rights, dtype=float)
        self._form = PRIOR_MEAN
        self._kinds = self._collect()

    def chances(self) -> NDArray[np.float64]:
        """The chance that each answer of the history is right, from those before it."""
        return self._averaged(0, Tracker(self.history))[0]

    def _averaged(
        self, start: int, unweighted: Tracker
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The chances from row `start` on, and the final shares of the three: recall, weighted
        standing, unweighted standing, for first meetings and for repeats.

        Source: dawid1984, each is weighed by how well it forecast this learner's answers so far.
        """
        recalled = np.empty(len(self.history))
        repeat = np.ones(len(self.history), dtype=int)
        repeat[self._kinds[Kind.FIRST].index] = 0
        for kind, rows in self._kinds.items():
            begin = int(np.searchsorted(rows.index, start))
            recalled[rows.index] = chances_before(
                rows.features, self._rights[rows.index], kind, begin=begin
            )
        three = np.vstack([recalled, self.tracker.chances, unweighted.chances])[:, start:]
        likely = np.where(self._rights[start:] > 0, three, 1 - three)
        likely = np.log(np.maximum(likely, 1e-4))
        log_weights, found = np.zeros((2, 3)), np.empty(three.shape[1])
        for place, again in enumerate(repeat[start:].tolist()):
            found[place] = _shares(log_weights)[again] @ three[:, place]
            log_weights[again] = FADE * log_weights[again] + likely[:, place]
        return found, _shares(log_weights)

    def of_questions(
        self, numbers: NDArray[np.int_], areas: Codes, day: float
    ) -> NDArray[np.float64]:
        """The chance that each question would be answered right on `day`, after all answers.

        The last answer in an area bears on the very next one only, so it is left out.

        Args:
            numbers: The number of each question among the meetings; -1 if it was never met.
            areas: The area of each.
            day: On the same count of days as the history.
        """
        codes, names = areas
        standings = np.array([self.tracker.chance(area) for area in names], float)[codes]
        shared = np.zeros((len(numbers), 3))
        shared[:, 0] = logit(standings)
        shared[:, 1] = _form_feature(np.array([self._form]))[0]
        facts, right = self._facts_now(numbers[numbers >= 0], day)
        kinds = np.full(len(numbers), Kind.FIRST)
        kinds[numbers >= 0] = np.where(right, Kind.REVISIT, Kind.RETRY)
        by_kind = {Kind.FIRST: facts, Kind.RETRY: facts[~right], Kind.REVISIT: facts[right]}
        found = np.empty(len(numbers))
        for kind in Kind:
            rows = _rows(np.flatnonzero(kinds == kind), by_kind[kind], shared, kind)
            own = self._kinds[kind]
            rights = self._rights[own.index]
            beta = fit_map(own.features, rights, START[kind], SPREAD[kind])
            found[rows.index] = expit(rows.features @ beta)
        start = max(0, len(self.history) - REMEMBERED)
        unweighted = Tracker(self.history, begin=start)
        plain = np.array([unweighted.chance(area) for area in names], float)[codes]
        shares = self._averaged(start, unweighted)[1]
        own = shares[(kinds != Kind.FIRST).astype(int)]
        return np.asarray((own * np.column_stack((found, standings, plain))).sum(axis=1))

    def _facts_now(
        self, codes: NDArray[np.int_], day: float
    ) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
        """What is known of questions met before, a row for each (see `_record_features`), and
        whether the last answer to each was right.
        """
        seen, count = self.history.meetings, len(self.history)
        last = np.zeros(len(seen.index), dtype=int)
        last[seen.codes] = np.arange(count)  # the last of equal codes remains
        rows = last[codes]
        right = self._rights[rows] > 0
        hits = seen.hits[rows] + right
        misses = seen.met[rows] + 1 - hits
        since = day - np.asarray(self.history.days, dtype=float)[rows]
        share = (seen.met > 0).sum() / (count + NO_REPEATS)
        facts = np.broadcast_arrays(hits, misses, count - rows, since, count, share)
        return np.column_stack(facts), right

    def rows(self, kind: Kind) -> Rows:
        """The answers of one kind, with what is known before each."""
        return self._kinds[kind]

    def _collect(self) -> dict[Kind, Rows]:
        history, seen = self.history, self.history.meetings
        rows, days = np.arange(len(history)), np.asarray(history.days, dtype=float)
        again = seen.met > 0
        share = (np.cumsum(again) - again) / (rows + NO_REPEATS)
        since, away = rows - seen.previous, days - days[seen.previous]
        facts = np.column_stack((seen.hits, seen.met - seen.hits, since, away, rows, share))
        shared = np.column_stack(
            (logit(self.tracker.chances), self._forms(), _last_in_area(history))
        )
        right_before = again & (self._rights[seen.previous] > 0)
        kinds = {Kind.FIRST: ~again, Kind.RETRY: again & ~right_before, Kind.REVISIT: right_before}
        return {
            kind: _rows(np.flatnonzero(own), facts[own], shared, kind)
            for kind, own in kinds.items()
        }

    def _forms(self) -> NDArray[np.float64]:
        """Recent form before each answer; `_form` has the form after all."""
        form, found = PRIOR_MEAN, []
        for right in self.history.rights.tolist():
            found.append(form)
            form = FORM_FADE * form + (1 - FORM_FADE) * right
        self._form = form
        return _form_feature(np.asarray(found))


def _shares(log_weights: NDArray[np.float64]) -> NDArray[np.float64]:
    weights = PRIOR_SHARES * np.exp(log_weights - log_weights.max(axis=1, keepdims=True))
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def _record_features(facts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Features of (hits, misses, answers since, days since, answers so far, share of repeats)."""
    away = np.log1p(24 * np.maximum(0.0, facts[:, 3])) / 3
    soon = np.log1p(np.minimum(facts[:, 2], SOON)) / 5
    return np.column_stack(
        (
            np.log1p(facts[:, :2]),
            soon,
            np.nan_to_num(away, nan=0.0),
            np.log1p(np.minimum(facts[:, 2], LONG)) / 5 - soon,
            np.log1p(np.minimum(facts[:, 4], LONG)) / 5 - 1,
            facts[:, 5],
        )
    )


def _form_feature(forms: NDArray[np.float64]) -> NDArray[np.float64]:
    kept = np.clip(forms, 0.02, 0.98)
    return np.asarray(np.log(kept / (1 - kept)) - FORM_LEVEL)


def _last_in_area(history: History) -> NDArray[np.float64]:
    before = history.in_areas.previous
    rights = np.asarray(history.rights, dtype=float)
    return np.where(before < 0, 0.0, rights[before] - 0.5)


def _rows(
    index: NDArray[np.int_], facts: NDArray[np.float64], shared: NDArray[np.float64], kind: Kind
) -> Rows:
    own = shared[index]
    parts = [np.ones((len(index), 1)), own[:, :1]]
    if kind is not Kind.FIRST:
        parts.append(_record_features(facts))
    return Rows(index, np.hstack([*parts, own[:, 1:]]))


def chances_before(
    features: NDArray[np.float64],
    rights: NDArray[np.float64],
    kind: Kind,
    start: NDArray[np.float64] | None = None,
    begin: int = 0,
) -> NDArray[np.float64]:
    """Chances before each row, the coefficients being refitted on the rows before it.

    Args:
        features: A row for each answer of one kind, in order.
        rights: 1 for right, 0 for wrong.
        kind: The kind of those answers.
        start: Starting coefficients; those shipped by default.
        begin: The first row wanted; those before it are 0.5.

    Source: own, see `Recall`.
    """
    found = np.full(len(features), 0.5)
    start = START[kind] if start is None else start
    done, beta = begin, fit_map(features[:begin], rights[:begin], start, SPREAD[kind])
    while done < len(features):
        until = min(len(features), max(done + 1, int(done * GROWTH)))
        found[done:until] = expit(features[done:until] @ beta)
        beta = fit_map(features[:until], rights[:until], start, SPREAD[kind], beta)
        done = until
    return found
