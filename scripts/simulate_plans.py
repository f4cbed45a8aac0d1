"""Six doctors follow the plan for thirty days: what it asks of them, and how steady it is.

    python scripts/simulate_plans.py
    git worktree add ../before 752f599 && python scripts/simulate_plans.py --before ../before
    python scripts/simulate_plans.py --moved

In each situation the day's plan is carried out (answers are drawn at random from a seed), and the
next day is planned from the resulting log. The table shows how the minutes were spent, how many
study days were idle while something was due, and on how many days new questions came from the areas
planned the day before. With --before the plan is that of an earlier version of the code, which had
other records: its reading is counted as notes, and what its days would have needed with review is
in a column of its own. With --moved the exam of situation (e) is moved by four months on day 15.
"""

from __future__ import annotations

import argparse
import random
import sys
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
if "--before" in sys.argv:
    sys.path.insert(0, str(Path(sys.argv[sys.argv.index("--before") + 1]).resolve()))

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Note, Reading
from kb.core.settings import Area, Exam, ItemRange, Rota, Source, Study
from kb.formats.rota import STARTING_SHIFTS
from kb.planning.workload import situation

BEFORE = "--before" in sys.argv
if BEFORE:
    from kb.planning.remedies import plan_for  # type: ignore[import-not-found]
    from kb.planning.reserve import (  # type: ignore[import-not-found]
        bank_questions,
        kept_unseen,
    )
else:
    from kb.planning.held_back import bank_questions, kept_unseen
    from kb.planning.workload import plan_for

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kb.core.ids import Outcome

START = date(2027, 1, 4)
AREAS = tuple(
    Area(id=AreaId(f"area-{n}"), name=f"Area {n}", item_count=items)
    for n, items in enumerate((28, 26, 24, 22, 20, 18, 16, 14, 12, 10, 6, 4), start=1)
)
MISS, MISS_AGAIN = 0.35, 0.25
"""Shares wrong of new questions and of retries (a usual candidate; no source)."""
SECONDS = 80.0
MOVED_DAYS = 122
REVIEW_MINUTES = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One situation: days to the exam, banks, share met, papers, and the weeks of the rota."""

    name: str
    days: int
    banks: tuple[int, ...]
    met: float
    papers: int
    weeks: tuple[tuple[str, ...], ...]
    notes: int = 60


OFFICE = (("day",) * 5 + ("off",) * 2,)
ROLLING = (
    ("day", "day", "day", "day", "day", "off", "off"),
    ("night", "night", "night", "night", "off", "off", "off"),
    ("day", "long", "day", "day", "day", "off", "off"),
    ("off", "day", "day", "day", "long", "long", "long"),
)
PART_TIME = (("day", "day", "day", "off", "off", "holiday", "holiday"),)
CASES = (
    Case(name="a", days=140, banks=(2400,), met=0.0, papers=3, weeks=ROLLING),
    Case(name="b", days=56, banks=(2500, 2500), met=0.3, papers=3, weeks=OFFICE),
    Case(name="c", days=21, banks=(2400,), met=0.6, papers=2, weeks=OFFICE),
    Case(name="d", days=90, banks=(2000,), met=0.2, papers=2, weeks=PART_TIME),
    Case(name="e", days=170, banks=(2400,), met=0.9, papers=3, weeks=OFFICE),
    Case(name="f", days=5, banks=(2400,), met=0.7, papers=1, weeks=OFFICE),
)


def make(case: Case, rng: random.Random) -> Base:
    """The base of a situation on its first day."""
    exam = Exam(name=case.name, date=START + timedelta(days=case.days), areas=AREAS)
    sources = [_bank(f"bank-{n}", items) for n, items in enumerate(case.banks, start=1)]
    for n in range(1, case.papers + 1):
        kind = "mock" if n == case.papers else "paper"
        name = "mock" if n == case.papers else f"paper-{n}"
        sources.append(Source(id=name, name=name, kind=kind, item_count=200))  # type: ignore[arg-type]
    rota = Rota(starts=START, shifts=STARTING_SHIFTS, weeks=case.weeks)
    study = Study(timezone="Europe/London", sources=tuple(sources), rota=rota)
    base = Base(exam=exam, study=study)
    bank = list(bank_questions(study).items())
    met = rng.sample(bank, int(case.met * len(bank)))
    attempts = [
        _answer(question, area, START - timedelta(days=rng.randint(4, 60)), rng.random() > MISS)
        for question, area in met
    ]
    missed = [attempt for attempt in attempts if not attempt.right]
    notes = tuple(
        Note(
            id=NoteId(f"n{n}"),
            path=f"n{n}.md",
            title=f"Note {n}",
            areas=(AREAS[n % len(AREAS)].id,),
            questions=(missed[n].question,) if n < len(missed) else (),
            written_on=START - timedelta(days=rng.randint(1, 60)),
            word_count=90,
        )
        for n in range(case.notes)
    )
    attempts.sort(key=lambda attempt: attempt.at)
    return replace(base, attempts=tuple(attempts), notes=notes)


def _bank(name: str, items: int) -> Source:
    """A bank numbered by area, in the blueprint's shares."""
    total, at, spans = sum(area.item_count for area in AREAS), 0, []
    for area in AREAS:
        last = round(items * sum(a.item_count for a in AREAS[: AREAS.index(area) + 1]) / total)
        spans.append(ItemRange(first=at + 1, last=last, area=area.id))
        at = last
    return Source(id=name, name=name, item_count=items, ranges=tuple(spans))


