"""Forecasts use all papers, look back only, and refuse a log that leaves right answers out."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from scipy.stats import binom

from kb.core.errors import QueryError
from kb.core.ids import AreaId, AttemptId, QuestionId
from kb.core.model import Attempt, Base, Score
from kb.core.settings import Area, Exam, Source, Study
from kb.stats.forecast import (
    backtests,
    exam_outlook,
    pass_mark_of,
    plain_binomial,
    refusal,
    score_ranges,
    shared_out,
)
from kb.stats.history import history_of
from kb.stats.papers import ability_of, paper_rows, paper_totals
from kb.stats.score_distribution import mean_score

START = datetime(2027, 1, 1, 8, tzinfo=UTC)
AREAS = tuple(Area(id=AreaId(name), name=name, item_count=50) for name in "ab")
EXAM = Exam(name="E", date=date(2027, 6, 1), areas=AREAS)
STUDY = Study(sources=(Source(id="bank", name="Bank"), Source(id="p1", name="P1", kind="paper")))


def answer(source: str, item: int, right: bool, day: float, sitting: str = "") -> Attempt:
    """One answer; areas by turns."""
    return Attempt(
        id=AttemptId(f"{source}-{item}-{day}"),
        at=START + timedelta(days=day, seconds=item),
        question=QuestionId(f"{source}:{item}"),
        outcome="right" if right else "wrong",
        area=AreaId("ab"[item % 2]),
        sitting=sitting,
        round="paper" if sitting else "first",
    )


def base_of(*attempts: Attempt, scores: tuple[Score, ...] = ()) -> Base:
    """A base of these answers, in order of time."""
    ordered = tuple(sorted(attempts, key=lambda a: (a.at, a.id)))
    return Base(exam=EXAM, study=STUDY, attempts=ordered, scores=scores)


BANK = [answer("bank", n, n % 10 < 6, n // 50) for n in range(200)]
PAPER = [answer("p1", n, n % 10 < 7, 10, "p1") for n in range(100)]


def test_every_forecast_is_a_distribution() -> None:
    """Probabilities of all scores from none to all items add up to one."""
    base = base_of(*BANK)
    outlook = exam_outlook(base, history_of(base.attempts))
    assert outlook is not None
    assert (len(outlook.pmf), outlook.item_count) == (101, 100)
    assert np.isclose(sum(outlook.pmf), 1.0)


def test_a_paper_mixed_with_other_answers_is_backtested() -> None:
    """Ten bank questions answered between its items change nothing in which items are its own."""
    between = [answer("bank", 300 + n, True, 10, "") for n in range(10)]
    base = base_of(*BANK, *PAPER, *between)
    (found,) = backtests(base, history_of(base.attempts))
    assert (found.name, found.item_count, found.score) == ("p1", 100, 70)


def test_items_of_a_paper_taken_again_later_are_not_part_of_it() -> None:
    """Its 30 misses, taken again without the sitting, leave its score."""
    again = [answer("p1", n, True, 12) for n in range(100) if n % 10 >= 7]
    base = base_of(*BANK, *PAPER, *again)
    assert [len(rows) for rows in paper_rows(base).values()] == [100]


def test_a_past_paper_is_forecast_from_the_answers_before_it_only() -> None:
    """Changing answers after a paper leaves its back-test as it was."""
    later = [answer("bank", 500 + n, True, 20) for n in range(50)]
    one, two = base_of(*BANK, *PAPER, *later), base_of(*BANK, *PAPER)
    assert backtests(one, history_of(one.attempts)) == backtests(two, history_of(two.attempts))


def test_not_even_the_first_item_of_a_paper_is_known_when_it_is_forecast() -> None:
    """Right or wrong, it moves the score alone."""
    right, wrong = (
        backtests(base, history_of(base.attempts))[0]
        for base in (
            base_of(*BANK, replace(PAPER[0], outcome=outcome), *PAPER[1:])  # type: ignore[arg-type]
            for outcome in ("right", "wrong")
        )
    )
    assert (right.mean, right.score - wrong.score) == (wrong.mean, 1)


def test_a_paper_of_which_only_the_score_is_known_is_backtested() -> None:
    """64 of 100, spread over the blueprint."""
    score = Score(
        id="s",
        at=START + timedelta(days=9),
        sitting="p2",
        area=AreaId(""),
        right_count=64,
        item_count=100,
    )
    base = base_of(*BANK, scores=(score,))
    (found,) = backtests(base, history_of(base.attempts))
    assert (found.name, found.item_count, found.score) == ("p2", 100, 64)


@pytest.mark.parametrize("right", [10, 95])
def test_a_bare_score_after_the_last_answer_is_not_forecast_from_itself(right: int) -> None:
    """Nor from a score that came later: the forecast is that of the bank's answers alone."""

    def one(name: str, day: int, right: int) -> Score:
        return Score(
            id=name,
            at=START + timedelta(days=day),
            sitting=name,
            area=AreaId(""),
            right_count=right,
            item_count=100,
        )

    base = base_of(*BANK, scores=(one("p2", 9, right), one("p3", 12, 50)))
    first, second = backtests(base, history_of(base.attempts))
    bank = ability_of(base_of(*BANK), history_of(BANK)).score({"a": 50, "b": 50})
    assert first.mean == pytest.approx(mean_score(bank))
    assert (second.mean > first.mean) == (right > first.mean)


