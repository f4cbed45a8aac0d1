"""Which way of spending the same minutes is worth most marks? The plan against three others.

    python scripts/compare_plans.py
    python scripts/compare_plans.py --first-seed 0 --missed 0.2 --late 5

Each question of a bank stands for a fact; a share of it is known from the start. A new question or
a retry that is missed is reviewed, after which its fact is known with chance `learn`; that chance
then falls as a power of time (wixted1991): learn x (1 + days) ** -decay, and each right answer to
it divides the decay by 1 + `strength`. A question answered right when new was known, and stays so.
No value is known: each is tried at both ends of a range that we assume, and the table gives the
least and the most over all combinations. Marks are the exam's questions of an area,
over the bank's questions of it, times what is known on the day of the exam beyond doing nothing.
Papers, notes and their minutes are left out throughout; every wrong answer costs its review.

The ways: `rules` is the plan as shipped; `before` is the plan it replaced (areas one at a time by
marks for each question left, 15% of the day for reading, missed questions never planned again, the
last 14 days for papers, counted here in its favour as new questions of every area); `new` is new
questions alone and `retry` missed ones alone.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import product
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from kb.core.ids import AreaId
from kb.core.settings import PlanSettings
from kb.planning import scheduler
from kb.planning.missed import return_days
from kb.planning.pace import Pace
from kb.planning.plan_records import AreaWork, Returning, Work
from kb.planning.scheduler import order_areas, schedule
from kb.planning.study_days import StudyDay

START = date(2027, 1, 4)
ITEMS = np.array([28, 26, 24, 22, 20, 18, 16, 14, 12, 10, 6, 4])
MISS = np.array([0.45, 0.3, 0.4, 0.25, 0.35, 0.3, 0.5, 0.3, 0.4, 0.25, 0.45, 0.35])
WEEK = (120, 120, 120, 120, 120, 240, 240)
LEARN, DECAY, STRENGTH = (0.5, 0.9), (0.1, 0.4), (0.0, 1.0)
SECONDS, RETRY_SECONDS, REVIEW = 80.0, 70.0, 120.0
WAYS = ("rules", "before", "new", "retry")


@dataclass(frozen=True, slots=True)
class Case:
    """Days to the exam, questions in the banks, and the share already met."""

    name: str
    days: int
    bank: int
    met: float
    load: float


CASES = (Case("b", 56, 5000, 0.3, 1.0), Case("c", 21, 2100, 0.6, 0.6))


class World:
    """One doctor's facts, and the chance that each is known on a day."""

    def __init__(self, case: Case, corner: tuple[float, float, float], seed: int) -> None:
        self.load = case.load
        self.rng = np.random.default_rng([seed, case.days])
        self.learn, self.decay, self.strength = corner
        self.area = np.repeat(np.arange(len(ITEMS)), _shares(case.bank))
        count = len(self.area)
        self.known = self.rng.random(count) > MISS[self.area]
        self.met = self.rng.random(count) < case.met
        self.missed = self.met & ~self.known
        self.hits = np.zeros(count, dtype=int)
        self.last = np.where(self.missed, -self.rng.integers(4, 60, count), 0)
        self.right = np.zeros(count, dtype=int)
        held = np.bincount(self.area, minlength=len(ITEMS))
        self.worth = (ITEMS / held)[self.area]

    def chance(self, day: int) -> np.ndarray:
        """Chance of knowing each fact on a day."""
        away = np.maximum(0, day - self.last)
        kept = self.learn * (1 + away) ** (-self.decay / (1 + self.strength * self.hits))
        return np.where(self.known, 1.0, np.where(self.missed, kept, 0.0))

    def answer_new(self, chosen: np.ndarray, day: int) -> float:
        """Meet questions; returns the minutes it took."""
        self.met[chosen] = True
        wrong = chosen[~self.known[chosen]]
        self.missed[wrong] = True
        self.last[wrong], self.hits[wrong], self.right[wrong] = day, 0, 0
        return (len(chosen) * SECONDS + len(wrong) * REVIEW) / 60

    def answer_again(self, chosen: np.ndarray, day: int) -> float:
        """Try missed questions again; returns the minutes it took."""
        right = self.rng.random(len(chosen)) < self.chance(day)[chosen]
        self.hits[chosen] = np.where(right, self.hits[chosen] + 1, 0)
        self.right[chosen] = np.where(right, self.right[chosen] + 1, 0)
        self.last[chosen] = day
        return (len(chosen) * RETRY_SECONDS + float(np.sum(~right)) * REVIEW) / 60

    def due(self, day: int, left: int) -> np.ndarray:
        """Missed questions past their gap and not yet right twice, longest ago first."""
        waiting = np.flatnonzero(self.missed & (self.right < 2))
        gaps = np.array(
            [return_days(int(self.right[q]), left + day - self.last[q]) for q in waiting]
        )
        found = waiting[day - self.last[waiting] >= gaps] if len(waiting) else waiting
        return found[np.argsort(self.last[found], kind="stable")]

    def fresh(self) -> np.ndarray:
        """Questions not met yet."""
        return np.flatnonzero(~self.met)


def _shares(bank: int) -> np.ndarray:
    """Shares of a bank by area: larger areas have more questions, but less than in proportion."""
    weights = np.sqrt(ITEMS)
    return np.asarray(np.round(bank * weights / weights.sum()).astype(int))


