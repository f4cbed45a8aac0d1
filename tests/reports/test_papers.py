"""What the demo's two papers and mock say reads as it was agreed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kb.core.errors import NotFoundError
from kb.presentation.render import render_text

if TYPE_CHECKING:
    from kb.services.session import Session
    from tests.conftest import Golden


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("sitting", {}),
        ("sitting", {"name": "paper-1"}),
        ("sitting", {"name": "paper-2"}),
        ("sitting", {"name": "mock"}),
        ("certainty", {}),
        ("certainty", {"sitting": "mock"}),
        ("reasons", {}),
        ("reasons", {"area": "neurology", "weeks": 3}),
        ("mixups", {"limit": 6}),
    ],
    ids=lambda part: part if isinstance(part, str) else "-".join(map(str, part.values())),
)
def test_a_report_of_the_demo_reads_as_agreed(
    demo: Session, golden: Golden, name: str, given: dict[str, object]
) -> None:
    """Every part of it, to the letter, within 80 columns."""
    text = render_text(demo.report(name, given))
    assert max(map(len, text.splitlines())) <= 80
    stem = "-".join([name, *(str(value) for value in given.values())])
    golden.check(f"reports/{stem}.txt", text)


def test_an_unknown_paper_offers_the_nearest(demo: Session) -> None:
    """A slip of the finger costs nothing."""
    with pytest.raises(NotFoundError) as caught:
        demo.report("sitting", {"name": "papr-2"})
    assert "did you mean paper-2" in caught.value.hint


def test_marks_by_area_add_up_to_the_paper(demo: Session) -> None:
    """Two roads to one number: the areas' right answers sum to the score."""
    report = demo.report("sitting", {"name": "paper-2"})
    rows = next(block.rows for block in report.blocks if getattr(block, "key", "") == "areas")
    assert sum(row[1] for row in rows) == 140
    assert sum(row[2] for row in rows) == 200
