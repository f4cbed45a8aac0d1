"""Forecasts use all papers, look back only, and refuse a log that leaves right answers out."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from kb.core.ids import AreaId, AttemptId, QuestionId
from kb.core.model import Attempt, Base, Score
from kb.core.settings import Area, Exam, Source, Study
from kb.stats.forecast import backtests, exam_outlook, refusal, shared_out
from kb.stats.history import history_of
from kb.stats.papers import paper_rows, paper_totals

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
    assert len(outlook.pmf) == 101
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
