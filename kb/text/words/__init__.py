"""Word tables of medical English, read as text: facts typed by hand, one row each."""

from __future__ import annotations

from functools import cache
from importlib.resources import files


@cache
def rows(name: str) -> tuple[tuple[str, ...], ...]:
    """Rows of the table `name`.csv without its heading; no cell holds a comma or a quote."""
    text = files("kb.text.words").joinpath(f"{name}.csv").read_text(encoding="utf-8")
    return tuple(tuple(line.split(",")) for line in text.splitlines()[1:] if line)
