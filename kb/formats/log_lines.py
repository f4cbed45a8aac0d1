"""Records of the log of attempts as its lines."""

from kb.core.model import Attempt, Dismissal
from kb.formats.attempt_log import COLUMNS, Void
from kb.formats.csv_lines import format_row


def cells_of(record: Attempt | Dismissal | Void) -> dict[str, str]:
    """The cells that a record fills, by column."""
    values = {name: getattr(record, name, None) for name in COLUMNS} | {"at": record.at.isoformat()}
    return {
        name: f"{value:.6g}" if isinstance(value, float) else str("" if value is None else value)
        for name, value in values.items()
    }


def format_attempt(attempt: Attempt) -> str:
    """One line of the log with its line end."""
    return format_row(cells_of(attempt), COLUMNS)


def format_void(void: Void) -> str:
    """The line that takes back another one, or a whole import."""
    return format_row(cells_of(void) | {"outcome": "void"}, COLUMNS)


def format_dismissal(dismissal: Dismissal) -> str:
    """The line that dismisses a miss for good."""
    return format_row(cells_of(dismissal) | {"outcome": "aside"}, COLUMNS)
