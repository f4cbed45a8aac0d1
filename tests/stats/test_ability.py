"""Ability is the same however the doctor retries, and its figures follow from their definitions."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import betabinom, multivariate_normal, norm

from kb.core.ids import AttemptId, QuestionId
from kb.core.model import Attempt, Base
from kb.core.settings import Exam, Rota, Shift, Study
from kb.stats import ability
from kb.stats.ability import Total, learn_ability
from kb.stats.history import History, build_history
from kb.stats.papers import tired_rows
from kb.stats.question_record import record_chances
from kb.stats.score_distribution import mean_score

ITEMS = {"a": 100, "b": 100}


def blocks(count: int, right_of_ten: int, prefix: str = "bank") -> tuple[list[str], list[bool]]:
    """So many new questions, evenly right."""
    return (
        [f"{prefix}:{n}" for n in range(count)],
        [n * 3 % 10 < right_of_ten for n in range(count)],
    )


def history(questions: list[str], rights: list[bool], start: float = 0.0) -> History:
    """Fifty answers a day; areas by turns, one area for one question."""
    areas = ["ab"[int(q.rpartition(":")[2]) // 10 % 2] for q in questions]
    days = [start + row // 50 for row in range(len(questions))]
    return build_history(questions, areas, rights, days)


def one_a_day(first: int, end: int) -> tuple[Attempt, ...]:
    """A right answer at noon on each of these days of January."""
    return tuple(
        Attempt(
            id=AttemptId(str(day)),
            at=datetime(2027, 1, day, 12, tzinfo=UTC),
            question=QuestionId(f"q:{day}"),
            outcome="right",
        )
        for day in range(first, end)
    )


def expected(found: ability.Ability) -> float:
    """The expected score of 200, as a percentage."""
    return mean_score(found.score(ITEMS)) / 2


def test_retrying_the_misses_once_leaves_standing_at_seventy() -> None:
    """Ten blocks of 50 at 70%, then the 150 misses once more, half of them right: about 70%."""
    questions, rights = blocks(500, 7)
    misses = [q for q, right in zip(questions, rights, strict=True) if not right]
    assert len(misses) == 150
    again = [n % 2 == 0 for n in range(150)]
    found = learn_ability(history(questions + misses, rights + again))
    assert expected(found) == pytest.approx(70, abs=1.5)
    assert (found.chance("a") + found.chance("b")) / 2 == pytest.approx(0.70, abs=0.02)


def test_misses_drilled_until_right_leave_it_there_too() -> None:
    """Three rounds of the misses within a week, a third right each time: still near 70%."""
    questions, rights = blocks(500, 7)
    left = [q for q, right in zip(questions, rights, strict=True) if not right]
    for _ in range(3):
        again = [n % 3 == 0 for n in range(len(left))]
        questions, rights = questions + left, rights + again
        left = [q for q, right in zip(left, again, strict=True) if not right]
    assert expected(learn_ability(history(questions, rights))) == pytest.approx(70, abs=4)


def test_success_in_drills_says_little_of_new_questions() -> None:
    """200 of 500 right, then the misses until right twice in a row, three of five right however
    often a question was missed: it is the drill that succeeds, so the level rises by a few points
    only, as it may over 1,500 answers.
    """
    questions, rights = blocks(500, 4)
    run = {q: 0 for q, right in zip(questions, rights, strict=True) if not right}
    tried = 0
    while run:
        for question in list(run):
            right = tried * 3 % 5 < 3
            tried += 1
            questions, rights = [*questions, question], [*rights, right]
            run[question] = run[question] + 1 if right else 0
            if run[question] == 2:
                del run[question]
    assert tried > 1000
    assert 38 < expected(learn_ability(history(questions, rights))) < 47


def test_each_doubling_of_meetings_is_a_step() -> None:
    """The feature is the base-2 log of the meetings before, up to eight: 0, 1, 1.58, 2, ... 3."""
    told = build_history(["q:1"] * 11, ["a"] * 11, [True] * 11, [9.0 * n for n in range(11)])
    shape = ability._Shape(stretches=11, areas=("a",), sources=(), share=0.8, whole=0.0)
    rows, _ = ability._cells(told, np.arange(11), np.full(11, -1), (), shape)
    found = [row[-1] for row in rows if row[-5]]
    by_hand = [0, 1, 1.58496, 2, 2.32193, 2.58496, 2.80735, 3, 3, 3]
    assert sorted(found) == pytest.approx(by_hand, abs=1e-5)


def test_the_order_within_a_paper_says_nothing() -> None:
    """Three hundred questions at 70%, then a paper of 200 on one day with 60 wrong: in any order,
    such as all those left blank at its end, it says the same.
    """
    questions, rights = blocks(300, 7)
    items, _ = blocks(200, 7, "paper")
    areas = ["a"] * 500
    days = [n // 50 for n in range(300)] + [9.5] * 200
    found = [
        learn_ability(
            build_history(questions + items, areas, rights + own, days), papers=range(300, 500)
        ).chance("a")
        for own in ([n >= 60 for n in range(200)], [n < 140 for n in range(200)])
    ]
    assert found[0] == pytest.approx(found[1], abs=1e-9)
    assert found[0] == pytest.approx(0.7, abs=0.04)


def test_no_answers_leave_the_prior() -> None:
    """Log odds .6 with SD 1.5, areas by their spread: a share a little above one half."""
    found = learn_ability(build_history([], [], []))
    assert 0.58 < found.chance("a") < 0.65
    assert found.likely("a").high - found.likely("a").low > 0.5
    assert np.isclose(found.score(ITEMS).sum(), 1.0)


def test_a_harder_bank_is_told_from_papers() -> None:
    """Bank at 50%, three papers at 70%: the exam is like the papers, the bank about 20 points off.

    Worked by hand: logit .7 - logit .5 = .85, shrunk towards 0.
    """
    questions, rights = blocks(600, 5)
    sat, scored = blocks(600, 7, "paper")
    found = learn_ability(history(questions + sat, rights + scored), set(range(600, 1200)))
    assert expected(found) == pytest.approx(70, abs=2.5)
    (bank,) = found.sources
    assert bank.source == "bank"
    assert -0.95 < bank.mean < -0.5
    assert found.on_papers


def test_one_bank_without_papers_is_the_exam() -> None:
    """Nothing says how hard it is, and nothing is said of it."""
    found = learn_ability(history(*blocks(300, 6)))
    assert not found.sources
    assert not found.on_papers


def test_answers_between_nights_do_not_lower_the_rested_level() -> None:
    """300 answers at 70%, 300 at 50% on nights, 50 at 70%: nearer to 70% with the rota."""
    marked = [7] * 300 + [5] * 300 + [7] * 50
    rights = [n * 3 % 10 < of_ten for n, of_ten in enumerate(marked)]
    answered = history([f"bank:{n}" for n in range(650)], rights)
    known = expected(learn_ability(answered, tired=range(300, 600)))
    assert expected(learn_ability(answered)) + 2 < known < 72


def test_the_rota_says_which_answers_were_given_tired() -> None:
    """Nights on Monday 4 and Tuesday 5 January only: tired from Monday to Wednesday.

    A late duty that ends at half past midnight is no night.
    """
    shifts = (
        Shift(name="night", start=time(20), end=time(8, 30), study_minutes=0),
        Shift(name="late", start=time(16), end=time(0, 30), study_minutes=60),
    )
    rota = Rota(
        starts=date(2027, 1, 4),
        shifts=shifts,
        weeks=(("night", "night", "off", "late", "off", "off", "off"),),
        exceptions=((date(2027, 1, 11), "off"), (date(2027, 1, 12), "off")),
    )
    attempts = one_a_day(3, 15)
    base = Base(
        exam=Exam(name="E", date=date(2027, 5, 1), areas=()),
        study=Study(rota=rota),
        attempts=attempts,
    )
    assert [attempts[row].day.day for row in sorted(tired_rows(base))] == [4, 5, 6]


def test_a_paper_of_which_only_the_score_is_known_counts() -> None:
    """A score of 160 of 200 raises what 300 answers at 60% say."""
    plain = history(*blocks(300, 6))
    total = Total(row=300, area="", right_count=160, item_count=200)
    assert expected(learn_ability(plain, (), [total], ITEMS)) > expected(learn_ability(plain)) + 3


@pytest.mark.parametrize("count", [40, 72])
def test_the_spreads_are_weighed_by_the_likelihood_of_counts(count: int) -> None:
    """One stretch, of fewer answers than 50 and of more, and one area: the grid weighs by its
    exponential priors and the answers' density.

    Reference: scipy.stats.multivariate_normal on the linearised answers, dense and by definition.
    """
    questions = [f"q:{n}" for n in range(count)]
    rights = [n % 4 > 0 for n in range(count)]
    found = learn_ability(build_history(questions, ["a"] * count, rights))
    # one cell of three right in four: z is what Newton's method finds, y its linearised answer
    right = 3 * count / 4
    usual = (right + 5) / (count + 8)
    row = np.array([1.0, 1.0, 1.0, count / 600 * usual * -0.5])
    expect = np.array([0.8, 0.0, 0.0, 0.48 * usual])

    def prior(area: float, day: float) -> np.ndarray:
        return np.diag([1.5**2, day**2 * min(1.0, 50 / count), area**2, 0.7**2])

    middle = prior(0.35, 0.2)
    spread = float(row @ middle @ row)
    z = float(row @ expect)
    for _ in range(100):
        p = 1 / (1 + math.exp(-z))
        slope = (right - count * p) - (z - float(row @ expect)) / spread
        z += slope / (count * p * (1 - p) + 1 / spread)
    p = 1 / (1 + math.exp(-z))
    bend = count * p * (1 - p)
    y = z + (right - count * p) / bend
    weights, means, variances = [], [], []
    spreads = (SIGMAS[name] for name in ("walk", "area", "day"))
    for walk, area, day in itertools.product(*spreads):
        cov = prior(area, day)
        noise = float(row @ cov @ row) + 1 / bend
        rarity = math.exp(-4 * walk - 10 * day)
        weights.append(rarity * multivariate_normal(float(row @ expect), noise).pdf(y))
        gain = cov @ row / noise
        post = expect + gain * (y - float(row @ expect))
        left = cov - np.outer(gain, row) @ cov
        want = np.array([1.0, 0.0, 1.0, 0.0])
        means.append(want @ post)
        variances.append(want @ left @ want)
    share = np.array(weights) / np.sum(weights)
    mean = float(share @ means)
    assert found.mean[0] == pytest.approx(mean, abs=1e-6)
    between = float(share @ (np.array(variances) + (np.array(means) - mean) ** 2))
    assert found.covariance[0, 0] == pytest.approx(between, abs=1e-6)


@pytest.mark.parametrize("right_in_20", [1, 5, 9, 18])
def test_a_rise_is_expected_of_the_share_right(right_in_20: int) -> None:
    """The rise expected of 60 answers is .48 x 60 / 600, times the square of the share right, with
    five right answers in eight added: of 8, 20, 32 or 59 in 68.
    """
    rights = [n % 20 < right_in_20 for n in range(60)]
    found = learn_ability(build_history([f"q:{n}" for n in range(60)], ["a"] * 60, rights))
    assert found.rise == pytest.approx(0.048 * ((3 * right_in_20 + 5) / 68) ** 2, rel=0.08)


SIGMAS = {
    "walk": (0.001, 0.3),
    "area": (0.15, 0.35, 0.7),
    "day": (0.05, 0.3),
    "source": (0.001, 0.3, 0.9),
    "again": (0.3, 0.8),
}
REPEAT_PRIOR = [(1.0, 0.25), (0.5, 0.3), (0.05, 0.3), (0.0, 0.3)]


def rolling(count: int) -> History:
    """Answers to 90 questions of two banks and a paper, in three areas, with many repeats."""
    random = np.random.default_rng(8)
    numbers = [*random.integers(0, 70, count - 20).tolist(), *range(70, 90)]
    questions = [f"{('one', 'two', 'paper')[(n >= 40) + (n >= 70)]}:{n}" for n in numbers]
    rights = [bool(r) for r in random.random(count) < 0.62]
    return build_history(
        questions, ["abc"[n % 3] for n in numbers], rights, [row / 9 for row in range(count)]
    )


def share_right(told: History) -> float:
    """The share right of questions never met, with five right answers in eight added."""
    first = dict(zip(reversed(told.questions), reversed(told.rights), strict=True))
    return (sum(first.values()) + 5) / (len(first) + 8)


def feature_rows(
    told: History, stretches: int, tired: set[int]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A row, a weight and an outcome for each answer: level and day by stretch, three areas, two
    banks, the rise, tiredness, and what is known of a repeat.
    """
    count = len(told)
    usual = share_right(told)
    rows, weights = [], []
    for at in range(count):
        row = np.zeros(2 * stretches + 12)
        stretch = at * stretches // count
        row[stretch] = row[stretches + stretch] = 1
        row[2 * stretches + "abc".index(told.areas[at])] = 1
        bank = told.questions[at].split(":")[0]
        if bank != "paper":
            row[2 * stretches + 3 + ("one", "two").index(bank)] = 1
        row[-7] = count / 600 * usual * ((stretch + 0.5) / stretches - 1)
        row[-6] = at in tired
        own = [n for n in range(at) if told.questions[n] == told.questions[at]]
        if own:
            first_right, hits = told.rights[own[0]], sum(told.rights[n] for n in own[1:])
            counts = (int(first_right), min(hits, 8), min(len(own) - 1 - hits, 8), usual)
            chance = float(record_chances(*(np.array(one) for one in counts)))
            gap = told.days[at] - told.days[own[-1]]
            known = math.log(chance / (1 - chance)) - math.log(usual / (1 - usual))
            soon = 1 if gap < 1 else 0.5 if gap < 7 else 0
            row[-5:] = [1, known, soon, not told.rights[own[-1]], math.log2(min(8, len(own)))]
        rows.append(row)
        weights.append(1 / max(1, len(own)) ** 2)
    return np.array(rows), np.array(weights), np.array(told.rights, dtype=float)


