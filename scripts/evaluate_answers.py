"""Predict every answer of a file from those before it, and measure how well.

The file has the columns learner, order, time_s, item, area, correct.
"""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kb.stats.history import SECONDS_PER_DAY, History, build_history
from kb.stats.recall_model import Recall

if TYPE_CHECKING:
    import argparse

    from numpy.typing import NDArray

WARM_UP = 20
MANY = 10**9
STRETCHES = (0, 50, 100, 300, MANY)
LEAST_ANSWERS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Learner:
    """One learner of the file; `orders` holds that column's values, ascending."""

    name: str
    orders: tuple[str, ...]
    history: History


def read_learners(path: Path) -> list[Learner]:
    """Learners in the order they appear, each with answers in order."""
    rows: dict[str, list[dict[str, str]]] = {}
    with path.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            rows.setdefault(row["learner"], []).append(row)
    found = []
    for name, own in rows.items():
        own.sort(key=lambda row: float(row["order"]))
        times = [row.get("time_s", "") for row in own]
        found.append(
            Learner(
                name=name,
                orders=tuple(row["order"] for row in own),
                history=build_history(
                    [f"set:{row['item']}" for row in own],
                    [row["area"] for row in own],
                    [float(row["correct"]) > 0.5 for row in own],
                    [float(t) / SECONDS_PER_DAY if t else math.nan for t in times],
                ),
            )
        )
    return found


def area_accuracy(history: History) -> NDArray[np.float64]:
    """The baseline: share right so far in the area (overall if none), clipped to [.02, .98]."""
    totals: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    found = []
    for area, right in zip(history.areas, history.rights, strict=True):
        own, whole = totals[area], totals["\0all"]
        found.append(own[0] / own[1] if own[1] else whole[0] / whole[1] if whole[1] else 0.5)
        for count in (own, whole):
            count[0] += right
            count[1] += 1
    return np.asarray(np.clip(np.array(found), 0.02, 0.98))


def retries(history: History) -> NDArray[np.bool_]:
    """Whether the last answer to the same item was wrong."""
    last: dict[str, bool] = {}
    found = []
    for item, right in zip(history.questions, history.rights, strict=True):
        found.append(last.get(item) is False)
        last[item] = right
    return np.array(found, dtype=bool)


def measure(learners: list[Learner], chances: list[NDArray[np.float64]], *, retry: bool) -> str:
    """One line: ratios to the baseline by learner, and pooled calibration error and AUC."""
    ours, theirs, losses, plain, seen, said = [], [], [], [], [], []
    for learner, p in zip(learners, chances, strict=True):
        if len(p) < LEAST_ANSWERS:
            continue
        keep = np.arange(len(p)) >= WARM_UP
        if retry:
            keep &= retries(learner.history)
        if not keep.any():
            continue
        y = np.asarray(learner.history.rights, dtype=float)[keep]
        q, r = p[keep], area_accuracy(learner.history)[keep]
        ours.append(((q - y) ** 2).mean())
        theirs.append(((r - y) ** 2).mean())
        losses.append(-np.log(np.where(y > 0, q, 1 - q)).mean())
        plain.append(-np.log(np.where(y > 0, r, 1 - r)).mean())
        seen.append(y)
        said.append(q)
    if not seen:
        return "too few answers to measure"
    y, p = np.concatenate(seen), np.concatenate(said)
    return (
        f"{len(seen)} learners, {len(y)} answers:"
        f" Brier ratio {np.mean(ours) / np.mean(theirs):.3f},"
        f" log-loss ratio {np.mean(losses) / np.mean(plain):.3f},"
        f" calibration error {calibrated(y, p)}, AUC {auc(y, p):.3f}"
    )


