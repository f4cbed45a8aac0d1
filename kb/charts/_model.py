"""What a picture is made of: panels with axes and elements, all plain numbers and words.

Nothing here knows how an element is drawn. Its shape, its line or a word beside it says what it
means, never a colour: there is one ink.
"""

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from kb.core.wording import short_day
from kb.presentation.report_model import Block, Report, Table, Text

Dash = Literal["solid", "dashed", "dotted"]
Shape = Literal["disc", "ring", "square", "cross"]
Side = Literal["left", "right", "above", "below"]
Points = tuple[tuple[float, float], ...]
MOST_TICKS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """A scale from `low` to `high` with its label (unit included) and (value, word) ticks.

    `names` makes it an axis of named rows, row 0 at the top.
    """

    label: str = ""
    low: float
    high: float
    ticks: tuple[tuple[float, str], ...] = ()
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line through points (x, y); `stepped` ones hold each value for one unit around its x."""

    points: Points
    dash: Dash = "solid"
    stepped: bool = False
    thin: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Dots:
    """Points (x, y) of one shape."""

    points: Points
    shape: Shape = "disc"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spans:
    """Intervals (at, low, high): upright at x = `at`, or `across` at y = `at`."""

    spans: tuple[tuple[float, float, float], ...]
    across: bool = False
    thick: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Bars:
    """Bars (at, size) from 0, `width` wide: upright, or `across`. `shade` from 0 (hollow) to 1."""

    bars: Points
    width: float
    shade: float = 0.5
    across: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """The area under stepped points (x, y), shaded from 0 to 1."""

    points: Points
    shade: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A line of reference across the whole panel: upright at x = `at`, or `level` at y = `at`.

    An upright one that is uncertain is hatched as far as `spread` on each side.
    """

    at: float
    level: bool = False
    spread: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Words beside the point (x, y), on one side of it.

    `quiet` ones may be left out where there is none.
    """

    x: float
    y: float
    text: str
    side: Side = "right"
    quiet: bool = False


Element = Line | Dots | Spans | Bars | Fill | Rule | Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """Elements on two axes. `height` is that of the plot in pixels, unless its y axis has rows.

    `share` is its part of the width where panels are side by side.
    """

    x: Axis
    y: Axis
    elements: tuple[Element, ...]
    title: str = ""
    height: int = 220
    share: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """One picture, what it says in words, and the numbers in it.

    `says` are one to three plain sentences that stand in for the picture, first what a doctor would
    say of it; without `panels` there is too little to draw, and they say so. `table` holds the very
    numbers drawn; `short` is the same to be read, where these are too many. `key` is one line that
    says what the shapes mean. Panels stand below each other, or `side_by_side`. A chart of the base
    gets its `name`, and to the `right` the day, as a report does.
    """

    title: str
    says: tuple[str, ...]
    table: Table
    panels: tuple[Panel, ...] = ()
    name: str = ""
    right: str = ""
    key: str = ""
    side_by_side: bool = False
    short: Table | None = None

    @property
    def alternative(self) -> str:
        """The text alternative in one paragraph."""
        return " ".join(self.says)

    def report(self, *, whole: bool) -> Report:
        """The same as a report: the sentences, and the table drawn if `whole`, or the short one."""
        blocks: tuple[Block, ...] = tuple(Text(text) for text in self.says)
        table = self.table if whole else self.short or self.table
        if table.rows:
            blocks = (*blocks, table)
        return Report(name=f"chart {self.name}", title=self.title, right=self.right, blocks=blocks)


def percent_axis(label: str, low: float = 0.0, high: float = 1.0, step: float = 0.2) -> Axis:
    """An axis of fractions, written as whole percent; it is widened to whole steps."""
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    ticks = tuple((n * step, f"{100 * n * step:.0f}") for n in range(first, last + 1))
    return Axis(label=label, low=first * step, high=last * step, ticks=ticks)


def row_axis(names: tuple[str, ...], label: str = "") -> Axis:
    """An axis of rows with these names, the first at the top."""
    return Axis(label=label, low=-0.5, high=len(names) - 0.5, names=names)


def count_axis(label: str, low: float, high: float, aim: int = 5, *, whole: bool = False) -> Axis:
    """An axis with about `aim` round steps, widened to whole steps; `whole` numbers only for what
    cannot be divided, such as items.
    """
    step = max(round_step((high - low) / aim), 1.0 if whole else 0.0)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    last = max(last, first + 1)
    # With a minus sign, not a hyphen.
    ticks = tuple(
        (n * step, f"{n * step:g}".replace("-", "\u2212")) for n in range(first, last + 1)
    )
    return Axis(label=label, low=first * step, high=last * step, ticks=ticks)


def round_step(least: float) -> float:
    """The smallest of 1, 2, 5, 10, 20, 50, ... that is not below `least`."""
    if least <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * n for n in (1, 2, 5, 10) if power * n >= least * (1 - 1e-9))


def day_axis(label: str, first: date, last: date) -> Axis:
    """An axis of days, as ordinals, with a tick each week counted back from `last`.

    Over years, where the ticks would run together, only every second, third, ... is kept.
    """
    days = 7 * (1 + (last - first).days // (7 * MOST_TICKS))
    count = (last - first).days // days
    marked = [last - timedelta(days=days * back) for back in range(count, -1, -1)]
    ticks = tuple((float(day.toordinal()), short_day(day)) for day in marked)
    return Axis(label=label, low=first.toordinal(), high=last.toordinal(), ticks=ticks)