def prior_of(stretches: int, size: float, sds: tuple[float, ...]) -> np.ndarray:
    """The prior's covariance: a level that walks, days, areas, banks, the rise, nights, repeats."""
    walk, area, day, source, again = sds
    found = np.zeros((2 * stretches + 12,) * 2)
    for s, t in itertools.product(range(stretches), repeat=2):
        found[s, t] = 1.5**2 + walk**2 * size / 50 * min(s, t)
    rest = [day**2 * min(1, 50 / size)] * stretches + [area**2] * 3 + [source**2] * 2
    rest += [0.7**2, 0.2**2, again**2] + [spread**2 for _, spread in REPEAT_PRIOR]
    for at, variance in enumerate(rest, start=stretches):
        found[at, at] = variance
    return found


def test_the_whole_model_follows_from_its_definition() -> None:
    """Three stretches of 58 answers, areas, two banks, a paper, two bare scores and repeats.

    Reference: the normal linear model with dense covariances, each answer on a row of its own, and
    scipy.stats.multivariate_normal for the likelihood of each combination of spreads.
    """
    count, size = 174, 58
    told = rolling(count)
    papers = set(range(count - 20, count))
    totals = [
        Total(row=60, area="b", right_count=30, item_count=40),
        Total(row=count, area="", right_count=120, item_count=200),
    ]
    tired = set(range(40, 80))
    found = learn_ability(told, papers, totals, {"a": 20, "b": 30, "c": 50}, tired)
    rows, weights, rights = feature_rows(told, 3, tired)
    one, whole = np.zeros(18), np.zeros(18)
    one[[1, 4, 7]] = 1
    whole[[2, 5]] = 1
    whole[6:9] = [0.2, 0.3, 0.5]
    one[-7], whole[-7] = rows[60, -7], rows[count - 1, -7]
    rows = np.vstack([rows, one, whole])
    tried = np.array([*weights, 40, 200])
    right = np.array([*(weights * rights), 30, 120])
    repeats = [0.15] + [mean for mean, _ in REPEAT_PRIOR]
    expect = np.array([0.8] * 3 + [0.0] * 8 + [0.48 * share_right(told), -0.2] + repeats)
    middle = prior_of(3, size, (0.08, 0.35, 0.2, 0.3, 0.5))
    beta = expect.copy()
    for _ in range(50):  # Newton's method in the form of Fisher scoring
        p = 1 / (1 + np.exp(-(rows @ beta)))
        bend = tried * p * (1 - p)
        y = rows @ beta + (right - tried * p) / bend
        gain = middle @ rows.T @ np.linalg.inv(rows @ middle @ rows.T + np.diag(1 / bend))
        beta = expect + gain @ (y - rows @ expect)
    want = np.zeros((6, 18))
    want[:4, 2] = 1
    want[[0, 1, 2, 4, 5], [6, 7, 8, 9, 10]] = 1
    logs, means, spreads, rises, grid = [], [], [], [], []
    for sds in itertools.product(*SIGMAS.values()):
        cov = prior_of(3, size, sds)
        noise = rows @ cov @ rows.T + np.diag(1 / bend)
        logs.append(multivariate_normal(rows @ expect, noise).logpdf(y) - 4 * sds[0] - 10 * sds[2])
        gain = np.linalg.solve(noise, rows @ cov).T
        post = expect + gain @ (y - rows @ expect)
        means.append(want @ post)
        spreads.append(want @ (cov - gain @ rows @ cov) @ want.T)
        rises.append(post[-7])
        grid.append(sds)
    share = np.exp(np.array(logs) - max(logs))
    share /= share.sum()
    mean = share @ np.array(means)
    apart = np.array(means) - mean
    spread = np.einsum("g,gij->ij", share, spreads) + (share[:, None] * apart).T @ apart
    spread[3, 3] += share @ np.array(grid)[:, 1] ** 2
    order = [*map(found.areas.index, "abc"), 3]
    assert found.mean[order] == pytest.approx(mean[:4], abs=1e-6)
    assert found.covariance[np.ix_(order, order)] == pytest.approx(spread[:4, :4], abs=1e-6)
    assert [(one.source, one.mean, one.sd) for one in found.sources] == [
        ("one", pytest.approx(mean[4], abs=1e-6), pytest.approx(spread[4, 4] ** 0.5, abs=1e-6)),
        ("two", pytest.approx(mean[5], abs=1e-6), pytest.approx(spread[5, 5] ** 0.5, abs=1e-6)),
    ]
    assert found.day_variance == pytest.approx(share @ np.array(grid)[:, 2] ** 2, abs=1e-6)
    # in the last of three stretches the rise is a sixth of itself short of the end
    assert found.rise == pytest.approx(-6 * rows[count - 1, -7] * share @ np.array(rises), abs=1e-6)