def test_a_bare_score_is_forecast_from_what_came_before_the_first_of_its_areas() -> None:
    """With the score of one area a day after 150 answers and of the other after all 200: the same
    as if both came after 150.
    """

    def one(area: str, day: float) -> Score:
        return Score(
            id=area,
            at=START + timedelta(days=day),
            sitting="p2",
            area=AreaId(area),
            right_count=30,
            item_count=50,
        )

    apart, together, late = (
        backtests(base_of(*BANK, scores=tuple(scores)), history_of(BANK))[0]
        for scores in (
            (one("a", 2.5), one("b", 9)),
            (one("a", 2.5), one("b", 2.5)),
            (one("a", 9), one("b", 9)),
        )
    )
    assert apart == together != late


def test_a_backtest_has_the_range_of_four_fifths() -> None:
    """By the definition of the range: at most a tenth lies below it and at most a tenth above."""
    base = base_of(*BANK, *PAPER)
    (found,) = backtests(base, history_of(base.attempts))
    pmf = ability_of(base_of(*BANK), history_of(BANK)).score({"a": 50, "b": 50})
    below, above = sum(pmf[: found.low]), sum(pmf[found.high + 1 :])
    assert max(below, above) <= 0.1 < min(below + pmf[found.low], above + pmf[found.high])


def test_scores_by_area_are_preferred_to_the_score_of_the_whole() -> None:
    """A paper with both counts once."""

    def one(area: str, right: int, asked: int) -> Score:
        return Score(
            id=area, at=START, sitting="p2", area=AreaId(area), right_count=right, item_count=asked
        )

    base = base_of(*BANK, scores=(one("", 60, 100), one("a", 25, 50), one("b", 35, 50)))
    assert [total.area for total in paper_totals(base)["p2"]] == ["a", "b"]


def test_a_log_of_wrong_answers_only_is_refused() -> None:
    """It says what to log instead."""
    base = base_of(*(replace(a, outcome="wrong") for a in BANK))
    assert "no right one" in refusal(base)
    assert "missbook log block" in refusal(base)
    assert exam_outlook(base, history_of(base.attempts)) is None


def test_blocks_without_a_right_answer_are_refused() -> None:
    """One day of 20 misses among 200 answers is a tenth of the log; without it nothing is amiss."""
    bare = [answer("bank", 400 + n, False, 8) for n in range(24)]
    assert "24 of 224 questions" in refusal(base_of(*BANK, *bare))
    assert not refusal(base_of(*BANK))


def test_a_round_of_retried_misses_is_not_refused() -> None:
    """Thirty known questions missed again on one day are no sign of a log without right answers."""
    again = [answer("bank", n, False, 9) for n in range(200) if n % 10 >= 6][:30]
    assert not refusal(base_of(*BANK, *again))


@pytest.mark.parametrize(
    ("count", "shares"), [(100, {"a": 50, "b": 50}), (7, {"a": 4, "b": 3}), (0, {"a": 0, "b": 0})]
)
def test_a_score_is_shared_out_by_the_blueprint(count: int, shares: dict[str, int]) -> None:
    """Running rounding: the parts add up to the whole; half of 7 rounds to 4 (half to even)."""
    assert shared_out(count, {"a": 50, "b": 50}) == shares


@pytest.mark.parametrize(
    ("own", "asked", "found"),
    [
        ((0.6, 0.02), (None, None), (0.6, 0.02)),
        ((0.6, None), (None, None), (0.6, 0.0)),
        ((0.6, 0.02), (0.7, None), (0.7, 0.02)),
        ((0.6, 0.02), (None, 0.0), (0.6, 0.0)),
        ((None, None), (None, 0.01), None),
        ((None, None), (1.0, 1.0), (1.0, 1.0)),
        ((None, None), (0.0, None), (0.0, 0.0)),
    ],
)
def test_a_pass_mark_is_asked_for_or_the_exam_s_own(
    own: tuple[float | None, float | None],
    asked: tuple[float | None, float | None],
    found: tuple[float, float] | None,
) -> None:
    """Each of mark and spread by itself; without a mark there is none."""
    exam = replace(EXAM, pass_fraction=own[0], pass_sd_fraction=own[1])
    assert pass_mark_of(exam, *asked) == found


