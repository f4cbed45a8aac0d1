"""The log of readings: which note was read when, and for how long."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from kb.core.model import NoteId, Reading
from kb.formats.attempt_log import format_row
from kb.formats.small_logs import Wanted, parse_lines

if TYPE_CHECKING:
    from kb.core.errors import Problem

COLUMNS = ("id", "at", "note", "seconds")
HEADER = ",".join(COLUMNS) + "\r\n"
WANTED = Wanted(
    code="bad-reading",
    what="a reading",
    hint="a line has id, moment with offset, note and seconds",
)


def parse_readings(raw: bytes, path: str) -> tuple[tuple[Reading, ...], tuple[Problem, ...]]:
    """Read a log of readings; a line that cannot be read is left out with a Problem."""
    return parse_lines(raw, path, _parse, WANTED)


def _parse(row: list[str]) -> Reading | None:
    reading_id, at_text, note, seconds = row
    at = datetime.fromisoformat(at_text)
    taken = float(seconds) if seconds else None
    if at.utcoffset() is None or not note or (taken is not None and not 0 <= taken < 1e6):
        return None
    return Reading(id=reading_id, at=at, note=NoteId(note), seconds=taken)


def format_reading(reading: Reading) -> str:
    """One line with its line end."""
    seconds = "" if reading.seconds is None else f"{reading.seconds:.6g}"
    cells = {
        "id": reading.id,
        "at": reading.at.isoformat(),
        "note": reading.note,
        "seconds": seconds,
    }
    return format_row(cells, COLUMNS)
