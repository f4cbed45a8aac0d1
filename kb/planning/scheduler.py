"""The plan: notes, missed questions, new questions and papers, day by day to the exam.

Each day, within the minutes that the rota leaves on it:
  1. the paper placed on it, and the review of the paper before (see `paper_days`);
  2. notes that are due, up to a share of the day, none on the day after a night;
  3. missed questions that are due, up to a tenth of what is left, without limit in the last six
     days;
  4. new questions from two or three areas, those worth most marks first; questions no longer held
     back come after all others;
  5. more missed questions if any are due, then questions at random from those met before.
A question costs its answering time and the review of the misses among them. In the last three days
half of the minutes are used, for notes and missed questions, and on the eve one hour at most.

Ahead: new questions are spread so that they end five weeks before the exam; what is then left of a
day is shown as rest. Behind: nothing is drawn at random, new questions of least worth stay unmet,
and papers are kept to a quarter of the time left.

What will be missed is counted by its expected number, so that tomorrow's plan is as foreseen when
today went as usual. tests/planning compares each rule with brute force on small cases.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from kb.core.ids import AreaId
from kb.core.settings import PlanSettings
from kb.planning.missed import RIGHT_TO_SETTLE, return_days
from kb.planning.paper_days import Placed, key_of, pause_minutes, place_papers, within_quarter
from kb.planning.plan_records import AreaWork, DayPlan, Plan, Spent, Work
from kb.planning.reading_list import DayList, ReadingList
from kb.planning.study_days import StudyDay

NEW_END_DAYS = 35
"""When ahead, new questions end this many days before the exam (common practice, no source)."""
MISSED_FRACTION, LATE_DAYS = 0.1, 6
"""Most of a day for missed questions while new ones wait, and the last days, in which missed ones
come first: as compared in scripts/compare_plans.py."""
TAPER_FRACTION, EVE_MINUTES = 0.5, 60
AREAS_A_DAY = 2
HAIR = 1e-6


def order_areas(areas: Sequence[AreaWork], first: Sequence[AreaId]) -> tuple[AreaWork, ...]:
    """Areas in the order to take them: those named, then by marks at risk for each question.

    Every question costs the same time, so this is the order by marks for each hour; ties stay as
    given.

    Source: smith1956, the largest weight for its length goes first.
    """
    named = {area: place for place, area in enumerate(first)}
    left = [area for area in areas if area.count]
    return tuple(sorted(left, key=lambda a: (named.get(a.area, len(named)), -a.worth)))


def schedule(days: Sequence[StudyDay], work: Work, settings: PlanSettings, exam_day: date) -> Plan:
    """Place all work on days.

    Args:
        days: What each day leaves for study, from today to the eve of the exam.
        work: What there is to do.
        settings: Limits of a day and of papers.
        exam_day: The day of the exam.

    Source: own, because the rules of this module are ours; the order of areas is smith1956's.
    """
    if not days:
        return Plan(days=(), new_count=work.new_count, unmet=_counts(work.areas))
    task = _Task(days=days, work=work, settings=settings, exam_day=exam_day)
    papers = task.papers()
    full = _Run(task, papers).plan()
    if full.behind:
        minutes = sum(without_breaks(day.minutes, settings) for day in days)
        gone = within_quarter(papers.placed, minutes)
        return _Run(task, task.papers(gone)).plan() if gone else full
    return _spread(task, papers, full)


def _spread(task: _Task, papers: _Papers, full: Plan) -> Plan:
    """The plan with the least share of each day for new questions that still ends them in time."""
    ends = task.exam_day - timedelta(days=NEW_END_DAYS)
    notes = {day.day: day.notes for day in full.days if day.notes}  # whatever the share

    def tried(percent: int) -> Plan:
        return _Run(task, papers, share=percent / 100, notes=notes).plan()

    low, high = 0, 100
    if full.new_end is not None and full.new_end <= ends:
        while high - low > 1:
            middle = (low + high) // 2
            plan = tried(middle)
            in_time = not plan.behind and (plan.new_end or ends) <= ends
            low, high = (low, middle) if in_time else (middle, high)
    return tried(high)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Papers:
    """Days for the papers, and (paper, why) for those without one."""

    placed: tuple[Placed, ...]
    out: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """What `schedule` was given."""

    days: Sequence[StudyDay]
    work: Work
    settings: PlanSettings
    exam_day: date

    def papers(self, gone: tuple[str, ...] = ()) -> _Papers:
        """Place the papers, without those that go because time is short."""
        placed = place_papers(
            self.days,
            [paper for paper in self.work.papers if key_of(paper) not in gone],
            self.exam_day,
            self.settings,
            baseline=self.work.baseline,
        )
        have = {key_of(one.paper) for one in placed}
        out = []
        for paper in self.work.papers:
            name = paper.name if paper.window is None else f"a check on {paper.name}"
            if key_of(paper) in gone:
                out.append((name, "papers already take a quarter of the time left"))
            elif key_of(paper) not in have:
                out.append((name, f"no day left has {paper.part_minutes} minutes for it"))
        return _Papers(placed=placed, out=tuple(dict.fromkeys(out)))


def without_breaks(minutes: int, settings: PlanSettings) -> int:
    """Minutes of study in a time once breaks are taken; none comes at the end."""
    if not settings.break_after_minutes:
        return minutes
    spells, left = divmod(minutes, settings.break_after_minutes + settings.break_minutes)
    return spells * settings.break_after_minutes + min(left, settings.break_after_minutes)


def _breaks_within(studied: float, settings: PlanSettings) -> int:
    """Minutes of break between the spells of a time of study."""
    if not settings.break_after_minutes or studied <= 0:
        return 0
    spells = -(-(studied - HAIR) // settings.break_after_minutes)
    return int(spells - 1) * settings.break_minutes


def split_new(areas: Sequence[AreaWork], count: int) -> tuple[tuple[AreaId, int], ...]:
    """`count` new questions, or all there are, from the areas in order, the first two half each.

    Where an area has less than its half the second gives more; only if a quarter or more of the day
    would be missing does the next area join, so that no day has a handful of a third one.
    """
    left = [area for area in areas if area.count]
    half = -(-count // AREAS_A_DAY)
    chosen: list[AreaWork] = []
    halves = held = 0
    for area in left:
        if halves >= count - count // 4 and held >= count:
            break
        chosen.append(area)
        halves, held = halves + min(area.count, half), held + area.count
    given: Counter[AreaId] = Counter()
    for most in (half, count):
        for area in chosen:
            more = min(area.count, most) - given[area.area]
            given[area.area] += max(0, min(more, count - given.total()))
    return tuple((area.area, given[area.area]) for area in chosen if given[area.area])


def _counts(areas: Sequence[AreaWork]) -> tuple[tuple[AreaId, int], ...]:
    return tuple((area.area, area.count) for area in areas if area.count)


@dataclass(slots=True)
class _Left:
    """What is left of a day, in minutes; `gone` of them were used today already."""

    minutes: float
    gone: Spent = field(default_factory=Spent)

    def room(self, cost_seconds: float, limit: float | None = None) -> int:
        """Whole questions that fit; a hair is forgiven, as 100 of 108 s are three hours."""
        minutes = self.minutes if limit is None else min(self.minutes, limit)
        return max(0, int(60 * minutes / cost_seconds + HAIR))


class _Run:
    """One pass over the days with everything decided: which papers, how much for new questions."""

    def __init__(
        self,
        task: _Task,
        papers: _Papers,
        share: float = 1.0,
        notes: Mapping[date, DayList] | None = None,
    ) -> None:
        work = task.work
        self._days, self._work, self._settings = task.days, work, task.settings
        self._exam_day, self._share, self._out = task.exam_day, share, papers.out
        self._eve = task.exam_day - timedelta(days=1)
        self._placed = {one.day: one for one in papers.placed}
        self._areas, self._released = list(work.areas), list(work.released)
        self._mixed = work.mixed_count
        self._pools = [0.0] * RIGHT_TO_SETTLE
        self._old: Counter[date] = Counter()
        self._old_due = 0
        self._coming: dict[date, list[float]] = {}
        for row in work.returning:
            due = max(row.due, task.days[0].day)
            self._return(due, row.right_count, row.count)
            self._old[due] += row.count
        self._reviews = [(name, float(minutes)) for name, minutes in work.reviews if minutes]
        self._taper_from = task.exam_day - timedelta(days=task.settings.last_look_days)
        self._reading = ReadingList(() if notes else work.notes, self._taper_from)
        self._notes_known = notes or {}

    def plan(self) -> Plan:
        """The whole plan."""
        days = tuple(self._day(day, first=not i) for i, day in enumerate(self._days))
        return Plan(
            days=days,
            unmet=_counts(self._areas),
            new_count=self._work.new_count,
            missed_count=sum(row.count for row in self._work.returning),
            missed_left=self._old_due + self._old.total(),
            papers_out=self._out,
        )

    def _return(self, day: date, right_count: int, count: float) -> None:
        self._coming.setdefault(day, [0.0] * RIGHT_TO_SETTLE)[right_count] += count

    def _day(self, day: StudyDay, *, first: bool) -> DayPlan:
        for right_count, count in enumerate(self._coming.pop(day.day, ())):
            self._pools[right_count] += count
        self._old_due += self._old.pop(day.day, 0)
        spent = self._work.spent if first else Spent()
        paper = self._placed.get(day.day)
        study = self._study_minutes(day, paper)
        left = _Left(study - spent.minutes - (paper.minutes if paper else 0), spent)
        review, review_minutes = self._review(left)
        if paper is not None:  # its own review begins at once, and what it shows comes back
            self._reviews.append((paper.paper.name, float(paper.review_minutes)))
            self._miss(day.day, paper.items * self._work.pace.miss_fraction)
            review, review_minutes = self._review(left, review, review_minutes)
        taper = day.day >= self._taper_from
        notes = self._notes(day, left, study, taper=taper)
        whole = left.minutes + spent.missed + spent.other
        late = (self._exam_day - day.day).days <= LATE_DAYS
        most = None if late else MISSED_FRACTION * whole - spent.missed
        missed = self._retry(day.day, left, most)
        new = () if taper else self._new(day.day, left)
        if not taper:
            missed += self._retry(day.day, left, None)
        mixed = 0 if taper or self._areas else min(self._mixed, left.room(self._retry_cost))
        self._mixed -= mixed
        left.minutes -= mixed * self._retry_cost / 60
        held = DayPlan(
            day=day.day,
            shift="eve" if day.day == self._eve else day.shift,
            minutes=int(study),
            notes=notes,
            missed_count=missed,
            new=new,
            mixed_count=mixed,
            paper=paper,
            review=review,
            review_minutes=review_minutes,
            missed_minutes=missed * self._retry_cost / 60,
            new_minutes=sum(n for _, n in new) * self._work.pace.new_cost / 60,
            mixed_minutes=mixed * self._retry_cost / 60,
            spare_minutes=max(0.0, left.minutes),
            kept_free=not day.minutes and day.why.startswith("rest"),
            after_night=day.after_night,
            why=day.why,
            until=day.until,
        )
        return replace(held, break_minutes=self._breaks(held))

    @property
    def _retry_cost(self) -> float:
        return self._work.pace.retry_cost

    def _study_minutes(self, day: StudyDay, paper: Placed | None) -> int:
        """Minutes of study: fewer in the last days, more where a whole paper is sat."""
        if day.day >= self._taper_from:
            minutes = int(without_breaks(day.minutes, self._settings) * TAPER_FRACTION)
            return min(minutes, EVE_MINUTES) if day.day == self._eve else minutes
        study = without_breaks(day.minutes, self._settings)
        return max(study, paper.minutes) if paper else study

    def _breaks(self, day: DayPlan) -> int:
        """Breaks of a day: between its parts, and between what follows them."""
        pause = pause_minutes(self._settings)
        other = day.used_minutes - day.paper_minutes
        if not day.paper:
            return _breaks_within(other, self._settings)
        after = pause + _breaks_within(other, self._settings) if other > 0 else 0
        return pause * (len(day.paper.parts) - 1) + after

    def _review(self, left: _Left, name: str = "", done: int = 0) -> tuple[str, int]:
        """As much of the reviews that are due as fits."""
        names, minutes = [name] if name else [], done
        while self._reviews and left.minutes >= 1:
            what, need = self._reviews.pop(0)
            taken = int(min(need, left.minutes))
            left.minutes -= taken
            minutes += taken
            names += [what] if what not in names else []
            if need > taken:
                self._reviews.insert(0, (what, need - taken))
        return " and ".join(names), minutes

    def _notes(self, day: StudyDay, left: _Left, study: int, *, taper: bool) -> DayList:
        known = self._notes_known.get(day.day)
        if known is not None:
            left.minutes -= known.seconds / 60
            return known
        if taper:  # the last look is spread over the days that are left
            days = sum(d.day >= day.day and d.minutes > 0 for d in self._days)
            most = sum(note.seconds for note in self._reading.due(day.day)) / 60 / max(1, days)
            most = math.ceil(most) + 1
        else:
            most = self._settings.reading_fraction * min(study, day.minutes) - left.gone.notes
        minutes = min(left.minutes, most)
        found = self._reading.take(day.day, minutes, after_night=day.after_night)
        left.minutes -= found.seconds / 60
        return found

    def _retry(self, day: date, left: _Left, limit: float | None) -> int:
        """Missed questions of one day; those right go a step on, the others begin again."""
        count = min(left.room(self._retry_cost, limit), int(sum(self._pools) + HAIR))
        left.minutes -= count * self._retry_cost / 60
        self._old_due = max(0, self._old_due - count)
        days_left = (self._exam_day - day).days
        wrong = self._work.pace.retry_miss_fraction
        todo = float(count)
        for right_count in range(RIGHT_TO_SETTLE):
            taken = min(todo, self._pools[right_count])
            self._pools[right_count] -= taken
            todo -= taken
            self._miss(day, taken * wrong)
            if right_count + 1 < RIGHT_TO_SETTLE:
                due = day + timedelta(days=return_days(right_count + 1, days_left))
                self._return(due, right_count + 1, taken * (1 - wrong))
        return count

    def _miss(self, day: date, count: float) -> None:
        days_left = (self._exam_day - day).days
        self._return(day + timedelta(days=return_days(0, days_left)), 0, count)

    def _new(self, day: date, left: _Left) -> tuple[tuple[AreaId, int], ...]:
        """New questions of one day, within the share of the day that they may take."""
        cost = self._work.pace.new_cost
        limit = self._share * (left.minutes + left.gone.other) - left.gone.other
        room = left.room(cost, limit)
        found = split_new(self._areas, room)
        self._areas = _less(self._areas, found)
        count = sum(number for _, number in found)
        if not self._areas and day >= self._work.released_from:
            more = split_new(self._released, room - count)
            self._released = _less(self._released, more)
            both: Counter[AreaId] = Counter(dict(found))
            both.update(dict(more))
            found = tuple(both.items())
            count = both.total()
        left.minutes -= count * cost / 60
        self._miss(day, count * self._work.pace.miss_fraction)
        return found


def _less(areas: Sequence[AreaWork], taken: Sequence[tuple[AreaId, int]]) -> list[AreaWork]:
    gone = dict(taken)
    left = [replace(area, count=area.count - gone.get(area.area, 0)) for area in areas]
    return [area for area in left if area.count]
