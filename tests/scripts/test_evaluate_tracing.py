"""The published model that ours is held against is computed as published."""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent.parent / "scripts"))

from evaluate_tracing import Tracing, trace


def test_the_first_worked_trace() -> None:
    """Known .5, learn .4, slip .2, guess .2; answers 0 0 1 1 1, in exact fractions.

    Source: Corbett AT, Anderson JR 1995 User Model User-Adap Inter 4:253-278, equations (a) to
    (e); the parameters were seen on a page about the model, the outputs worked as fractions.
    """
    model = Tracing(known=0.5, learn=0.4, slip=0.2, guess=0.2)
    foretold, states = trace(model, [False, False, True, True, True])
    assert foretold == pytest.approx([0.5, 0.512, 0.5167213, 0.7342132, 0.7892478], abs=1e-7)
    exact = ["13/25", "161/305", "877/985", "4439/4520", "88942/89185"]
    assert states == pytest.approx([float(Fraction(f)) for f in exact], abs=1e-12)


def test_the_second_worked_trace() -> None:
    """Known .3, learn .1, slip .1, guess .2; answers 1 1 0 1.

    Source: as above, worked as fractions.
    """
    model = Tracing(known=0.3, learn=0.1, slip=0.1, guess=0.2)
    foretold, states = trace(model, [True, True, False, True])
    assert foretold == pytest.approx([0.41, 0.684878, 0.843462, 0.639951], abs=1e-6)
    exact = ["142/205", "239/260", "1279/2035", "6479/7235"]
    assert states == pytest.approx([float(Fraction(f)) for f in exact], abs=1e-12)
    seen = model.after(0.3, right=True)
    assert seen == pytest.approx(27 / 41)


def test_a_right_answer_never_lowers_what_is_known() -> None:
    """As long as knowing makes right answers likelier than guessing."""
    model = Tracing()
    for known in (0.01, 0.3, 0.99):
        assert model.after(known, right=True) > known > model.after(known, right=False)
