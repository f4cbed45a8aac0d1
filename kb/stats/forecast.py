"""The forecast: how probable each score of the exam is, from the blueprint and your answers.

Ability by area comes from `ability`. Each past paper is forecast from the answers before it.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import itemgetter
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from kb.core.answers import Answers
from kb.core.errors import QueryError
from kb.core.last_base import kept_for_last_base
from kb.stats.papers import ability_of, known_before, paper_rows, paper_totals
from kb.stats.proportions import LIKELY_LEVEL
from kb.stats.score_distribution import (
    Part,
    at_least,
    crps,
    mean_score,
    quantile,
    score_distributions,
)

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from numpy.typing import NDArray

    from kb.core.model import Base
    from kb.core.settings import Exam
    from kb.stats.ability import Ability
    from kb.stats.history import History

LEAST_ANSWERS = 100
ONE_SIDED_COUNT = 8
ONE_SIDED_SHARE = 0.1
LOG_BOTH = "Log the right ones too (missbook log block SOURCE FIRST-LAST --wrong N,N)."
LEVELS = (0.5, LIKELY_LEVEL, 0.95)


@dataclass(frozen=True, slots=True, kw_only=True)
class Backtest:
    """A past paper: its forecast, and its score. Counts are of items."""

    name: str
    item_count: int
    mean: float
    low: int
    high: int
    score: int
    plain_mean: float
    crps: float
    plain_crps: float


def backtests(base: Base, history: History) -> tuple[Backtest, ...]:
    """Forecast each past paper from the answers before its first one.

    A paper counts when enough answers came before it, even if other answers were given while it
    was sat, or only its score is known.

    Source: dawid1984, each forecast is judged by what came next.
    """
    papers: list[tuple[datetime, str, dict[str, int], int]] = []
    sat = paper_rows(base)
    firsts = Answers.of(base.attempts).take(np.array([rows[0] for rows in sat.values()], int))
    for (name, rows), first in zip(sat.items(), firsts, strict=True):
        asked = Counter(history.areas[row] for row in rows)
        score = int(history.rights[[*rows]].sum())
        papers.append((first.at, name, dict(asked), score))
    latest = sorted(base.scores, key=lambda score: score.at, reverse=True)
    moments = {score.sitting: score.at for score in latest}
    whole = item_counts(base.exam)
    for name, totals in paper_totals(base).items():
        by_area = {total.area: total.item_count for total in totals}
        items = shared_out(by_area[""], whole) if "" in by_area else by_area
        papers.append((moments[name], name, items, sum(total.right_count for total in totals)))
    found = []
    for start, name, items, score in sorted(papers, key=lambda paper: paper[:2]):
        count = sum(items.values())
        known = known_before(base, start)
        if len(known.attempts) < LEAST_ANSWERS or not count:
            continue
        before = history.upto(len(known.attempts))
        pmf, plain = ability_of(known, before).score(items), plain_binomial(before, count)
        likely = _range(pmf, LIKELY_LEVEL)
        found.append(
            Backtest(
                name=name,
                item_count=count,
                mean=mean_score(pmf),
                low=likely.low_count,
                high=likely.high_count,
                score=score,
                plain_mean=mean_score(plain),
                crps=crps(pmf, score),
                plain_crps=crps(plain, score),
            )
        )
    return tuple(found)


def item_counts(exam: Exam) -> dict[str, int]:
    """Items of each area of the blueprint."""
    return {str(area.id): area.item_count for area in exam.areas}


def shared_out(count: int, items: Mapping[str, int]) -> dict[str, int]:
    """`count` items in the shares of `items`, by running rounding."""
    total, seen, given, found = max(1, sum(items.values())), 0, 0, {}
    for area, own in items.items():
        seen += own
        found[area] = round(count * seen / total) - given
        given += found[area]
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The forecast of the whole exam: how probable each score is, and the past papers behind it."""

    pmf: tuple[float, ...]
    past: tuple[Backtest, ...]

    @property
    def item_count(self) -> int:
        """Items of the exam."""
        return len(self.pmf) - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ScoreRange:
    """Scores between which the score lies with a chance of `level`; both bounds included."""

    level: float
    low_count: int
    high_count: int


def exam_outlook(base: Base, history: History, ability: Ability | None = None) -> Outlook | None:
    """What to expect of the exam; None when there is too little to say (see `refusal`).

    Args:
        base: The blueprint, and the answers with their sittings.
        history: The same answers as columns.
        ability: Their ability, if the caller has it already.
    """
    if refusal(base):
        return None
    ability = ability or ability_of(base, history)
    pmf = ability.score(item_counts(base.exam))
    return Outlook(pmf=tuple(pmf.tolist()), past=backtests(base, history))