def _answer(
    question: QuestionId, area: AreaId, day: date, right: bool, round_: str = ""
) -> Attempt:
    at = datetime.combine(day, time(18), UTC)
    outcome: Outcome = "right" if right else "wrong"
    return Attempt(
        id=AttemptId(f"{question}-{day}"),
        at=at,
        question=question,
        area=area,
        outcome=outcome,
        seconds=SECONDS,
        round=round_,  # type: ignore[arg-type]
        sitting=question.partition(":")[0] if round_ == "paper" else "",
    )


def marks(base: Base) -> dict[AreaId, float]:
    """Marks at risk by area, from the share wrong, shrunk to a third with weight ten."""
    found = {}
    for area in base.exam.areas:
        own = [a.right for a in base.attempts if a.area == area.id]
        wrong = (len(own) - sum(own) + 10 * MISS) / (len(own) + 10)
        found[area.id] = area.item_count * wrong
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Lived:
    """One day's plan, with what the day before had planned for it."""

    day: Any
    foreseen: tuple[AreaId, ...] | None
    due: bool
    study_minutes: int
    last: int

    @property
    def areas(self) -> tuple[AreaId, ...]:
        """Areas of the day's new questions."""
        return tuple(area for area, _ in self.day.new)

    @property
    def idle(self) -> bool:
        """Whether a study day has nothing planned although something is due."""
        return bool(self.due and self.study_minutes >= 10 and self.day.used_minutes < 1)


def live(
    case: Case, days: int = 30, *, does: str = "all", seed: int = 1, moved_on: int = -1
) -> list[Lived]:
    """Live `days` days of a situation; `does` is `all`, `none` or `double` (tomorrow's as well).

    On day `moved_on` the exam is moved by four months.
    """
    rng = random.Random(f"{case.name} {seed}")
    base = make(case, rng)
    weights: dict[AreaId, float] = {}
    found: list[Lived] = []
    foreseen: tuple[AreaId, ...] | None = None
    for number in range(min(days, case.days)):
        today = START + timedelta(days=number)
        if number == moved_on:
            later = base.exam.date + timedelta(days=MOVED_DAYS)
            base = replace(base, exam=replace(base.exam, date=later))
        if not weights or not today.weekday():
            weights = marks(base)
        now = situation(base, today, weights)
        days_ahead: Sequence[Any] = plan_for(now).days
        if BEFORE:
            days_ahead = [Earlier(one, now.work) for one in days_ahead]
        day = days_ahead[0]
        waiting = BEFORE or any(row.due <= today for row in now.work.returning)
        found.append(
            Lived(
                day=day,
                foreseen=foreseen if today.weekday() else None,
                due=waiting or bool(now.work.areas),
                study_minutes=day.minutes if BEFORE else now.days()[0].minutes,
                last=(base.exam.date - today).days,
            )
        )
        foreseen = tuple(a for a, _ in days_ahead[1].new) if len(days_ahead) > 1 else None
        if does != "none":
            for one in days_ahead[: 2 if does == "double" else 1]:
                base = done(base, one, today, rng)
    return found


class Earlier:
    """A day of the plan before the twelve rules, with the names of the present one.

    A day that held reading alone counts as idle. What it needs includes the review of its misses
    and of its papers, for which it kept no time.
    """

    def __init__(self, day: Any, work: Any) -> None:  # noqa: ANN401 - records of earlier code
        self.day, self.minutes, self.new, self.paper, self.notes = (
            *(day.day, day.minutes, day.first),
            *(None, None),
        )
        self.half_papers = day.paper_count + 2 * day.mock
        self.note_minutes, self.missed_count = day.reading_minutes, 0
        self.new_minutes = day.first_count * work.seconds / 60
        self.mixed_minutes = day.second_count * work.seconds / 60
        self.paper_minutes = self.half_papers * work.paper_minutes
        self.missed_minutes = self.review_minutes = self.spare_minutes = 0
        self.used_minutes = self.new_minutes + self.mixed_minutes + self.paper_minutes
        missed = MISS * day.first_count + MISS_AGAIN * day.second_count
        self.needs = self.used_minutes + missed * REVIEW_MINUTES + 0.4 * self.paper_minutes


