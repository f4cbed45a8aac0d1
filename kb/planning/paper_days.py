"""On which days the practice papers go.

Only papers that are declared and not yet sat are planned, by name and in their parts (a part is
100 questions in three hours). The last whole paper lies 14 to 7 days before the exam, each earlier
one a week before the next, and nothing in the last five days. The days follow from the exam and
the rota, so that a paper stays where it is until it has been sat or its day has passed.

Source: own, because it only follows these rules; tests compare it with brute force.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from kb.core.settings import PlanSettings
from kb.planning.study_days import StudyDay

REVIEW_FRACTION = 0.4
"""Going through a paper takes about 40% of the time it was sat in (common practice, no source)."""
ROUND_MINUTES = 10
LAST_FROM, LAST_TO, NONE_WITHIN = 14, 7, 5
"""Days before the exam: the last whole paper, and no paper at all (common practice, no source)."""
STEP_DAYS = 7
BASELINE_DAYS = 35
"""With this many days left or more, one part is sat early as a baseline."""
CHECKS = ((24, 18), (9, 6))
"""Days before the exam for the two checks on held-back questions: three weeks and one week."""
HELD_BACK = "held-back questions"


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
        """`Mock, both parts`; `Practice paper 2, part 1`; `held-back questions, 100 timed`."""
        if self.paper.window is not None:
            return f"{self.paper.name}, {self.items} timed"
        if self.paper.part_count == 1:
            return self.paper.title
        if len(self.parts) == self.paper.part_count == 2:
            return f"{self.paper.title}, both parts"
        word = "part" if len(self.parts) == 1 else "parts"
        return f"{self.paper.title}, {word} {' and '.join(str(part) for part in self.parts)}"


def review_minutes(minutes: int) -> int:
    """Minutes of review for a paper that took `minutes`, rounded up to ten."""
    return math.ceil(REVIEW_FRACTION * minutes / ROUND_MINUTES) * ROUND_MINUTES


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
    days: Sequence[StudyDay],
    papers: Sequence[PaperWork],
    exam_day: date,
    settings: PlanSettings,
    *,
    baseline: bool = False,
) -> tuple[Placed, ...]:
    """A day for each paper, in order of day; what finds none is left out.

    Args:
        days: From today to the eve of the exam.
        papers: In the order to sit them; the checks on held-back questions among them.
        exam_day: The day of the exam.
        settings: For the minutes of a day off and its breaks.
        baseline: No paper was sat yet, so one part may come early.
    """
    if not papers:
        return ()
    board = _Board(days, papers[0].part_minutes, exam_day, settings)
    whole = [paper for paper in papers if paper.window is None]
    if baseline:
        whole = board.take_baseline(whole)
    if whole:
        board.take_whole(whole)
    for paper in papers:
        if paper.window is not None:
            board.take(paper, *paper.window)
    return tuple(sorted(board.found, key=lambda one: one.day))


class _Board:
    """Days with the parts of papers that each can hold, and what was placed on them.

    Times are given as days before the exam.
    """

    def __init__(
        self, days: Sequence[StudyDay], part_minutes: int, exam_day: date, settings: PlanSettings
    ) -> None:
        self.found: list[Placed] = []
        self._exam_day = exam_day
        self._minutes = {(exam_day - day.day).days: day.minutes for day in days}
        rooms = {(exam_day - d.day).days: part_room(d, part_minutes, settings) for d in days}
        self._room = {before: room for before, room in rooms.items() if room}

    def take(self, paper: PaperWork, most: int, least: int, *, roomy: bool = False) -> bool:
        """Put a paper on the latest day, or days, from `most` to `least` before the exam.

        With `roomy` a whole one goes where the next day holds its review, if there is such a day.
        """
        open_days = [d for d in sorted(self._room) if least <= d <= most]
        whole = [d for d in open_days if self._room[d] >= len(paper.parts)]
        if roomy:
            review = review_minutes(paper.minutes)
            easy = [d for d in whole if self._minutes.get(d - 1, 0) >= review]
            whole = easy or whole
        if whole:
            self._put(paper, whole[0], paper.parts)
        elif len(open_days) >= len(paper.parts):
            chosen = open_days[: len(paper.parts)]
            for before, part in zip(reversed(chosen), paper.parts, strict=True):
                self._put(paper, before, (part,))
        else:
            return False
        return True

    def _put(self, paper: PaperWork, before: int, parts: tuple[int, ...]) -> None:
        day = self._exam_day - timedelta(days=before)
        self.found.append(Placed(paper=paper, day=day, parts=parts))
        del self._room[before]

    def take_baseline(self, papers: list[PaperWork]) -> list[PaperWork]:
        """One part on the first day that holds it; returns the papers without that part.

        At least `BASELINE_DAYS` must be left then, and a whole paper besides that part.
        """
        first = max(self._room, default=0)
        begins = max(self._minutes, default=0)
        if min(first, begins) < BASELINE_DAYS or sum(len(paper.parts) for paper in papers) < 3:
            return papers
        early, *others = papers
        self._put(early, first, early.parts[:1])
        rest = early.parts[1:]
        return [replace(early, parts=rest), *others] if rest else others

    def take_whole(self, papers: Sequence[PaperWork]) -> None:
        """The last paper first, then the others backwards, each a step before the next."""
        *others, final = papers
        far = max(self._minutes)
        placed = self.take(final, LAST_FROM, LAST_TO, roomy=True)
        if not placed and not self.take(final, far, NONE_WITHIN + 1):
            return
        anchor = self._first_of(final)
        step = max(2, min(STEP_DAYS, (far - anchor) // max(1, len(others))))
        for paper in reversed(others):
            if self.take(paper, far, anchor + step) or self.take(paper, far, anchor + 1):
                anchor = self._first_of(paper)

    def _first_of(self, paper: PaperWork) -> int:
        return max((self._exam_day - one.day).days for one in self.found if one.paper is paper)


def within_quarter(placed: Sequence[Placed], minutes_left: int) -> tuple[str, ...]:
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
        gone.append(name)
        del costs[name]
    return tuple(gone)


def key_of(paper: PaperWork) -> str:
    """A name by which the two checks on held-back questions differ."""
    return paper.name if paper.window is None else f"{paper.name} {paper.window[0]}"
