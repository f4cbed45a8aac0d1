"""Check the figures on simulated doctors, whose true values are known.

    python scripts/simulate.py scores --doctors 40 --seed 16 17 18 19
    python scripts/simulate.py growth --doctors 20 --seed 16 17
    python scripts/simulate.py sources --doctors 40
    python scripts/simulate.py simple --doctors 40

The kinds of doctors are those of simulated_doctors.py, each constant and learning.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from simulated_doctors import (
    BLUEPRINT,
    KINDS,
    Doctor,
    Kind,
    live,
    two_banks,
)

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Note
from kb.core.settings import Area, Exam, Source, Study
from kb.stats import ability
from kb.stats.ability import learn_ability
from kb.stats.history import History, build_history
from kb.stats.score_distribution import mean_score, quantile
from kb.stats.tracker import Tracker, outcome_weights

Floats = NDArray[np.float64]
COUNTS = {str(area): count for area, count in enumerate(BLUEPRINT)}
START = datetime(2027, 1, 1, 8, tzinfo=UTC)


def history_of(doctor: Doctor) -> History:
    """The log in the form the models take."""
    names = [f"{doctor.source_of[q]}:{doctor.shown_of[q]}" for q in doctor.questions]
    areas = [str(doctor.area_of[q]) for q in doctor.questions]
    return build_history(names, areas, doctor.rights, doctor.days)


def base_of(doctor: Doctor, count: int | None = None) -> Base:
    """A base of the first answers, with a note on every other missed question."""
    history = history_of(doctor)
    attempts = tuple(
        Attempt(
            id=AttemptId(str(row)),
            at=START + timedelta(days=day, seconds=row),
            question=QuestionId(question),
            outcome="right" if right else "wrong",
            area=AreaId(area),
        )
        for row, (question, area, day, right) in enumerate(
            zip(history.questions, history.areas, history.days, history.rights, strict=True)
        )
    )[:count]
    first_miss: dict[str, Attempt] = {}
    for attempt in attempts:
        if not attempt.right:
            first_miss.setdefault(attempt.question, attempt)
    notes = tuple(
        Note(
            id=NoteId(f"n-{question.replace(':', '-')}"),
            path=f"{number}.md",
            title=question,
            areas=(miss.area,),
            questions=(QuestionId(question),),
            written_on=miss.day,
            written_at=miss.at,
        )
        for number, (question, miss) in enumerate(first_miss.items())
        if number % 2
    )
    areas = tuple(Area(id=AreaId(a), name=a, item_count=n) for a, n in COUNTS.items())
    exam = Exam(name="E", date=date(2028, 1, 1), areas=areas)
    sizes = {name: doctor.source_of.count(name) for name in dict.fromkeys(doctor.source_of)}
    sources = tuple(
        Source(
            id=name,
            name=name,
            kind="paper" if name.startswith("paper") else "bank",
            item_count=size,
        )
        for name, size in sizes.items()
    )
    return Base(exam=exam, study=Study(sources=sources), notes=notes, attempts=attempts)


def groups(doctors: int, seeds: list[int]) -> Iterator[tuple[Kind, bool, Iterator[Doctor]]]:
    """Every kind of doctor, with constant and with rising ability; so many for each seed."""
    for kind in KINDS:
        for learning in (True,) if kind.gain else (False, True):
            numbers = itertools.product(seeds, range(doctors))
            yield kind, learning, (live(kind, n, seed, learning=learning) for seed, n in numbers)


def forecast_of(doctor: Doctor) -> Floats:
    """How probable each score of the exam is, with papers and nights known."""
    papers = {row for start, stop in doctor.papers for row in range(start, stop)}
    first, last = doctor.nights
    tired = [row for row, day in enumerate(doctor.days) if first <= int(day) <= last + 1]
    return learn_ability(history_of(doctor), papers, tired=tired).score(COUNTS)


def scores(doctors: int, seeds: list[int]) -> None:
    """Bias of the expected score in percentage points, and coverage of the ranges."""
    print("| doctors | learning | bias | RMSE | score in 80% range | width of 200 |")
    print("| --- | --- | --- | --- | --- | --- |")
    errors = []
    for kind, learning, group in groups(doctors, seeds):
        rows = []
        for doctor in group:
            pmf = forecast_of(doctor)
            truth, came = 100 * doctor.expected_fraction(), doctor.exam_score()
            low, high = quantile(pmf, 0.1), quantile(pmf, 0.9)
            rows.append((mean_score(pmf) / 2 - truth, low <= came <= high, high - low))
        error, inside, width = (np.array(column, float) for column in zip(*rows, strict=True))
        errors += error.tolist()
        print(
            f"| {kind.name} | {'yes' if learning else 'no'} | {error.mean():+.1f} |"
            f" {np.sqrt((error**2).mean()):.1f} | {100 * inside.mean():.0f}% | {width.mean():.0f} |"
        )
    print(f"\nRMSE over all: {np.sqrt(np.mean(np.square(errors))):.2f}")


def sources(doctors: int, seeds: list[int]) -> None:
    """Bias and RMSE in points where half the answers are to a bank 1.5 logits harder than the exam,
    or no harder, with one size of sources' effects assumed and with the average over all.
    """
    averaged = ability.SOURCES
    sizes = [*[(size,) for size in averaged], averaged]
    heads = [f"SD {size:.1f}" for size in averaged] + ["averaged"]
    print(f"| banks | papers | {' | '.join(heads)} |\n| --- | ---{' | ---' * len(heads)} |")
    for kind in KINDS:
        if kind.way is not two_banks:
            continue
        for sat in (2, 0):
            found = []
            for seed, number in itertools.product(seeds, range(doctors)):
                doctor = live(replace(kind, papers=sat), number, seed, learning=False)
                means = []
                for ability.SOURCES in sizes:
                    means.append(mean_score(forecast_of(doctor)) / 2)
                found.append(np.array(means) - 100 * doctor.expected_fraction())
            bias, spread = np.mean(found, axis=0), np.sqrt(np.mean(np.square(found), axis=0))
            cells = [f"{b:+.1f} / {e:.1f}" for b, e in zip(bias, spread, strict=True)]
            print(f"| {kind.name.partition(',')[0]} | {sat} | {' | '.join(cells)} |")


def growth(doctors: int, seeds: list[int]) -> None:
    """Bias and RMSE in points by how wide a prior growth has: a wider one has less bias, and more
    error.
    """
    mean, settled = ability.RISE
    spreads = sorted((0.4, 0.54, settled, 0.9))
    heads = [f"SD {spread:g}" for spread in spreads]
    print(f"| doctors | learning | {' | '.join(heads)} |\n| --- | ---{' | ---' * len(heads)} |")
    names = ("random second round", "misses once", "misses right twice", "36% right", "improving")
    for kind, learning, group in groups(doctors, seeds):
        if kind.name not in names:
            continue
        found = []
        for doctor in group:
            means = []
            for spread in spreads:
                ability.RISE = (mean, spread)
                means.append(mean_score(forecast_of(doctor)) / 2)
            found.append(np.array(means) - 100 * doctor.expected_fraction())
        bias, error = np.mean(found, axis=0), np.sqrt(np.mean(np.square(found), axis=0))
        cells = [f"{b:+.1f} / {e:.1f}" for b, e in zip(bias, error, strict=True)]
        print(f"| {kind.name} | {'yes' if learning else 'no'} | {' | '.join(cells)} |", flush=True)


def simple(doctors: int, seeds: list[int]) -> None:
    """The simple rule alone: repeats weighed down to the rate of the other kind."""
    print("| doctors | learning | bias | RMSE |\n| --- | --- | --- | --- |")
    errors = []
    for kind, learning, group in groups(doctors, seeds):
        own = []
        for doctor in group:
            history = history_of(doctor)
            tracker = Tracker(history, outcome_weights(history))
            expected = sum(count * tracker.chance(area) for area, count in COUNTS.items()) / 2
            own.append(expected - 100 * doctor.expected_fraction())
        errors += own
        print(
            f"| {kind.name} | {'yes' if learning else 'no'} | {np.mean(own):+.1f} |"
            f" {np.sqrt(np.mean(np.square(own))):.1f} |"
        )
    print(f"\nRMSE over all: {np.sqrt(np.mean(np.square(errors))):.2f}")


def main() -> None:
    """Read the command line and print one table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    every = (scores, sources, growth, simple)
    tables = {table.__name__: table for table in every}
    parser.add_argument("table", choices=tables)
    parser.add_argument("--doctors", type=int, default=40, help="doctors of each kind")
    parser.add_argument("--seed", type=int, nargs="+", default=[1])
    given = parser.parse_args()
    tables[given.table](given.doctors, given.seed)


if __name__ == "__main__":
    main()
