"""Simulated doctors whose ability is known, each with a way of working through questions.

The log odds of a right answer are the ability in the area less the hardness of the question, which
includes what this doctor happens to know of it. A question met before is easier by recognition, and
after a miss by having read the answer; both vary between doctors and may be negative. Every doctor
is drawn from a seed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

BLUEPRINT = (16, 15, 14, 16, 13, 19, 17, 16, 9, 8, 10, 17, 5, 16, 9)
ITEM_SPREAD = 1.6
AREA_SPREAD = 0.35
BLOCK = 50
PAPER = 200
NODES, NODE_WEIGHTS = np.polynomial.hermite_e.hermegauss(21)

Ints = NDArray[np.int_]
Session = tuple[int, Ints]  # (days since the last session, questions)
Way = Callable[["Doctor"], Iterator[Session]]


@dataclass(slots=True)
class Doctor:
    """One doctor's true values, the questions, and the log so far."""

    rng: np.random.Generator
    level: float
    by_area: NDArray[np.float64]
    gain: float
    lift: float
    taught: float
    day_spread: float
    hardness: NDArray[np.float64]
    area_of: Ints
    source_of: list[str]
    shown_of: Ints
    day: int = 0
    mood: float = 0.0
    nights: tuple[int, int] = (-1, -1)
    questions: list[int] = field(default_factory=list)
    days: list[float] = field(default_factory=list)
    rights: list[bool] = field(default_factory=list)
    papers: list[tuple[int, int]] = field(default_factory=list)
    last_right: dict[int, bool] = field(default_factory=dict)
    last_day: dict[int, int] = field(default_factory=dict)
    run: dict[int, int] = field(default_factory=dict)
    planned: int = 1
    harder: float = 0.0

    def ability(self) -> NDArray[np.float64]:
        """Today's ability by area, in log odds."""
        return self.ability_on(self.day, len(self.days))

    def ability_on(self, day: int, answered: int) -> NDArray[np.float64]:
        """Ability by area on a day, after so many answers; nights lower it by .5."""
        done = min(1.0, answered / self.planned)
        tired = -0.5 if self.nights[0] <= day <= self.nights[1] else 0.0
        return self.level + self.by_area + self.gain * done + tired

    def lift_after(self, away: int, *, last_right: bool) -> float:
        """How much easier a question is so many days after its last answer."""
        soon = 0.6 if away < 1 else 0.3 if away < 7 else 0.0
        return self.lift + soon + (0.0 if last_right else self.taught)

    def answer(self, gap: int, asked: Ints) -> NDArray[np.bool_]:
        """Answer these questions in one session, `gap` days after the last."""
        if gap:
            self.day += gap
            self.mood = float(self.rng.normal(0, self.day_spread)) if self.day_spread else 0.0
        lifts = np.zeros(len(asked))
        for place, question in enumerate(asked.tolist()):
            if question in self.last_day:
                away = self.day - self.last_day[question]
                lifts[place] = self.lift_after(away, last_right=self.last_right[question])
        z = self.ability()[self.area_of[asked]] + self.mood - self.hardness[asked] + lifts
        rights = self.rng.random(len(asked)) < 1 / (1 + np.exp(-z))
        for question, right in zip(asked.tolist(), rights.tolist(), strict=True):
            self.last_day[question], self.last_right[question] = self.day, right
            self.run[question] = self.run.get(question, 0) + 1 if right else 0
        self.questions += asked.tolist()
        self.days += [self.day + 0.5] * len(asked)
        self.rights += rights.tolist()
        return rights

    def sit_paper(self) -> None:
        """Sit a paper of 200 new questions, in the blueprint's shares and at the exam's level."""
        first = len(self.hardness)
        self.hardness = np.append(self.hardness, self.rng.normal(0, ITEM_SPREAD, PAPER))
        self.area_of = np.append(self.area_of, np.repeat(np.arange(len(BLUEPRINT)), BLUEPRINT))
        name = f"paper-{len(self.papers) + 1}"
        self.source_of += [name] * PAPER
        self.shown_of = np.append(self.shown_of, np.arange(PAPER))
        start = len(self.days)
        self.answer(1, np.arange(first, first + PAPER))
        self.papers.append((start, start + PAPER))

    def expected_fraction(self) -> float:
        """True expected fraction right in an exam two days later, on an ordinary day."""
        self.day += 2
        z = self.ability()[:, None] - ITEM_SPREAD * NODES[None, :]
        share = (1 / (1 + np.exp(-z))) @ NODE_WEIGHTS / NODE_WEIGHTS.sum()
        return float(share @ np.asarray(BLUEPRINT) / sum(BLUEPRINT))

    def exam_score(self) -> int:
        """Score of one simulated exam."""
        area = np.repeat(np.arange(len(BLUEPRINT)), BLUEPRINT)
        mood = self.rng.normal(0, self.day_spread) if self.day_spread else 0.0
        z = self.ability()[area] + mood - self.rng.normal(0, ITEM_SPREAD, len(area))
        return int((self.rng.random(len(area)) < 1 / (1 + np.exp(-z))).sum())


