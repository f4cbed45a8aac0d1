"""On which days the practice papers go.

Only papers that are declared and not yet sat are planned, by name and in their parts (a part is
100 questions in three hours). The last whole paper lies 14 to 7 days before the exam, each earlier
one a week before the next, and nothing in the last five days. The days follow from the exam and
the rota, so that a paper stays where it is until it has been sat or its day has passed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Sequence

    from kb.core.settings import PlanSettings
    from kb.planning.study_days import StudyDay

REVIEW_FRACTION = 0.4
"""Going through a paper takes about 40% of the time it was sat in (common practice, no source)."""
ROUND_MINUTES = 10
LAST_FROM, LAST_TO, NONE_WITHIN = 14, 7, 5
"""Days before the exam: the last whole paper, and no paper at all (common practice, no source)."""
STEP_DAYS = 7
ONE_DAY = timedelta(days=1)
BASELINE_DAYS = 35
"""With this many days left or more, one part is sat early as a baseline."""
CHECKS = ((24, 18), (9, 6))
"""Days before the exam for the two checks on held-back questions: three weeks and one week."""
RESERVE = "reserve"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperWork:
    """A paper still to be sat, or what is left of it.

    `parts` are the numbers of the parts left, of `part_count`; each is timed at `part_minutes`.
    A check on held-back questions is a paper of one part with its own `window`.
    """

    name: str
    title: str
    items: int
    parts: tuple[int, ...]
    part_count: int
    part_minutes: int
    last: bool = False
    window: tuple[int, int] | None = None

    @property
    def minutes(self) -> int:
        """Time under the clock."""
        return len(self.parts) * self.part_minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Parts of a paper on one day."""

    paper: PaperWork
    day: date
    parts: tuple[int, ...]

    @property
    def minutes(self) -> int:
        """Time under the clock."""
        return len(self.parts) * self.paper.part_minutes

    @property
    def review_minutes(self) -> int:
        """Time to go through it."""
        return review_minutes(self.minutes)

    @property
    def items(self) -> int:
        """Questions sat on this day."""
        return self.paper.items * len(self.parts) // max(1, self.paper.part_count)

    @property
    def text(self) -> str:
        """`mock, both parts`; `paper-2, part 1`; `reserve, 100 timed`."""
        if self.paper.window is not None:
            return f"{self.paper.name}, {self.items} timed"
        if self.paper.part_count == 1:
            return self.paper.name
        if len(self.parts) == self.paper.part_count == 2:
            return f"{self.paper.name}, both parts"
        word = "part" if len(self.parts) == 1 else "parts"
        return f"{self.paper.name}, {word} {' and '.join(str(part) for part in self.parts)}"


def review_minutes(minutes: int) -> int:
    """Minutes of review after so many under the clock, rounded up to ten."""
    return math.ceil(REVIEW_FRACTION * minutes / ROUND_MINUTES) * ROUND_MINUTES


def _between(earliest: date, latest: date, day: date) -> bool:
    return earliest <= day <= latest


def pause_minutes(settings: PlanSettings) -> int:
    """The break between two parts sat on one day."""
    return settings.break_minutes if settings.break_after_minutes else 0


