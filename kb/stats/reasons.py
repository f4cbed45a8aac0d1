"""Why questions are missed: knowledge or technique?"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TypeVar

from kb.core.ids import REASONS
from kb.core.model import Attempt
from kb.stats.proportions import Interval, likely_range

Key = TypeVar("Key")
TECHNIQUE = ("misread", "switched", "rushed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """How many of the misses with a reason had this one, with the likely range of that share."""

    reason: str
    count: int
    total_count: int
    interval: Interval

    @property
    def fraction(self) -> float:
        """Share of the misses that have a reason."""
        return self.count / self.total_count


def reason_shares(attempts: Iterable[Attempt]) -> tuple[Share, ...]:
    """One row for each reason given, most frequent first, then in the order of the words.

    Source: wilson1927 for the interval.
    """
    given = [str(attempt.reason) for attempt in _with_reason(attempts)]
    rows = [(reason, given.count(reason)) for reason in REASONS]
    shares = [_share(reason, count, len(given)) for reason, count in rows if count]
    return tuple(sorted(shares, key=lambda share: -share.count))


def technique_share(attempts: Iterable[Attempt]) -> Share | None:
    """The share of technique (misread, switched, rushed); None when no miss has a reason.

    Source: wilson1927 for the interval.
    """
    given = [attempt.reason for attempt in _with_reason(attempts)]
    if not given:
        return None
    return _share("technique", sum(reason in TECHNIQUE for reason in given), len(given))


def by_area(attempts: Iterable[Attempt]) -> dict[str, tuple[Attempt, ...]]:
    """Misses with a reason by area, most misses first."""
    return _grouped((attempt.area, attempt) for attempt in _with_reason(attempts))


def by_week(attempts: Iterable[Attempt]) -> dict[date, tuple[Attempt, ...]]:
    """Misses with a reason by the Monday of their week, earliest first."""
    weeks = (
        (attempt.day - timedelta(days=attempt.day.weekday()), attempt)
        for attempt in _with_reason(attempts)
    )
    return dict(sorted(_grouped(weeks).items()))


def _with_reason(attempts: Iterable[Attempt]) -> list[Attempt]:
    return [attempt for attempt in attempts if attempt.reason and not attempt.right]


def _grouped(pairs: Iterable[tuple[Key, Attempt]]) -> dict[Key, tuple[Attempt, ...]]:
    groups: dict[Key, list[Attempt]] = {}
    for key, attempt in pairs:
        groups.setdefault(key, []).append(attempt)
    ordered = sorted(groups.items(), key=lambda item: -len(item[1]))
    return {key: tuple(found) for key, found in ordered}


def _share(reason: str, count: int, total: int) -> Share:
    interval = likely_range(count, total)
    return Share(reason=reason, count=count, total_count=total, interval=interval)
