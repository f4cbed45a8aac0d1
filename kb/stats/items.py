"""Item analysis: statistics of items, scores and reliability from a matrix of answers."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

WANTED = 0.9
"""The reliability asked of examinations for doctors (tighe2010: .8 to .9)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemStatistic:
    """One item: `facility` is the share right; discriminations are correlations with the score.

    `discrimination` is with the score of all items, `rest_discrimination` with that of the others;
    `alpha_without` is the reliability without the item. A correlation is None where everyone, or
    no one, was right.
    """

    facility: float
    discrimination: float | None
    rest_discrimination: float | None
    alpha_without: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExamStatistic:
    """The whole paper. `sd` and `sem` are in items; `kr20` is None when all scores are equal."""

    candidate_count: int
    item_count: int
    mean: float
    sd: float
    kr20: float | None
    sem: float | None
    items: tuple[ItemStatistic, ...]


def exam_statistic(rows: Sequence[Sequence[int]]) -> ExamStatistic:
    """Statistics of a matrix of 0 and 1, one row for each candidate.

    Raises:
        ValueError: Fewer than two candidates or items, rows of unequal length, or other values.

    Source: kuder1937 for KR-20; bock1970 carries the worked data.
    """
    if min([len(rows), *map(len, rows)]) < 2:
        raise ValueError("at least two candidates and two items are needed")
    if len(set(map(len, rows))) > 1:
        raise ValueError("every candidate has an answer for every item")
    if any(cell not in (0, 1) for row in rows for cell in row):
        raise ValueError("a cell is 1 for right and 0 for anything else")
    columns = list(zip(*rows, strict=True))
    totals = [sum(row) for row in rows]
    reliability = kr20(columns, totals)
    sd = math.sqrt(_variance(totals) * len(rows) / (len(rows) - 1))
    items = tuple(_item(column, columns, totals) for column in columns)
    return ExamStatistic(
        candidate_count=len(rows),
        item_count=len(columns),
        mean=sum(totals) / len(totals),
        sd=sd,
        kr20=reliability,
        sem=None if reliability is None else standard_error(sd, reliability),
        items=items,
    )


def kr20(columns: Sequence[Sequence[int]], totals: Sequence[int]) -> float | None:
    """Kuder-Richardson formula 20; None when all total scores are equal or there is one item.

    Item and total variances have the same divisor, so it does not matter which.

    Source: kuder1937.
    """
    count, variance = len(columns), _variance(totals)
    if count < 2 or not variance:
        return None
    within = sum(_variance(column) for column in columns)
    return count / (count - 1) * (1 - within / variance)


def standard_error(sd: float, reliability: float) -> float:
    """Standard error of measurement, in the unit of `sd`: sd * sqrt(1 - reliability).

    Source: tighe2010.
    """
    return sd * math.sqrt(max(0.0, 1 - reliability))


def items_for(reliability: float, item_count: int, wanted: float = WANTED) -> int | None:
    """How many items of the same kind make a paper as reliable as `wanted`.

    Args:
        reliability: Of the paper as it is, at most 1.
        item_count: Its items.
        wanted: A reliability above 0 and below 1.

    Returns:
        At least 1; None when the paper ranks candidates no better than chance.

    Source: spearman1910, solved for the length.
    """
    if reliability <= 0:
        return None
    factor = wanted * (1 - reliability) / (reliability * (1 - wanted))
    return max(1, math.ceil(item_count * factor - 1e-9))


def _item(
    column: Sequence[int], columns: Sequence[Sequence[int]], totals: Sequence[int]
) -> ItemStatistic:
    rest = [total - cell for total, cell in zip(totals, column, strict=True)]
    others = [other for other in columns if other is not column]
    return ItemStatistic(
        facility=sum(column) / len(column),
        discrimination=_correlation(column, totals),
        rest_discrimination=_correlation(column, rest),
        alpha_without=kr20(others, rest),
    )


def _variance(values: Sequence[int]) -> float:
    mean = sum(values) / len(values)
    return sum((value - mean) ** 2 for value in values) / len(values)


def _correlation(xs: Sequence[int], ys: Sequence[int]) -> float | None:
    spread = _variance(xs) * _variance(ys)
    if not spread:
        return None
    mean = sum(xs) / len(xs)
    joint = sum((x - mean) * y for x, y in zip(xs, ys, strict=True)) / len(xs)
    return joint / math.sqrt(spread)
