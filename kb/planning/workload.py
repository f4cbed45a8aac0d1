"""What is still to be done, read from the base: the input of the plan."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from kb.planning.reserve import bank_questions, kept_unseen, unmet_by_area
from kb.planning.scheduler import AreaWork, Work, order_areas
from kb.planning.study_days import OFFICE, study_days

if TYPE_CHECKING:
    from collections.abc import Mapping

    from kb.core.ids import AreaId
    from kb.core.model import Attempt, Base
    from kb.core.settings import PlanSettings, Rota
    from kb.planning.study_days import StudyDay

RECENT_COUNT, LEAST_COUNT = 200, 20
"""The pace is the mean of the last 200 timed answers, once there are 20."""
LONGEST_SECONDS = 900.0
"""A longer time for one question is a break, not a pace."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """All that the plan depends on. `spent_minutes` were used today already.

    `second_done` and `bank_count` (reserve left out) are questions; `timed_count` answers stand
    behind the pace, 0 when it is the exam's own or was set. `unplanned` sources count no items.
    """

    today: date
    exam_day: date
    zone: str
    rota: Rota
    work: Work
    settings: PlanSettings
    spent_minutes: int = 0
    first_done: int = 0
    second_done: int = 0
    bank_count: int = 0
    kept_count: int = 0
    timed_count: int = 0
    assumed_rota: bool = False
    unplanned: tuple[str, ...] = ()

    def days(self, last: date | None = None) -> tuple[StudyDay, ...]:
        """What each day leaves, from today to the eve of the exam (or to `last`)."""
        last = last or self.exam_day - timedelta(days=1)
        if last < self.today:
            return ()
        found = study_days(self.rota, ZoneInfo(self.zone), self.today, last)
        left = max(0, found[0].minutes - self.spent_minutes)
        today = replace(found[0], minutes=left, spent_minutes=self.spent_minutes)
        return (today, *found[1:])


def seconds_per_question(base: Base) -> tuple[float, int]:
    """The learner's own time for one question, and how many answers it was measured on.

    The mean of the last timed answers outside papers; the exam's own pace until there are enough.

    Source: own, because only the learner's own log can tell.
    """
    papers = paper_prefixes(base)
    timed: list[float] = []
    for attempt in reversed(base.attempts):
        seconds = attempt.seconds
        if seconds and seconds <= LONGEST_SECONDS and not in_paper(attempt, papers):
            timed.append(seconds)
            if len(timed) == RECENT_COUNT:
                break
    if len(timed) < LEAST_COUNT:
        return base.exam.seconds_per_item, 0
    return sum(timed) / len(timed), len(timed)


def paper_prefixes(base: Base, kinds: tuple[str, ...] = ("paper", "mock")) -> tuple[str, ...]:
    """What the references of all questions of such sources begin with.

    Source: own, because it only looks them up.
    """
    return tuple(f"{source.id}:" for source in base.study.sources if source.kind in kinds)


def in_paper(attempt: Attempt, papers: tuple[str, ...]) -> bool:
    """Whether an answer was part of a paper, by its round or by `paper_prefixes`.

    Source: own, because it only looks it up.
    """
    return attempt.round == "paper" or attempt.question.startswith(papers)


def situation(base: Base, today: date, marks: Mapping[AreaId, float]) -> Situation:
    """What the log says is done and what is left, as of `today`.

    Args:
        base: The base as it stands on `today`.
        today: The first day to plan.
        marks: Marks at risk by area; an area that is missing counts as 0.

    Source: own, because it only counts.
    """
    settings, exam = base.study.plan, base.exam
    kept = kept_unseen(base)
    bank = bank_questions(base.study)
    measured, timed_count = seconds_per_question(base)
    seconds = settings.seconds or measured
    second = {a.question for a in base.attempts if a.round == "second" and a.question in bank}
    bank_count = len(bank) - len(kept)
    unmet = unmet_by_area(base, kept)
    areas = [AreaWork(area=a, count=n, marks=marks.get(a, 0.0)) for a, n in unmet.items()]
    papers_done, mock_done = _papers_done(base)
    work = Work(
        areas=order_areas(areas, settings.area_order),
        second_count=max(0, round(settings.second_fraction * bank_count) - len(second)),
        paper_count=max(0, settings.paper_count - papers_done),
        mock=settings.mock and not mock_done,
        seconds=seconds,
        paper_minutes=exam.paper_minutes,
        mock_minutes=exam.paper_minutes * exam.paper_count,
    )
    return Situation(
        today=today,
        exam_day=exam.date,
        zone=base.study.timezone,
        rota=base.study.rota or OFFICE,
        work=work,
        settings=settings,
        spent_minutes=_spent_minutes(base, today, seconds),
        first_done=bank_count - sum(unmet.values()),
        second_done=len(second),
        bank_count=bank_count,
        kept_count=len(kept),
        timed_count=0 if settings.seconds else timed_count,
        assumed_rota=base.study.rota is None,
        unplanned=tuple(
            source.id
            for source in base.study.sources
            if source.kind == "bank" and not source.item_count and not source.ranges
        ),
    )


def _papers_done(base: Base) -> tuple[int, bool]:
    """Papers' worth of items answered so far, and whether a mock was sat."""
    papers, mocks = paper_prefixes(base, ("paper",)), paper_prefixes(base, ("mock",))
    items_each = max(1, base.exam.item_count // base.exam.paper_count)
    answered, mock = set(), False
    for attempt in base.attempts:
        if attempt.question.startswith(mocks):
            mock = True
        elif in_paper(attempt, papers):
            answered.add((attempt.question, attempt.sitting))
    return len(answered) // items_each, mock


def _spent_minutes(base: Base, today: date, seconds: float) -> int:
    """Minutes used today already, for questions and for notes."""
    answered = sum(a.seconds or seconds for a in base.attempts if a.day == today)
    read = sum(r.seconds or 0.0 for r in base.readings if r.at.date() == today)
    return int((answered + read) / 60)
