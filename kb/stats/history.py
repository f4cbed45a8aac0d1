"""One learner's answers in order, as the plain columns that the models run over."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from kb.core.answers import Answers, Codes, cells_of, coded

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from numpy.typing import NDArray

    from kb.core.model import Attempt

SECONDS_PER_DAY = 86400.0
EPOCH_ORDINAL = 719163


@dataclass(frozen=True, slots=True, kw_only=True)
class Meetings:
    """What came before each answer under the same name: of its question, or of its area.

    `codes` number the names in order of their first answers; `index` has each name's. `previous` is
    the row of the answer before, -1 at the first; `met` and `hits` count the answers before, and
    the right ones among them.
    """

    index: dict[str, int]
    codes: NDArray[np.int32]
    previous: NDArray[np.int32]
    met: NDArray[np.int32]
    hits: NDArray[np.int32]


def meetings(asked: Codes, rights: NDArray[np.bool_]) -> Meetings:
    """The meetings of each name, for answers in order of time."""
    own, names = asked
    first = np.full(len(names), len(own))
    first[own[::-1]] = np.arange(len(own))[::-1]  # the last of equal codes remains
    met_first = np.argsort(first)[: int((first < len(own)).sum())]
    numbers = np.zeros(len(names), np.int32)
    numbers[met_first] = np.arange(len(met_first))
    codes = numbers[own]
    order = np.argsort(codes, kind="stable")
    starts = np.searchsorted(codes[order], np.arange(len(met_first)))[codes[order]]
    ordered = rights[order].astype(int)
    before = np.cumsum(ordered) - ordered
    previous, met, hits = (np.empty_like(codes) for _ in range(3))
    met[order] = np.arange(len(codes)) - starts
    hits[order] = before - before[starts]
    previous[order] = np.where(met[order] > 0, np.roll(order, 1), -1)
    index = {names[code]: number for number, code in enumerate(met_first.tolist())}
    return Meetings(index=index, codes=codes, previous=previous, met=met, hits=hits)


@dataclass(frozen=True, kw_only=True)
class History:
    """Answers of one learner, oldest first, in columns of one length: the questions asked, the
    areas they are of, the days, and which answers were right.

    `days` is the moment in days from any fixed point, nan where it is not known.
    """

    asked: Codes
    of_area: Codes
    days: NDArray[np.float64]
    rights: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.rights)

    @cached_property
    def questions(self) -> tuple[str, ...]:
        """The question of each answer."""
        return cells_of(self.asked)

    @cached_property
    def areas(self) -> tuple[str, ...]:
        """The area of each answer."""
        return cells_of(self.of_area)

    @cached_property
    def meetings(self) -> Meetings:
        """What came before each answer to the same question."""
        return meetings(self.asked, self.rights)

    @cached_property
    def in_areas(self) -> Meetings:
        """What came before each answer in the same area."""
        return meetings(self.of_area, self.rights)

    def upto(self, count: int) -> History:
        """The first `count` answers."""
        (asked, questions), (of_area, areas) = self.asked, self.of_area
        return History(
            asked=(asked[:count], questions),
            of_area=(of_area[:count], areas),
            days=self.days[:count],
            rights=self.rights[:count],
        )


def noon_number(day: date) -> float:
    """The noon of `day` on the count of days of `history_of`."""
    return day.toordinal() - EPOCH_ORDINAL + 0.5


def history_of(attempts: Iterable[Attempt]) -> History:
    """The columns of `attempts`, in their order; a blank is not right, since it scored nothing."""
    answers = Answers.of(attempts)
    return History(
        asked=answers.column("question"),
        of_area=answers.column("area"),
        days=answers.moments / SECONDS_PER_DAY,
        rights=answers.rights,
    )


def build_history(
    questions: Sequence[str],
    areas: Sequence[str],
    rights: Sequence[bool],
    days: Sequence[float] | None = None,
) -> History:
    """A history from columns; without `days` no gap is known."""
    count = len(questions)
    return History(
        asked=coded(questions, count),
        of_area=coded(areas, count),
        days=np.full(count, np.nan) if days is None else np.array(days, float),
        rights=np.array(rights, bool),
    )
