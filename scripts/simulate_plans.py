"""Six doctors follow the plan for thirty days: what it asks of them, and how steady it is.

    python scripts/simulate_plans.py

In each situation the day's plan is carried out (answers are drawn at random from a seed), and the
next day is planned from the resulting log. The table shows how the minutes were spent, how many
study days were idle while something was due, and on how many days new questions came from the areas
planned the day before.
"""

from __future__ import annotations

import argparse
import random
import sys
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Note, Reading
from kb.core.settings import Area, Exam, ItemRange, Rota, Source, Study
from kb.formats.rota import STARTING_SHIFTS
from kb.planning.held_back import bank_questions
from kb.planning.workload import plan_for, situation

if TYPE_CHECKING:
    from kb.core.ids import Outcome
    from kb.planning.plan_records import DayPlan

START = date(2027, 1, 4)
AREAS = tuple(
    Area(id=AreaId(f"area-{n}"), name=f"Area {n}", item_count=items)
    for n, items in enumerate((28, 26, 24, 22, 20, 18, 16, 14, 12, 10, 6, 4), start=1)
)
MISS, MISS_AGAIN = 0.35, 0.25
"""Shares wrong of new questions and of retries (a usual candidate; no source)."""
SECONDS = 80.0


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

    day: DayPlan
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
        return self.due and self.study_minutes >= 10 and self.day.used_minutes < 1


def live(case: Case, days: int = 30, *, does: str = "all", seed: int = 1) -> list[Lived]:
    """Live `days` days of a situation; `does` is `all`, `none` or `double` (tomorrow's as well)."""
    rng = random.Random(f"{case.name} {seed}")
    base = make(case, rng)
    weights: dict[AreaId, float] = {}
    found: list[Lived] = []
    foreseen: tuple[AreaId, ...] | None = None
    for number in range(min(days, case.days)):
        today = START + timedelta(days=number)
        if not weights or not today.weekday():
            weights = marks(base)
        now = situation(base, today, weights)
        plan = plan_for(now)
        day = plan.days[0]
        waiting = any(row.due <= today for row in now.work.returning)
        found.append(
            Lived(
                day=day,
                foreseen=foreseen if today.weekday() else None,
                due=waiting or bool(now.work.areas),
                study_minutes=now.days()[0].minutes,
                last=(now.exam_day - today).days,
            )
        )
        foreseen = tuple(area for area, _ in plan.days[1].new) if len(plan.days) > 1 else None
        if does != "none":
            for one in plan.days[: 2 if does == "double" else 1]:
                base = done(base, one, today, rng)
    return found


def done(base: Base, plan: DayPlan, today: date, rng: random.Random) -> Base:
    """The base after a day's plan has been carried out, all of it on `today`."""
    from kb.planning.held_back import kept_unseen
    from kb.planning.missed import missed_questions

    met = {attempt.question for attempt in base.attempts}
    kept = kept_unseen(base)
    bank = bank_questions(base.study)
    new: list[Attempt] = []
    due = [m for m in missed_questions(base, base.exam.date) if m.due <= today]
    for missed in due[: plan.missed_count]:
        new.append(_answer(missed.question, missed.area, today, rng.random() > MISS_AGAIN))
    for area, count in plan.new:
        fresh = [q for q, a in bank.items() if a == area and q not in met and q not in kept]
        new += [_answer(q, area, today, rng.random() > MISS) for q in fresh[:count]]
    if plan.paper:
        each = 100
        for part in plan.paper.parts:
            for item in range((part - 1) * each + 1, part * each + 1):
                question = QuestionId(f"{plan.paper.paper.name}:{item}")
                area = AREAS[item % len(AREAS)].id
                new.append(_answer(question, area, today, rng.random() > MISS, "paper"))
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
    if not known:
        return 1.0
    return sum(set(one.areas) == set(one.foreseen or ()) for one in known) / len(known)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=30)
    given = parser.parse_args()
    print("| case | week | notes | missed | new | mixed | papers | review | spare | minutes |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    ends = []
    for case in CASES:
        lived = live(case, given.days)
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
        idle = sum(one.idle for one in lived)
        ends.append(f"| {case.name} | {idle} | {100 * steady(lived):.0f}% |")
    print("\n| case | idle study days | areas as foreseen |\n| --- | --- | --- |")
    print("\n".join(ends))


if __name__ == "__main__":
    main()
