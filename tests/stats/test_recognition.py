"""An answer to a question met before counts for what it says of a new one."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.core.ids import AttemptId, QuestionId
from kb.core.model import Attempt
from kb.stats.history import History, build_history
from kb.stats.recognition import (
    LATER,
    SHIFTS,
    WITHIN_DAY,
    WITHIN_WEEK,
    evidence_weights,
    flattery,
    learned_shift,
    learning_weights,
    lifts,
    paper_rows,
)
from kb.stats.standing import Tracker


def test_recognition_lasts_longest_when_it_was_just_seen() -> None:
    """Within a day, a week, later; an unknown gap counts as long."""
    found = [flattery(gap) for gap in (0.1, 3.0, 30.0, math.nan)]
    assert found == [WITHIN_DAY, WITHIN_WEEK, LATER, LATER]


def test_first_encounters_count_fully() -> None:
    """Nothing is taken off an answer to a new question."""
    history = build_history(["a", "b"], ["x", "x"], [True, False], [0.0, 1.0])
    assert evidence_weights(history) == pytest.approx(np.ones(2))
    assert lifts(history) == pytest.approx(np.zeros(2))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.sampled_from("abcd"), st.booleans()), min_size=1, max_size=30))
def test_a_recognised_right_counts_less_and_a_wrong_more(rows: list[tuple[str, bool]]) -> None:
    """Missing what one has seen says more than getting it right."""
    history = build_history([q for q, _ in rows], ["x"] * len(rows), [r for _, r in rows])
    repeat = lifts(history) > 0
    for weight, again, (_, right) in zip(evidence_weights(history), repeat, rows, strict=True):
        assert weight == 1.0 if not again else (weight < 1) if right else (weight > 1)


def two_rounds(rng: np.random.Generator, lift: float, then: float) -> tuple[History, list[int]]:
    """300 fresh questions at 65 %, the same again helped by `lift`, then a paper at `then`."""
    z = math.log(0.65 / 0.35)
    first = rng.random(300) < 0.65
    second = rng.random(300) < 1 / (1 + math.exp(-z - lift))
    paper = np.arange(200) < 200 * then
    names = [f"q{i}" for i in range(300)] * 2 + [f"p{i}" for i in range(200)]
    days = [i / 30 for i in range(300)] + [40 + i / 30 for i in range(300)] + [60.0] * 200
    rights = [*first, *second, *paper]
    history = build_history(names, ["x"] * 800, [bool(r) for r in rights], days)
    return history, list(range(600, 800))


def test_the_second_round_does_not_flatter() -> None:
    """Corrected, the standing after round two lies near the true 65 %; plain, well above it."""
    history, _ = two_rounds(np.random.default_rng(3), LATER + 0.4, 0.65)
    history = history.upto(600)
    corrected = Tracker(history, evidence_weights(history, 0.4)).standing("x").mean
    plain = Tracker(history).standing("x").mean
    assert abs(corrected - 0.65) < 0.04
    assert plain > corrected + 0.05


def test_a_poor_paper_teaches_that_recognition_flatters_more() -> None:
    """And a good one that it flatters less."""
    poor, rows = two_rounds(np.random.default_rng(5), LATER, 0.55)
    good, _ = two_rounds(np.random.default_rng(5), LATER, 0.78)
    assert learned_shift(poor, [rows]) > 0 > learned_shift(good, [rows])


def test_a_great_rise_in_the_second_round_is_partly_recognition() -> None:
    """Without a paper, a rise beyond what is commonly learned makes for a larger size."""
    great, _ = two_rounds(np.random.default_rng(7), LATER + 0.8, 0.65)
    small, _ = two_rounds(np.random.default_rng(7), 0.1, 0.65)
    assert learned_shift(great.upto(600), []) > 0.1
    assert learned_shift(small.upto(600), []) < -0.1


def test_little_repeated_says_nothing_of_its_size() -> None:
    """First encounters alone, or a few repeats, leave the starting value."""
    few = build_history(["a", "b", "a"], ["x"] * 3, [True, False, True], [0.0, 0.0, 9.0])
    assert learning_weights(few, SHIFTS) == pytest.approx(np.zeros(len(SHIFTS)))
    assert learned_shift(few.upto(2), []) == 0.0


def test_papers_are_told_apart_by_sitting_and_day() -> None:
    """Rows of round paper only, in order."""

    def answer(row: int, round_: str, sitting: str, day: int) -> Attempt:
        return Attempt(
            id=AttemptId(str(row)),
            at=datetime(2027, 1, day, 12, tzinfo=UTC),
            question=QuestionId(f"paper-1:{row}"),
            outcome="right",
            round=round_,  # type: ignore[arg-type]
            sitting=sitting,
        )

    rows = (
        answer(0, "first", "", 1),
        answer(1, "paper", "one", 2),
        answer(2, "paper", "one", 2),
        answer(3, "paper", "", 3),
    )
    assert paper_rows(rows) == ((1, 2), (3,))
