"""Ability: the chance of answering a new question of each area, from answers of every kind.

One logistic model of counts. The level rises and wanders from stretch to stretch; areas, stretches,
question sources and days of night duty differ from it. An answer to a question met before is
compared with that question's own record, not with new questions, so it does not matter which
questions are retried.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

from kb.stats.logistic import expit, logit, newton
from kb.stats.proportions import LIKELY_LEVEL, Interval
from kb.stats.question_record import record_chances
from kb.stats.score_distribution import Part, score_distributions

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from kb.stats.history import History

# Standard deviations on the log odds; all combinations are averaged by how well they explain the
# answers.
WALK = (0.001, 0.3)
"""How far the level wanders over 50 answers, if at all."""
AREAS = (0.15, 0.35, 0.7)
DAYS = (0.05, 0.3)
"""A day, or a stretch of 50 answers, against the level."""
SOURCES: tuple[float, ...] = (0.001, 0.3, 0.9)
KNOWN_AGAIN = (0.3, 0.8)
"""What any repeat adds, against its prior mean: where repeats agree with new questions they say
much of the level, where they do not they say little."""
RATES = np.array([4.0, 0.0, 10.0, 0.0, 0.0])
"""Rates of exponential priors on those deviations: level and days are taken to be steady until the
answers show otherwise (simpson2017). Of the rates tried these forecast best over simulated doctors
and both public sets."""
MIDDLE = np.array([0.08, 0.35, 0.2, 0.3, 0.5])
"""The deviations at which the likelihood is approximated."""
# Means and standard deviations of fixed priors on the log odds.
LEVEL = (0.8, 1.5)
RISE = (0.48, 0.7)
"""How far the level of one who is always right would rise over the log: the mean is taken times the
square of the share right, the deviation times it. Narrower, it errs less and has more bias."""
RISE_ANSWERS = 600
"""The rise comes in full from so many answers on."""
TIRED = (-0.2, 0.2)
"""An answer on the day of a night duty or the day after it."""
AGAIN = 0.15
REPEATS = ((1.0, 0.25), (0.5, 0.3), (0.05, 0.3), (0.0, 0.3))
"""What a repeat adds: any repeat (`AGAIN`), its own record's size, one within a day (half within a
week), one after a miss, each doubling of its meetings."""
STRETCH = 50
MOST_STRETCHES = 40
MOST_MET = 8
"""Meetings of one question, and its hits and misses, are counted up to this."""
NODES, NODE_WEIGHTS = np.polynomial.hermite_e.hermegauss(15)
NODE_WEIGHTS = NODE_WEIGHTS / NODE_WEIGHTS.sum()
LIKELY_SPREADS = NormalDist().inv_cdf(0.5 + LIKELY_LEVEL / 2)
"""Standard deviations to either end of a likely range."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """The score of a paper, or of one of its areas, whose single answers are not known.

    `row` is its place in the history; `area` is empty for a whole paper.
    """

    row: int
    area: str
    right_count: int
    item_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceEffect:
    """How much easier a source is than the exam, in log odds, with its standard deviation."""

    source: str
    mean: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ability:
    """Ability after a history: log odds by area, then for areas never met, then by source (`mean`,
    `covariance`), the variance of a day, the effects of sources, and the steady rise over the log.

    `on_papers` is whether papers or mocks show how hard the exam is; without them the sources are
    only compared with each other.
    """

    areas: tuple[str, ...]
    mean: NDArray[np.float64]
    covariance: NDArray[np.float64]
    day_variance: float
    sources: tuple[SourceEffect, ...]
    on_papers: bool
    rise: float

    def _place(self, area: str) -> int:
        return self.areas.index(area) if area in self.areas else len(self.areas)

    def chance(self, area: str) -> float:
        """The mean chance of a right answer in an area, met or not."""
        mean, sd = self._odds(area)
        return float(NODE_WEIGHTS @ expit(mean + sd * NODES))

    def likely(self, area: str) -> Interval:
        """The likely range of that chance."""
        mean, sd = self._odds(area)
        low, high = expit(mean + LIKELY_SPREADS * sd * np.array([-1, 1])).tolist()
        return Interval(low=low, high=high)

    def _odds(self, area: str) -> tuple[float, float]:
        """Mean and standard deviation of the log odds in an area."""
        place = self._place(area)
        return float(self.mean[place]), math.sqrt(self.covariance[place, place])

    def score(self, item_counts: Mapping[str, int], drift: float = 0.0) -> NDArray[np.float64]:
        """How probable each score of a paper is.

        What the areas have in common, the day and `drift` shift all areas at once; the rest of
        each area's uncertainty is its own.

        Args:
            item_counts: Items by area.
            drift: Standard deviation of ability while the items are answered, on the log odds.
        """
        asked = [(self._place(area), count) for area, count in item_counts.items() if count]
        places, counts = [place for place, _ in asked], np.array([n for _, n in asked], float)
        share = counts / counts.sum()
        inner = self.covariance[np.ix_(places, places)]
        common = float(share @ inner @ share)
        shifts = NODES * math.sqrt(common + self.day_variance + drift**2)
        parts = []
        for place, count in asked:
            own = max(1e-4, float(self.covariance[place, place]) - common)
            chances = expit(self.mean[place] + math.sqrt(own) * NODES)
            mean = float(NODE_WEIGHTS @ chances)
            variance = float(NODE_WEIGHTS @ (chances - mean) ** 2)
            strength = max(1.0, mean * (1 - mean) / variance - 1)
            parts.append(Part(item_count=count, mean=mean, strength=strength))
        return np.asarray(NODE_WEIGHTS @ score_distributions(parts, shifts))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """What has parameters: stretches (a level and a day each), areas, sources; `share` is the share
    right of new questions, `whole` the part of the rise that the log comes to.
    """

    stretches: int
    areas: tuple[str, ...]
    sources: tuple[str, ...]
    share: float
    whole: float

    @property
    def count(self) -> int:
        """All parameters: the seven of `RISE`, `TIRED`, `AGAIN`, `REPEATS` come last."""
        return 2 * self.stretches + len(self.areas) + len(self.sources) + 7

    def rows(self, stretch: NDArray[np.int_]) -> NDArray[np.float64]:
        """The features of answers in these stretches; the rise runs from -whole to 0."""
        found, rows = np.zeros((len(stretch), self.count)), np.arange(len(stretch))
        found[rows, stretch] = found[rows, self.stretches + stretch] = 1.0
        found[:, -7] = self.whole * ((stretch + 0.5) / self.stretches - 1.0)
        return found


def learn_ability(
    history: History,
    papers: Collection[int] = (),
    totals: Sequence[Total] = (),
    item_counts: Mapping[str, int] | None = None,
    tired: Collection[int] = (),
) -> Ability:
    """Fit the model to one learner's answers.

    Args:
        history: The answers.
        papers: Rows that are items of papers or mocks, which have the exam's own level.
        totals: Papers whose single answers are not known.
        item_counts: The blueprint, which spreads the score of a whole paper over the areas.
        tired: Rows answered after little sleep; the exam is taken to be sat rested.

    What is guessed does not rise with what is known, and who knows little has learned slowly: the
    less is right, the less of a rise is expected.

    Source: mccullagh1989, the logistic likelihood by Newton's method; own, because the spreads
    are averaged over a grid by the normal approximation of their likelihood.
    """
    count, seen = len(history), history.meetings
    first = np.asarray(history.rights, dtype=int)[seen.met == 0]
    usual = float(first.sum() + 5) / (len(first) + 8)
    names = ["", *sorted({question.partition(":")[0] for question in seen.index})]
    place = {name: code for code, name in enumerate(names)}
    of_question = np.array([place[q.partition(":")[0]] for q in seen.index], dtype=int)
    source = np.where(np.isin(np.arange(count), list(papers)), 0, of_question[seen.codes])
    banks = [names[code] for code in np.unique(source) if code]
    on_papers = bool(papers) or bool(totals)
    shape = _Shape(
        stretches=max(1, round(count / max(STRETCH, math.ceil(count / MOST_STRETCHES)))),
        areas=tuple(dict.fromkeys((*history.in_areas.index, *(t.area for t in totals if t.area)))),
        sources=tuple(banks if on_papers or len(banks) > 1 else ()),
        share=usual,
        whole=usual * min(1.0, count / RISE_ANSWERS),
    )
    columns = np.array([shape.sources.index(n) if n in shape.sources else -1 for n in names])
    stretch = _stretches(history, papers, shape.stretches)
    rows, counted = _cells(history, stretch, columns[source], tired, shape)
    bare = _total_rows(totals, shape, dict(item_counts or {}), count)
    scores = [[one.right_count, one.item_count] for one in totals]
    counted = np.vstack((counted, np.array(scores, dtype=float).reshape(-1, 2)))
    return _fit(
        np.vstack((rows, bare)), counted, shape, max(1.0, count / shape.stretches), on_papers
    )


def _stretches(history: History, papers: Collection[int], count: int) -> NDArray[np.int_]:
    """The stretch of each answer.

    The items of papers of one day are all in the middle one of theirs: they are logged in the
    paper's order, and those that time did not reach come last.
    """
    found = np.arange(len(history)) * count // max(1, len(history))
    rows = np.array(sorted(papers), dtype=int)
    days = np.nan_to_num(np.floor(np.asarray(history.days, dtype=float)[rows]))
    for day in np.unique(days):
        own = rows[days == day]
        found[own] = found[own].sum() // len(own)
    return found


def _cells(
    history: History,
    stretch: NDArray[np.int_],
    source: NDArray[np.int_],
    tired: Collection[int],
    shape: _Shape,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Answers of one kind together: their features, and how many are right and there are.

    From the third meeting of a question on, an answer weighs 1 / the square of the meetings before:
    the questions left are ever harder than their records.

    Args:
        history: The answers.
        stretch: The stretch of each answer.
        source: The source of each answer by its place in `shape`; -1: the exam's level.
        tired: Rows answered after little sleep.
        shape: What has parameters.
    """
    seen, rights = history.meetings, np.asarray(history.rights, dtype=np.int8)
    rows, days = np.arange(len(history)), np.asarray(history.days, dtype=float)
    again, usual = seen.met > 0, np.array(shape.share)
    firsts, right, wrong = np.indices((2, MOST_MET + 1, MOST_MET + 1))
    table = record_chances(firsts, right, wrong, usual)
    began = rights[seen.met == 0][seen.codes]
    hits = np.where(again, seen.hits - began, 0)
    record = (began, *(np.clip(n, 0, MOST_MET) for n in (hits, seen.met - 1 - hits)))
    gap = days - days[seen.previous]
    soon = np.where(gap < 1, 1.0, np.where(gap < 7, 0.5, 0.0))
    missed, met = 1 - rights[seen.previous], np.minimum(seen.met, MOST_MET)
    area = history.in_areas.codes
    is_tired = np.isin(rows, list(tired))
    repeat = (np.where(again, part, 0) for part in (*record, (2 * soon).astype(int), missed))
    parts: tuple[NDArray[Any], ...] = (stretch, area, source + 1, is_tired, met, *repeat)
    cell = np.zeros(len(rows), dtype=int)
    for part in parts:
        cell = cell * (part.max(initial=0) + 1) + part
    _, at, which = np.unique(cell, return_index=True, return_inverse=True)
    own = (logit(table) - logit(usual))[tuple(part[at] for part in record)]
    sizes = np.log2(np.maximum(1, met[at]))
    features = np.column_stack((again[at], own, soon[at], missed[at], sizes))
    weights = 1.0 / np.maximum(1.0, seen.met) ** 2
    found, cells = shape.rows(stretch[at]), np.arange(len(at))
    start = 2 * shape.stretches
    found[cells, start + area[at]] = 1.0
    banked = source[at] >= 0
    found[cells[banked], start + len(shape.areas) + source[at][banked]] = 1.0
    found[:, -6] = is_tired[at]
    found[:, -5:] = features * again[at, None]
    return found, np.column_stack(
        (np.bincount(which, weights * rights), np.bincount(which, weights))
    )