def known(day_variance: float, covariance: list[list[float]]) -> ability.Ability:
    """An ability of two areas at log odds 1 and -.2, and of areas never met at .4."""
    return ability.Ability(
        areas=("a", "b"),
        mean=np.array([1.0, -0.2, 0.4]),
        covariance=np.array(covariance),
        day_variance=day_variance,
        sources=(),
        on_papers=True,
        rise=0.0,
    )


def test_chance_and_likely_range_of_an_area() -> None:
    """The range is mean and 1.2816 SD (the normal's tenth centile) on the log odds; the chance is
    the mean over them, here by scipy's quadrature.
    """
    own = known(0.0, [[0.25, 0.1, 0.1], [0.1, 0.16, 0.1], [0.1, 0.1, 0.49]])
    for area, mean, sd in (("a", 1.0, 0.5), ("b", -0.2, 0.4), ("z", 0.4, 0.7)):
        low, high = (1 / (1 + math.exp(-(mean + side * 1.2816 * sd))) for side in (-1, 1))
        assert (own.likely(area).low, own.likely(area).high) == pytest.approx((low, high), abs=1e-4)
        mass = quad(lambda z, m=mean, s=sd: norm.pdf(z) / (1 + math.exp(-m - s * z)), -9, 9)[0]
        assert own.chance(area) == pytest.approx(mass, abs=1e-6)


