"""The figures that judge the queue's order are themselves right."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

from simulate_queue import standard_error


@pytest.mark.parametrize(("yes", "no"), [(10, 10), (35, 300)])
def test_an_order_by_chance_has_the_error_of_a_rank_sum(yes: int, no: int) -> None:
    """At an area of .5 it is the root of (m + n + 1) / 12 m n.

    Source: Mann HB, Whitney DR 1947, Ann Math Stat 18:50-60 (from memory).
    """
    assert standard_error(0.5, yes, no) == pytest.approx(
        math.sqrt((yes + no + 1) / (12 * yes * no))
    )


def test_a_sure_order_has_no_error() -> None:
    """An area of 1."""
    assert standard_error(1.0, 10, 20) == 0


def test_the_error_of_the_published_example() -> None:
    """An area of .893 from 51 abnormal and 58 normal images has an error of .032.

    Source: Hanley JA, McNeil BJ 1982, Radiology 143:29-36 (from memory).
    """
    assert standard_error(0.893, 51, 58) == pytest.approx(0.032, abs=0.001)
