"""The list of answer sheets taken in: one CSV line each, so that none is taken twice.

It lies in the log beside the answers, since it cannot be made again from anything else.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import blake2b
from typing import TYPE_CHECKING

from kb.formats.attempt_log import format_row

if TYPE_CHECKING:
    from collections.abc import Iterable

COLUMNS = ("at", "name", "size", "digest", "day", "batch")
HEADER = ",".join(COLUMNS) + "\r\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenSheet:
    """One sheet as it was when it was taken in.

    `size` is in bytes, `day` the day of answers without a date, `batch` the id of its import
    (empty if it added nothing).
    """

    at: datetime
    name: str
    size: int
    digest: str
    day: date
    batch: str = ""


def digest_of(raw: bytes) -> str:
    """What a sheet's content is known by, wherever it lies."""
    return blake2b(raw, digest_size=16).hexdigest()


def format_taken(taken: TakenSheet) -> str:
    """One line of the list with its line end."""
    cells = {
        "at": taken.at.isoformat(),
        "name": taken.name,
        "size": str(taken.size),
        "digest": taken.digest,
        "day": taken.day.isoformat(),
        "batch": taken.batch,
    }
    return format_row(cells, COLUMNS)


def parse_taken(raw: bytes) -> tuple[TakenSheet, ...]:
    """Read the list. A line that cannot be read is left out: its sheet is looked at once more,
    and the answers that the log has already are not added again.
    """
    found: list[TakenSheet] = []
    for line in raw.decode("utf-8", errors="replace").split("\n")[:-1]:
        try:
            row = next(csv.reader([line.removesuffix("\r")], strict=True), [])
            cells = dict(zip(COLUMNS, row, strict=True))
            at = datetime.fromisoformat(cells["at"])
            if at.utcoffset() is None:
                continue
            found.append(
                TakenSheet(
                    at=at,
                    name=cells["name"],
                    size=int(cells["size"]),
                    digest=cells["digest"],
                    day=date.fromisoformat(cells["day"]),
                    batch=cells["batch"],
                )
            )
        except (ValueError, csv.Error):
            continue
    return tuple(found)


def grown_from(raw: bytes, taken: Iterable[TakenSheet]) -> int:
    """How many lines at the top of a sheet were taken in before, when it has only grown since.

    0 if it is new or was changed elsewhere than at its end.
    """
    sizes = {(sheet.size, sheet.digest) for sheet in taken if sheet.size <= len(raw)}
    whole = [size for size, digest in sizes if size and digest_of(raw[:size]) == digest]
    return raw[: max(whole)].count(b"\n") if whole else 0
