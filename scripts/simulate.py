"""Check the figures on simulated doctors, whose true values are known.

    python scripts/simulate.py scores --doctors 40
    python scripts/simulate.py sources --doctors 40
    python scripts/simulate.py simple --doctors 40
    python scripts/simulate.py queue --doctors 40
    python scripts/simulate.py marks --doctors 40
    python scripts/simulate.py reading --doctors 100

The kinds of doctors are those of simulated_doctors.py, each constant and learning.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from evaluate_answers import auc
from simulated_doctors import (
    BLUEPRINT,
    ITEM_SPREAD,
    KINDS,
    NODE_WEIGHTS,
    NODES,
    Doctor,
    Kind,
    live,
    two_banks,
)

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Note, Reading, ReadingChoice
from kb.core.settings import Area, Exam, Source, Study
from kb.stats import ability
from kb.stats.ability import learn_ability
from kb.stats.history import History, build_history
from kb.stats.marks_at_risk import Risk
from kb.stats.reading_effect import reading_effect, reading_trial
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


def groups(doctors: int, seed: int) -> list[tuple[Kind, bool, list[Doctor]]]:
    """Every kind of doctor, with constant and with rising ability."""
    return [
        (kind, learning, [live(kind, n, seed, learning=learning) for n in range(doctors)])
        for kind in KINDS
        for learning in ((True,) if kind.gain else (False, True))
    ]


def forecast_of(doctor: Doctor) -> Floats:
    """How probable each score of the exam is, with papers and nights known."""
    papers = {row for start, stop in doctor.papers for row in range(start, stop)}
    first, last = doctor.nights
    tired = [row for row, day in enumerate(doctor.days) if first <= int(day) <= last + 1]
    return learn_ability(history_of(doctor), papers, tired=tired).score(COUNTS)


def scores(doctors: int, seed: int) -> None:
    """Bias of the expected score in percentage points, and coverage of the ranges."""
    print("| doctors | learning | bias | RMSE | score in 80% range | width of 200 |")
    print("| --- | --- | --- | --- | --- | --- |")
    errors = []
    for kind, learning, group in groups(doctors, seed):
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


def sources(doctors: int, seed: int) -> None:
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
            for number in range(doctors):
                doctor = live(replace(kind, papers=sat), number, seed, learning=False)
                means = []
                for ability.SOURCES in sizes:
                    means.append(mean_score(forecast_of(doctor)) / 2)
                found.append(np.array(means) - 100 * doctor.expected_fraction())
            bias, spread = np.mean(found, axis=0), np.sqrt(np.mean(np.square(found), axis=0))
            cells = [f"{b:+.1f} / {e:.1f}" for b, e in zip(bias, spread, strict=True)]
            print(f"| {kind.name.partition(',')[0]} | {sat} | {' | '.join(cells)} |")


def simple(doctors: int, seed: int) -> None:
    """The simple rule alone: repeats weighed down to the rate of the other kind."""
    print("| doctors | learning | bias | RMSE |\n| --- | --- | --- | --- |")
    errors = []
    for kind, learning, group in groups(doctors, seed):
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


def queue(doctors: int, seed: int) -> None:
    """How well the order of the queue predicts which missed questions are missed again.

    The area under the curve, of all doctors together and within one (mean, and its standard error);
    for comparison, within one by the standing of the question's area alone, and both by all that
    a log can tell (`_best`).
    """
    print("| doctors | learning | all together | best | within one | best | by area alone |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for kind, learning, group in groups(doctors, seed):
        found = [one for doctor in group if (one := _retried(doctor)) is not None]
        if not found:
            continue
        together = [np.concatenate(column) for column in zip(*found, strict=True)]
        missed, order, _, best = together
        weights = np.array([m.sum() * (1 - m).sum() / len(m) for m, *_ in found])
        within = np.array([auc(m, rank) for m, rank, *_ in found])
        mean = np.average(within, weights=weights)
        error = np.sqrt((weights**2 * (within - mean) ** 2).sum()) / weights.sum()
        alone, within_best = (
            np.average([auc(one[0], one[column]) for one in found], weights=weights)
            for column in (2, 3)
        )
        print(
            f"| {kind.name} | {'yes' if learning else 'no'} | {auc(missed, order):.2f} |"
            f" {auc(missed, best):.2f} | {mean:.2f} ({error:.2f}) | {within_best:.2f} |"
            f" {alone:.2f} |"
        )


def _retried(doctor: Doctor) -> tuple[Floats, Floats, Floats, Floats] | None:
    """Of the questions missed in the first four fifths of a log and asked again: which are missed
    again, their urgency, their area's, and their best one (`_best`); None if too few.
    """
    base = base_of(doctor)
    count = len(base.attempts) * 4 // 5
    before = base_of(doctor, count)
    risk = Risk(before, before.attempts[-1].day)
    known = {a.question for a in before.attempts if not a.right}
    later: dict[QuestionId, list[int]] = {}
    answered: dict[QuestionId, list[int]] = {}
    for row, attempt in enumerate(base.attempts):
        answered.setdefault(attempt.question, []).append(row)
        if row >= count and attempt.question in known:
            later.setdefault(attempt.question, list(answered[attempt.question]))
    missed = np.array([not base.attempts[rows[-1]].right for rows in later.values()], float)
    if len(later) <= 20 or len(set(missed)) < 2:
        return None
    rank = np.array([risk.urgency(question) for question in later])
    area = np.array([1 - risk.chance(risk.area(question)) for question in later])
    return missed, rank, area, np.array([_best(doctor, rows) for rows in later.values()])


def _best(doctor: Doctor, rows: list[int]) -> float:
    """The chance that the last of these answers to one question is a miss, from those before it,
    with the doctor's and the source's true values known, but not how hard the question is nor the
    form of a day.
    """
    question = doctor.questions[rows[0]]
    harder = doctor.harder if doctor.source_of[question] == "harbour" else 0.0
    likely, lift = NODE_WEIGHTS, 0.0
    for place, row in enumerate(rows):
        day = int(doctor.days[row])
        if place:
            away = day - int(doctor.days[rows[place - 1]])
            lift = doctor.lift_after(away, last_right=doctor.rights[rows[place - 1]])
        odds = doctor.ability_on(day, row)[doctor.area_of[question]] + lift - harder
        right = 1 / (1 + np.exp(ITEM_SPREAD * NODES - odds))
        if row != rows[-1]:
            likely = likely * (right if doctor.rights[row] else 1 - right)
    return float(likely @ (1 - right) / likely.sum())


def marks(doctors: int, seed: int) -> None:
    """Marks at risk on all misses, compared with their cost in an exam drawn from the bank."""
    print(
        "| doctors | learning | marks at risk on misses | true marks |\n| --- | --- | --- | --- |"
    )
    for kind, learning, group in groups(doctors, seed):
        said, true = [], []
        for doctor in group:
            base = base_of(doctor)
            risk = Risk(base, base.attempts[-1].day)
            missed = {a.question for a in base.attempts if not a.right}
            said.append(sum(risk.marks(question) for question in missed))
            answered = zip(doctor.questions, doctor.rights, strict=True)
            asked = np.array(sorted({int(question) for question, right in answered if not right}))
            z = doctor.ability()[doctor.area_of[asked]] - doctor.hardness[asked]
            true.append(200 / len(doctor.hardness) * float((1 / (1 + np.exp(z))).sum()))
        print(
            f"| {kind.name} | {'yes' if learning else 'no'} |"
            f" {np.mean(said):.1f} | {np.mean(true):.1f} |"
        )


def reading(logs: int, seed: int) -> None:
    """Estimates where reading prevents 0% or 40% of misses, with notes chosen in four ways."""
    print("| chosen by | true effect | mean said | interval holds it |\n| --- | --- | --- | --- |")
    for effect in (0.0, 0.4):
        for chosen in ("chance", "hardest", "easiest", "often missed"):
            said, inside = [], []
            for number in range(logs):
                rng = np.random.default_rng([seed, number, round(10 * effect)])
                base = _reading_log(rng, chosen, effect)
                found = reading_trial(base) if chosen == "chance" else reading_effect(base)
                if found is not None:
                    said.append(found.fraction)
                    inside.append(found.low <= effect <= found.high)
            print(
                f"| {chosen} | {effect:g} | {np.mean(said):+.2f} | {100 * np.mean(inside):.0f}% |"
            )


def _reading_log(rng: np.random.Generator, chosen: str, effect: float) -> Base:
    """A log of 300 questions missed once or twice, each with a note, half read, then retried."""
    attempts, notes, readings, choices = [], [], [], []
    for number in range(300):
        hard, question = rng.normal(0, 1), QuestionId(f"q:{number}")
        note = NoteId(f"n{number}")
        twice = rng.random() < 1 / (1 + np.exp(-hard))
        rows = [(0, False), *([(3, False)] if twice else [])]
        miss = AttemptId(f"{number}-{rows[-1][0]}")
        early = bool(rng.random() < 0.5)
        read = {
            "chance": early,
            "hardest": hard + rng.normal(0, 1) > 0,
            "easiest": hard + rng.normal(0, 1) < 0,
            "often missed": twice if rng.random() < 0.8 else not twice,
        }[chosen]
        chance = 1 / (1 + np.exp(-hard)) * (1 - effect * read)
        rows.append((8, bool(rng.random() >= chance)))
        written = START + timedelta(days=4)
        notes.append(
            Note(id=note, path=f"{number}.md", title="T", questions=(question,), written_at=written)
        )
        after = START + timedelta(days=5)
        choices.append(ReadingChoice(at=after, note=note, miss=miss, early=early))
        if read:
            readings.append(Reading(id=str(number), at=START + timedelta(days=6), note=note))
        for day, right in rows:
            attempts.append(
                Attempt(
                    id=AttemptId(f"{number}-{day}"),
                    at=START + timedelta(days=day, seconds=number),
                    question=question,
                    outcome="right" if right else "wrong",
                )
            )
    attempts.sort(key=lambda attempt: attempt.at)
    exam = Exam(name="E", date=date(2028, 1, 1), areas=())
    return Base(
        exam=exam,
        study=Study(),
        notes=tuple(notes),
        attempts=tuple(attempts),
        readings=tuple(readings),
        reading_choices=tuple(choices),
    )


def main() -> None:
    """Read the command line and print one table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    every = (scores, sources, simple, queue, marks, reading)
    tables = {table.__name__: table for table in every}
    parser.add_argument("table", choices=tables)
    parser.add_argument("--doctors", type=int, default=40, help="doctors of each kind, or logs")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    tables[given.table](given.doctors, given.seed)


if __name__ == "__main__":
    main()
