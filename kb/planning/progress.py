"""Planned against done: what the plan of an earlier day asked for, and what the log then held."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING

from kb.core.wording import counted
from kb.planning.remedies import hours_text, plan_for
from kb.planning.workload import in_paper, paper_prefixes, situation

if TYPE_CHECKING:
    from collections.abc import Mapping

    from kb.core.ids import AreaId
    from kb.core.model import Base
    from kb.planning.scheduler import Plan

PROGRESS_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class DayProgress:
    """Questions of both rounds on one day, papers left out; `done_count` is None ahead of today.

    A day ahead is `free` when it is kept without study by a setting of rest.
    """

    day: date
    planned_count: int
    done_count: int | None
    free: bool = False


def days_done(
    base: Base, start: date, today: date, marks: Mapping[AreaId, float] | None = None
) -> tuple[DayProgress, ...]:
    """Each day from `start` to the eve of `today`: what was planned, and what was done.

    The plan is the one that the log before `start` would have given. Empty when there is nothing
    to compare: no bank with counted items, or no answer before `start`.

    Source: own, both figures come from the log.
    """
    # Answers stand in order of time; where the doctor was, the day began at most two days later.
    moment = datetime.combine(start - timedelta(days=2), time.min, UTC)
    cut = bisect_left(base.attempts, moment, key=lambda attempt: attempt.at)
    late = base.attempts[cut:]
    earlier = (*base.attempts[:cut], *(attempt for attempt in late if attempt.day < start))
    then = replace(base, attempts=earlier, readings=())
    before = situation(then, start, marks or {})
    if not before.bank_count or not then.attempts:
        return ()
    planned = {day.day: day.question_count for day in plan_for(before).days}
    papers = paper_prefixes(base)
    done: dict[date, int] = {}
    for attempt in late:
        if not in_paper(attempt, papers):
            done[attempt.day] = done.get(attempt.day, 0) + 1
    days = [start + timedelta(days=number) for number in range((today - start).days)]
    return tuple(
        DayProgress(day=day, planned_count=planned.get(day, 0), done_count=done.get(day, 0))
        for day in days
    )


def past_and_coming(base: Base, today: date, back_days: int) -> tuple[DayProgress, ...]:
    """Planned against done for the `back_days` before `today`, then the plan from `today` on.

    The past is taken in stretches of `PROGRESS_DAYS` days, each against the plan that its own
    first day would have given, so that the last stretch is what `progress_line` says.

    Source: own, see `days_done`.
    """
    found: list[DayProgress] = []
    for back in range(back_days // PROGRESS_DAYS * PROGRESS_DAYS, 0, -PROGRESS_DAYS):
        start = today - timedelta(days=back)
        found += days_done(base, start, start + timedelta(days=PROGRESS_DAYS))
    plan = plan_for(situation(base, today, {}))
    found += [
        DayProgress(
            day=day.day, planned_count=day.question_count, done_count=None, free=day.kept_free
        )
        for day in plan.days
    ]
    return tuple(found)


def progress_line(base: Base, today: date, marks: Mapping[AreaId, float] | None = None) -> str:
    """Progress against plan in one line: what the last seven days were to hold, and what they held.

    Empty when there is nothing to compare, see `days_done`.

    Source: own, both figures come from the log.
    """
    if not base.attempts or today > base.exam.date:
        return ""
    days = days_done(base, today - timedelta(days=PROGRESS_DAYS), today, marks)
    if not days:
        return ""
    planned = sum(day.planned_count for day in days)
    done = sum(day.done_count or 0 for day in days)
    plan = plan_for(situation(base, today, marks or {}))
    return f"Last {PROGRESS_DAYS} days: {done} of {planned} planned questions done; {_ahead(plan)}."


def _ahead(plan: Plan) -> str:
    if plan.fits:
        return f"the plan fits with {counted(plan.slack_days, 'study day')} to spare"
    return f"the plan is short by {hours_text(plan.missing_minutes)}"
