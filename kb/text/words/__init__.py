"""Word tables of medical English, read as text: facts typed by hand, one row each."""

from __future__ import annotations

from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent


@cache
def rows(name: str) -> tuple[tuple[str, ...], ...]:
    """Rows of the table `name`.csv without its heading; no cell holds a comma or a quote."""
    text = (FOLDER / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(tuple(line.split(",")) for line in text.splitlines()[1:] if line)


@cache
def lines(name: str) -> tuple[str, ...]:
    """Lines of the list `name`.txt without comments and empty ones."""
    text = (FOLDER / f"{name}.txt").read_text(encoding="utf-8")
    return tuple(line for line in text.splitlines() if line and line[0] != "#")
