"""How far your certainty can be trusted: certainty-based marks, and calibration."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kb.core.answers import Answers
from kb.core.model import Attempt
from kb.stats.proportions import Interval, likely_range, wilson

MARKS_RIGHT = {1: 1, 2: 2, 3: 3}
MARKS_WRONG = {1: 0, 2: -2, 3: -6}
SPANS = {1: (0.0, 2 / 3), 2: (2 / 3, 0.8), 3: (0.8, 1.0)}
"""The chances of being right for which each level pays best."""
EXPECTED = {1: 0.5, 2: 0.75, 3: 0.9}
"""The chance of being right that each level stands for. Certainty-based marking pays best at level
1 below 2/3, at level 2 up to 4/5, at level 3 above; these lie in the middle of each span."""

NAMES = {1: "unsure", 2: "fairly sure", 3: "sure"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """Answers given with one certainty: how many were right, and the 95% interval of that share."""

    certainty: int
    right_count: int
    tried_count: int
    interval: Interval

    @property
    def fraction(self) -> float:
        """Share right."""
        return self.right_count / self.tried_count

    @property
    def expected(self) -> float:
        """The share right that this certainty claims."""
        return EXPECTED[self.certainty]

    @property
    def likely(self) -> Interval:
        """The likely range of the share right."""
        return likely_range(self.right_count, self.tried_count)

    @property
    def verdict(self) -> str:
        """Whether another level would have paid better, by the 95% interval; empty if not."""
        low, high = SPANS[self.certainty]
        if self.interval.high < low:
            return "a lower certainty would have scored better"
        if self.interval.low > high:
            return "a higher certainty would have scored better"
        return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Murphy:
    """Brier score = reliability - resolution + uncertainty."""

    brier: float
    reliability: float
    resolution: float
    uncertainty: float


def chosen_answers(
    attempts: Iterable[Attempt], sitting: str = "", *, new_only: bool = False
) -> Answers:
    """The answers to judge certainty by: those of one sitting, or all; with `new_only` the first
    answer to each question.
    """
    answers = Answers.of(attempts)
    if sitting:
        answers = answers.only(answers.equals("sitting", sitting.casefold()))
    return answers.only(answers.new) if new_only else answers


def certainty_marks(attempts: Iterable[Attempt]) -> int:
    """Certainty-based marks: 1, 2, 3 when right, 0, -2, -6 when wrong; blanks and answers
    without a certainty score nothing.

    Source: gardner-medwin1995.
    """
    judged = _judged(attempts)
    return sum((MARKS_RIGHT if right else MARKS_WRONG)[certainty] for certainty, right in judged)


def _judged(attempts: Iterable[Attempt]) -> list[tuple[int, bool]]:
    """Certainty, and whether right, of each answer given with one."""
    told = (attempt for attempt in attempts if attempt.outcome != "blank")
    return [(one.certainty, one.right) for one in told if one.certainty is not None]


def levels(attempts: Iterable[Attempt]) -> tuple[Level, ...]:
    """One row for each certainty that was given, lowest first.

    Source: wilson1927 for the interval.
    """
    counts: dict[int, list[int]] = {}
    for certainty, right in _judged(attempts):
        row = counts.setdefault(certainty, [0, 0])
        row[0] += right
        row[1] += 1
    return tuple(
        Level(certainty=c, right_count=r, tried_count=n, interval=wilson(r, n))
        for c, (r, n) in sorted(counts.items())
    )


def brier(forecasts: Sequence[float], outcomes: Sequence[int]) -> float:
    """Mean squared difference of forecast and outcome (0 or 1); 0 is perfect.

    Raises:
        ValueError: No forecast, or not one outcome for each.

    Source: brier1950, halved two-class form.
    """
    if not forecasts:
        raise ValueError("no forecast to judge")
    pairs = zip(forecasts, outcomes, strict=True)
    return sum((p - y) ** 2 for p, y in pairs) / len(forecasts)


def murphy(forecasts: Sequence[float], outcomes: Sequence[int]) -> Murphy:
    """Brier score in three parts; the groups are the distinct forecast values.

    Raises:
        ValueError: No forecast, or not one outcome for each.

    Source: murphy1973.
    """
    score = brier(forecasts, outcomes)
    count = len(forecasts)
    rate = sum(outcomes) / count
    groups: dict[float, list[int]] = {}
    for forecast, outcome in zip(forecasts, outcomes, strict=True):
        groups.setdefault(forecast, []).append(outcome)
    shares = {p: sum(seen) / len(seen) for p, seen in groups.items()}
    reliability = sum(len(seen) * (p - shares[p]) ** 2 for p, seen in groups.items()) / count
    resolution = sum(len(seen) * (shares[p] - rate) ** 2 for p, seen in groups.items()) / count
    return Murphy(
        brier=score, reliability=reliability, resolution=resolution, uncertainty=rate * (1 - rate)
    )


def certainty_murphy(attempts: Iterable[Attempt]) -> Murphy | None:
    """The same for answers with a certainty, each level taken as its expected chance.

    Source: murphy1973.
    """
    used = _judged(attempts)
    if not used:
        return None
    return murphy([EXPECTED[certainty] for certainty, _ in used], [int(right) for _, right in used])
