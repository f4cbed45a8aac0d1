"""One learner's answers in order, as the plain columns that the models run over."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from kb.core.model import Attempt

SECONDS_PER_DAY = 86400.0
EPOCH_ORDINAL = 719163


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Answers of one learner, oldest first, in columns of one length.

    `days` is the moment in days from any fixed point, nan where it is not known.
    """

    questions: tuple[str, ...]
    areas: tuple[str, ...]
    days: tuple[float, ...]
    rights: tuple[bool, ...]

    def __len__(self) -> int:
        return len(self.questions)

    def upto(self, count: int) -> History:
        """The first `count` answers."""
        return History(
            questions=self.questions[:count],
            areas=self.areas[:count],
            days=self.days[:count],
            rights=self.rights[:count],
        )


def noon_number(day: date) -> float:
    """The noon of `day` on the count of days of `history_of`."""
    return day.toordinal() - EPOCH_ORDINAL + 0.5


def history_of(attempts: Iterable[Attempt]) -> History:
    """The columns of `attempts`, in their order; a blank is not right, since it scored nothing."""
    rows = list(attempts)
    return History(
        questions=tuple(row.question for row in rows),
        areas=tuple(row.area for row in rows),
        days=tuple(row.at.timestamp() / SECONDS_PER_DAY for row in rows),
        rights=tuple(row.outcome == "right" for row in rows),
    )


def build_history(
    questions: Sequence[str],
    areas: Sequence[str],
    rights: Sequence[bool],
    days: Sequence[float] | None = None,
) -> History:
    """A history from columns; without `days` no gap is known."""
    return History(
        questions=tuple(questions),
        areas=tuple(areas),
        days=tuple(days) if days is not None else (math.nan,) * len(questions),
        rights=tuple(rights),
    )
