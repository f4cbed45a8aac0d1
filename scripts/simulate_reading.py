"""Check what is said of reading on simulated logs: without an effect, and with one of .4.

python scripts/simulate_reading.py --logs 100 --seed 1
"""

from __future__ import annotations

import argparse
import itertools
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from kb.core.ids import AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Note, Reading, ReadingChoice
from kb.core.settings import Exam, Study
from kb.stats.reading_effect import reading_effect, reading_trial

START = datetime(2027, 1, 1, 8, tzinfo=UTC)
WRITTEN = 4
"""The day every note is written, after all the misses it is for."""
WAYS = (
    "by chance",  # the trial
    "at random",  # the same, compared as if nothing were known of it
    "harder ones mostly",
    "all of the harder half",  # and none of the easier half
    "easier ones mostly",
    "all of the easier half",
    "often missed first",
    "when due",  # none that was tried again within three days
    "just before the retry",  # harder ones mostly
)


def table(logs: int, seed: int, questions: int) -> None:
    """Mean estimate, and how often its 95% interval holds the true effect and nothing."""
    print("| notes read | true effect | mean estimate | interval holds it | interval holds 0 |")
    print("| --- | --- | --- | --- | --- |")
    for effect, way in itertools.product((0.0, 0.4), WAYS):
        said, inside, nothing = [], [], []
        for number in range(logs):
            rng = np.random.default_rng([seed, number, round(10 * effect)])
            base = reading_log(rng, way, effect, questions)
            found = reading_trial(base) if way == "by chance" else reading_effect(base)
            if found is not None:
                said.append(found.fraction)
                inside.append(found.low <= effect <= found.high)
                nothing.append(found.low <= 0 <= found.high)
        held, none = (f"{100 * np.mean(column):.0f}%" for column in (inside, nothing))
        print(f"| {way} | {effect:g} | {np.mean(said):+.2f} | {held} | {none} |", flush=True)


def reading_log(rng: np.random.Generator, way: str, effect: float, questions: int) -> Base:
    """A log of questions missed once or twice, each with a note, read or not, then retried.

    The longer ago the miss, the likelier the next one.
    """
    attempts, notes, readings, choices = [], [], [], []
    for number in range(questions):
        hard, question = rng.normal(0, 1), QuestionId(f"q:{number}")
        note = NoteId(f"n{number}")
        twice = bool(rng.random() < 1 / (1 + np.exp(-hard)))
        days = [0, 3] if twice else [0]
        miss = AttemptId(f"{number}-{days[-1]}")
        early, gap = bool(rng.random() < 0.5), int(rng.integers(1, 20))
        unsure = hard + rng.normal(0, 1)
        read = {
            "by chance": early,
            "at random": early,
            "harder ones mostly": unsure > 0,
            "all of the harder half": hard > 0,
            "easier ones mostly": unsure < 0,
            "all of the easier half": hard < 0,
            "often missed first": twice if rng.random() < 0.8 else not twice,
            "when due": gap > 3,
            "just before the retry": unsure > 0,
        }[way]
        retry = WRITTEN + gap
        odds = hard + 0.3 * np.log(gap / 7)
        right = bool(rng.random() >= (1 - effect * read) / (1 + np.exp(-odds)))
        written, when = START + timedelta(days=WRITTEN), START + timedelta(days=retry, minutes=-10)
        if way != "just before the retry":
            when -= timedelta(days=rng.uniform(0, gap - 0.5))
        notes.append(
            Note(id=note, path=f"{number}.md", title="T", questions=(question,), written_at=written)
        )
        if way == "by chance":
            choices.append(ReadingChoice(at=written, note=note, miss=miss, early=early))
        if read:
            readings.append(Reading(id=str(number), at=when, note=note))
        attempts += [
            Attempt(
                id=AttemptId(f"{number}-{day}"),
                at=START + timedelta(days=day, seconds=number),
                question=question,
                outcome="right" if day == retry and right else "wrong",
            )
            for day in (*days, retry)
        ]
    return Base(
        exam=Exam(name="E", date=date(2028, 1, 1), areas=()),
        study=Study(),
        notes=tuple(notes),
        attempts=tuple(sorted(attempts, key=lambda attempt: attempt.at)),
        readings=tuple(readings),
        reading_choices=tuple(choices),
    )


def main() -> None:
    """Read the command line and print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--logs", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--questions", type=int, default=300)
    given = parser.parse_args()
    table(given.logs, given.seed, given.questions)


if __name__ == "__main__":
    main()