def test_the_spread_of_a_score_is_that_of_its_parts() -> None:
    """Mean and SD of 60 and 90 items against 200,000 simulated papers, and with drift.

    The areas share what their weighted mean has (variance .4 x .4 x .25 + 2 x .4 x .6 x .1 +
    .6 x .6 x .16 = .1456); the rest of each is its own.
    """
    own = known(0.04, [[0.25, 0.1, 0.1], [0.1, 0.16, 0.1], [0.1, 0.1, 0.49]])
    random = np.random.default_rng(5)
    for drift in (0.0, 0.5):
        shared = random.normal(0, math.sqrt(0.1456 + 0.04 + drift**2), 200_000)
        total = np.zeros(200_000)
        for mean, variance, count in ((1.0, 0.25, 60), (-0.2, 0.16, 90)):
            odds = mean + shared + random.normal(0, math.sqrt(variance - 0.1456), 200_000)
            total += random.binomial(count, 1 / (1 + np.exp(-odds)))
        pmf = own.score({"a": 60, "b": 90, "c": 0}, drift)
        assert mean_score(pmf) == pytest.approx(total.mean(), abs=0.2)
        sd = math.sqrt(pmf @ (np.arange(151) - mean_score(pmf)) ** 2)
        assert sd == pytest.approx(total.std(), rel=0.015)


