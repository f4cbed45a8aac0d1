"""The log of draws: which question was drawn when, in which round, from which seed."""

from __future__ import annotations

import csv
from datetime import datetime
from typing import TYPE_CHECKING

from kb.errors import Place, Problem
from kb.model import Drawn, Round, parse_question
from kb.text.log import format_row

if TYPE_CHECKING:
    from collections.abc import Iterable

COLUMNS = ("at", "draw", "round", "seed", "position", "question")
HEADER = ",".join(COLUMNS) + "\r\n"
_ROUNDS: dict[str, Round] = {"first": "first", "second": "second", "paper": "paper"}


def parse_draws(raw: bytes, path: str) -> tuple[tuple[Drawn, ...], tuple[Problem, ...]]:
    """Read a log of draws; a line that cannot be read is left out with a Problem."""
    found: list[Drawn] = []
    problems: list[Problem] = []
    lines = raw.removeprefix(b"\xef\xbb\xbf").split(b"\n")
    torn = lines.pop()
    for number, line in enumerate(lines[1:], start=2):
        if line.strip():
            drawn = _parse_line(line)
            if drawn is None:
                problems.append(_problem(path, number, "this is not a drawn question; left out"))
            else:
                found.append(drawn)
    if torn.strip():
        problems.append(_problem(path, len(lines) + 1, "the last line is cut off; set aside"))
    return tuple(found), tuple(problems)


def _parse_line(line: bytes) -> Drawn | None:
    try:
        row = next(csv.reader([line.decode("utf-8").removesuffix("\r")], strict=True))
        at_text, draw, round_name, seed, position, question_text = row
        at, place, round_ = datetime.fromisoformat(at_text), int(position), _ROUNDS[round_name]
    except (ValueError, KeyError, csv.Error, StopIteration):
        return None
    question = parse_question(question_text)
    if question is None or at.utcoffset() is None or not draw:
        return None
    return Drawn(at=at, draw=draw, round=round_, seed=seed, position=place, question=question)


def _problem(path: str, line: int, message: str) -> Problem:
    hint = "a line has moment with offset, draw, round, seed, position and question"
    return Problem(place=Place(path, line), code="bad-draw", message=message, hint=hint)


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
