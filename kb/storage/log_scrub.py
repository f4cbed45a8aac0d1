"""Blank the remark of one log line for good: the only rewriting of a log file.

It is meant for text that could identify a patient. All other bytes of the file stay, and the line
keeps its id, so that copies of it on other devices are recognised as the same answer.
"""

import csv
from pathlib import Path

from kb.core.errors import NotFoundError
from kb.formats.csv_lines import format_row, read_row
from kb.storage import atomic_files
from kb.storage.attempt_store import ATTEMPTS, LOG
from kb.storage.scan import scan

BLANKED = ("concept", "remark")
"""Cells with free text."""


def scrub_line(root: Path, own: str) -> int:
    """Blank the line with that id in every log file; returns how many files held it.

    The scrubbed line is its own record: its remark becomes `scrubbed`.

    Raises:
        ConflictError: A file changed meanwhile. Others may be done already; repeat the command.
        NotFoundError: No line has that id.
    """
    count = 0
    with atomic_files.locked(root / LOG):
        for entry in scan(root):
            if not own or not ATTEMPTS.fullmatch(entry.path):
                continue
            raw = atomic_files.read_bytes(root / entry.path, entry.path)
            lines = raw.split(b"\n")
            new = [_scrubbed(line, lines[0], own) for line in lines]
            if new != lines:
                expected = atomic_files.digest(raw)
                path, content = root / entry.path, b"\n".join(new)
                atomic_files.replace_file(path, content, shown=entry.path, expected=expected)
                count += 1
    if not count:
        hint = "missbook check shows the ids of remarks that may identify a patient"
        raise NotFoundError(f"no line of the log has the id '{own}'", hint=hint)
    return count


def _scrubbed(line: bytes, head: bytes, own: str) -> bytes:
    """The line, its free text blanked if it has that id."""
    if own.encode() not in line:
        return line
    try:
        row = read_row(line.decode("utf-8").removesuffix("\r"))
    except (UnicodeDecodeError, csv.Error):
        return line
    names = [name.strip().casefold() for name in head.decode("utf-8-sig", "replace").split(",")]
    if len(row) != len(names) or "id" not in names or row[names.index("id")] != own:
        return line
    cells = {**dict(zip(names, row, strict=True)), **dict.fromkeys(BLANKED, "")}
    if "remark" in names:
        cells["remark"] = "scrubbed"
    written = format_row(cells, names)
    return written.removesuffix("\n" if line.endswith(b"\r") else "\r\n").encode()
