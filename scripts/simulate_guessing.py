"""Check the forecast on doctors of another make: each question is known, or its answer is guessed.

    python scripts/simulate_guessing.py --doctors 25 --seed 12 13

Nothing here follows the model: chances have a floor, a missed question is often known the next time
and forgotten again after some weeks.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from simulated_doctors import BLUEPRINT

from kb.stats.ability import learn_ability
from kb.stats.history import History, build_history
from kb.stats.score_distribution import mean_score, quantile

COUNTS = {str(area): count for area, count in enumerate(BLUEPRINT)}
SHARES = np.array(BLUEPRINT) / sum(BLUEPRINT)
SLIP = 0.04
PLANNED = 2000
BLOCK = 50
NEW = {
    "no retries": 2000,
    "second round": 1000,
    "misses once": 1400,
    "misses each week": 1400,
    "misses right twice": 1200,
}
LEVELS = ((0.6, 0.0), (0.6, 0.1), (0.15, 0.0))
"""Share of the questions known at the start, and what is added to it over the log."""


@dataclass(slots=True)
class Guesser:
    """One doctor: the share of questions known, the chance of a guess, of keeping what a miss
    taught, for how many days, and the log so far: question, day, right.
    """

    rng: np.random.Generator
    level: float
    gain: float
    guess: float = field(init=False)
    keep: float = field(init=False)
    days_kept: float = field(init=False)
    known: NDArray[np.float64] = field(init=False)
    area_of: NDArray[np.int_] = field(init=False)
    rank: NDArray[np.float64] = field(init=False)
    taught_until: dict[int, float] = field(default_factory=dict)
    log: list[tuple[int, int, bool]] = field(default_factory=list)

    def __post_init__(self) -> None:
        rng = self.rng
        self.guess, self.keep = rng.uniform(0.2, 0.4), rng.uniform(0.2, 0.6)
        self.days_kept = rng.uniform(15, 85)
        self.known = np.clip(self.level + 0.08 * rng.normal(size=len(SHARES)), 0.02, 0.98)
        self.area_of = rng.choice(len(SHARES), PLANNED, p=SHARES)
        self.rank = rng.random(PLANNED)

    def known_now(self) -> NDArray[np.float64]:
        """The share known in each area."""
        return np.clip(self.known + self.gain * min(1.0, len(self.log) / PLANNED), 0.0, 1.0)

    def answer(self, question: int, day: int) -> bool:
        """Answer one question, and perhaps learn it from a miss."""
        known = self.rank[question] < self.known_now()[self.area_of[question]]
        known = known or day < self.taught_until.get(question, -1.0)
        right = bool(self.rng.random() < (1 - SLIP if known else self.guess))
        if not right and self.rng.random() < self.keep:
            self.taught_until[question] = day + self.rng.exponential(self.days_kept)
        self.log.append((question, day, right))
        return right

    def expected_by_area(self) -> NDArray[np.float64]:
        """The true chance of a right answer to a new question, by area."""
        known = self.known_now()
        return known * (1 - SLIP) + (1 - known) * self.guess

    def history(self) -> History:
        """The log in the form the models take."""
        return build_history(
            [f"north:{question}" for question, _, _ in self.log],
            [str(self.area_of[question]) for question, _, _ in self.log],
            [right for _, _, right in self.log],
            [float(day) for _, day, _ in self.log],
        )


def days_of(questions: list[int]) -> Iterator[list[int]]:
    """Blocks, one a day."""
    for start in range(0, len(questions), BLOCK):
        yield questions[start : start + BLOCK]


def live(way: str, doctor: Guesser) -> None:
    """Work through the questions in one of the ways of `NEW`."""
    day, missed = 0, []
    for number, block in enumerate(days_of(list(range(NEW[way])))):
        missed += [question for question in block if not doctor.answer(question, day)]
        day += 1
        if way == "misses each week" and number % 5 == 4:
            for question in missed:
                doctor.answer(question, day)
            day, missed = day + 1, []
    again = missed if way in ("misses once", "misses right twice") else []
    if way == "second round":
        again = doctor.rng.permutation(NEW[way]).tolist()
    run = dict.fromkeys(again, 0)
    while again:
        for block in days_of(again):
            for question in block:
                run[question] = run[question] + 1 if doctor.answer(question, day) else 0
            day += 1
        again = [q for q in again if run[q] < 2] if way == "misses right twice" else []
        if len(doctor.log) > 3 * PLANNED:
            break


def main() -> None:
    """Print bias and coverage for each way of working and each level."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--doctors", type=int, default=25, help="doctors of each kind")
    parser.add_argument("--seed", type=int, nargs="+", default=[1])
    given = parser.parse_args()
    print("| doctors | known | learned | bias | RMSE | score in 80% range | width of 200 |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for place, way in enumerate(NEW):
        for level, gain in LEVELS:
            rows = []
            for seed, number in itertools.product(given.seed, range(given.doctors)):
                drawn = [seed, place, number, round(100 * level), round(100 * gain)]
                doctor = Guesser(np.random.default_rng(drawn), level, gain)
                live(way, doctor)
                chances = doctor.expected_by_area()
                score = int(doctor.rng.binomial(BLUEPRINT, chances).sum())
                pmf = learn_ability(doctor.history()).score(COUNTS)
                low, high = quantile(pmf, 0.1), quantile(pmf, 0.9)
                error = mean_score(pmf) / 2 - 100 * float(SHARES @ chances)
                rows.append((error, low <= score <= high, high - low))
            errors, inside, width = (np.array(column, float) for column in zip(*rows, strict=True))
            print(
                f"| {way} | {level:.0%} | {gain:.0%} | {errors.mean():+.1f} |"
                f" {np.sqrt((errors**2).mean()):.1f} | {inside.mean():.0%} | {width.mean():.0f} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
