"""The list of sheets logged: round trip, damage, and growth."""

from __future__ import annotations

from datetime import UTC, date, datetime

from hypothesis import given
from hypothesis import strategies as st

from kb.formats.side_logs import SHEETS, LoggedSheet, lines_logged, sheet_digest

AT = datetime(2027, 2, 14, 12, tzinfo=UTC)


def sheet(raw: bytes, name: str = "a.txt") -> LoggedSheet:
    """A sheet as it was when it was logged."""
    return LoggedSheet(
        at=AT, name=name, size=len(raw), digest=sheet_digest(raw), day=date(2027, 2, 14)
    )


def test_a_line_reads_back_as_it_was() -> None:
    """A name may hold commas and quotation marks."""
    taken = sheet(b"x", 'my "sheets", new/a.txt')
    raw = (SHEETS.header + SHEETS.format(taken)).encode()
    assert SHEETS.parse(raw, "x") == ((taken,), ())


@given(st.binary())
def test_no_bytes_raise(raw: bytes) -> None:
    """A damaged list forgets a sheet at worst, and its answers are known by their ids."""
    SHEETS.parse(SHEETS.header.encode() + raw, "x")


def test_a_torn_line_is_left_out() -> None:
    """The last line counts only when a line break ends it."""
    whole = SHEETS.format(sheet(b"x"))
    raw = (SHEETS.header + whole + whole[:20]).encode()
    assert SHEETS.parse(raw, "x")[0] == (sheet(b"x"),)


def test_growth_is_told_from_change() -> None:
    """Lines at the top count as taken only while all of them are as they were."""
    taken = (sheet(b"north\n1\n"),)
    assert lines_logged(b"north\n1\n2\n", taken) == 2
    assert lines_logged(b"north\n1 x\n2\n", taken) == 0
    assert lines_logged(b"north\n", taken) == 0