def _next_parts(base: Base, count: int) -> list[tuple[str, int]]:
    """The first parts of papers in which nothing was answered."""
    met = {attempt.question for attempt in base.attempts}
    parts = [(s.id, part) for s in base.study.sources if s.kind != "bank" for part in (1, 2)]
    return [(name, n) for name, n in parts if f"{name}:{100 * n}" not in met][:count]


def done(base: Base, plan: Any, today: date, rng: random.Random) -> Base:  # noqa: ANN401
    """The base after a day's plan has been carried out, all of it on `today`."""
    met = {attempt.question for attempt in base.attempts}
    kept = kept_unseen(base)
    bank = bank_questions(base.study)
    new: list[Attempt] = []
    parts: list[tuple[str, int]] = []
    if BEFORE:
        parts = _next_parts(base, plan.half_papers)
    else:
        from kb.planning.held_back import protected
        from kb.planning.missed import missed_questions

        kept = protected(base, kept, today)
        due = [m for m in missed_questions(base, base.exam.date) if m.due <= today]
        for missed in due[: plan.missed_count]:
            new.append(_answer(missed.question, missed.area, today, rng.random() > MISS_AGAIN))
        if plan.paper:
            parts = [(plan.paper.paper.name, part) for part in plan.paper.parts]
    for area, count in plan.new:
        fresh = [q for q, a in bank.items() if a == area and q not in met and q not in kept]
        new += [_answer(q, area, today, rng.random() > MISS) for q in fresh[:count]]
    for name, part in parts:
        for item in range(100 * (part - 1) + 1, 100 * part + 1):
            area = AREAS[item % len(AREAS)].id
            right = rng.random() > MISS
            new.append(_answer(QuestionId(f"{name}:{item}"), area, today, right, "paper"))
    held = tuple(plan.notes.notes) if plan.notes else ()
    readings = tuple(
        Reading(
            id=f"{note.note}-{today}",
            at=datetime.combine(today, time(7), UTC),
            note=note.note,
            seconds=note.seconds,
        )
        for note in held
    )
    fresh_rows = {attempt.id: attempt for attempt in new}
    return replace(
        base,
        attempts=(*base.attempts, *fresh_rows.values()),
        readings=(*base.readings, *readings),
    )


def steady(lived: list[Lived]) -> float:
    """Share of days, except Mondays, whose new questions came from the areas planned."""
    known = [one for one in lived if one.foreseen is not None and (one.areas or one.foreseen)]
    same = sum(set(one.areas) == set(one.foreseen or ()) for one in known)
    return same / len(known) if known else 1.0


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=30)
    parser.add_argument("--seeds", type=int, default=4, help="the minutes are of the first")
    parser.add_argument("--before", type=Path, help="a checkout of the earlier code")
    parser.add_argument("--moved", action="store_true", help="move the exam of (e) on day 15")
    given = parser.parse_args()
    cases = [case for case in CASES if case.name == "e"] if given.moved else CASES
    print("| case | week | notes | missed | new | mixed | papers | review | spare | minutes |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    ends = []
    for case in cases:
        seeds = [
            live(case, given.days, seed=seed, moved_on=15 if given.moved else -1)
            for seed in range(1, given.seeds + 1)
        ]
        lived = seeds[0]
        for week in range(0, len(lived), 7):
            days = [one.day for one in lived[week : week + 7]]
            sums = [
                sum(day.note_minutes for day in days),
                sum(day.missed_minutes for day in days),
                sum(day.new_minutes for day in days),
                sum(day.mixed_minutes for day in days),
                sum(day.paper_minutes for day in days),
                sum(day.review_minutes for day in days),
                sum(day.spare_minutes for day in days),
                sum(day.minutes for day in days),
            ]
            print(f"| {case.name} | {week // 7 + 1} | {' | '.join(f'{n:.0f}' for n in sums)} |")
        lived = [one for each in seeds for one in each]
        idle = sum(one.idle for one in lived) / len(seeds)
        full = max(
            (one.day.needs if BEFORE else one.day.used_minutes) / one.day.minutes
            for one in lived
            if one.day.minutes
        )
        ends.append(f"| {case.name} | {idle:g} | {100 * steady(lived):.0f}% | {100 * full:.0f}% |")
    print("\n| case | idle study days | areas as foreseen | fullest day |")
    print("| --- | --- | --- | --- |")
    print("\n".join(ends))


if __name__ == "__main__":
    main()
