"""Share right over time, round by round, with how sure each share is."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from kb.core.ids import Round
from kb.core.model import Attempt
from kb.stats.proportions import Interval, likely_range

SPAN_DAYS = 7
ORDER: tuple[Round, ...] = ("first", "second", "paper")


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanShare:
    """Answers of one round from `first_day` to `last_day`, both included."""

    round: Round
    first_day: date
    last_day: date
    right_count: int
    tried_count: int
    likely: Interval

    @property
    def fraction(self) -> float:
        """Share right."""
        return self.right_count / self.tried_count


def rounds_of(attempts: Iterable[Attempt]) -> tuple[tuple[Attempt, Round], ...]:
    """Each of `attempts`, in order of time, with its round.

    An answer logged without a round counts as the first round when its question was new, and as
    the second when it was met before.
    """
    met: set[str] = set()
    found: list[tuple[Attempt, Round]] = []
    for attempt in attempts:
        guessed: Round = "second" if attempt.question in met else "first"
        met.add(attempt.question)
        found.append((attempt, attempt.round or guessed))
    return tuple(found)


def shares_over_time(attempts: Iterable[Attempt], today: date) -> tuple[SpanShare, ...]:
    """Share right in each week, for each round answered in it, by round as in `ORDER` and by time.

    Weeks are counted back from `today`, so that the last one is whole. A blank scored nothing, so
    it counts as not right.

    Args:
        attempts: In order of time, none after `today`.
        today: The last day of the last week.

    Source: wilson1927 for the intervals, at 80%.
    """
    counts: dict[tuple[int, int], list[int]] = {}
    for attempt, round_ in rounds_of(attempts):
        back = (today - attempt.day).days // SPAN_DAYS
        own = counts.setdefault((ORDER.index(round_), -back), [0, 0])
        own[0] += attempt.right
        own[1] += 1
    return tuple(
        SpanShare(
            round=ORDER[which],
            first_day=date.fromordinal(max(1, today.toordinal() + SPAN_DAYS * (place - 1) + 1)),
            last_day=today + timedelta(days=SPAN_DAYS * place),
            right_count=right,
            tried_count=tried,
            likely=likely_range(right, tried),
        )
        for (which, place), (right, tried) in sorted(counts.items())
    )
