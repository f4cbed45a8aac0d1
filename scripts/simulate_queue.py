"""Check the queue on simulated doctors: its order, and the marks it says are at risk.

    python scripts/simulate_queue.py order --doctors 20 --seeds 1,21,22
    python scripts/simulate_queue.py marks --doctors 10

The order is judged by the area under the curve (AUC): the chance that, of two missed questions, one
missed at its next answer stood above one then answered right.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import logsumexp

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from evaluate_answers import auc
from simulate import base_of
from simulated_doctors import (
    AREA_SPREAD,
    BLUEPRINT,
    ITEM_SPREAD,
    KINDS,
    NODE_WEIGHTS,
    NODES,
    PAPER,
    Doctor,
    Kind,
    draw_doctor,
    live,
    many,
)

from kb.core.ids import QuestionId
from kb.core.model import Base
from kb.stats import marks_at_risk, papers
from kb.stats.ability import Ability
from kb.stats.history import History
from kb.stats.marks_at_risk import Risk

Floats = NDArray[np.float64]
LEAST_RETRIED = 20
WANTED = 0.55
LONG = 10
"""So many times fewer doctors with 15,000 answers are followed."""
AREAS, GAIN, LIFT, TAUGHT = len(BLUEPRINT), -3, -2, -1
WAYS = ("order", "log alone", "true chance")


def groups(doctors: int, seeds: list[int]) -> Iterator[tuple[str, Kind, bool, list[Doctor]]]:
    """Every kind of doctor, with constant and with rising ability: the head of its row, its kind,
    whether it learns, its doctors.
    """
    for kind in KINDS:
        count = max(1, doctors // LONG) if kind.way is many else doctors
        for learning in (True,) if kind.gain else (False, True):
            own = [live(kind, n, seed, learning=learning) for seed in seeds for n in range(count)]
            yield f"| {kind.name} | {'yes' if learning else 'no'} |", kind, learning, own


def order(doctors: int, seeds: list[int]) -> None:
    """The AUC of the queue's order, of the best that can be made of the log alone, and of the true
    chances: over all doctors together, with the standard error of an area of .55 in so many
    retries, and within one doctor (mean, weighed by information), with that of the queue's.
    """
    heads = [*WAYS, "SE", "within one: order", "SE", *WAYS[1:]]
    print(f"| doctors | learning | retries | {' | '.join(heads)} |\n|{' --- |' * (3 + len(heads))}")
    for head, kind, learning, group in groups(doctors, seeds):
        found = [one for own in group if (one := retried(own, kind, learning=learning)) is not None]
        if len(found) < len(seeds):
            continue
        rows = np.hstack(found)
        missed = int(rows[0].sum())
        together = [auc(rows[0], way) for way in rows[1:]]
        error = standard_error(WANTED, missed, rows.shape[1] - missed)
        weights = np.array([one[0].sum() * (1 - one[0]).sum() / one.shape[1] for one in found])
        within = np.array([[auc(one[0], way) for way in one[1:]] for one in found])
        means = np.average(within, axis=0, weights=weights)
        apart = np.sqrt((weights**2 * (within[:, 0] - means[0]) ** 2).sum()) / weights.sum()
        cells = [*together, error, means[0], apart, *means[1:]]
        texts = [f"{cell:.2f}" for cell in cells]
        texts[3], texts[5] = f"{error:.3f}", f"{apart:.3f}"
        print(head, f"{rows.shape[1]:,} |", " | ".join(texts), "|", flush=True)


def standard_error(area: float, yes: int, no: int) -> float:
    """The standard error of an area under the curve, with so many missed and so many right.

    Source: Hanley JA, McNeil BJ 1982, Radiology 143:29-36 (10.1148/radiology.143.1.7063747), with
    their approximations of Q1 and Q2.
    """
    one, two = area / (2 - area), 2 * area**2 / (1 + area)
    spread = area * (1 - area) + (yes - 1) * (one - area**2) + (no - 1) * (two - area**2)
    return math.sqrt(spread / (yes * no))


def retried(doctor: Doctor, kind: Kind, *, learning: bool) -> Floats | None:
    """Of the questions missed in the first four fifths of a log and asked again, a column each:
    whether it was then missed, and its place by each of `WAYS`. None if there are too few.
    """
    base = base_of(doctor)
    count = len(base.attempts) * 4 // 5
    before = base_of(doctor, count)
    risk = Risk(before, before.attempts[-1].day)
    known = {a.question for a in before.attempts if not a.right}
    answered: dict[QuestionId, list[int]] = {}
    later: dict[QuestionId, list[int]] = {}
    for row, attempt in enumerate(base.attempts):
        answered.setdefault(attempt.question, []).append(row)
        if row >= count and attempt.question in known:
            later.setdefault(attempt.question, list(answered[attempt.question]))
    missed = np.array([not doctor.rights[rows[-1]] for rows in later.values()], float)
    if len(later) <= LEAST_RETRIED or len(set(missed)) < 2:
        return None
    log = Log(doctor)
    fitted = log.fit(count, kind, learning=learning)
    urgent = [risk.urgency(question) for question in later]
    alone = [log.miss_chance(rows, fitted) for rows in later.values()]
    return np.array([missed, urgent, alone, [log.true_chance(rows[-1]) for rows in later.values()]])


class Log:
    """One doctor's log, and the simulation's own model of it.

    The model's values are a level, the areas, the gain, and what a repeat and a repeat after a miss
    add. `fixed` is what it takes as known: how soon a repeat came, nights, a harder bank.
    """

    def __init__(self, doctor: Doctor) -> None:
        self.doctor = doctor
        self.questions, self.rights = np.array(doctor.questions), np.array(doctor.rights, float)
        count = len(self.questions)
        self.features, self.fixed = np.zeros((count, AREAS + 4)), np.zeros(count)
        last: dict[int, int] = {}
        for row, question in enumerate(doctor.questions):
            day, before = int(doctor.days[row]), last.get(question)
            rested = doctor.ability_on(-2, row)
            self.fixed[row] = (doctor.ability_on(day, row) - rested)[0]
            if doctor.source_of[question] == "harbour":
                self.fixed[row] -= doctor.harder
            own = self.features[row]
            own[0] = own[1 + doctor.area_of[question]] = 1.0
            own[GAIN] = min(1.0, row / doctor.planned)
            if before is not None:
                away, right = day - int(doctor.days[before]), doctor.rights[before]
                own[LIFT], own[TAUGHT] = 1.0, not right
                lift = doctor.lift + (0.0 if right else doctor.taught)
                self.fixed[row] += doctor.lift_after(away, last_right=right) - lift
            last[question] = row

    def fit(self, count: int, kind: Kind, *, learning: bool) -> Floats:
        """The likeliest values after so many answers, with the distributions from which
        `draw_doctor` draws as priors and the hardness of each question integrated out.
        """
        middle, spread = _priors(kind, learning=learning)
        rows, fixed = self.features[:count], self.fixed[:count]
        rights = self.rights[:count, None]
        asked, which = np.unique(self.questions[:count], return_inverse=True)

        def loss(values: Floats) -> tuple[float, Floats]:
            chance = _chances(rows @ values + fixed)
            likely = np.tile(np.log(NODE_WEIGHTS), (len(asked), 1))
            np.add.at(likely, which, np.log(np.where(rights > 0, chance, 1 - chance)))
            whole = logsumexp(likely, axis=1)
            hardness = np.exp(likely - whole[:, None])
            slope = (hardness[which] * (rights - chance)).sum(axis=1) @ rows
            apart = (values - middle) / spread
            return float(apart @ apart / 2 - whole.sum()), apart / spread - slope

        return np.asarray(minimize(loss, middle, jac=True, method="L-BFGS-B").x)

    def miss_chance(self, rows: list[int], values: Floats) -> float:
        """The chance that the last of these answers to one question is a miss, from the others."""
        chance = _chances(self.features[rows] @ values + self.fixed[rows])
        before = np.where(self.rights[rows[:-1], None] > 0, chance[:-1], 1 - chance[:-1])
        likely = NODE_WEIGHTS * before.prod(axis=0)
        return float(likely @ (1 - chance[-1]) / likely.sum())

    def true_chance(self, row: int) -> float:
        """The chance of a miss with all true values known, but not the form of a day."""
        doctor = self.doctor
        values = [doctor.level, *doctor.by_area, doctor.gain, doctor.lift, doctor.taught]
        hardness = doctor.hardness[doctor.questions[row]]
        hardness -= doctor.harder if doctor.source_of[doctor.questions[row]] == "harbour" else 0.0
        odds = self.features[row] @ np.array(values) + self.fixed[row] - hardness
        return float(1 / (1 + np.exp(odds)))


def _chances(odds: Floats) -> Floats:
    """The chance of a right answer at each node of hardness."""
    return np.asarray(1 / (1 + np.exp(ITEM_SPREAD * NODES - odds[:, None])))


def _priors(kind: Kind, *, learning: bool) -> tuple[Floats, Floats]:
    """Means and standard deviations from which a doctor of a kind is drawn; .001 where known."""
    draws = [
        draw_doctor(kind, np.random.default_rng([9, n]), learning=learning) for n in range(200)
    ]
    level, gain = ([getattr(one, name) for one in draws] for name in ("level", "gain"))
    middle = [np.mean(level), *[0.0] * AREAS, np.mean(gain), 0.1, 0.24]
    spread = [np.std(level), *[AREA_SPREAD] * AREAS, np.std(gain), 0.5, 0.18]
    return np.array(middle), np.maximum(spread, 0.001)


def marks(doctors: int, seeds: list[int]) -> None:
    """Marks at risk on all misses, the same with the doctor's true level, areas, rise and sources
    in place of the fitted ones, and what they cost in an exam drawn from the bank.
    """
    print("| doctors | learning | said | with the true level | true | SE of said less true |")
    print(f"|{' --- |' * 6}")
    for head, _, _, group in groups(doctors, seeds):
        found = []
        for doctor in group:
            base = base_of(doctor)
            missed = {a.question for a in base.attempts if not a.right}
            own = []
            for ability_of in (papers.ability_of, partial(_true_ability, doctor)):
                with patch.object(marks_at_risk, "ability_of", ability_of):
                    risk = Risk(base, base.attempts[-1].day)
                    own.append(sum(risk.marks(question) for question in missed))
            answered = zip(doctor.questions, doctor.rights, strict=True)
            asked = np.array(sorted({question for question, right in answered if not right}))
            odds = doctor.ability()[doctor.area_of[asked]] - doctor.hardness[asked]
            cost = (1 / (1 + np.exp(odds))).sum() * PAPER / len(doctor.hardness)
            found.append((*own, float(cost)))
        said, level, true = np.array(found).T
        error = ""
        if len(found) > 1:
            error = f" {np.std(said - true, ddof=1) / math.sqrt(len(found)):.1f}"
        cells = [f"{column.mean():.1f}" for column in (said, level, true)]
        print(head, " | ".join(cells), f"|{error} |", flush=True)


def _true_ability(doctor: Doctor, base: Base, history: History) -> Ability:
    """The fitted ability with the true values; questions differ by `ITEM_SPREAD`."""
    found = papers.ability_of(base, history)
    gained = doctor.gain * min(1.0, len(doctor.days) / doctor.planned)
    levels = doctor.ability()
    own = [levels[int(area)] for area in found.areas]
    return replace(
        found,
        mean=np.array([*own, doctor.level + gained]),
        covariance=np.eye(len(own) + 1) * ITEM_SPREAD**2,
        rise=gained,
        sources=tuple(
            replace(one, mean=-doctor.harder if one.source == "harbour" else 0.0)
            for one in found.sources
        ),
    )


def main() -> None:
    """Read the command line and print one table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    tables = {"order": order, "marks": marks}
    parser.add_argument("table", choices=tables)
    parser.add_argument("--doctors", type=int, default=20, help="doctors of each kind and seed")
    parser.add_argument("--seeds", default="1", metavar="N,N")
    given = parser.parse_args()
    tables[given.table](given.doctors, [int(seed) for seed in given.seeds.split(",")])


if __name__ == "__main__":
    main()