def part_room(day: StudyDay, part_minutes: int, settings: PlanSettings) -> int:
    """How many parts of a paper one day holds, two at most.

    A day off holds its `paper_day_minutes` and, if it holds two parts, the break between them on
    top; no day holds more than rest leaves.
    """
    usual = settings.paper_day_minutes
    own = usual if day.paper_day_minutes is None else day.paper_day_minutes
    pause = pause_minutes(settings)
    if day.free and min(own, day.room_minutes - pause) >= 2 * part_minutes:
        return 2
    minutes = max(day.minutes, min(own, day.room_minutes)) if day.free else day.minutes
    return min(2, (minutes + pause) // (part_minutes + pause)) if part_minutes else 0


def place_papers(
    days: Sequence[StudyDay], papers: Sequence[PaperWork], exam_day: date, settings: PlanSettings
) -> tuple[Placed, ...]:
    """A day for each paper, in order of day; what finds none is left out.

    Args:
        days: From today to the eve of the exam.
        papers: In the order to sit them; the checks on held-back questions among them.
        exam_day: The day of the exam.
        settings: For the minutes of a day off and its breaks.

    Source: own, because it only follows the rules above; tests compare it with brute force.
    """
    room = {
        day.day: part_room(day, papers[0].part_minutes, settings)
        for day in days
        if papers and (exam_day - day.day).days > NONE_WITHIN
    }
    found: list[Placed] = []
    whole = [paper for paper in papers if paper.window is None]
    review_room = {day.day: day.minutes for day in days}

    def take(paper: PaperWork, wanted: Callable[[date], bool], *, roomy: bool = False) -> bool:
        chosen = _days_for(paper, [day for day in room if wanted(day)], room)
        if roomy and len(chosen) == 1:
            chosen = _with_review(paper, wanted, room, review_room) or chosen
        for day, parts in chosen:
            found.append(Placed(paper=paper, day=day, parts=parts))
            del room[day]
        return bool(chosen)

    if whole:
        _place_whole(whole, exam_day, days[0].day if days else exam_day, take, found)
    for paper in papers:
        if paper.window is not None:
            far, near = paper.window
            earliest, latest = exam_day - timedelta(days=far), exam_day - timedelta(days=near)
            take(paper, partial(_between, earliest, latest))
    return tuple(sorted(found, key=lambda one: one.day))


def _place_whole(
    whole: Sequence[PaperWork],
    exam_day: date,
    today: date,
    take: Callable[..., bool],
    found: list[Placed],
) -> None:
    """The last paper first, then the others backwards, each a step before the next."""
    *others, final = whole
    window = take(final, lambda day: LAST_TO <= (exam_day - day).days <= LAST_FROM, roomy=True)
    if not window and not take(final, lambda day: (exam_day - day).days < LAST_TO):
        take(final, lambda _: True)
    if not found:
        return
    anchor = min(one.day for one in found)
    step = STEP_DAYS
    if others:
        step = max(2, min(STEP_DAYS, (anchor - today).days // len(others)))
    for paper in reversed(others):
        before = anchor - timedelta(days=step)
        if _take_before(take, paper, before) or _take_before(take, paper, anchor - ONE_DAY):
            anchor = min(one.day for one in found)


def _take_before(take: Callable[..., bool], paper: PaperWork, latest: date) -> bool:
    return take(paper, lambda day: day <= latest)


def _days_for(
    paper: PaperWork, days: Iterable[date], room: dict[date, int]
) -> list[tuple[date, tuple[int, ...]]]:
    """The latest day that holds what is left of a paper whole, or the latest ones, part by part."""
    ordered = sorted(days, reverse=True)
    whole = next((day for day in ordered if room[day] >= len(paper.parts)), None)
    if whole is not None:
        return [(whole, paper.parts)]
    single = [day for day in ordered if room[day]][: len(paper.parts)]
    if len(single) < len(paper.parts):
        return []
    return [(day, (part,)) for day, part in zip(sorted(single), paper.parts, strict=True)]


def _with_review(
    paper: PaperWork,
    wanted: Callable[[date], bool],
    room: dict[date, int],
    minutes: dict[date, int],
) -> list[tuple[date, tuple[int, ...]]]:
    """The latest day that holds the whole paper and is followed by one that holds its review."""
    review = review_minutes(paper.minutes)
    for day in sorted((day for day in room if wanted(day)), reverse=True):
        after = minutes.get(day + timedelta(days=1), 0)
        if room[day] >= len(paper.parts) and after >= review:
            return [(day, paper.parts)]
    return []


def with_baseline(
    papers: Sequence[PaperWork], days: Sequence[StudyDay], exam_day: date, settings: PlanSettings
) -> tuple[Placed | None, tuple[PaperWork, ...]]:
    """One part early where no paper was sat yet: its day, and the papers without that part.

    There must be `BASELINE_DAYS` left and a whole paper besides it.
    """
    whole = [paper for paper in papers if paper.window is None]
    left = (exam_day - days[0].day).days if days else 0
    if left < BASELINE_DAYS or sum(len(paper.parts) for paper in whole) < 3:
        return None, tuple(papers)
    first = whole[0]
    day = next((d for d in days if part_room(d, first.part_minutes, settings)), None)
    if day is None or (exam_day - day.day).days < BASELINE_DAYS:
        return None, tuple(papers)
    rest = tuple(first.parts[1:])
    kept = [
        replace(paper, parts=rest) if paper is first else paper
        for paper in papers
        if paper is not first or rest
    ]
    return Placed(paper=first, day=day.day, parts=first.parts[:1]), tuple(kept)


def within_quarter(
    placed: Sequence[Placed], minutes_left: int, keep: Collection[str] = ()
) -> tuple[str, ...]:
    """Names of the papers that go when time is short: the earliest, until all fit a quarter of it.

    The last paper always stays.
    """
    costs: dict[str, int] = {}
    for one in sorted(placed, key=lambda one: (one.paper.window is None, one.day)):
        name = key_of(one.paper)
        costs[name] = costs.get(name, 0) + one.minutes + one.review_minutes
    gone: list[str] = []
    for name in list(costs)[:-1]:
        if sum(costs.values()) <= minutes_left / 4:
            break
        if name not in keep:
            gone.append(name)
            del costs[name]
    return tuple(gone)


def key_of(paper: PaperWork) -> str:
    """A name that tells the two checks on held-back questions apart."""
    return paper.name if paper.window is None else f"{paper.name} {paper.window[0]}"
