"""One timed paper or mock: its score, its pace, and what time cost in marks."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import median

from kb.core.answers import Answers
from kb.core.ids import whole_number
from kb.core.model import Attempt, Base
from kb.stats.proportions import LIKELY_LEVEL
from kb.stats.score_distribution import Part, quantile, score_distributions

LONG_FACTOR = 2.0
RUSHED_FRACTION = 0.6
TIMED_FRACTION = 0.8
SPARE_FRACTION = 0.05
LEAST_TIMED = 16
"""Common practice, no source: an item that took twice its share of the time is a long one; a last
quarter whose items took under 0.6 of the time of those before is rushed; pace is shown when four
items in five were timed; time cost nothing when a twentieth of it was left over; sixteen
answers are enough to be parted by their time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitting:
    """The answers of one sitting, in the order of its items; `official` for a mock."""

    name: str
    day: date
    official: bool
    answers: tuple[Attempt, ...]

    @property
    def right_count(self) -> int:
        """Items that scored."""
        return sum(answer.right for answer in self.answers)

    @property
    def item_count(self) -> int:
        """Items asked, blanks included."""
        return len(self.answers)

    @property
    def blank_count(self) -> int:
        """Items not answered."""
        return sum(answer.outcome == "blank" for answer in self.answers)

    @property
    def fraction(self) -> float:
        """Share of items that scored."""
        return self.right_count / self.item_count


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How the time of one part was spent.

    `behind_minutes` is how far the clock fell behind the target at its worst, after `behind_item`
    items; 0 when it never did.

    `rushed` is whether the last quarter went much quicker than the three before it; `lost_marks`
    is what that and the blanks cost, with likely bounds; 0 when time was left over.
    """

    item_count: int
    timed_count: int
    spent_minutes: float
    target_minutes: float
    behind_item: int
    behind_minutes: float
    long_count: int
    long_minutes: float
    blank_count: int
    last_quarter_seconds: float
    rushed: bool
    early_fraction: float
    late_fraction: float
    lost_marks: float
    lost_low: float
    lost_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantile:
    """Answers whose time lay between two bounds, in seconds, and how many were right."""

    low_seconds: float
    high_seconds: float
    right_count: int
    tried_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """Changed answers, by what became of them."""

    right_to_wrong: int
    wrong_to_right: int
    wrong_to_wrong: int

    @property
    def count(self) -> int:
        """All changed answers."""
        return self.right_to_wrong + self.wrong_to_right + self.wrong_to_wrong

    @property
    def gain(self) -> int:
        """Marks won by changing, negative when it cost marks."""
        return self.wrong_to_right - self.right_to_wrong


def find_sittings(base: Base) -> tuple[Sitting, ...]:
    """Every sitting of the log, in order of time, each with one answer for each item.

    An item answered twice in one sitting counts by its last answer. A sitting is official when
    its source is declared as a mock.
    """
    found: dict[str, dict[str, Attempt]] = {}
    answers = Answers.of(base.attempts)
    for attempt in answers.only(~answers.equals("sitting", "")):
        found.setdefault(attempt.sitting, {})[attempt.question] = attempt
    sittings = [_sitting(base, name, tuple(items.values())) for name, items in found.items()]
    return tuple(sorted(sittings, key=lambda sitting: (sitting.day, sitting.name)))


def _sitting(base: Base, name: str, answers: tuple[Attempt, ...]) -> Sitting:
    source = base.study.source(answers[0].source)
    official = source is not None and source.kind == "mock"
    ordered = tuple(sorted(answers, key=_item_order))
    day = min(answer.day for answer in answers)
    return Sitting(name=name, day=day, official=official, answers=ordered)


def _item_order(answer: Attempt) -> tuple[str, int, str]:
    source, _, item = answer.question.partition(":")
    return (source, whole_number(item) or 0, item)


def parts(sitting: Sitting, part_items: int) -> tuple[tuple[Attempt, ...], ...]:
    """The answers of each part, `part_items` items at most, in order."""
    answers = sitting.answers
    return tuple(answers[at : at + part_items] for at in range(0, len(answers), part_items))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """The clock after one item: the time spent, and how far behind the target (ahead: below 0)."""

    item: int
    spent_seconds: float
    behind_seconds: float


def clock_of(answers: Sequence[Attempt], target_seconds: float) -> tuple[Tick, ...]:
    """The clock after each item of one part; empty when too few items were timed.

    Args:
        answers: The part's answers in the order of its items; one without a time adds nothing.
        target_seconds: The exam's pace, 108 s for 100 items in 180 minutes.
    """
    timed_count = sum(answer.seconds is not None for answer in answers)
    if timed_count < TIMED_FRACTION * len(answers) or not timed_count:
        return ()
    found, clock = [], 0.0
    for item, answer in enumerate(answers, start=1):
        clock += answer.seconds or 0.0
        behind = clock - item * target_seconds
        found.append(Tick(item=item, spent_seconds=clock, behind_seconds=behind))
    return tuple(found)


def pace_of(answers: Sequence[Attempt], target_seconds: float) -> Pace | None:
    """How one part's time was spent; None when too few items were timed.

    Args:
        answers: The part's answers in the order of its items.
        target_seconds: The exam's pace, 108 s for 100 items in 180 minutes.

    Source: own, because the costs are plain counterfactuals: blanks at the share right of answered
    items, a rushed last quarter at that of the three quarters before it; the bounds are those of
    the score so many items would have brought (beta-binomial).
    """
    ticks = clock_of(answers, target_seconds)
    if not ticks:
        return None
    timed = [answer.seconds for answer in answers if answer.seconds is not None]
    worst = max(ticks, key=lambda tick: tick.behind_seconds)
    behind = max(0.0, worst.behind_seconds)
    long = [seconds for seconds in timed if seconds > LONG_FACTOR * target_seconds]
    cut = len(answers) - len(answers) // 4
    early, late = _answered(answers[:cut]), _answered(answers[cut:])
    late_seconds = [answer.seconds for answer in late if answer.seconds is not None]
    last = median(late_seconds) if late_seconds else 0.0
    blank_count = sum(answer.outcome == "blank" for answer in answers)
    early_seconds = [answer.seconds for answer in early if answer.seconds is not None]
    usual = median(early_seconds) if early_seconds else 0.0
    rushed = bool(late_seconds) and last < RUSHED_FRACTION * usual
    lost = _cost(early, late, blank_count, rushed)
    if ticks[-1].spent_seconds < (1 - SPARE_FRACTION) * len(answers) * target_seconds:
        lost = (0.0, 0.0, 0.0)
    return Pace(
        item_count=len(answers),
        timed_count=len(timed),
        spent_minutes=ticks[-1].spent_seconds / 60,
        target_minutes=len(answers) * target_seconds / 60,
        behind_item=worst.item if behind else 0,
        behind_minutes=behind / 60,
        long_count=len(long),
        long_minutes=sum(seconds - target_seconds for seconds in long) / 60,
        blank_count=blank_count,
        last_quarter_seconds=last,
        rushed=rushed,
        early_fraction=_share(early),
        late_fraction=_share(late),
        lost_marks=lost[0],
        lost_low=lost[1],
        lost_high=lost[2],
    )


def _cost(
    early: Sequence[Attempt], late: Sequence[Attempt], blank_count: int, rushed: bool
) -> tuple[float, float, float]:
    """Marks lost to blanks and to a rushed last quarter, with likely bounds."""
    answered = [*early, *late]
    lost, scored = blank_count * _share(answered), 0
    again = [_like(answered, blank_count)]
    fell = _share(early) - _share(late)
    if rushed and fell > 0:
        lost += fell * len(late)
        again.append(_like(early, len(late)))
        scored = sum(answer.right for answer in late)
    pmf = score_distributions(again)[0]
    low, high = (quantile(pmf, (1 + side * LIKELY_LEVEL) / 2) for side in (-1, 1))
    return lost, max(0.0, low - scored), max(0.0, high - scored)


def _like(answers: Sequence[Attempt], item_count: int) -> Part:
    """Items answered as well as these were, by Jeffreys' prior."""
    right = sum(answer.right for answer in answers)
    strength = len(answers) + 1
    return Part(item_count=item_count, mean=(right + 0.5) / strength, strength=strength)


