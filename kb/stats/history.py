"""One learner's answers in order, as the plain columns that the models run over."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from kb.core.answers import Answers

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


def meetings(names: Sequence[str], rights: Sequence[bool]) -> Meetings:
    """The meetings of each name, for answers in order of time."""
    index = {name: code for code, name in enumerate(dict.fromkeys(names))}
    codes = np.fromiter(map(index.__getitem__, names), np.int32, len(names))
    order = np.argsort(codes, kind="stable")
    starts = np.searchsorted(codes[order], np.arange(len(index)))[codes[order]]
    ordered = np.asarray(rights, dtype=int)[order]
    before = np.cumsum(ordered) - ordered
    previous, met, hits = (np.empty_like(codes) for _ in range(3))
    met[order] = np.arange(len(codes)) - starts
    hits[order] = before - before[starts]
    previous[order] = np.where(met[order] > 0, np.roll(order, 1), -1)
    return Meetings(index=index, codes=codes, previous=previous, met=met, hits=hits)


@dataclass(frozen=True, kw_only=True)
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

    @cached_property
    def meetings(self) -> Meetings:
        """What came before each answer to the same question."""
        return meetings(self.questions, self.rights)

    @cached_property
    def in_areas(self) -> Meetings:
        """What came before each answer in the same area."""
        return meetings(self.areas, self.rights)

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
    answers = Answers.of(attempts)
    return History(
        questions=answers.cells("question"),
        areas=answers.cells("area"),
        days=tuple((answers.moments / SECONDS_PER_DAY).tolist()),
        rights=tuple(answers.rights.tolist()),
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
