"""The model of the plan: which questions, papers and reading go on which day.

Decided: for each day t, whole numbers of first-round questions of each area, second-round
questions, papers, and whether the mock is sat.

Constraints:
  1. Work, reading and breaks of a day never exceed the minutes that the rota leaves on it; a share
     of the minutes before the papers is set aside for reading. Nothing is planned on a day without
     any. No reading on the day after a night. A break comes after so many minutes of study, if set,
     and after a paper; a paper and the mock are sat through.
  2. No more of anything than there is; at most `first_per_day` and `second_per_day` questions.
  3. The second round begins when the first is done; both lie before the last `paper_days` days.
  4. Papers and mock lie in those days and are taken whole; the eve of the exam has none. On a day
     off among them at least `paper_day_minutes` may be used, and breaks between its papers, as far
     as rest leaves room.

Maximised, one after the other:
  a. the mock, then the number of papers;
  b. the number of first-round questions, then of second-round questions;
  c. earliness: the number of questions done by the end of each day;
  d. marks covered early: the sum over areas of marks at risk x the number of questions answered
     by the time the area is done is as small as it can be.

Solved by simple rules, each equal to the optimum: filling each day in turn (a-c: a day's work
never depends on which day it is done, so postponing a question can never help); areas in order of
marks at risk for each question left (d: Smith 1956, where an area is a job whose length is its
questions and whose weight is its marks). tests/test_schedule.py compares every rule with brute
force on small random cases.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kb.core.ids import AreaId
    from kb.core.settings import PlanSettings
    from kb.planning.study_days import StudyDay


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaWork:
    """Questions of one area still to be met, and the marks at risk in it."""

    area: AreaId
    count: int
    marks: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """All that is still to be done. `seconds` is the time one question takes."""

    areas: tuple[AreaWork, ...] = ()
    second_count: int = 0
    paper_count: int = 0
    mock: bool = False
    seconds: float = 108.0
    paper_minutes: int = 180
    mock_minutes: int = 360

    @property
    def first_count(self) -> int:
        """Questions of the first round, over all areas."""
        return sum(area.count for area in self.areas)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPlan:
    """What one day holds. `first` are (area, questions) in the order to take them.

    Rest may last `until` a time of the day; study comes after it.
    """

    day: date
    shift: str
    minutes: int
    first: tuple[tuple[AreaId, int], ...] = ()
    second_count: int = 0
    paper_count: int = 0
    mock: bool = False
    reading_minutes: int = 0
    break_minutes: int = 0
    why: str = ""
    until: time | None = None

    @property
    def kept_free(self) -> bool:
        """Whether a setting of rest keeps the whole day without study."""
        return not self.minutes and self.why.startswith("rest")

    @property
    def first_count(self) -> int:
        """Questions of the first round on this day."""
        return sum(count for _, count in self.first)

    @property
    def question_count(self) -> int:
        """Questions of both rounds on this day."""
        return self.first_count + self.second_count


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The plan, day by day from today to the eve of the exam, and what it could not place."""

    days: tuple[DayPlan, ...]
    papers_from: date | None
    first_missing: int = 0
    second_missing: int = 0
    papers_missing: int = 0
    mock_missing: bool = False
    missing_minutes: int = 0
    slack_days: int = 0
    slack_minutes: int = 0

    @property
    def fits(self) -> bool:
        """Whether everything has its place."""
        questions = self.first_missing + self.second_missing
        return not (questions or self.papers_missing or self.mock_missing)

    @property
    def questions_end(self) -> date | None:
        """The last day that holds questions of a round."""
        return max((day.day for day in self.days if day.question_count), default=None)


def order_areas(areas: Sequence[AreaWork], first: Sequence[AreaId]) -> tuple[AreaWork, ...]:
    """Areas in the order to take them: those named, then by marks at risk for each question left.

    Source: smith1956, the largest weight for its length goes first; ties stand as given.
    """
    named = {area: place for place, area in enumerate(first)}
    left = [area for area in areas if area.count]
    chosen = sorted((a for a in left if a.area in named), key=lambda a: named[a.area])
    others = [area for area in left if area.area not in named]
    return (*chosen, *sorted(others, key=lambda area: -area.marks / area.count))


