"""The log of readings: which note was read when, and for how long."""

from __future__ import annotations

import csv
from datetime import datetime

from kb.errors import Place, Problem
from kb.model import NoteId, Reading
from kb.text.log import format_row

COLUMNS = ("id", "at", "note", "seconds")
HEADER = ",".join(COLUMNS) + "\r\n"


def parse_readings(raw: bytes, path: str) -> tuple[tuple[Reading, ...], tuple[Problem, ...]]:
    """Read a log of readings; a line that cannot be read is left out with a Problem."""
    found: list[Reading] = []
    problems: list[Problem] = []
    lines = raw.removeprefix(b"\xef\xbb\xbf").split(b"\n")
    torn = lines.pop()
    for number, line in enumerate(lines[1:], start=2):
        if not line.strip():
            continue
        reading = _parse_line(line)
        if reading is None:
            problems.append(_problem(path, number, "this is not a reading; left out"))
        else:
            found.append(reading)
    if torn.strip():
        problems.append(_problem(path, len(lines) + 1, "the last line is cut off; set aside"))
    return tuple(found), tuple(problems)


def _parse_line(line: bytes) -> Reading | None:
    try:
        row = next(csv.reader([line.decode("utf-8").removesuffix("\r")], strict=True))
        reading_id, at_text, note, seconds = row
        at = datetime.fromisoformat(at_text)
        taken = float(seconds) if seconds else None
    except (ValueError, csv.Error, StopIteration):
        return None
    if at.utcoffset() is None or not note or (taken is not None and not 0 <= taken < 1e6):
        return None
    return Reading(id=reading_id, at=at, note=NoteId(note), seconds=taken)


def _problem(path: str, line: int, message: str) -> Problem:
    hint = "a line has id, moment with offset, note and seconds"
    return Problem(place=Place(path, line), code="bad-reading", message=message, hint=hint)


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
