"""Certainty is marked, and its calibration judged, as published."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.ids import AttemptId, QuestionId
from kb.core.model import Attempt
from kb.stats.calibration import (
    EXPECTED,
    MARKS_RIGHT,
    MARKS_WRONG,
    NAMES,
    SPANS,
    brier,
    certainty_marks,
    certainty_murphy,
    chosen_answers,
    levels,
    murphy,
)

AT = datetime(2027, 2, 1, tzinfo=UTC)
HIGHER_LOWER = ("higher", "lower")


def answer(certainty: int | None, outcome: str) -> Attempt:
    """One answer with a certainty."""
    return Attempt(
        id=AttemptId("x"),
        at=AT,
        question=QuestionId("paper-1:1"),
        outcome=outcome,  # type: ignore[arg-type]
        certainty=certainty,
    )


def test_right_earns_1_2_3_and_wrong_costs_0_2_6() -> None:
    """A blank, or an answer without certainty, scores nothing.

    Source: Gardner-Medwin AR 1995 (certainty-based marking).
    """
    right, wrong = (
        [certainty_marks([answer(c, o)]) for c in (1, 2, 3)] for o in ("right", "wrong")
    )
    assert (right, wrong) == ([1, 2, 3], [0, -2, -6])
    assert certainty_marks([answer(1, "right"), answer(2, "right"), answer(3, "wrong")]) == -3
    assert certainty_marks([answer(3, "blank"), answer(None, "right")]) == 0


@pytest.mark.parametrize(
    ("certainty", "right", "wrong", "verdict"),
    [
        (1, 5, 0, ""),
        (1, 10, 0, "higher"),
        (1, 0, 10, ""),
        (2, 2, 8, "lower"),
        (2, 10, 10, ""),
        (2, 6, 14, "lower"),
        (2, 10, 0, ""),
        (2, 20, 0, "higher"),
        (3, 5, 5, "lower"),
        (3, 10, 5, ""),
        (3, 20, 0, ""),
    ],
)
def test_a_level_is_judged_by_where_it_pays_best(
    certainty: int, right: int, wrong: int, verdict: str
) -> None:
    """Below 2/3, up to 4/5 and above. Wilson's intervals by statsmodels: 5 of 5 from .566, 10 of 10
    from .722, 20 of 20 from .839; 2 of 10 up to .510, 5 of 10 to .763, 6 of 20 to .519, 10 of 20
    to .701, 10 of 15 to .848.
    """
    (level,) = levels([answer(certainty, "right")] * right + [answer(certainty, "wrong")] * wrong)
    said = {"": "", **{way: f"a {way} certainty would have scored better" for way in HIGHER_LOWER}}
    assert level.verdict == said[verdict]


def test_each_level_counts_as_its_chance() -> None:
    """By hand: .5 right, .75 right, .9 wrong: (.25 + .0625 + .81) / 3 = .3742; a share of 2/3 has
    the uncertainty 2/9. A blank and an answer without a certainty do not count.
    """
    given_ = [answer(1, "right"), answer(2, "right"), answer(3, "wrong")]
    found = certainty_murphy([*given_, answer(3, "blank"), answer(None, "wrong")])
    assert found is not None
    assert found.brier == pytest.approx(1.1225 / 3)
    assert found.uncertainty == pytest.approx(2 / 9)


def test_only_first_answers_of_one_sitting_are_chosen_when_asked() -> None:
    """Two answers to one question in a sitting, one outside it."""
    rows = [
        replace(
            answer(1, outcome), id=AttemptId(name), question=QuestionId(f"p:{item}"), sitting=of
        )
        for name, outcome, item, of in (
            ("a", "right", 1, "mock"),
            ("b", "wrong", 2, ""),
            ("c", "wrong", 1, "mock"),
        )
    ]
    assert [a.id for a in chosen_answers(rows)] == ["a", "b", "c"]
    assert [a.id for a in chosen_answers(rows, "Mock")] == ["a", "c"]
    assert {a.id for a in chosen_answers(rows, new_only=True)} == {"a", "b"}


@pytest.mark.parametrize(("chance", "best"), [(0.5, 1), (0.75, 2), (0.9, 3)])
def test_saying_what_one_believes_pays_best(chance: float, best: int) -> None:
    """The scheme is proper: each level is best in its own span of chances."""
    expected = {c: chance * MARKS_RIGHT[c] + (1 - chance) * MARKS_WRONG[c] for c in (1, 2, 3)}
    assert max(expected, key=lambda level: expected[level]) == best


def test_the_brier_score_of_the_worked_example() -> None:
    """Y = 0 1 1 0, p = .1 .9 .8 .3 gives 0.0375.

    Source: the docstring example of scikit-learn's brier_score_loss; Brier 1950.
    """
    assert brier([0.1, 0.9, 0.8, 0.3], [0, 1, 1, 0]) == pytest.approx(0.0375, abs=1e-12)


MIXED = [0.2] * 5 + [0.6] * 5 + [0.8] * 10
MIXED_SEEN = [0, 0, 0, 1, 1] + [1, 1, 1, 1, 0] + [1] * 7 + [0] * 3
CALIBRATED = [0.2] * 5 + [0.6] * 5 + [0.9] * 10
CALIBRATED_SEEN = [0, 0, 0, 0, 1] + [1, 1, 1, 0, 0] + [1] * 9 + [0]


@pytest.mark.parametrize(
    ("forecasts", "seen", "parts"),
    [
        (MIXED, MIXED_SEEN, ("23/100", "1/40", "9/400", "91/400", "-1/91")),
        (CALIBRATED, CALIBRATED_SEEN, ("29/200", "0", "33/400", "91/400", "33/91")),
    ],
)
def test_the_brier_score_falls_into_three_parts(
    forecasts: list[float], seen: list[int], parts: tuple[str, ...]
) -> None:
    """Reliability, resolution and uncertainty in exact fractions, and the skill against the share.

    Source: Murphy AH 1973 J Appl Meteorol 12:595-600 (identity); the examples worked by hand.
    """
    found = murphy(forecasts, seen)
    expected = [float(Fraction(part)) for part in parts[:4]]
    actual = [found.brier, found.reliability, found.resolution, found.uncertainty]
    assert actual == pytest.approx(expected, abs=1e-12)
    skill = 1 - found.brier / found.uncertainty
    assert skill == pytest.approx(float(Fraction(parts[4])), abs=1e-12)


@given(st.lists(st.tuples(st.sampled_from([0.1, 0.5, 0.75, 0.9]), st.integers(0, 1)), min_size=1))
def test_the_parts_always_add_up(pairs: list[tuple[float, int]]) -> None:
    """BS = REL - RES + UNC, whatever the forecasts."""
    found = murphy([p for p, _ in pairs], [y for _, y in pairs])
    total = found.reliability - found.resolution + found.uncertainty
    assert found.brier == pytest.approx(total)


def test_each_level_has_its_share_and_range() -> None:
    """Answers without a certainty and blanks do not count."""
    given_ = [answer(3, "right")] * 8 + [answer(3, "wrong")] * 2
    given_ += [answer(1, "wrong"), answer(None, "right"), answer(2, "blank")]
    low, high = levels(given_)
    assert (low.certainty, low.fraction) == (1, 0.0)
    assert (high.certainty, high.right_count, high.tried_count) == (3, 8, 10)
    assert (high.interval.low, high.interval.high) == pytest.approx((0.4902, 0.9433), abs=1e-4)


def test_nothing_said_is_nothing_judged() -> None:
    """Without a certainty there is no calibration, and no forecast is no score."""
    assert certainty_murphy([answer(None, "right")]) is None
    with pytest.raises(ValueError, match="no forecast"):
        brier([], [])


def test_every_certainty_has_its_marks_its_span_and_its_words() -> None:
    """1, 2 and 3; the chance taken for each lies within its span."""
    for own in (MARKS_RIGHT, MARKS_WRONG, SPANS, EXPECTED, NAMES):
        assert sorted(own) == [1, 2, 3]
    assert all(SPANS[c][0] <= EXPECTED[c] <= SPANS[c][1] for c in SPANS)
    assert [SPANS[c] for c in (1, 2, 3)] == [(0, 2 / 3), (2 / 3, 0.8), (0.8, 1)]
