"""Answers as columns, which is what counting needs, and the records on demand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property
from itertools import compress
from operator import attrgetter
from typing import TYPE_CHECKING, Any, overload

import numpy as np

from kb.core.model import Attempt

if TYPE_CHECKING:
    from numpy.typing import NDArray

Codes = tuple["NDArray[np.int32]", list[Any]]
"""A number for each answer, and what each number stands for."""


def coded(cells: Iterable[Any], count: int) -> Codes:
    """Cells as codes, numbered in order of their first use."""
    known: dict[Any, int] = {}
    codes = (known.setdefault(cell, len(known)) for cell in cells)
    return np.fromiter(codes, np.int32, count), list(known)


def cells_of(column: Codes) -> tuple[Any, ...]:
    """What the codes of a column stand for, one by one."""
    codes, values = column
    return tuple(map(values.__getitem__, codes.tolist()))


class Answers(Sequence[Attempt]):
    """Answers in an order; each column is worked out on first use."""

    def __init__(self, rows: Iterable[Attempt] = ()) -> None:
        self._given = tuple(rows)
        self._coded: dict[str, Codes] = {}

    @classmethod
    def of(cls, attempts: Iterable[Attempt]) -> Answers:
        """The same answers with their columns."""
        return attempts if isinstance(attempts, Answers) else Answers(attempts)

    @property
    def rows(self) -> tuple[Attempt, ...]:
        """The records."""
        return self._given

    def column(self, name: str) -> Codes:
        """What an attribute is for each answer."""
        if name not in self._coded and name == "source":
            codes, questions = self.column("question")
            own, names = coded((q.partition(":")[0] for q in questions), len(questions))
            self._coded[name] = own[codes], names
        if name not in self._coded:
            self._coded[name] = coded(map(attrgetter(name), self.rows), len(self))
        return self._coded[name]

    @cached_property
    def ids(self) -> list[str]:
        """The id of each answer."""
        return [row.id for row in self.rows]

    @cached_property
    def moments(self) -> NDArray[np.float64]:
        """Seconds since 1970 in UTC."""
        return np.fromiter((row.at.timestamp() for row in self.rows), float, len(self))

    @cached_property
    def days(self) -> NDArray[np.int32]:
        """The day on the doctor's own clock, as `date.toordinal` counts."""
        return np.fromiter((row.day.toordinal() for row in self.rows), np.int32, len(self))

    def where(self, name: str, test: Callable[[Any], object]) -> NDArray[np.bool_]:
        """For which answers an attribute passes a test, which is asked once for each value."""
        codes, values = self.column(name)
        return np.fromiter(map(test, values), bool, len(values))[codes]

    def equals(self, name: str, value: object) -> NDArray[np.bool_]:
        """For which answers an attribute has that value."""
        return self.where(name, lambda own: own == value)

    def distinct(self, name: str, wanted: NDArray[np.bool_] | None = None) -> set[Any]:
        """The values that an attribute has, of all answers or of those wanted."""
        codes, values = self.column(name)
        there = np.zeros(len(values), dtype=bool)
        there[codes if wanted is None else codes[wanted]] = True
        return {*compress(values, there.tolist())}

    def counts(self, name: str, wanted: NDArray[np.bool_] | None = None) -> Counter[Any]:
        """How many answers, or of those wanted, have each value; as they came first."""
        codes, values = self.column(name)
        own = codes if wanted is None else codes[wanted]
        found, first, counts = np.unique(own, return_index=True, return_counts=True)
        rows = sorted(zip(first.tolist(), found.tolist(), counts.tolist(), strict=True))
        return Counter({values[code]: count for _, code, count in rows})

    @cached_property
    def rights(self) -> NDArray[np.bool_]:
        """Which answers scored."""
        return self.equals("outcome", "right")

    @cached_property
    def new(self) -> NDArray[np.bool_]:
        """Which answers are the first to their question."""
        found = np.zeros(len(self), dtype=bool)
        found[np.unique(self.column("question")[0], return_index=True)[1]] = True
        return found

    @cached_property
    def latest(self) -> NDArray[np.bool_]:
        """Which answers are the last to their question."""
        found = np.zeros(len(self), dtype=bool)
        found[::-1][np.unique(self.column("question")[0][::-1], return_index=True)[1]] = True
        return found

    def take(self, places: NDArray[np.int_]) -> Answers:
        """The answers at these places, in that order."""
        return Answers(map(self.rows.__getitem__, places.tolist()))

    def only(self, wanted: NDArray[np.bool_]) -> Answers:
        """The answers of which it is true."""
        return self if wanted.all() else self.take(np.flatnonzero(wanted))

    def __len__(self) -> int:
        return len(self._given)

    def __iter__(self) -> Iterator[Attempt]:
        return iter(self.rows)

    @overload
    def __getitem__(self, place: int) -> Attempt: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[Attempt, ...]: ...
    def __getitem__(self, place: int | slice) -> Attempt | tuple[Attempt, ...]:
        return self.rows[place]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and self.rows == tuple(other)

    __hash__ = None  # type: ignore[assignment]