def blocks(asked: Ints, size: int = BLOCK) -> Iterator[Session]:
    """Answer a block a day."""
    for start in range(0, len(asked), size):
        yield 1, asked[start : start + size]


def shuffled(doctor: Doctor, count: int) -> Ints:
    """So many of the questions, in random order."""
    return doctor.rng.permutation(len(doctor.hardness))[:count]


def no_retries(doctor: Doctor) -> Iterator[Session]:
    """Six hundred questions once."""
    yield from blocks(shuffled(doctor, 600))


def second_round(doctor: Doctor) -> Iterator[Session]:
    """Eight hundred questions, all of them again in another order."""
    asked = shuffled(doctor, 800)
    yield from blocks(asked)
    yield from blocks(doctor.rng.permutation(asked))


def half_second_round(doctor: Doctor) -> Iterator[Session]:
    """Eight hundred questions, then a random half of them again."""
    asked = shuffled(doctor, 800)
    yield from blocks(asked)
    yield from blocks(doctor.rng.permutation(asked)[:400])


def missed(doctor: Doctor, asked: Ints, runs: int = 1) -> Ints:
    """Questions of `asked` whose last `runs` answers were not all right."""
    return np.array([q for q in asked.tolist() if doctor.run.get(q, 0) < runs], dtype=int)


def misses_once(doctor: Doctor) -> Iterator[Session]:
    """Five hundred questions, then each miss once more."""
    asked = shuffled(doctor, 500)
    yield from blocks(asked)
    yield from blocks(doctor.rng.permutation(missed(doctor, asked)))


def misses_twice_right(doctor: Doctor) -> Iterator[Session]:
    """Five hundred questions, then each miss until right twice in a row."""
    asked = shuffled(doctor, 500)
    yield from blocks(asked)
    todo = missed(doctor, asked)
    for _ in range(8):
        if len(todo):
            yield from blocks(doctor.rng.permutation(todo))
            todo = missed(doctor, todo, 2)


def drilled(doctor: Doctor) -> Iterator[Session]:
    """Blocks, the misses of each drilled within a week: after one, three and six days."""
    waiting: dict[int, list[Ints]] = {}
    for number, (gap, asked) in enumerate(blocks(shuffled(doctor, 600))):
        yield gap, asked
        for after in (1, 3, 6):
            waiting.setdefault(number + after, []).append(asked)
        for earlier in waiting.pop(number, []):
            again = missed(doctor, earlier, 2)
            ever = [q for q in again.tolist() if doctor.run.get(q, 0) != 1 or q in drilled_once]
            drilled_once.update(ever)
            if ever:
                yield 0, np.array(ever)


drilled_once: set[int] = set()


def mixed_retries(doctor: Doctor) -> Iterator[Session]:
    """Blocks of forty new questions and ten old misses."""
    for gap, asked in blocks(shuffled(doctor, 600), 40):
        old = [q for q, right in doctor.last_right.items() if not right]
        again = doctor.rng.permutation(old)[:10].astype(int)
        yield gap, np.append(asked, again)


def by_area(doctor: Doctor) -> Iterator[Session]:
    """Forty questions of each area in turn, each followed by its misses."""
    for area in doctor.rng.permutation(len(BLUEPRINT)):
        asked = doctor.rng.permutation(np.flatnonzero(doctor.area_of == area))[:60]
        yield from blocks(asked)
        again = missed(doctor, asked)
        if len(again):
            yield 1, again


def few(doctor: Doctor) -> Iterator[Session]:
    """A short log of 120 answers."""
    yield from blocks(shuffled(doctor, 120), 30)


def many(doctor: Doctor) -> Iterator[Session]:
    """A long log: two rounds of 5,500 questions, with the misses of each."""
    asked = shuffled(doctor, 5500)
    for _ in range(2):
        yield from blocks(doctor.rng.permutation(asked), 100)
        yield from blocks(missed(doctor, asked), 100)


def nights(doctor: Doctor) -> Iterator[Session]:
    """Six hundred questions and their misses once, with a fortnight of nights near the end."""
    asked = shuffled(doctor, 600)
    doctor.nights = (6, 19)
    yield from blocks(asked, 25)
    yield from blocks(missed(doctor, asked), 25)


