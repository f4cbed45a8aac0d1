"""What a report is made of: the same for terminal, JSON and page.

A report says what to show; `render.py` decides how. Values stay raw (numbers, dates), with a kind
that says how to write them.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import KW_ONLY, field, replace
from datetime import date
from operator import attrgetter
from typing import Literal, Self

from kb.core.errors import Problem
from kb.core.records import record

Kind = Literal[
    "text",
    "count",
    "fraction",
    "marks",
    "days",
    "minutes",
    "seconds",
    "date",
    "day",
    "number",
    "area",
    "source",
    "word",
]
"""How a value is written. `word` is a word of the log, shown by its label; `area` and `source` are
ids, as typed, and the page shows their names.
"""

WORDS: tuple[Kind, ...] = ("text", "date", "day", "area", "source", "word")
"""Kinds read as words, and so aligned left."""

Fact = tuple[str, str, object, Kind]
"""A single figure: key, label, raw value, kind."""


@record(frozen=True)
class Option:
    """One option of a report, the same on the command line and on the page.

    `kind` is `int`, `float`, `text`, `flag`, `date`, `area` (an area of the blueprint), or
    `words` (the rest of the line, given without a name). `choices` limits a text, `least` a number.
    """

    name: str
    kind: Literal["int", "float", "text", "flag", "date", "area", "words"]
    _: KW_ONLY
    default: object = None
    help: str = ""
    unit: str = ""
    choices: tuple[str, ...] = ()
    required: bool = False
    least: float | None = None


@record(frozen=True)
class Column:
    """A column of a table. `key` names it in JSON; `kind` says how its values are written.

    `quiet` ones are for JSON only. `of` is the attribute that `rows_of` takes it from, such as
    `likely.low`, where that has another name than the key.
    """

    key: str
    label: str
    kind: Kind = "text"
    _: KW_ONLY
    quiet: bool = False
    of: str = ""

    @property
    def is_number(self) -> bool:
        """Whether its values are aligned right."""
        return self.kind not in WORDS


@record(frozen=True)
class Table:
    """Rows of raw values, one for each column; None is shown as a dash."""

    key: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[object, ...], ...]
    _: KW_ONLY
    title: str = ""
    empty: str = "Nothing to show."

    def shown(self) -> Self:
        """The table without its quiet columns."""
        return self.only([place for place, column in enumerate(self.columns) if not column.quiet])

    def filled(self) -> Self:
        """The table without columns in which no row has anything."""
        cells = enumerate(zip(*self.rows, strict=True))
        return self.only(
            [place for place, column in cells if any(c not in (None, "") for c in column)]
        )

    def only(self, kept: Sequence[int]) -> Self:
        """The table with the columns at these places alone."""
        return replace(
            self,
            columns=tuple(self.columns[place] for place in kept),
            rows=tuple(tuple(row[place] for place in kept) for row in self.rows),
        )


@record(frozen=True, kw_only=True)
class Entry:
    """One line of a handover list: a head, text to its right, and lines beneath.

    `fields` are (key, raw value) for readers of the JSON. `passage` is in pieces: (text, whether it
    matched).
    """

    head: str
    right: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    passage: tuple[tuple[str, bool], ...] = ()
    fields: tuple[tuple[str, object], ...] = ()
    note: str = ""


def fields_of(row: object, *names: str) -> tuple[tuple[str, object], ...]:
    """Fields of an entry, from the attributes of `row` with those names."""
    return tuple((name, getattr(row, name)) for name in names)


@record(frozen=True)
class Entries:
    """A handover list: worst first, numbered from `first` on when `numbered`.

    Each entry has one head, one sentence of evidence and one thing to do.
    """

    key: str
    entries: Sequence[Entry]
    _: KW_ONLY
    title: str = ""
    numbered: bool = True
    first: int = 1
    empty: str = "Nothing to show."


@record(frozen=True)
class Text:
    """A paragraph. `quiet` ones are hints and cautions; a `key` names one that reports share."""

    text: str
    _: KW_ONLY
    quiet: bool = False
    key: str = ""


@record(frozen=True)
class Facts:
    """Single figures with a name. `quiet` ones are for JSON only: the text has them already."""

    key: str
    facts: tuple[Fact, ...]
    _: KW_ONLY
    title: str = ""
    quiet: bool = False


Block = Table | Entries | Text | Facts


@record(frozen=True)
class Report:
    """The answer to one question of the doctor.

    `right` is shown to the right of the title; a report on the base gets the day and the days left
    there, as it gets its `name` and `areas`, short names by id for a terminal. `cites` are keys of
    `citations.WORKS`; `findings` are the problems that `check` lists.
    """

    title: str
    blocks: tuple[Block, ...]
    _: KW_ONLY
    name: str = ""
    right: str = ""
    cites: tuple[str, ...] = ()
    terms: tuple[tuple[str, str], ...] = ()
    findings: tuple[Problem, ...] = ()
    areas: Mapping[str, str] = field(default_factory=dict)

    def entries(self, key: str) -> list[Entry]:
        """The entries of the list with that key; none where it has no such list."""
        lists = (b for b in self.blocks if isinstance(b, Entries) and b.key == key)
        return [entry for block in lists for entry in block.entries]


def rows_of(columns: Iterable[Column], found: Iterable[object]) -> tuple[tuple[object, ...], ...]:
    """Rows of a table, from the attributes of what was found that its columns are named after."""
    cells = [attrgetter(column.of or column.key) for column in columns]
    return tuple(tuple(cell(one) for cell in cells) for one in found)


def paragraphs(*texts: str, quiet: bool = False) -> list[Block]:
    """A paragraph for each of these texts that says something."""
    return [Text(text, quiet=quiet) for text in texts if text]


def named_right(entry: Entry, areas: Mapping[str, str]) -> tuple[str, ...]:
    """The text to the right of an entry, with areas by name. The entry's fields `area` or `areas`
    say which of the texts are ids.
    """
    fields = dict(entry.fields)
    given = fields.get("areas") or fields.get("area") or ()
    own = (given,) if isinstance(given, str) else given if isinstance(given, tuple) else ()
    names = ", ".join(areas.get(each, each) for each in own)
    return tuple(names if own and text == ", ".join(own) else text for text in entry.right if text)


def day_line(today: date, exam_day: date) -> str:
    """`14 Feb 2027, 86 days left`: the right-hand side of most titles."""
    left = (exam_day - today).days
    if left > 1:
        ahead = f"{left} days left"
    elif left == 1:
        ahead = "the exam is tomorrow"
    elif left == 0:
        ahead = "the exam is today"
    else:
        ahead = "the exam is over"
    return f"{today.day} {today:%b %Y}, {ahead}"
