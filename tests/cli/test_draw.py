"""What `draw` prints can be typed into a bank as it stands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from conftest import EXAM

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.testing import Result

SOURCES = "sources: [{source: past-paper, kind: bank, items: 60, areas: {1-60: cardiology}}]\n"


def test_no_reference_is_broken_at_the_end_of_a_line(
    beside: Callable[..., Callable[..., Result]],
) -> None:
    """A hyphen in the name of a source is no place for a line to end."""
    run = beside({"exam.yaml": EXAM, "study.yaml": SOURCES})
    words = run("draw", "20", "--dry-run").stdout.split()
    assert len({word for word in words if word.startswith("past-paper:")}) == 20