def two_banks(doctor: Doctor) -> Iterator[Session]:
    """Blocks of two banks by turns, with misses once, and two papers."""
    asked = shuffled(doctor, 600)
    hard = np.array([source == "harbour" for source in doctor.source_of])
    parts = [asked[hard[asked]], asked[~hard[asked]]]
    for start in range(0, 300, BLOCK):
        for part in parts:
            if len(part[start:]):
                yield 1, part[start : start + BLOCK]
    yield from blocks(missed(doctor, asked))


def some_areas(doctor: Doctor) -> Iterator[Session]:
    """Ten areas only, with misses once."""
    asked = shuffled(doctor, 1200)
    asked = asked[doctor.area_of[asked] < 10][:500]
    yield from blocks(asked)
    yield from blocks(missed(doctor, asked))


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of doctor: a way of working, and any values that differ from the others'."""

    name: str
    way: Way
    right_fraction: float = 0.0
    gain: float = 0.0
    papers: int = 0
    harder: float = 0.0
    planned: int = 1000
    bank: int = 2000


KINDS = (
    Kind(name="no retries", way=no_retries, planned=600),
    Kind(name="random second round", way=second_round, planned=1600),
    Kind(name="half a second round", way=half_second_round, planned=1200),
    Kind(name="misses once", way=misses_once, planned=700),
    Kind(name="misses right twice", way=misses_twice_right, planned=1200),
    Kind(name="misses within a week", way=drilled, planned=1000),
    Kind(name="misses among the new", way=mixed_retries, planned=750),
    Kind(name="by area", way=by_area, planned=1200),
    Kind(name="120 answers", way=few, planned=120),
    Kind(name="15,000 answers", way=many, planned=15000, bank=5500),
    Kind(name="92% right", way=misses_once, right_fraction=0.92, planned=550),
    Kind(name="36% right", way=misses_once, right_fraction=0.36, planned=820),
    Kind(name="improving", way=misses_once, gain=0.9, planned=700),
    Kind(name="improving, no retries", way=no_retries, gain=0.9, planned=600),
    Kind(name="a fortnight of nights", way=nights, planned=800),
    Kind(name="harder bank, two papers", way=two_banks, harder=1.5, papers=2, planned=900),
    Kind(name="two banks alike, two papers", way=two_banks, papers=2, planned=900),
    Kind(name="five areas untouched", way=some_areas, planned=700),
)


def draw_doctor(kind: Kind, rng: np.random.Generator, *, learning: bool) -> Doctor:
    """Draw a doctor of a kind: level, areas, recognition and day-to-day variation."""
    level = rng.normal(0.9, 0.5)
    if kind.right_fraction:
        odds = math.log(kind.right_fraction / (1 - kind.right_fraction))
        level = odds * math.sqrt(1 + 0.346 * (ITEM_SPREAD**2 + AREA_SPREAD**2))
    gain = kind.gain or (float(rng.uniform(0.1, 0.7)) if learning else 0.0)
    gain *= min(1.0, kind.planned / 500)
    area_of = rng.choice(len(BLUEPRINT), kind.bank, p=np.asarray(BLUEPRINT) / sum(BLUEPRINT))
    hardness = rng.normal(0, ITEM_SPREAD, kind.bank)
    second = rng.random(kind.bank) < 0.5 if kind.way is two_banks else np.zeros(kind.bank, bool)
    hardness[second] += kind.harder
    return Doctor(
        rng=rng,
        level=float(level - (0.5 * gain if kind.right_fraction else 0.0)),
        by_area=rng.normal(0, AREA_SPREAD, len(BLUEPRINT)),
        gain=gain,
        lift=float(rng.normal(0.1, 0.5)),
        taught=float(abs(rng.normal(0.0, 0.3))),
        day_spread=float(abs(rng.normal(0, 0.15))),
        hardness=hardness,
        area_of=area_of.astype(int),
        source_of=["harbour" if own else "north" for own in second],
        shown_of=np.arange(kind.bank),
        planned=kind.planned + PAPER * kind.papers,
        harder=kind.harder,
    )


def live(kind: Kind, number: int, seed: int, *, learning: bool) -> Doctor:
    """Run one doctor's whole log, with papers two thirds through and at the end."""
    places = [k.name for k in KINDS]
    rng = np.random.default_rng([seed, places.index(kind.name), number, int(learning)])
    doctor = draw_doctor(kind, rng, learning=learning)
    drilled_once.clear()
    for gap, asked in kind.way(doctor):
        if len(doctor.papers) < kind.papers - 1 and len(doctor.days) > 0.5 * kind.planned:
            doctor.sit_paper()
        doctor.answer(gap, asked)
    while len(doctor.papers) < kind.papers:
        doctor.sit_paper()
    return doctor