@pytest.mark.parametrize(
    ("start", "end", "night"),
    [
        ("20:00", "08:30", True),
        ("20:00", "02:00", True),
        ("20:00", "01:59", False),
        ("16:00", "00:30", False),
        ("03:00", "12:00", True),
        ("03:01", "12:00", False),
        ("08:00", "08:00", True),
    ],
)
def test_a_night_is_the_one_of_the_plan(start: str, end: str, night: bool) -> None:
    """Three hours between 23:00 and 06:00 (eu2003): answers of its day and of the day after it are
    tired ones.
    """
    own = Shift(
        name="duty",
        start=time.fromisoformat(start),
        end=time.fromisoformat(end),
        study_minutes=0,
    )
    rota = Rota(
        starts=date(2027, 1, 4), shifts=(own,), weeks=(), exceptions=((date(2027, 1, 6), "duty"),)
    )
    attempts = one_a_day(4, 10)
    exam = Exam(name="E", date=date(2027, 5, 1), areas=())
    base = Base(exam=exam, study=Study(rota=rota), attempts=attempts)
    found = [attempts[row].day.day for row in sorted(tired_rows(base))]
    assert found == ([6, 7] if night else [])


def test_the_weeks_of_a_rota_come_by_turns() -> None:
    """Nights in every second week from Monday to Sunday: tired from the eighth day to the
    fifteenth, of which the last follows a night.
    """
    night = Shift(name="night", start=time(20), end=time(8), study_minutes=0)
    rota = Rota(starts=date(2027, 1, 4), shifts=(night,), weeks=(("off",) * 7, ("night",) * 7))
    attempts = tuple(
        Attempt(
            id=AttemptId(str(day)),
            at=datetime(2027, 1, 4, 12, tzinfo=UTC) + timedelta(days=day),
            question=QuestionId(f"q:{day}"),
            outcome="right",
        )
        for day in range(1, 21)
    )
    exam = Exam(name="E", date=date(2027, 5, 1), areas=())
    base = Base(exam=exam, study=Study(rota=rota), attempts=attempts)
    found = [(attempts[row].day - rota.starts).days for row in sorted(tired_rows(base))]
    assert found == [*range(7, 15)]


