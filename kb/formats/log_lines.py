"""Records of the log of attempts as lines of CSV (RFC 4180)."""

import csv
import io
from collections.abc import Sequence

from kb.core.model import Attempt, Dismissal
from kb.formats.attempt_log import COLUMNS, Void
from kb.formats.csv_cells import quoted


def format_attempt(attempt: Attempt) -> str:
    """One line of the log with its line end."""
    cells = {name: str(getattr(attempt, name, "")) for name in COLUMNS}
    cells["at"] = attempt.at.isoformat()
    cells["certainty"] = "" if attempt.certainty is None else str(attempt.certainty)
    cells["seconds"] = "" if attempt.seconds is None else f"{attempt.seconds:.6g}"
    return format_row(cells)


def format_void(void: Void) -> str:
    """The line that takes back another one, or a whole import."""
    return format_row(
        {
            "id": void.id,
            "at": void.at.isoformat(),
            "outcome": "void",
            "voids": void.voids,
            "batch": void.batch,
            "remark": void.remark,
        }
    )


def format_dismissal(dismissal: Dismissal, dismissal_id: str) -> str:
    """The line that dismisses a miss for good."""
    return format_row(
        {
            "id": dismissal_id,
            "at": dismissal.at.isoformat(),
            "question": dismissal.question,
            "outcome": "aside",
            "reason": dismissal.reason,
            "remark": dismissal.remark,
        }
    )


def format_row(cells: dict[str, str], columns: Sequence[str] = COLUMNS) -> str:
    """Cells by column name -> one CSV line ending in CRLF (RFC 4180).

    A line break or NUL inside a cell becomes a space: one record is one physical line.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow([quoted(one_line(cells.get(column, ""))) for column in columns])
    return buffer.getvalue()


def one_line(text: str) -> str:
    """Text without line breaks or control characters, trimmed, as a log cell can hold it."""
    if text.isprintable():
        return text.strip()
    return "".join(c if c.isprintable() else " " for c in text).strip()