def by_stretch(learners: list[Learner], chances: list[NDArray[np.float64]]) -> str:
    """Brier ratio to the yardstick, and calibration error, by stretch of answers, after a miss and
    after a hit.
    """
    said: dict[str, list[tuple[float, float, float]]] = defaultdict(list)
    for learner, p in zip(learners, chances, strict=True):
        y = np.asarray(learner.history.rights, dtype=float)
        r = area_accuracy(learner.history)
        missed, met = retries(learner.history), repeats(learner.history)
        rows = np.arange(len(y))
        groups = {
            f"{low}-{high}" if high < MANY else "later": (rows >= low) & (rows < high)
            for low, high in pairwise(STRETCHES)
        }
        groups |= {"after a miss": missed, "after a hit": met & ~missed, "new": ~met}
        for name, keep in groups.items():
            said[name] += zip(y[keep].tolist(), p[keep].tolist(), r[keep].tolist(), strict=True)
    lines = []
    for name, own in said.items():
        if own:
            y, p, r = np.array(own).T
            ratio = ((p - y) ** 2).mean() / ((r - y) ** 2).mean()
            lines.append(f"{name}: {ratio:.3f} of {len(own)}, calibration error {calibrated(y, p)}")
    return "\n".join(lines)


def repeats(history: History) -> NDArray[np.bool_]:
    """Whether the same item was answered before."""
    met: set[str] = set()
    found = []
    for item in history.questions:
        found.append(item in met)
        met.add(item)
    return np.array(found, dtype=bool)


def calibration_error(y: NDArray[np.float64], p: NDArray[np.float64]) -> float:
    """Expected calibration error over ten equal bins."""
    bins = np.minimum((p * 10).astype(int), 9)
    return float(sum(abs((y - p)[bins == b].sum()) for b in range(10)) / len(y))


def calibrated(y: NDArray[np.float64], p: NDArray[np.float64], draws: int = 200) -> str:
    """The calibration error, with its mean and 95th centile for outcomes drawn with these very
    chances: what the bins show even of perfect ones.
    """
    rng = np.random.default_rng(1)
    perfect = [calibration_error((rng.random(len(p)) < p).astype(float), p) for _ in range(draws)]
    bound = np.quantile(perfect, 0.95)
    return (
        f"{calibration_error(y, p):.4f} (of perfect chances {np.mean(perfect):.4f}, to {bound:.4f})"
    )


def auc(y: NDArray[np.float64], p: NDArray[np.float64]) -> float:
    """The probability that a right answer was given a higher chance than a wrong one."""
    from scipy.stats import rankdata

    right = y.sum()
    ranks = rankdata(p)[y > 0].sum()
    return float((ranks - right * (right + 1) / 2) / (right * (len(y) - right)))


def evaluate(path: Path, out: Path | None, *, retry: bool) -> None:
    """Write learner, order and the chance of a right answer for every row; print measures."""
    learners = read_learners(path)
    chances = [np.clip(Recall(one.history).chances(), 1e-4, 1 - 1e-4) for one in learners]
    if out is not None:
        write_chances(out, learners, chances)
    print(measure(learners, chances, retry=retry))
    if not retry:
        print(by_stretch(learners, chances))


def write_chances(out: Path, learners: list[Learner], chances: list[NDArray[np.float64]]) -> None:
    """Write learner, order and the chance of a right answer for every row."""
    with out.open("w", encoding="utf-8", newline="") as lines:
        writer = csv.writer(lines)
        writer.writerow(["learner", "order", "p"])
        for one, own in zip(learners, chances, strict=True):
            writer.writerows(
                (one.name, order, f"{p:.6f}") for order, p in zip(one.orders, own, strict=True)
            )


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommands `next` and `retry` to scripts/evaluate.py."""
    for name, what in (("next", "every answer"), ("retry", "answers after a miss")):
        parser = commands.add_parser(name, help=f"predict {what}")
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument("--out", type=Path, metavar="P.csv")
        parser.set_defaults(
            run=lambda given, retry=name == "retry": evaluate(given.file, given.out, retry=retry)
        )
