"""How far any forecast can know the growth of the doctors of simulated_doctors.py from their logs.

    python scripts/simulate_limits.py --doctors 20

The observer knows everything of a doctor but level and growth: which areas are hard, how widely
questions differ, and, in every other row, what a repeat adds and what each doubling of its meetings
adds. Half of the doctors do not grow, half grow by .4 on the log odds. Growth is drawn towards the
middle, either so strongly that the error is least, or so little that the bias of neither half
exceeds 1.5 points.

The information of a log is that of its marginal likelihood: T. A. Louis, J R Stat Soc B
1982;44:226-33 (from memory).
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from simulate import history_of
from simulated_doctors import ITEM_SPREAD, KINDS, NODE_WEIGHTS, NODES, Doctor, live

Floats = NDArray[np.float64]
NAMES = ("no retries", "misses once", "misses right twice", "36% right")
GROWTH = 0.4
WITHIN = 1.5
PRIORS = np.geomspace(0.05, 5, 200)
"""Standard deviations of growth's prior, on the log odds."""


def information(doctor: Doctor) -> Floats:
    """What a log says of level, growth, any repeat and each doubling of its meetings: what it would
    say if each question's hardness were known, less what is lost because it is not.
    """
    history = history_of(doctor)
    seen, rights = history.meetings, np.asarray(history.rights, dtype=float)
    done = np.minimum(1.0, np.arange(len(history)) / doctor.planned)
    doubled = np.log2(np.maximum(1, seen.met))
    rows = np.column_stack((np.ones(len(done)), done, seen.met > 0, doubled))
    asked = enumerate(zip(doctor.days, doctor.area_of[doctor.questions], strict=True))
    odds = np.array([doctor.ability_on(int(day), n)[area] for n, (day, area) in asked])
    for n in np.flatnonzero(seen.met):
        before = int(seen.previous[n])
        away = int(doctor.days[n]) - int(doctor.days[before])
        odds[n] += doctor.lift_after(away, last_right=doctor.rights[before])
    chance = 1 / (1 + np.exp(ITEM_SPREAD * NODES - odds[:, None]))
    logs = np.log(np.where(rights[:, None] > 0, chance, 1 - chance))
    like = np.zeros((len(seen.index), len(NODES)))
    np.add.at(like, seen.codes, logs)
    like = NODE_WEIGHTS * np.exp(like)
    like /= like.sum(axis=1, keepdims=True)
    own = like[seen.codes]
    found = (rows * (own * chance * (1 - chance)).sum(axis=1)[:, None]).T @ rows
    left = rights[:, None] - chance
    for node in range(len(NODES)):
        apart = np.zeros((len(seen.index), rows.shape[1]))
        np.add.at(apart, seen.codes, rows * (left[:, node] - (own * left).sum(axis=1))[:, None])
        found -= (apart * like[:, node, None]).T @ apart
    return np.asarray(found)


def limits(found: Floats, points: float) -> tuple[float, float, float, float]:
    """In points: the bias of either half and the RMSE at the least error, the RMSE with the bias
    kept within, and the standard error of the level at the end if growth had no prior.
    """
    lost = found[:2, 2:] @ np.linalg.pinv(found[2:, 2:]) @ found[2:, :2] if len(found) > 2 else 0.0
    inner = found[:2, :2] - lost
    ends, tries = np.ones(2), []
    for spread in PRIORS:
        drawn = np.diag([0.0, spread**-2])
        inverse = np.linalg.inv(inner + drawn)
        bias = points * float(ends @ inverse @ drawn @ [0.0, 0.5 * GROWTH])
        noise = float(ends @ inverse @ inner @ inverse @ ends)
        tries.append((bias, np.sqrt(bias**2 + points**2 * noise)))
    free = points * float(np.sqrt(ends @ np.linalg.inv(inner) @ ends))
    least = min(tries, key=lambda one: one[1])
    kept = min((one for one in tries if one[0] <= WITHIN), key=lambda one: one[1])
    return least[0], least[1], kept[1], free


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--doctors", type=int, default=20, help="doctors of each kind")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    print(
        "| doctors | what repeats add | bias at least error | RMSE | RMSE, bias within | no prior |"
    )
    print("| --- | --- | --- | --- | --- | --- |")
    for kind in (kind for kind in KINDS if kind.name in NAMES):
        every, slopes = [], []
        for number in range(given.doctors):
            doctor = live(kind, number, given.seed, learning=False)
            every.append(information(doctor))
            whole = doctor.expected_fraction()
            doctor.level += 0.1
            slopes.append(1000 * (doctor.expected_fraction() - whole))
        mean, points = np.mean(every, axis=0), float(np.mean(slopes))
        for known, size in (("known", 2), ("not known", 4)):
            bias, error, kept, free = limits(mean[:size, :size], points)
            print(
                f"| {kind.name} | {known} | +/-{bias:.1f} | {error:.1f} | {kept:.1f} | {free:.1f} |"
            )


if __name__ == "__main__":
    main()
