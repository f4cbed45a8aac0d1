"""The log of bare scores: papers of which only right and asked, by area, are known."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from kb.core.model import AreaId, Score
from kb.formats.attempt_log import format_row
from kb.formats.small_logs import Wanted, parse_lines

if TYPE_CHECKING:
    from kb.core.errors import Problem

COLUMNS = ("id", "at", "sitting", "area", "right", "items", "official")
HEADER = ",".join(COLUMNS) + "\r\n"
WANTED = Wanted(code="bad-score", what="a score", hint="a line has " + ", ".join(COLUMNS))


def parse_scores(raw: bytes, path: str) -> tuple[tuple[Score, ...], tuple[Problem, ...]]:
    """Read a log of scores; a line that cannot be read is left out with a Problem."""
    return parse_lines(raw, path, _parse, WANTED)


def _parse(row: list[str]) -> Score | None:
    score_id, at_text, sitting, area, right, items, official = row
    at = datetime.fromisoformat(at_text)
    right_count, item_count = int(right), int(items)
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
