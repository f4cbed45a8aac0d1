"""A published model to compare with ours: knowledge tracing by area, on the same answers.

    python scripts/evaluate.py tracing FILE --out P.csv

Its four parameters are fixed for all areas, as an example of a simple two-state model.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from evaluate_answers import measure, read_learners, write_chances

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterable

    from kb.stats.history import History


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracing:
    """Probabilities of knowing at the start, of learning at each step, of a slip and of a guess."""

    known: float = 0.5
    learn: float = 0.05
    slip: float = 0.2
    guess: float = 0.3

    def right(self, known: float) -> float:
        """Chance of a right answer, given the chance `known` that the skill is known."""
        return known * (1 - self.slip) + (1 - known) * self.guess

    def after(self, known: float, *, right: bool) -> float:
        """Chance that the skill was known, given the answer (Bayes)."""
        if right:
            return known * (1 - self.slip) / self.right(known)
        return known * self.slip / (1 - self.right(known))

    def step(self, known: float, *, right: bool) -> float:
        """Chance that the skill is known at the next answer."""
        seen = self.after(known, right=right)
        return seen + (1 - seen) * self.learn


def trace(model: Tracing, rights: Iterable[bool]) -> tuple[list[float], list[float]]:
    """Chance of a right answer before each answer, and of knowing after it.

    Corbett AT, Anderson JR 1995 User Model User-Adap Inter 4:253-278, equations (a) to (e).
    """
    known, predicted, states = model.known, [], []
    for right in rights:
        predicted.append(model.right(known))
        known = model.step(known, right=right)
        states.append(known)
    return predicted, states


def chances(model: Tracing, history: History) -> list[float]:
    """Chance of each answer of one learner, with each area traced separately."""
    states: dict[str, float] = {}
    found = []
    for area, right in zip(history.areas, history.rights, strict=True):
        known = states.get(area, model.known)
        found.append(model.right(known))
        states[area] = model.step(known, right=bool(right))
    return found


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand `tracing` to scripts/evaluate.py."""
    parser = commands.add_parser("tracing", help="a published model to compare with ours")
    parser.add_argument("file", type=Path)
    parser.add_argument("--out", type=Path, metavar="P.csv")
    parser.set_defaults(run=run)


def run(given: argparse.Namespace) -> None:
    """Write learner, order and chance for every row, and print the measures."""
    learners = read_learners(given.file)
    predicted = [
        np.clip(chances(Tracing(), learner.history), 1e-4, 1 - 1e-4) for learner in learners
    ]
    if given.out is not None:
        write_chances(given.out, learners, predicted)
    print(measure(learners, predicted, retry=False))
