"""Fit the starting coefficients of `kb.stats.recall_model`, and test them on other learners.

    python scripts/fit_again.py FILE [FILE ...]

Each file is a set of learners with the columns learner, order, time_s, item, area, correct. Every
set has the same weight, as has every learner within it. To check, the model is fitted on half the
learners of each set and predicts the other half, several times.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from evaluate_answers import LEAST_ANSWERS, WARM_UP, area_accuracy, auc, read_learners

from kb.stats.logistic import expit
from kb.stats.recall_model import REPEAT_FEATURES, Kind, Recall, chances_before

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

RIDGE = 5.0
LONG_RIDGE = 60.0
LONG_FEATURES = ("rounds", "so_far", "repeats")
"""What tells one round from the next is held back more: the public sets know rounds of a few
hundred questions, and a bank of thousands must not be judged by what they would make of it. Least
that does no harm to two simulated candidates with rounds of 5,000."""
STEPS = 50
SPLITS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """One learner's answers of one kind, and which of them are scored."""

    features: NDArray[np.float64]
    rights: NDArray[np.float64]
    yardstick: NDArray[np.float64]
    counts: NDArray[np.bool_]


def read_answers(path: Path, kind: Kind) -> list[Answers]:
    """One entry for each learner who has any answer of that kind."""
    found = []
    for learner in read_learners(path):
        rows = Recall(learner.history).rows(kind)
        if len(rows.index):
            late = rows.index >= WARM_UP
            found.append(
                Answers(
                    features=rows.features,
                    rights=np.asarray(learner.history.rights, dtype=float)[rows.index],
                    yardstick=area_accuracy(learner.history)[rows.index],
                    counts=late & (len(learner.history) >= LEAST_ANSWERS),
                )
            )
    return found


def fit_pooled(sets: Sequence[Sequence[Answers]], kind: Kind) -> NDArray[np.float64]:
    """Weighted logistic regression with a ridge penalty on all but the constant."""
    rows = np.vstack([one.features for own in sets for one in own])
    rights = np.concatenate([one.rights for own in sets for one in own])
    weights = np.concatenate(
        [np.full(len(one.rights), 1 / len(one.rights) / len(own)) for own in sets for one in own]
    )
    weights *= len(rights) / weights.sum()
    ridge = np.full(rows.shape[1], RIDGE)
    ridge[0] = 1e-3
    if kind is not Kind.FIRST:
        ridge[[REPEAT_FEATURES.index(name) for name in LONG_FEATURES]] = LONG_RIDGE
    beta = np.zeros(rows.shape[1])
    for _ in range(STEPS):
        p = expit(rows @ beta)
        slope = rows.T @ (weights * (rights - p)) - ridge * beta
        bend = (rows * (weights * p * (1 - p))[:, None]).T @ rows + np.diag(ridge)
        step = np.linalg.solve(bend, slope)
        beta = beta + step
        if np.abs(step).max() < 1e-7:
            break
    return beta


def measure(
    learners: Sequence[Answers], kind: Kind, start: NDArray[np.float64]
) -> tuple[float, float]:
    """Brier ratio to the baseline, averaged over learners, and pooled AUC."""
    ours, theirs, rights, said = [], [], [], []
    for one in learners:
        if one.counts.any():
            p = chances_before(one.features, one.rights, kind, start)[one.counts]
            y, r = one.rights[one.counts], one.yardstick[one.counts]
            ours.append(((p - y) ** 2).mean())
            theirs.append(((r - y) ** 2).mean())
            rights.append(y)
            said.append(p)
    return float(np.mean(ours) / np.mean(theirs)), auc(np.concatenate(rights), np.concatenate(said))


def cross_fit(sets: Sequence[Sequence[Answers]], kind: Kind) -> list[list[tuple[float, float]]]:
    """Brier ratio and AUC of each set, over every half that was held out."""
    chance = np.random.default_rng(1)
    found: list[list[tuple[float, float]]] = [[] for _ in sets]
    for _ in range(SPLITS):
        orders = [chance.permutation(len(own)) for own in sets]
        for turn in (0, 1):
            fitted, others = [], []
            for own, order in zip(sets, orders, strict=True):
                fitted.append([own[place] for place in order[turn::2]])
                others.append([own[place] for place in order[1 - turn :: 2]])
            start = fit_pooled(fitted, kind)
            for place, own in enumerate(others):
                found[place].append(measure(own, kind, start))
    return found


def main() -> None:
    """Print coefficients and how well they predict learners held out."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE")
    files = parser.parse_args().files
    for kind in Kind:
        sets = [read_answers(path, kind) for path in files]
        print(f"{kind.name}: {np.round(fit_pooled(sets, kind), 2).tolist()}")
        for path, rows in zip(files, cross_fit(sets, kind), strict=True):
            ratios, areas = np.array(rows).T
            print(
                f"  {path.stem}, not fitted: Brier ratio {ratios.mean():.3f}"
                f" ({ratios.min():.3f} to {ratios.max():.3f}), AUC {areas.mean():.3f}"
            )


if __name__ == "__main__":
    main()
