"""The columns that a phone shows of a table."""

from __future__ import annotations

from kb.presentation.report_model import Column, Kind, Table
from kb.web.narrow_tables import lead_of


def table(**kinds: Kind) -> Table:
    """A table with columns of those keys and kinds."""
    columns = tuple(Column(key=key, label=key, kind=kind) for key, kind in kinds.items())
    return Table(key="t", columns=columns, rows=())


def test_a_small_table_is_shown_whole() -> None:
    """Three columns fit any phone."""
    assert lead_of(table(group="date", count="count", gap="number")) == {}


def test_standing_comes_with_its_range() -> None:
    """What an area's row shows at once: the standing with its range, and the marks at risk."""
    areas = table(
        area="area",
        standing_fraction="fraction",
        range="number",
        tried_count="count",
        change="text",
        marks="marks",
    )
    assert lead_of(areas) == {1: 2, 5: 0}


def test_a_range_does_not_follow_a_count() -> None:
    """The range of a share beside a number of questions would be read as theirs."""
    areas = table(
        area="area", right_count="count", item_count="count", likely="number", gap="number"
    )
    assert lead_of(areas) == {1: 0, 2: 0, 4: 0}


def test_a_range_is_shown_once() -> None:
    """Where there are no marks yet, the next figure follows the standing and its range."""
    areas = table(area="area", standing_fraction="fraction", likely="number", tried_count="count")
    assert lead_of(areas) == {1: 2, 3: 0}


def test_a_table_nobody_thought_of_shows_its_first_two_figures() -> None:
    """A new table needs no choice before it can be read on a phone."""
    assert lead_of(table(a="text", b="count", c="count", d="count", e="count")) == {1: 0, 2: 0}
