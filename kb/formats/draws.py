"""The log of draws: which question was drawn when, in which round, from which seed."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from kb.core.model import ROUND_OF, Drawn, parse_question
from kb.formats.attempt_log import format_row
from kb.formats.small_logs import Wanted, parse_lines

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kb.core.errors import Problem

COLUMNS = ("at", "draw", "round", "seed", "position", "question")
HEADER = ",".join(COLUMNS) + "\r\n"
WANTED = Wanted(
    code="bad-draw",
    what="a drawn question",
    hint="a line has moment with offset, draw, round, seed, position and question",
)


def parse_draws(raw: bytes, path: str) -> tuple[tuple[Drawn, ...], tuple[Problem, ...]]:
    """Read a log of draws; a line that cannot be read is left out with a Problem."""
    return parse_lines(raw, path, _parse, WANTED)


def _parse(row: list[str]) -> Drawn | None:
    at_text, draw, round_name, seed, position, question_text = row
    at, place, round_ = datetime.fromisoformat(at_text), int(position), ROUND_OF[round_name]
    question = parse_question(question_text)
    if question is None or at.utcoffset() is None or not draw or not round_:
        return None
    return Drawn(at=at, draw=draw, round=round_, seed=seed, position=place, question=question)


def format_draws(drawn: Iterable[Drawn]) -> str:
    """One line for each drawn question, with its line end."""
    return "".join(
        format_row(
            {
                "at": row.at.isoformat(),
                "draw": row.draw,
                "round": row.round,
                "seed": row.seed,
                "position": str(row.position),
                "question": row.question,
            },
            COLUMNS,
        )
        for row in drawn
    )