def schedule(days: Sequence[StudyDay], work: Work, settings: PlanSettings) -> Plan:
    """Place all work on days so that as much as can be done is done, as early as it can be.

    Args:
        days: What each day leaves for study, from today to the eve of the exam.
        work: What there is to do; areas in the order to take them.
        settings: Limits for each day, days for papers, the share for reading.

    Source: own, the model of this module; the order of areas is smith1956's.
    """
    wants_papers = work.paper_count > 0 or work.mock
    window = max(0, len(days) - settings.paper_days) if wants_papers else len(days)
    rounds = days[: min(window, len(days) - 1)] if days else ()
    placed = _place_rounds(rounds, work, settings)
    last_days = list(days[len(rounds) :])
    if wants_papers:
        last_days = [_longer(day, work, settings) for day in last_days]
    late, papers_missing, mock_missing = _place_papers(last_days, work, settings)
    first_missing = work.first_count - sum(day.first_count for day in placed)
    second_missing = work.second_count - sum(day.second_count for day in placed)
    questions_missing = first_missing + second_missing
    minutes = -(-questions_missing * work.seconds // 60) + papers_missing * work.paper_minutes
    busy = max((i for i, day in enumerate(placed) if day.question_count), default=-1)
    spare = placed[busy + 1 :]
    return Plan(
        days=(*placed, *late),
        papers_from=days[window].day if window < len(days) else None,
        first_missing=first_missing,
        second_missing=second_missing,
        papers_missing=papers_missing,
        mock_missing=mock_missing,
        missing_minutes=int(minutes) + (work.mock_minutes if mock_missing else 0),
        slack_days=sum(day.minutes > 0 for day in spare) if not questions_missing else 0,
        slack_minutes=sum(
            without_breaks(day.minutes, settings) - day.reading_minutes for day in spare
        )
        if not questions_missing
        else 0,
    )


def _longer(day: StudyDay, work: Work, settings: PlanSettings) -> StudyDay:
    """A day off in the last weeks holds more than before: 5 to 6 hours (common practice).

    Breaks between its papers come on top, or one that holds two papers would hold but one.
    """
    own, usual = day.paper_day_minutes, settings.paper_day_minutes
    minutes = usual if own is None else own
    pauses = _pause(settings) * max(0, minutes // work.paper_minutes - 1)
    longer = min(minutes + pauses, day.room_minutes) - day.spent_minutes
    return replace(day, minutes=longer) if day.free and longer > day.minutes else day


def _pause(settings: PlanSettings) -> int:
    return settings.break_minutes if settings.break_after_minutes else 0


def without_breaks(minutes: int, settings: PlanSettings) -> int:
    """Minutes of study in so many minutes once breaks are taken; none comes at the end."""
    if not settings.break_after_minutes:
        return minutes
    spells, left = divmod(minutes, settings.break_after_minutes + settings.break_minutes)
    return spells * settings.break_after_minutes + min(left, settings.break_after_minutes)


def _breaks_within(studied: float, settings: PlanSettings) -> int:
    """Minutes of break between the spells of so many minutes of study."""
    if not settings.break_after_minutes or studied <= 0:
        return 0
    spells = -(-(studied - 1e-6) // settings.break_after_minutes)
    return int(spells - 1) * settings.break_minutes


def _place_rounds(days: Sequence[StudyDay], work: Work, settings: PlanSettings) -> list[DayPlan]:
    """First and second round on the days before the papers."""
    areas, left = list(work.areas), [area.count for area in work.areas]
    second_left, at = work.second_count, 0
    placed = []
    for day in days:
        studied = without_breaks(day.minutes, settings)
        reading = 0 if day.after_night else int(studied * settings.reading_fraction)
        room = _question_count(60 * (studied - reading), work.seconds)
        taken = wanted = min(room, settings.first_per_day)
        first = []
        while at < len(areas) and taken:
            count = min(taken, left[at])
            if count:
                first.append((areas[at].area, count))
            left[at] -= count
            taken -= count
            at += not left[at]
        done = wanted - taken
        second = 0
        if at == len(areas):
            share = 1 - done / settings.first_per_day
            most = int(settings.second_per_day * share + 1e-9)
            second = min(second_left, room - done, most)
            second_left -= second
        used = (done + second) * work.seconds / 60 + reading
        placed.append(
            DayPlan(
                day=day.day,
                shift=day.shift,
                minutes=day.minutes,
                first=tuple(first),
                second_count=second,
                reading_minutes=reading,
                break_minutes=_breaks_within(used, settings),
                why=day.why,
                until=day.until,
            )
        )
    return placed


def _question_count(seconds_left: float, seconds: float) -> int:
    """Whole questions in a time; a hair is forgiven, as 100 x 108 s are three hours exactly."""
    return int(seconds_left / seconds + 1e-9)


def _place_papers(
    days: Sequence[StudyDay], work: Work, settings: PlanSettings
) -> tuple[list[DayPlan], int, bool]:
    """Papers level over the days that can hold one, the mock on the last that can hold it."""
    pause = _pause(settings)
    usable = days[:-1]
    room = [(day.minutes + pause) // (work.paper_minutes + pause) for day in usable]
    mock_at = -1
    if work.mock:
        fit = [i for i, day in enumerate(usable) if day.minutes >= work.mock_minutes]
        if fit:
            mock_at = fit[-1]
            left = usable[mock_at].minutes - work.mock_minutes
            room[mock_at] = left // (work.paper_minutes + pause)
    counts = _level(room, work.paper_count)
    placed = []
    for i, day in enumerate(days):
        papers = counts[i] if i < len(usable) else 0
        sat = papers + (i == mock_at)
        busy = papers * work.paper_minutes + (work.mock_minutes if i == mock_at else 0)
        left = max(0, day.minutes - busy - sat * pause)
        reading = 0 if day.after_night else without_breaks(left, settings)
        breaks = (sat - (not reading)) * pause if sat else 0
        placed.append(
            DayPlan(
                day=day.day,
                shift=day.shift,
                minutes=day.minutes,
                paper_count=papers,
                mock=i == mock_at,
                reading_minutes=reading,
                break_minutes=breaks + _breaks_within(reading, settings),
                why=day.why,
                until=day.until,
            )
        )
    return placed, work.paper_count - sum(counts), work.mock and mock_at < 0


def _level(room: Sequence[int], total: int) -> list[int]:
    """Give out `total` papers, one to each day that has room before any gets another.

    What does not go round is spread evenly over the days that still have room.
    """
    counts = [0] * len(room)
    left = min(total, sum(room))
    while left:
        open_days = [i for i, most in enumerate(room) if counts[i] < most]
        give = min(left, len(open_days))
        for k in range(give):
            counts[open_days[(2 * k + 1) * len(open_days) // (2 * give)]] += 1
        left -= give
    return counts
