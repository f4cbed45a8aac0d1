"""Trend: this month against the one before, on first answers, with how sure that is."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from kb.core.base_views import first_answers
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
    counts: dict[str, list[int]] = {}
    for attempt in first_answers(attempts):
        own = counts.setdefault(attempt.area, [0, 0, 0, 0])
        if attempt.day <= start or attempt.day > today:
            continue
        late = 0 if attempt.day > split else 2
        own[late] += attempt.right
        own[late + 1] += 1
    return {area: _trend(*own) for area, own in counts.items()}


def _trend(now_right: int, now_tried: int, then_right: int, then_tried: int) -> Trend | None:
    if min(now_tried, then_tried) < LEAST_COUNT:
        return None
    bounds = newcombe_change(now_right, now_tried, then_right, then_tried)
    change = now_right / now_tried - then_right / then_tried
    return Trend(change=change, low=bounds.low, high=bounds.high)
