"""The plan for a base: computed from the log every time, with what each remedy buys if it is tight.

The model and its proof are in `schedule`; this module asks it again and again with one thing
changed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from kb.core.ids import AreaId
from kb.core.wording import counted, dated
from kb.planning.calendar_entries import Entry
from kb.planning.scheduler import Plan, schedule
from kb.planning.workload import Situation

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from kb.core.model import Base
    from kb.planning.scheduler import DayPlan
    from kb.stats.marks_at_risk import Risk

MOST_EXTRA_MINUTES = 360
LATER_DAYS = 182
"""How far the remedies look: six more hours a day, an exam half a year later."""
MOST_PAPER_DAYS, MOST_PAPER_DAY_MINUTES = 42, 480


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """One change, whether it is enough alone, and how many planned questions it makes room for.

    Papers count by their minutes, as so many questions.
    """

    key: str
    change: str
    enough: bool
    minutes_gained: int


def area_marks(base: Base, today: date, risk: Risk | None = None) -> dict[AreaId, float]:
    """Marks at risk in each area of the blueprint: its items x the chance of missing one.

    Before the first answer every item counts as at risk. `risk` is what is at risk, if the caller
    has worked it out already.

    Source: own, because it carries the standing of an area over to its items.
    """
    from kb.stats.marks_at_risk import Risk

    if not base.attempts:
        return {area.id: float(area.item_count) for area in base.exam.areas}
    risk = risk or Risk(base, today)
    return {a.id: a.item_count * (1 - risk.standing(a.id).mean) for a in base.exam.areas}


def plan_for(now: Situation) -> Plan:
    """The plan for one situation.

    Source: own, the model of `schedule`.
    """
    return schedule(now.days(), now.work, now.settings)


def with_minutes(now: Situation, extra: int) -> Situation:
    """The same with `extra` minutes on every kind of day that has study minutes; rest still counts.

    Source: own, because it only changes a setting.
    """
    shifts = tuple(
        replace(shift, study_minutes=max(0, shift.study_minutes + extra))
        if shift.study_minutes
        else shift
        for shift in now.rota.shifts
    )
    return replace(now, rota=replace(now.rota, shifts=shifts))


def with_sample(now: Situation, fraction: float) -> Situation:
    """The same with a second round over `fraction` of the bank.

    Source: own, because it only changes a setting.
    """
    count = max(0, round(fraction * now.bank_count) - now.second_done)
    settings = replace(now.settings, second_fraction=fraction)
    return replace(now, work=replace(now.work, second_count=count), settings=settings)


def with_papers(now: Situation, count: int) -> Situation:
    """The same with `count` papers left; the days kept for papers shrink in proportion.

    Source: own, because it only changes a setting.
    """
    most = now.work.paper_count + now.work.mock
    share = (count + now.work.mock) / most if most else 1.0
    days = -(-now.settings.paper_days * share // 1)
    settings = replace(now.settings, paper_days=int(days))
    return replace(now, work=replace(now.work, paper_count=count), settings=settings)


def remedies(now: Situation) -> tuple[Remedy, ...]:
    """What would make a plan fit that does not: each change computed alone, in a fixed order.

    Empty when the plan fits.

    Source: own, each is the plan computed again with one thing changed.
    """
    plan = plan_for(now)
    if plan.fits:
        return ()
    alone: tuple[Remedy, ...] = (
        _more_minutes(now, plan),
        _smaller_sample(now, plan),
        _fewer_papers(now, plan),
        _longer_window(now, plan),
        _longer_paper_days(now, plan),
        _later_sitting(now, plan),
    )
    alone = tuple(remedy for remedy in alone if remedy.minutes_gained > 0)
    if any(remedy.enough for remedy in alone):
        return alone
    return (*alone, _together(now, plan))


def _more_minutes(now: Situation, plan: Plan) -> Remedy:
    low, high = 0, MOST_EXTRA_MINUTES
    best = plan_for(with_minutes(now, high))
    enough = best.fits
    while enough and high - low > 1:
        middle = (low + high) // 2
        if plan_for(with_minutes(now, middle)).fits:
            high = middle
        else:
            low = middle
    extra = high if enough else 60
    gained = plan.missing_minutes - plan_for(with_minutes(now, extra)).missing_minutes
    change = f"{extra} more minutes on each study day"
    return Remedy(key="minutes", change=change, enough=enough, minutes_gained=gained)


def _smaller_sample(now: Situation, plan: Plan) -> Remedy:
    kept = max(0, now.work.second_count - plan.second_missing)
    share = (now.second_done + kept) / now.bank_count if now.bank_count else 0.0
    share = int(share * 100) / 100
    tried = plan_for(with_sample(now, share))
    change = f"a second round over {100 * share:.0f} % of the bank" if share else "no second round"
    gained = plan.missing_minutes - tried.missing_minutes
    return Remedy(key="sample", change=change, enough=tried.fits, minutes_gained=gained)


def _try(
    plan: Plan, usual: int, values: Iterable[int], planned: Callable[[int], Plan]
) -> tuple[Plan, int]:
    """The first value that is enough, else the first of those that leave least over.

    Args:
        plan: As things are, with the value `usual`.
        usual: Stays where no value leaves less over.
        values: In the order in which they are tried.
        planned: The plan with a value.
    """
    best, chosen = plan, usual
    for value in values:
        tried = planned(value)
        if tried.fits or tried.missing_minutes < best.missing_minutes:
            best, chosen = tried, value
        if tried.fits:
            break
    return best, chosen


def _fewer_papers(now: Situation, plan: Plan) -> Remedy:
    usual = now.work.paper_count
    fewer = range(usual - 1, -1, -1)
    best, count = _try(plan, usual, fewer, lambda few: plan_for(with_papers(now, few)))
    change = f"{counted(count, 'paper')} instead of {now.work.paper_count}"
    gained = plan.missing_minutes - best.missing_minutes
    return Remedy(key="papers", change=change, enough=best.fits, minutes_gained=gained)


def _longer_window(now: Situation, plan: Plan) -> Remedy:
    """More days for papers: the fewest that are enough, else the number that leaves least over."""
    usual = now.settings.paper_days
    more = range(usual + 1, MOST_PAPER_DAYS + 1)
    best, days = _try(
        plan,
        usual,
        more,
        lambda n: plan_for(replace(now, settings=replace(now.settings, paper_days=n))),
    )
    change = f"papers over the last {days} days instead of {now.settings.paper_days}"
    gained = plan.missing_minutes - best.missing_minutes
    return Remedy(key="window", change=change, enough=best.fits, minutes_gained=gained)


def _longer_paper_days(now: Situation, plan: Plan) -> Remedy:
    """More minutes on days off among the papers: the fewest that do, or that do most."""
    usual = now.settings.paper_day_minutes
    missing = plan.papers_missing or plan.mock_missing
    more = range(usual // 30 * 30 + 30, MOST_PAPER_DAY_MINUTES + 1, 30) if missing else ()
    best, minutes = _try(
        plan,
        usual,
        more,
        lambda n: plan_for(replace(now, settings=replace(now.settings, paper_day_minutes=n))),
    )
    change = f"{minutes} minutes on a day off among the papers"
    gained = plan.missing_minutes - best.missing_minutes
    return Remedy(key="paper_days", change=change, enough=best.fits, minutes_gained=gained)


def _later_sitting(now: Situation, plan: Plan) -> Remedy:
    """A later exam: the first that is enough, else the first of those that leave least over."""
    ahead = now.days(now.exam_day + timedelta(days=LATER_DAYS - 1))
    have = (now.exam_day - now.today).days
    best, later = _try(
        plan,
        0,
        range(1, LATER_DAYS + 1),
        lambda more: schedule(ahead[: have + more], now.work, now.settings),
    )
    day = now.exam_day + timedelta(days=later)
    change = f"a sitting {counted(later, 'day')} later, on {dated(day)}"
    gained = plan.missing_minutes - best.missing_minutes
    return Remedy(key="later", change=change, enough=best.fits, minutes_gained=gained)


def _together(now: Situation, plan: Plan) -> Remedy:
    """A second round over a quarter of the bank, half the papers, and as much time as it takes."""
    papers, share = now.work.paper_count // 2, min(0.25, now.settings.second_fraction)
    lean = with_papers(with_sample(now, share), papers)
    extra = next(
        (more for more in range(0, 241, 15) if plan_for(with_minutes(lean, more)).fits), 240
    )
    tried = plan_for(with_minutes(lean, extra))
    change = f"{100 * share:.0f} % of the bank, {counted(papers, 'paper')} and {extra} more minutes"
    change = f"{change} a study day together"
    gained = plan.missing_minutes - tried.missing_minutes
    return Remedy(key="together", change=change, enough=tried.fits, minutes_gained=gained)


def hours_text(minutes: int) -> str:
    """Minutes as hours, the way a person says it.

    Source: own, because it is only wording.
    """
    return f"{minutes} minutes" if minutes < 120 else f"{minutes / 60:.0f} hours"


PAPER_START = time(9, 30)
"""When papers begin unless set: a usual hour (common practice, no source)."""


def calendar_entries(
    now: Situation, plan: Plan, names: Mapping[AreaId, str], last: date | None = None
) -> tuple[Entry, ...]:
    """The plan as calendar events: questions of a day, its papers, the mock and the exam.

    Papers of one day follow each other, with half an hour between, and never begin in time that is
    kept free.

    Source: own, because it only puts the plan into words.
    """
    found: list[Entry] = []
    for day in plan.days:
        if last is not None and day.day > last:
            break
        if day.question_count:
            found.append(_question_entry(day, names))
        found += _paper_entries(now, day)
    if last is None or now.exam_day <= last:
        found.append(Entry(day=now.exam_day, kind="exam", title="The exam"))
    return tuple(found)


def _question_entry(day: DayPlan, names: Mapping[AreaId, str]) -> Entry:
    parts = [f"{count} {names.get(area, area) or 'mixed areas'}" for area, count in day.first]
    parts += [f"{day.second_count} mixed"] if day.second_count else []
    details = [f"{day.reading_minutes} minutes of reading"] if day.reading_minutes else []
    details += [day.why] if day.until else []
    title = f"Questions: {', '.join(parts)}"
    return Entry(day=day.day, kind="questions", title=title, detail="; ".join(details))


def _paper_entries(now: Situation, day: DayPlan) -> list[Entry]:
    starts = max(now.settings.paper_start or PAPER_START, day.until or time())
    begins = datetime.combine(day.day, starts)
    sat = [("mock", "The mock", now.work.mock_minutes)] if day.mock else []
    sat += [
        (f"paper {i}", "Paper, timed", now.work.paper_minutes)
        for i in range(1, day.paper_count + 1)
    ]
    found = []
    for kind, title, minutes in sat:
        if begins.date() == day.day:
            start = begins.time()
            found.append(Entry(day=day.day, kind=kind, title=title, start=start, minutes=minutes))
        begins += timedelta(minutes=minutes + 30)
    return found
