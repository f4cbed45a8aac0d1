"""The faults that once no test noticed can still be planted: each has one place in the code."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LISTED = (ROOT / "scripts" / "listed_faults.csv").read_text(encoding="utf-8")
ROWS = list(csv.DictReader(LISTED.splitlines(keepends=True)))


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_a_listed_fault_has_one_place(row: dict[str, str]) -> None:
    """Code that was changed keeps its fault under new words, or the row goes with it."""
    source = (ROOT / "kb" / row["file"]).read_text(encoding="utf-8")
    assert source.count(row["sound"]) == 1
    assert row["fault"] != row["sound"]