def _answered(answers: Sequence[Attempt]) -> list[Attempt]:
    return [answer for answer in answers if answer.outcome != "blank"]


def _share(answers: Sequence[Attempt]) -> float:
    return sum(answer.right for answer in answers) / len(answers) if answers else 0.0


def time_quantiles(answers: Sequence[Attempt]) -> tuple[Quantile, ...]:
    """Timed answers in four groups of about equal size, quickest first; empty with too few.

    Equal times are in one group.
    """
    timed = sorted(
        (answer.seconds, answer.right)
        for answer in answers
        if answer.seconds is not None and answer.outcome != "blank"
    )
    if len(timed) < LEAST_TIMED:
        return ()
    ends = {timed[round(len(timed) * part / 4) - 1][0] for part in range(1, 5)}
    groups = [
        [one for one in timed if low < one[0] <= high]
        for low, high in pairwise([-math.inf, *sorted(ends)])
    ]
    if len(groups) < 2:
        return ()
    return tuple(
        Quantile(
            low_seconds=group[0][0],
            high_seconds=group[-1][0],
            right_count=sum(right for _, right in group),
            tried_count=len(group),
        )
        for group in groups
    )


def changed_answers(answers: Sequence[Attempt]) -> Changed:
    """What became of answers changed before they were handed in."""
    changed = [a for a in answers if a.first and a.chosen and a.first != a.chosen]
    return Changed(
        right_to_wrong=sum(not a.right and a.first == a.key for a in changed),
        wrong_to_right=sum(a.right for a in changed),
        wrong_to_wrong=sum(not a.right and a.first != a.key for a in changed),
    )
