"""The log of bare scores: papers of which only right and asked, by area, are known."""

from __future__ import annotations

import csv
from datetime import datetime

from kb.errors import Place, Problem
from kb.model import AreaId, Score
from kb.text.log import format_row

COLUMNS = ("id", "at", "sitting", "area", "right", "items", "official")
HEADER = ",".join(COLUMNS) + "\r\n"


def parse_scores(raw: bytes, path: str) -> tuple[tuple[Score, ...], tuple[Problem, ...]]:
    """Read a log of scores; a line that cannot be read is left out with a Problem."""
    found: list[Score] = []
    problems: list[Problem] = []
    lines = raw.removeprefix(b"\xef\xbb\xbf").split(b"\n")
    torn = lines.pop()
    for number, line in enumerate(lines[1:], start=2):
        score = _parse_line(line) if line.strip() else None
        if score is not None:
            found.append(score)
        elif line.strip():
            problems.append(_problem(path, number, "this is not a score; left out"))
    if torn.strip():
        problems.append(_problem(path, len(lines) + 1, "the last line is cut off; set aside"))
    return tuple(found), tuple(problems)


def _parse_line(line: bytes) -> Score | None:
    try:
        row = next(csv.reader([line.decode("utf-8").removesuffix("\r")], strict=True))
        score_id, at_text, sitting, area, right, items, official = row
        at = datetime.fromisoformat(at_text)
        right_count, item_count = int(right), int(items)
    except (ValueError, csv.Error, StopIteration):
        return None
    if at.utcoffset() is None or not sitting or not 0 <= right_count <= item_count:
        return None
    return Score(
        id=score_id,
        at=at,
        sitting=sitting,
        area=AreaId(area),
        right_count=right_count,
        item_count=item_count,
        official=official == "yes",
    )


def _problem(path: str, line: int, message: str) -> Problem:
    hint = "a line has " + ", ".join(COLUMNS)
    return Problem(place=Place(path, line), code="bad-score", message=message, hint=hint)


def format_score(score: Score) -> str:
    """One line with its line end."""
    cells = {
        "id": score.id,
        "at": score.at.isoformat(),
        "sitting": score.sitting,
        "area": score.area,
        "right": str(score.right_count),
        "items": str(score.item_count),
        "official": "yes" if score.official else "",
    }
    return format_row(cells, COLUMNS)
