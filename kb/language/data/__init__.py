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
    return tuple(line for line in text_of(name).splitlines() if line and line[0] != "#")


@cache
def text_of(name: str) -> str:
    """The list `name`.txt as it is."""
    return (FOLDER / f"{name}.txt").read_text(encoding="utf-8")
