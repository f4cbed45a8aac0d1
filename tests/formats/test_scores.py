"""Bare scores are read back as written, and a damaged line stays alone."""

from __future__ import annotations

from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from kb.core.ids import AreaId
from kb.core.model import Score
from kb.formats.side_logs import SCORES

AT = datetime(2027, 2, 1, 9, tzinfo=UTC)


@given(st.integers(0, 200), st.integers(0, 200), st.booleans(), st.sampled_from(["", "cardiology"]))
def test_a_score_reads_back(right: int, more: int, official: bool, area: str) -> None:
    """parse(format(x)) == x."""
    score = Score(
        id="s",
        at=AT,
        sitting="paper, 1",
        area=AreaId(area),
        right_count=right,
        item_count=right + more,
        official=official,
    )
    raw = (SCORES.header + SCORES.format(score)).encode()
    assert SCORES.parse(raw, "x") == ((score,), ())


def test_a_line_that_is_no_score_is_left_out() -> None:
    """More right than asked, or cut off; each named with its line."""
    raw = SCORES.header.encode() + b"a,2027-02-01T09:00:00+00:00,p,,7,5,\r\nb,2027"
    found, problems = SCORES.parse(raw, "log/scores-a.csv")
    assert found == ()
    assert [(p.code, p.place.line) for p in problems] == [("bad-score", 2), ("bad-score", 3)]


@given(st.binary(max_size=200))
def test_no_bytes_make_the_parser_raise(raw: bytes) -> None:
    """Whatever a disk gives back."""
    SCORES.parse(SCORES.header.encode() + raw, "x")
