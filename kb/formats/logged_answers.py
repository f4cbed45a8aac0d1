"""The answers of a log as it was read: columns, of which a million need little room."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from kb.core.answers import Answers, Codes
from kb.core.errors import Place
from kb.core.model import Attempt

if TYPE_CHECKING:
    from numpy.typing import NDArray

CODED = (
    *("question", "outcome", "area", "concept", "first", "chosen", "key", "certainty", "seconds"),
    *("reason", "round", "sitting", "batch", "remark"),
)
"""The attributes of an answer between its moment and its place, in order."""
NOT_VALID = -1


class Column(dict[str, int]):
    """The code of each text of a column; `meant` is what the codes stand for.

    Args:
        read: Text of a cell -> its value; KeyError or ValueError if it is not valid, whose code is
            `NOT_VALID`.
    """

    def __init__(self, read: Callable[[str], Any] = str) -> None:
        self.read = read
        self.meant: list[Any] = []

    def __missing__(self, text: str) -> int:
        try:
            value = self.read(text)
        except (KeyError, ValueError):
            code = NOT_VALID
        else:
            code = self.setdefault(value, len(self.meant))
            if code == len(self.meant):
                self.meant.append(value)
        self[text] = code
        return code

    def codes(self, cells: Sequence[str]) -> NDArray[np.int32]:
        """The code of each cell."""
        if not any(cells):
            return np.full(len(cells), self[""], np.int32)
        return np.fromiter(map(self.__getitem__, cells), np.int32, len(cells))


class LoggedAnswers(Answers):
    """Answers of log files.

    Args:
        texts: The ids of all lines and their moments as written, each divided by line breaks.
        arrays: Codes of `CODED` and of `path`; `line`, the number in that file; `moment` and `day`,
            see `moments` and `days`.
        values: What the codes of each column stand for.
        lines: The place of each answer in the texts; default: all of them in order.
    """

    def __init__(
        self,
        texts: tuple[str, str],
        arrays: dict[str, NDArray[Any]],
        values: dict[str, list[Any]],
        lines: NDArray[np.int32] | None = None,
    ) -> None:
        self._texts, self.arrays, self.values, self._lines = texts, arrays, values, lines
        super().__init__()
        self.moments, self.days = arrays["moment"], arrays["day"]

    def __len__(self) -> int:
        return len(self.days)

    def column(self, name: str) -> Codes:
        """What an attribute is for each answer."""
        if name in self.arrays:
            return self.arrays[name], self.values[name]
        return super().column(name)

    @property
    def ids(self) -> list[str]:
        """The id of each answer."""
        return self._cells(0)

    def _cells(self, which: int) -> list[str]:
        """The cells of one of the two texts."""
        cells = self._texts[which].split("\n") if len(self) else []
        return cells if self._lines is None else [*map(cells.__getitem__, self._lines.tolist())]

    @property
    def texts(self) -> tuple[str, str]:
        """The ids and the moments as written, of these answers alone."""
        return self._texts if self._lines is None else _joined(map(self._cells, (0, 1)))

    @cached_property
    def rows(self) -> tuple[Attempt, ...]:
        """The records, made together."""
        cells = [
            map(self.values[name].__getitem__, self.arrays[name].tolist())
            for name in (*CODED, "path")
        ]
        places = map(Place, cells.pop(), self.arrays["line"].tolist())
        moments = map(datetime.fromisoformat, self._cells(1))
        return tuple(map(Attempt, self.ids, moments, *cells, places))

    def named(self, names: Collection[str]) -> NDArray[np.bool_]:
        """Which answers have their id, or that of their import, among those names."""
        if not names:
            return np.zeros(len(self), dtype=bool)
        by_id = np.fromiter((own in names for own in self.ids), bool, len(self))
        return by_id | self.where("batch", lambda batch: batch in names)

    def take(self, places: NDArray[np.int_]) -> LoggedAnswers:
        """The answers at these places, in that order."""
        if not len(places):
            return NONE
        arrays = {name: array[places] for name, array in self.arrays.items()}
        lines = places.astype(np.int32) if self._lines is None else self._lines[places]
        return LoggedAnswers(self._texts, arrays, self.values, lines)


NONE = LoggedAnswers(
    ("", ""),
    dict.fromkeys((*CODED, "path", "line", "moment", "day"), np.zeros(0, np.int32)),
    {name: [] for name in (*CODED, "path")},
)


def joined(parts: Sequence[LoggedAnswers]) -> LoggedAnswers:
    """The answers of all parts, part after part."""
    first, *others = parts = [part for part in parts if len(part)] or [NONE]
    if not others:
        return first
    arrays, values = (
        {name: [part.arrays[name] for part in parts] for name in first.arrays},
        first.values,
    )
    if any(part.values is not values for part in others):
        values = {}
        for name in first.values:
            known: dict[Any, int] = {}
            for which, part in enumerate(parts):
                own = [known.setdefault(value, len(known)) for value in part.values[name]]
                arrays[name][which] = np.array(own, np.int32)[part.arrays[name]]
            values[name] = list(known)
    texts = _joined(zip(*(part.texts for part in parts), strict=True))
    whole = {name: np.concatenate(arrays.pop(name)) for name in (*arrays,)}
    for name, own in values.items():
        whole[name] = whole[name].astype(np.min_scalar_type(len(own)), copy=False)
    return LoggedAnswers(texts, whole, values)


def _joined(texts: Iterable[Iterable[str]]) -> tuple[str, str]:
    """Two columns, their cells divided by line breaks."""
    ids, written = map("\n".join, texts)
    return ids, written


def plain_columns(lines: bytes, count: int) -> list[Sequence[str]] | None:
    """The columns of lines of the usual kind: that many fields, none in quotes."""
    characters = np.frombuffer(lines, np.uint8)
    ends, commas = (np.flatnonzero(characters == ord(character)) for character in "\n,")
    regular = np.arange(1, len(ends) + 1) * (count - 1)
    if not np.array_equal(np.searchsorted(commas, ends), regular):
        return None
    if any(character in lines for character in (b'"', b"'", b"\0")):
        return None
    try:
        text = lines.decode()
    except UnicodeDecodeError:
        return None
    cells = text.replace("\r\n", "\n").replace("\n", ",").split(",")
    return [cells[at:-1:count] for at in range(count)]