def by_worth(world: World, *, left_only: bool) -> np.ndarray:
    """New questions by marks at risk for each question of the area, or for each one left."""
    fresh = world.fresh()
    held = np.bincount(world.area, minlength=len(ITEMS))
    left = np.bincount(world.area[fresh], minlength=len(ITEMS))
    value = ITEMS * MISS / np.maximum(1, left if left_only else held)
    order = np.lexsort((fresh, world.area[fresh], -value[world.area[fresh]]))
    return np.asarray(fresh[order])


def minutes_of(world: World, day: int, left: int) -> int:
    """Study minutes of a day, for every way: half in the last three days, 60 on the eve."""
    minutes = round(WEEK[day % 7] * world.load)
    return minutes if left > 3 else min(minutes // 2, 60 if left == 1 else minutes)


def spend(world: World, day: int, minutes: float, questions: np.ndarray, *, new: bool) -> float:
    """Answer in this order until the minutes run out; returns the minutes left."""
    cost = (SECONDS + 0.35 * REVIEW if new else RETRY_SECONDS + 0.3 * REVIEW) / 60
    while len(questions) and minutes >= cost:
        count = max(1, int(minutes / cost))
        taken, questions = questions[:count], questions[count:]
        minutes -= world.answer_new(taken, day) if new else world.answer_again(taken, day)
    return minutes


def rules(world: World, day: int, left: int) -> None:
    """One day of the plan as shipped."""
    held = np.bincount(world.area, minlength=len(ITEMS))
    fresh = np.bincount(world.area[world.fresh()], minlength=len(ITEMS))
    areas = [
        AreaWork(
            area=AreaId(str(a)), count=int(fresh[a]), worth=float(ITEMS[a] * MISS[a] / held[a])
        )
        for a in range(len(ITEMS))
    ]
    today = START + timedelta(days=day)
    waiting = np.flatnonzero(world.missed & (world.right < 2))
    returning: dict[tuple[date, int], int] = {}
    for q in waiting:
        gap = return_days(int(world.right[q]), left + day - int(world.last[q]))
        key = (max(today, START + timedelta(days=int(world.last[q]) + gap)), int(world.right[q]))
        returning[key] = returning.get(key, 0) + 1
    work = Work(
        areas=order_areas(areas, ()),
        returning=tuple(
            Returning(due=due, right_count=right, count=count)
            for (due, right), count in sorted(returning.items())
        ),
        mixed_count=0,
        pace=Pace(
            seconds=SECONDS,
            miss_fraction=0.35,
            retry_seconds=RETRY_SECONDS,
            retry_miss_fraction=0.3,
            review_seconds=REVIEW,
        ),
    )
    days = [
        StudyDay(
            day=START + timedelta(days=n),
            shift="",
            minutes=round(WEEK[n % 7] * world.load),
            set_minutes=0,
        )
        for n in range(day, day + left)
    ]
    plan = schedule(days, work, PlanSettings(), today + timedelta(days=left)).days[0]
    chosen = world.due(day, left)[: plan.missed_count]
    used = world.answer_again(chosen, day)
    for area, count in plan.new:
        own = world.fresh()
        used += world.answer_new(own[world.area[own] == int(area)][:count], day)
    spend(world, day, minutes_of(world, day, left) - used, world.due(day, left), new=False)


def before(world: World, day: int, left: int) -> None:
    """One day of the earlier plan."""
    minutes = minutes_of(world, day, left)
    if left <= 14:
        fresh = world.fresh()
        chosen = (
            world.rng.permutation(fresh)[: int(minutes / 180 * 100)]
            if minutes >= 180
            else fresh[:0]
        )
        world.answer_new(chosen, day)
        return
    spend(world, day, 0.85 * minutes, by_worth(world, left_only=True)[:100], new=True)


def new(world: World, day: int, left: int) -> None:
    """New questions alone."""
    spend(world, day, minutes_of(world, day, left), by_worth(world, left_only=False), new=True)


def retry(world: World, day: int, left: int) -> None:
    """Missed questions alone, as many as are due."""
    spend(world, day, minutes_of(world, day, left), world.due(day, left), new=False)


def gain(case: Case, way: str, corner: tuple[float, float, float], seed: int) -> float:
    """Marks gained over doing nothing."""
    world = World(case, corner, seed)
    idle = float(np.sum(world.worth * world.chance(case.days)))
    step = {"rules": rules, "before": before, "new": new, "retry": retry}[way]
    for day in range(case.days):
        step(world, day, case.days - day)
    return float(np.sum(world.worth * world.chance(case.days))) - idle


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=4)
    parser.add_argument("--first-seed", type=int, default=4, help="0 to 3 chose the rules")
    parser.add_argument("--missed", type=float, default=scheduler.MISSED_FRACTION)
    parser.add_argument("--late", type=int, default=scheduler.LATE_DAYS)
    given = parser.parse_args()
    scheduler.MISSED_FRACTION, scheduler.LATE_DAYS = given.missed, given.late
    seeds = range(given.first_seed, given.first_seed + given.seeds)
    print("| case | way | marks gained, mean | least | most | corners won by the rules |")
    print("| --- | --- | --- | --- | --- | --- |")
    corners = list(product(LEARN, DECAY, STRENGTH))
    for case in CASES:
        found = {
            way: [
                float(np.mean([gain(case, way, corner, seed) for seed in seeds]))
                for corner in corners
            ]
            for way in WAYS
        }
        for way in WAYS:
            won = sum(a >= b for a, b in zip(found["rules"], found[way], strict=True))
            own = found[way]
            cells = f"{np.mean(own):.1f} | {min(own):.1f} | {max(own):.1f}"
            print(f"| {case.name} | {way} | {cells} | {won} of {len(corners)} |")


if __name__ == "__main__":
    main()
