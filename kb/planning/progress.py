"""Planned against done: what the plan of an earlier day asked for, and what the log then held."""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, timedelta

from kb.core.base_views import split_after
from kb.core.last_base import kept_for_last_base
from kb.core.model import Base
from kb.core.wording import counted
from kb.planning.pace import in_paper, paper_prefixes
from kb.planning.workload import plan_for, plan_of, situation

PROGRESS_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class DayProgress:
    """Questions of one day, those of papers apart; `done_count` is None from today on.

    `planned_count` is None on a day before the base had a plan. A day ahead is `free` when it is
    kept without study by a setting of rest.
    """

    day: date
    planned_count: int | None
    done_count: int | None
    paper_count: int = 0
    free: bool = False


def days_done(base: Base, start: date, today: date) -> tuple[DayProgress, ...]:
    """Each day from `start` to the eve of `today`: what was planned, and what was done.

    The plan is the one that the log before `start` would have given. A base without an answer
    before that day had none, and neither had one that was begun later and fed with older answers.
    """
    earlier, late = split_after(base.attempts, start - timedelta(days=1))
    planned: dict[date, int] = {}
    planned_then = bool(earlier) and (base.begun_on is None or base.begun_on < start)
    if planned_then:
        readings = tuple(r for r in base.readings if r.at.date() < start)
        then = replace(base, attempts=earlier, readings=readings)
        days = plan_for(situation(then, start, {})).days
        planned = {day.day: day.question_count for day in days}
    papers = paper_prefixes(base)
    sat = Counter(attempt.day for attempt in late if in_paper(attempt, papers))
    done = Counter(attempt.day for attempt in late) - sat
    past = [start + timedelta(days=number) for number in range((today - start).days)]
    return tuple(
        DayProgress(
            day=day,
            planned_count=planned.get(day, 0) if planned_then else None,
            done_count=done[day],
            paper_count=sat[day],
        )
        for day in past
    )


def past_and_coming(base: Base, today: date, back_days: int) -> tuple[DayProgress, ...]:
    """Planned against done for the `back_days` before `today`, then the plan from `today` on.

    The past is taken in stretches of `PROGRESS_DAYS` days, each against the plan that its own
    first day would have given, so that the last stretch is what `progress_line` says. Days
    before the base had a plan are left out.
    """
    found: list[DayProgress] = []
    for back in range(back_days // PROGRESS_DAYS * PROGRESS_DAYS, 0, -PROGRESS_DAYS):
        start = today - timedelta(days=back)
        days = days_done(base, start, start + timedelta(days=PROGRESS_DAYS))
        found += [day for day in days if day.planned_count is not None]
    _, plan = plan_of(base, today)
    found += [
        DayProgress(
            day=day.day, planned_count=day.question_count, done_count=None, free=day.kept_free
        )
        for day in plan.days
    ]
    return tuple(found)


@kept_for_last_base
def progress_line(base: Base, today: date) -> str:
    """Progress against the plan in one line: what the last seven days held and were to hold.

    Empty when there is nothing to say: no answer yet, none in a week without a plan, or the exam is
    over.
    """
    if not base.attempts or today > base.exam.date:
        return ""
    days = days_done(base, today - timedelta(days=PROGRESS_DAYS), today)
    done = sum(day.done_count or 0 for day in days)
    planned = sum(day.planned_count or 0 for day in days)
    sat = sum(day.paper_count for day in days)
    if not (done or planned or sat):
        return ""
    text = f"Last {PROGRESS_DAYS} days: {counted(done, 'question')} answered"
    if planned:
        text += f" of {planned} planned"
    return f"{text}, and {sat} in papers." if sat else f"{text}."