def refusal(base: Base) -> str:
    """Why no score can be forecast, and what to log; empty when one can."""
    answers = len(base.attempts)
    if not base.exam.item_count:
        return "Too little to say: the blueprint in exam.yaml has no items."
    fault = rights_left_out(base)
    if fault:
        return f"No forecast: {fault}"
    if answers < LEAST_ANSWERS:
        said = f"{answers} answer{'s' if answers != 1 else ''}"
        return f"Too little to say: {said} so far, {LEAST_ANSWERS} are needed."
    return ""


@kept_for_last_base
def rights_left_out(base: Base) -> str:
    """What shows that right answers are not logged, and what to log; empty when nothing does.

    Such a log would be taken for a bad candidate. It holds nothing right, or a tenth of its
    questions came without one right answer to a new question of their source: at least
    `ONE_SIDED_COUNT` on one day, or twice as many over the days since the last right one.
    """
    answers = Answers.of(base.attempts)
    if len(answers) >= 2 * ONE_SIDED_COUNT and not answers.rights.any():
        return f"the log holds {len(answers)} wrong answers and no right one. {LOG_BOTH}"
    if len(answers) < LEAST_ANSWERS:
        return ""
    of_source = answers.column("source")[0].astype(int) * date.max.toordinal()
    groups, which, tried = np.unique(
        (of_source + answers.days)[answers.new], return_inverse=True, return_counts=True
    )
    right = np.bincount(which, answers.rights[answers.new]) > 0
    lost, sources = 0, ((groups - 1) // date.max.toordinal()).tolist()
    by_source = zip(sources, right.tolist(), tried.tolist(), strict=True)
    for (_, any_right), stretch in groupby(by_source, itemgetter(0, 1)):
        counts = [] if any_right else [count for *_, count in stretch]
        alone = sum(count for count in counts if count >= ONE_SIDED_COUNT)
        lost += sum(counts) if sum(counts) >= 2 * ONE_SIDED_COUNT else alone
    if lost < ONE_SIDED_SHARE * len(which):
        return ""
    return (
        f"{lost} of {len(which)} questions were logged on days without one right answer to a new"
        f" question. {LOG_BOTH}"
    )


def score_ranges(pmf: NDArray[np.float64]) -> tuple[ScoreRange, ...]:
    """The likely ranges of a forecast, narrowest first, with equal chances on both sides."""
    return tuple(_range(pmf, level) for level in LEVELS)


def _range(pmf: NDArray[np.float64], level: float) -> ScoreRange:
    low, high = (quantile(pmf, (1 + side * level) / 2) for side in (-1, 1))
    return ScoreRange(level=level, low_count=low, high_count=high)


def pass_mark_of(
    exam: Exam, pass_mark: float | None, pass_sd: float | None
) -> tuple[float, float] | None:
    """The pass mark and its standard deviation, shares of the items; default: the exam's own.
    None when there is no mark.

    Raises:
        QueryError: One of them is not a share.
    """
    if any(asked is not None and not 0 <= asked <= 1 for asked in (pass_mark, pass_sd)):
        raise QueryError("a pass mark is a fraction from 0 to 1", hint="write 0.61 for 61%")
    mark = exam.pass_fraction if pass_mark is None else pass_mark
    spread = exam.pass_sd_fraction if pass_sd is None else pass_sd
    return None if mark is None else (mark, spread or 0.0)


def plain_binomial(history: History, item_count: int) -> NDArray[np.float64]:
    """The naive forecast to beat: the share right so far, over all answers alike."""
    chance = (int(history.rights.sum()) + 0.5) / (len(history) + 1)
    part = Part(item_count=item_count, mean=chance, strength=math.inf)
    return np.asarray(score_distributions([part])[0])


def least_right(item_count: int, pass_mark: float) -> int:
    """How many items must be right to reach a pass mark, a share of the items."""
    return max(0, math.ceil(pass_mark * item_count - 1e-9))


def pass_fraction(pmf: NDArray[np.float64], pass_mark: float, pass_mark_sd: float = 0.0) -> float:
    """The chance of passing when the pass mark itself is uncertain.

    Args:
        pmf: How probable each score is.
        pass_mark: The expected mark, a share of the items.
        pass_mark_sd: Its standard deviation, also a share; 0 when the mark is known.

    Source: own, because it integrates the chance of reaching the mark over a normal pass mark.
    """
    items = len(pmf) - 1
    if pass_mark_sd <= 0:
        return at_least(pmf, least_right(items, pass_mark))
    marks = NormalDist(pass_mark, pass_mark_sd)
    reached = np.array([marks.cdf(score / items) for score in range(items + 1)])
    return float(min(1.0, pmf @ reached))