@pytest.mark.parametrize("asked", [(1.01, None), (-0.01, None), (None, 1.5), (61, None)])
def test_a_pass_mark_is_a_fraction(asked: tuple[float | None, float | None]) -> None:
    """61 is no pass mark; it is written 0.61."""
    with pytest.raises(QueryError, match="a fraction from 0 to 1"):
        pass_mark_of(EXAM, *asked)


def test_likely_ranges_leave_equal_chances_on_both_sides() -> None:
    """Of scores 0 to 999, all alike: the middle half, 80% and 95%."""
    found = score_ranges(np.full(1000, 0.001))
    assert [one.level for one in found] == [0.5, 0.8, 0.95]
    for one, low in zip(found, (250, 100, 25), strict=True):
        assert one.low_count == pytest.approx(low, abs=1)
        assert one.high_count == pytest.approx(1000 - low, abs=1)


def test_the_naive_forecast_is_binomial() -> None:
    """Three of four right: a share of 3.5 / 5. Source: scipy.stats.binom."""
    history = history_of(answer("bank", n, n < 3, 0) for n in range(4))
    assert plain_binomial(history, 10) == pytest.approx(binom(10, 0.7).pmf(range(11)))


@pytest.mark.parametrize(
    ("bare", "right", "refused"),
    [(8, 72, True), (7, 63, False), (8, 73, False), (16, 144, True)],
)
def test_days_of_eight_new_misses_in_a_tenth_of_all_questions_are_refused(
    bare: int, right: int, refused: bool
) -> None:
    """Eight on a day and a tenth of the questions; each of the others was seen twice."""
    fine = [answer("bank", n, n % 2 == 0, n // 20) for n in range(right)]
    again = [replace(a, id=AttemptId(f"{a.id}x"), at=a.at + timedelta(days=30)) for a in fine]
    missed = [answer("bank", 900 + n, False, 70 + n // 8) for n in range(bare)]
    assert (refusal(base_of(*fine, *again, *missed)) != "") == refused


@pytest.mark.parametrize(("right_days", "refused"), [((), True), ((71,), False)], ids=str)
def test_days_of_a_few_new_misses_each_are_refused_too(
    right_days: tuple[int, ...], refused: bool
) -> None:
    """Seven a day for four days after 144 questions half right: 28 of 172, a sixth. A right answer
    on the second day leaves 14 in a row at most, fewer than twice eight.
    """
    fine = [answer("bank", n, n % 2 == 0, n // 20) for n in range(144)]
    missed = [
        answer("bank", 900 + n, n % 7 == 0 and 70 + n // 7 in right_days, 70 + n // 7)
        for n in range(28)
    ]
    assert (refusal(base_of(*fine, *missed)) != "") == refused


def test_a_forecast_needs_a_hundred_answers_and_a_blueprint() -> None:
    """It says how many there are; sixteen misses and nothing right are refused before that."""
    assert refusal(base_of(*BANK[:100])) == ""
    assert "99 answers so far, 100 are needed" in refusal(base_of(*BANK[:99]))
    assert "1 answer so far" in refusal(base_of(BANK[0]))
    missed = [answer("bank", n, False, n) for n in range(16)]
    assert "16 wrong answers and no right one" in refusal(base_of(*missed))
    assert "15 answers so far" in refusal(base_of(*missed[:15]))
    bare = replace(EXAM, areas=())
    assert "no items" in refusal(replace(base_of(*BANK), exam=bare))


def test_a_paper_is_named_after_its_sitting_its_source_or_its_day() -> None:
    """In this order; a bank's answers of no paper are none."""
    named = [answer("p1", n, True, 3, "spring") for n in range(2)]
    own = [replace(answer("p1", 10 + n, True, 4), round="first") for n in range(2)]
    dated = [replace(answer("bank", 20 + n, True, 5), round="paper") for n in range(2)]
    base = base_of(*BANK[:3], *named, *own, *dated)
    found = paper_rows(base)
    assert {*found} == {"spring", "p1", "2027-01-06"}
    assert found["p1"] == (5, 6)


@pytest.mark.parametrize(("count", "forecast"), [(99, 0), (100, 1)])
def test_a_paper_is_forecast_from_a_hundred_answers(count: int, forecast: int) -> None:
    """One fewer before it is too few."""
    base = base_of(*BANK[:count], *PAPER)
    assert len(backtests(base, history_of(base.attempts))) == forecast


@pytest.mark.parametrize(
    ("items", "shares"),
    [({"a": 1}, {"a": 3}), ({"a": 0}, {"a": 0}), ({}, {}), ({"a": 1, "b": 1}, {"a": 2, "b": 1})],
)
def test_a_score_is_shared_out_by_the_smallest_blueprints(
    items: dict[str, int], shares: dict[str, int]
) -> None:
    """Three items: by one area, by none, or by two, the first of which takes the half."""
    assert shared_out(3, items) == shares
