"""Six situations lived day by day: nothing idle, nothing overfull, and tomorrow as foreseen."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent / "scripts"))

import simulate_plans

SHORT = {"a": 9, "b": 9, "c": 9, "d": 9, "e": 9, "f": 5}
"""Days lived in a test; the script lives thirty."""


@pytest.mark.parametrize("case", simulate_plans.CASES, ids=lambda case: case.name)
def test_no_study_day_is_idle_or_overfull(case: simulate_plans.Case) -> None:
    """Work within the minutes of each day, review included, none idle, and no paper on the eve."""
    lived = simulate_plans.live(case, SHORT[case.name])
    assert not [one.day.day for one in lived if one.idle]
    for one in lived:
        assert one.day.used_minutes <= one.day.minutes + 1e-6
        assert one.day.paper is None or one.last > 5
    changed = [d for d in lived if d.foreseen is not None and set(d.areas) != set(d.foreseen)]
    assert len(changed) <= 1


def test_nothing_done_shifts_the_work() -> None:
    """What was not done is still there a day later, in the same areas."""
    case = simulate_plans.CASES[2]
    one, two = simulate_plans.live(case, 2, does="none")
    assert set(two.areas) <= set(one.areas) | set(two.foreseen or ())
    assert two.day.new_count > 0
