"""The list of sheets taken in: round trip, damage, and growth."""

from __future__ import annotations

from datetime import UTC, date, datetime

from hypothesis import given
from hypothesis import strategies as st

from kb.formats.taken_sheets import (
    HEADER,
    TakenSheet,
    digest_of,
    format_taken,
    grown_from,
    parse_taken,
)

AT = datetime(2027, 2, 14, 12, tzinfo=UTC)


def sheet(raw: bytes, name: str = "a.txt") -> TakenSheet:
    """A sheet as it was taken in."""
    return TakenSheet(at=AT, name=name, size=len(raw), digest=digest_of(raw), day=date(2027, 2, 14))


def test_a_line_reads_back_as_it_was() -> None:
    """A name may hold commas and quotation marks."""
    taken = sheet(b"x", 'my "sheets", new/a.txt')
    assert parse_taken((HEADER + format_taken(taken)).encode()) == (taken,)


@given(st.binary())
def test_no_bytes_raise(raw: bytes) -> None:
    """A damaged list forgets a sheet at worst, and its answers are known by their ids."""
    parse_taken(HEADER.encode() + raw)


def test_a_torn_line_is_left_out() -> None:
    """The last line counts only when a line break ends it."""
    whole = format_taken(sheet(b"x"))
    assert parse_taken((HEADER + whole + whole[:20]).encode()) == (sheet(b"x"),)


def test_growth_is_told_from_change() -> None:
    """Lines at the top count as taken only while all of them are as they were."""
    taken = (sheet(b"north\n1\n"),)
    assert grown_from(b"north\n1\n2\n", taken) == 2
    assert grown_from(b"north\n1 x\n2\n", taken) == 0
    assert grown_from(b"north\n", taken) == 0