def _total_rows(
    totals: Sequence[Total], shape: _Shape, item_counts: dict[str, int], count: int
) -> NDArray[np.float64]:
    stretch = np.array([one.row * shape.stretches // max(1, count) for one in totals], dtype=int)
    rows = shape.rows(np.minimum(stretch, shape.stretches - 1))
    whole = sum(item_counts.values())
    for row, total in zip(rows, totals, strict=True):
        for place, area in enumerate(shape.areas, start=2 * shape.stretches):
            share = item_counts.get(area, 0) / whole if whole else 0.0
            row[place] = float(area == total.area) if total.area else share
    return rows


def _fit(
    rows: NDArray[np.float64],
    counted: NDArray[np.float64],
    shape: _Shape,
    size: float,
    on_papers: bool,
) -> Ability:
    """The posterior, averaged over the spreads of the grid."""
    areas, sources, days = len(shape.areas), len(shape.sources), shape.stretches
    expected = np.zeros(shape.count)
    expected[:days] = LEVEL[0]
    expected[-7:] = [RISE[0] * shape.share, TIRED[0], AGAIN, *(mean for mean, _ in REPEATS)]
    spreads = (WALK, AREAS, DAYS, SOURCES if sources else (0.3,), KNOWN_AGAIN)
    grid = np.array(list(itertools.product(*spreads)))
    pieces = _pieces(shape)
    scale = np.array([size / STRETCH, 1.0, min(1.0, STRETCH / size), 1.0, 1.0])
    precisions = 1.0 / (grid**2 * scale)
    ranks = np.array([days - 1, areas, days, sources, 1])
    middle = pieces[0] + np.tensordot(1.0 / (MIDDLE**2 * scale), pieces[1:], 1)
    point = newton(rows, counted, expected, middle)
    z = rows @ point
    chance = expit(z)
    bend = counted[:, 1] * chance * (1 - chance)
    inner = (rows * bend[:, None]).T @ rows
    pull = rows.T @ (bend * z + counted[:, 0] - counted[:, 1] * chance)
    wanted = np.zeros((areas + 1 + sources, shape.count))
    wanted[: areas + 1, days - 1] = 1.0
    wanted[np.arange(areas), 2 * days + np.arange(areas)] = 1.0
    wanted[areas + 1 :, 2 * days + areas : 2 * days + areas + sources] = np.eye(sources)
    prior = pieces[0] + np.tensordot(precisions, pieces[1:], 1)
    target = pull + prior @ expected
    sides = np.broadcast_to(wanted.T, (len(grid), *wanted.T.shape))
    solved = np.linalg.solve(inner + prior, np.dstack((target, sides)))
    means = solved[:, :, 0]
    log_weights = (
        0.5 * np.log(precisions) @ ranks
        - 0.5 * np.linalg.slogdet(inner + prior)[1]
        + 0.5 * (means * target).sum(axis=1)
        - 0.5 * (prior @ expected) @ expected
    )
    log_weights -= grid @ RATES
    weights = np.exp(log_weights - log_weights.max())
    weights /= weights.sum()
    told = means @ wanted.T
    mean = weights @ told
    apart = told - mean
    inside = np.tensordot(weights, solved[:, :, 1:], 1)
    covariance = wanted @ inside + (weights[:, None] * apart).T @ apart
    covariance[areas, areas] += float(weights @ grid[:, 1] ** 2)
    effects = tuple(
        SourceEffect(source=name, mean=float(mean[at]), sd=math.sqrt(covariance[at, at]))
        for at, name in enumerate(shape.sources, start=areas + 1)
    )
    return Ability(
        areas=shape.areas,
        mean=mean,
        covariance=covariance,
        day_variance=float(weights @ grid[:, 2] ** 2),
        sources=effects,
        on_papers=on_papers,
        rise=shape.whole * float(weights @ means[:, -7]),
    )


def _pieces(shape: _Shape) -> NDArray[np.float64]:
    """The fixed part of the prior's precision, then those of walk, areas, days, sources and any
    repeat.
    """
    days, areas, sources = shape.stretches, len(shape.areas), len(shape.sources)
    pieces = np.zeros((6, shape.count, shape.count))
    pieces[0, 0, 0] = 1 / LEVEL[1] ** 2
    pieces[5, -5, -5] = 1.0
    places = (-7, -6, *range(-4, 0))
    for place, (_, spread) in zip(places, (RISE, TIRED, *REPEATS), strict=True):
        pieces[0, place, place] = 1 / spread**2
    steps = np.diff(np.eye(days), axis=0)
    pieces[1, :days, :days] = steps.T @ steps
    starts = np.cumsum([days, days, areas, sources])
    for piece, (start, stop) in zip((3, 2, 4), itertools.pairwise(starts), strict=True):
        pieces[piece, range(start, stop), range(start, stop)] = 1.0
    return pieces
