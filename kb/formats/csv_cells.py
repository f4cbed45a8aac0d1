"""Cells of a CSV file that a spreadsheet would take for formulas: quoted, and read back."""

import re

FORMULA = re.compile(r"'*[=+@-]")


def quoted(cell: str) -> str:
    """A cell that would be run as a formula, behind the apostrophe that makes it text."""
    return f"'{cell}" if FORMULA.match(cell) else cell


def unquoted(cell: str) -> str:
    """The cell as it was before `quoted`."""
    return cell[1:] if cell[:1] == "'" and FORMULA.match(cell) else cell
