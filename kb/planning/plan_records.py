"""What a plan is made from, and what it is: the work, the days, and the plan."""

from dataclasses import dataclass
from datetime import date, time

from kb.core.ids import AreaId
from kb.planning.pace import Pace
from kb.planning.paper_days import PaperWork, Placed
from kb.planning.reading_list import Candidate, DayList

USUAL_PACE = Pace()


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaWork:
    """Questions of one area still to be met; `worth` is the marks at risk on each."""

    area: AreaId
    count: int
    worth: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Returning:
    """Missed questions that come back on a day, `right_count` times right since the miss."""

    due: date
    right_count: int
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """Minutes used today already."""

    notes: float = 0.0
    missed: float = 0.0
    other: float = 0.0
    paper: float = 0.0

    @property
    def minutes(self) -> float:
        """All of them."""
        return self.notes + self.missed + self.other + self.paper


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """All that is still to be done.

    `areas` and `released` are in the order to take them; `released` are questions held back until
    `released_from`. `reviews` are papers sat lately, with the minutes of review left.
    """

    areas: tuple[AreaWork, ...] = ()
    released: tuple[AreaWork, ...] = ()
    released_from: date = date.max
    returning: tuple[Returning, ...] = ()
    mixed_count: int = 0
    papers: tuple[PaperWork, ...] = ()
    baseline: bool = False
    reviews: tuple[tuple[str, int], ...] = ()
    notes: tuple[Candidate, ...] = ()
    pace: Pace = USUAL_PACE
    spent: Spent = Spent()

    @property
    def new_count(self) -> int:
        """Questions not met yet, those held back left out."""
        return sum(area.count for area in self.areas)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPlan:
    """What one day holds. `new` are (area, questions) in the order to take them.

    `minutes` are those of study, breaks left out; `spare_minutes` are shown as rest. Rest may last
    `until` a time of the day; study comes after it.
    """

    day: date
    shift: str
    minutes: int
    notes: DayList | None = None
    missed_count: int = 0
    new: tuple[tuple[AreaId, int], ...] = ()
    mixed_count: int = 0
    paper: Placed | None = None
    review: str = ""
    review_minutes: int = 0
    missed_minutes: float = 0.0
    new_minutes: float = 0.0
    mixed_minutes: float = 0.0
    spare_minutes: float = 0.0
    break_minutes: int = 0
    kept_free: bool = False
    after_night: bool = False
    why: str = ""
    until: time | None = None

    @property
    def new_count(self) -> int:
        """New questions on this day."""
        return sum(count for _, count in self.new)

    @property
    def question_count(self) -> int:
        """Questions on this day, papers left out."""
        return self.new_count + self.missed_count + self.mixed_count

    @property
    def note_count(self) -> int:
        """Notes to read on this day."""
        return len(self.notes.notes) if self.notes else 0

    @property
    def note_minutes(self) -> float:
        """Minutes of reading."""
        return self.notes.seconds / 60 if self.notes else 0.0

    @property
    def paper_minutes(self) -> int:
        """Minutes under the clock."""
        return self.paper.minutes if self.paper else 0

    @property
    def used_minutes(self) -> float:
        """All work of the day."""
        questions = self.missed_minutes + self.new_minutes + self.mixed_minutes
        return self.note_minutes + questions + self.paper_minutes + self.review_minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The plan from today to the eve of the exam, and what it leaves out.

    `unmet` are new questions by area that are not met; `papers_out` are (paper, why) that have no
    day; `missed_left` were due and not tried once.
    """

    days: tuple[DayPlan, ...]
    unmet: tuple[tuple[AreaId, int], ...] = ()
    new_count: int = 0
    missed_count: int = 0
    missed_left: int = 0
    papers_out: tuple[tuple[str, str], ...] = ()

    @property
    def unmet_count(self) -> int:
        """New questions that are not met before the exam."""
        return sum(count for _, count in self.unmet)

    @property
    def behind(self) -> bool:
        """Whether new questions stay unmet."""
        return self.unmet_count > 0

    @property
    def new_end(self) -> date | None:
        """The last day with new questions."""
        return max((day.day for day in self.days if day.new), default=None)

    @property
    def spare_minutes(self) -> float:
        """Minutes of rest that the plan does not need."""
        return sum(day.spare_minutes for day in self.days)
