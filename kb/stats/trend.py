"""Trend: this month against the one before, on first answers, with how sure that is."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from kb.core.answers import Answers
from kb.core.model import Attempt
from kb.stats.proportions import newcombe_change

LEAST_COUNT = 5
MONTH_DAYS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """The change in the share right from one month to the next, a fraction, with 95% bounds."""

    change: float
    low: float
    high: float

    @property
    def word(self) -> str:
        """`up`, `down`, or `may be chance` when the bounds include no change."""
        if self.low > 0:
            return "up"
        return "down" if self.high < 0 else "may be chance"


def trends(
    attempts: Iterable[Attempt], today: date, days: int = MONTH_DAYS
) -> dict[str, Trend | None]:
    """The trend by area; None where either month has fewer than five answers to new questions.

    Repeats are left out: recognition would pass for learning.

    Args:
        attempts: In order of time.
        today: The last day of this month.
        days: Length of a month here, at least 1.

    Source: newcombe1998b, method 10.
    """
    split, start = today - timedelta(days=days), today - timedelta(days=2 * days)
    answers = Answers.of(attempts)
    counts = []
    for after, upto in ((split, today), (start, split)):
        within = (answers.days > after.toordinal()) & (answers.days <= upto.toordinal())
        for wanted in (answers.rights, True):
            counts.append(answers.counts("area", answers.new & within & wanted))
    return {area: _trend(*(own[area] for own in counts)) for area in answers.counts("area")}


def _trend(now_right: int, now_tried: int, then_right: int, then_tried: int) -> Trend | None:
    if min(now_tried, then_tried) < LEAST_COUNT:
        return None
    bounds = newcombe_change(now_right, now_tried, then_right, then_tried)
    change = now_right / now_tried - then_right / then_tried
    return Trend(change=change, low=bounds.low, high=bounds.high)
