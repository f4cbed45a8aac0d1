"""Simulated doctors: do the forecasts of a paper come true when the truth is known?

    python scripts/simulate.py --doctors 300

Each doctor works through a bank by area (round one), then again in random order (round two), on
a rota with nights, and sits one paper of unseen items. Ability rises with practice, fades with
time, is lower after nights, and answers to questions met before are helped by recognition. No
paper is sat before, so nothing but the two rounds is known. Every doctor is drawn from the seed.
"""

from __future__ import annotations

import argparse
import math
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from evaluate_papers import Foretold, foretell, measure

from kb.stats.history import History, build_history
from kb.stats.recognition import flattery

BLUEPRINT = (16, 15, 14, 16, 13, 19, 17, 16, 9, 8, 10, 17, 5, 16, 9)
ROTA = ("day",) * 4 + ("off",) * 3 + ("night",) * 4 + ("off",) * 3
PER_DAY = {"day": 0.8, "off": 2.0, "night": 0.2}
TIRED = {"day": 0.0, "off": 0.0, "night": -0.25}
ITEM_SPREAD = 0.9
FADE_DAYS = 60.0
# Recognition was measured over items alike; for one item of known difficulty the same lift is
# larger, since a spread of difficulty flattens the mean (logistic-normal approximation).
LIFT_BY_ITEM = math.sqrt(1 + 0.346 * ITEM_SPREAD**2)


@dataclass(slots=True)
class Doctor:
    """One doctor's truth: ability by area on the log odds, and how it moves."""

    rng: np.random.Generator
    ability: list[float]
    floor: list[float]
    gain: float
    recognition_shift: float
    day_spread: float


def draw_doctor(rng: np.random.Generator) -> Doctor:
    """A doctor of random ability, pace of learning, recognition and unevenness from day to day."""
    level = rng.normal(0.35, 0.4)
    ability = [float(level + rng.normal(0, 0.35)) for _ in BLUEPRINT]
    return Doctor(
        rng=rng,
        ability=ability,
        floor=list(ability),
        gain=float(rng.uniform(0.2, 0.8)),
        recognition_shift=float(rng.normal(0, 0.3)),
        day_spread=float(abs(rng.normal(0, 0.2))),
    )


def live(
    doctor: Doctor, bank_count: int
) -> tuple[History, list[tuple[str, int, int, dict[str, int]]]]:
    """Two rounds and a paper: the answers, and where the paper lies."""
    rng = doctor.rng
    shares = np.asarray(BLUEPRINT) / sum(BLUEPRINT)
    bank = [
        (f"q{n}", int(a))
        for n, a in enumerate(np.sort(rng.choice(len(shares), bank_count, p=shares)))
    ]
    hard = {question: float(rng.normal(0, ITEM_SPREAD)) for question, _ in bank}
    order = rng.permutation(len(shares))
    first = [entry for a in order for entry in bank if entry[1] == a]
    second = [bank[place] for place in rng.permutation(len(bank))]
    todo = first + second
    rows: list[tuple[str, int, float, bool]] = []
    last: dict[str, float] = {}
    per_area = bank_count / len(shares)
    pace, day, at = bank_count / 40.0, 0, 0
    while at < len(todo):
        shift = ROTA[day % len(ROTA)]
        mood = TIRED[shift] + rng.normal(0, doctor.day_spread)
        _fade(doctor)
        for question, area in todo[at : at + max(1, round(pace * PER_DAY[shift]))]:
            z = doctor.ability[area] + mood - hard[question]
            if question in last:
                lift = float(flattery(day - last[question])) + doctor.recognition_shift
                z += LIFT_BY_ITEM * max(0.0, lift)
            right = bool(rng.random() < 1 / (1 + math.exp(-z)))
            rows.append((question, area, day + 0.8, right))
            last[question] = day
            doctor.ability[area] += doctor.gain * 0.5 / per_area
            at += 1
        day += 1
    day += 3
    mood = rng.normal(0, doctor.day_spread)
    start = len(rows)
    for area, items in enumerate(BLUEPRINT):
        for number in range(items):
            z = doctor.ability[area] + mood - rng.normal(0, ITEM_SPREAD)
            right = bool(rng.random() < 1 / (1 + math.exp(-z)))
            rows.append((f"p{area}-{number}", area, day + 0.5, right))
    questions, areas, days, rights = zip(*rows, strict=True)
    history = build_history(questions, [str(area) for area in areas], rights, days)
    counts = {str(area): items for area, items in enumerate(BLUEPRINT)}
    return history, [("paper", start, len(rows), counts)]


def _fade(doctor: Doctor) -> None:
    """A day passes: what was gained fades towards where the doctor began."""
    keep = math.exp(-1 / FADE_DAYS)
    for area, begun in enumerate(doctor.floor):
        doctor.ability[area] = begun + (doctor.ability[area] - begun) * keep


def simulate(doctor_count: int, bank_count: int, seed: int) -> list[Foretold]:
    """One forecast for each doctor, after round two."""
    found: list[Foretold] = []
    for number in range(doctor_count):
        doctor = draw_doctor(np.random.default_rng([seed, number]))
        history, spans = live(doctor, bank_count)
        found += foretell(str(number), history, spans, 0.6)
    return found


def main() -> None:
    """Read the command line, simulate, print how the forecasts went."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--doctors", type=int, default=300)
    parser.add_argument("--bank", type=int, default=2000, help="questions in the bank")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    print(measure(simulate(given.doctors, given.bank, given.seed)))


if __name__ == "__main__":
    main()