def test_areas_that_are_hardly_known_spread_widely() -> None:
    """Two areas of 60 items at even odds, each with a variance of 2 that is all its own, since the
    two move against each other. A chance of such odds has the variance .0676 (scipy's quadrature),
    which is that of a beta distribution of strength .25 / .0676 - 1; the score is the sum of two
    beta-binomial ones. Reference: scipy.stats.betabinom.
    """
    square = quad(lambda z: norm.pdf(z) / (1 + math.exp(-math.sqrt(2) * z)) ** 2, -9, 9)[0]
    half = (0.25 / (square - 0.25) - 1) / 2
    part = betabinom(60, half, half).pmf(range(61))
    own = replace(known(0.0, [[2, -2, 0], [-2, 2, 0], [0, 0, 1]]), mean=np.zeros(3))
    found = own.score({"a": 60, "b": 60})
    assert found == pytest.approx(np.convolve(part, part), abs=1e-4)


def test_a_long_steady_log_stands_at_its_share_right() -> None:
    """Of 6,000 new questions seven in ten were right, in every fifty."""
    found = learn_ability(history(*blocks(6000, 7)))
    assert found.chance("a") == pytest.approx(0.7, abs=0.015)
    assert found.chance("b") == pytest.approx(0.7, abs=0.015)
