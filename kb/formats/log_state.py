"""What was read of a log file, as bytes: the next process takes it up and reads the new lines."""

from __future__ import annotations

import json
from array import array
from dataclasses import asdict
from datetime import datetime
from hashlib import blake2b
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np

from kb.core.errors import Place, Problem
from kb.core.model import Dismissal
from kb.formats.attempt_log import Void
from kb.formats.logged_answers import CODED, LoggedAnswers

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from kb.formats.attempt_log import LogReader

TEXTS = ("ids", "written")
PATH = "path"
"""The one column that every answer of a file has the same."""


def state_of(reader: LogReader) -> Iterator[tuple[str, bytes]]:
    """All that a reader has read of its file, in parts with their names, one after the other: all
    together would double the memory.
    """
    (answers,) = reader.parts
    arrays = {name: own for name, own in answers.arrays.items() if name != PATH}
    arrays["areas"] = np.array(reader.areas, np.int32)
    about = {
        "taken": (reader.taken[0], reader.taken[1].hex()),
        "line_count": reader.line_count,
        "columns": reader.columns,
        "order": reader.order,
        "values": {name: reader.values[name] for name in CODED},
        "types": {name: own.dtype.str for name, own in arrays.items()},
        "voids": [_cells(void) for void in reader.voids],
        "dismissals": [_cells(one) for one in reader.dismissals],
        "problems": [_cells(problem) for problem in reader.problems],
    }
    found = blake2b()
    texts = zip(("about", *TEXTS), (json.dumps(about), *answers.texts), strict=True)
    every = chain(
        ((name, text.encode()) for name, text in texts),
        ((name, own.tobytes()) for name, own in sorted(arrays.items())),
    )
    for name, part in every:
        found.update(part)
        yield name, part
    yield "check", found.digest()


def take_up(reader: LogReader, state: Mapping[str, bytes]) -> None:
    """Give a new reader of the same file what another one had read; nothing if it is damaged."""
    first = ("about", *TEXTS)
    found = blake2b()
    for name in (*first, *sorted(state.keys() - {"check", *first})):
        found.update(state.get(name, b""))
    if state.get("check") != found.digest():
        return
    about = json.loads(state["about"])
    arrays = {name: np.frombuffer(state[name], kind) for name, kind in about["types"].items()}
    reader.areas = array("i", arrays.pop("areas").tolist())
    size, mark = about["taken"]
    reader.taken = size, bytes.fromhex(mark)
    reader.line_count, columns = about["line_count"], about["columns"]
    reader.columns = None if columns is None else tuple(columns)
    reader.order = tuple(about["order"])
    for name, column in reader.known.items():
        column.meant.extend(about["values"][name])
        column.update(zip(column.meant, range(len(column.meant)), strict=True))
    arrays[PATH] = np.zeros(len(arrays["day"]), np.uint8)
    ids, written = (state[name].decode() for name in TEXTS)
    reader.parts = [LoggedAnswers((ids, written), arrays, reader.values)]
    reader.voids = [Void(**_values(cells, reader.path)) for cells in about["voids"]]
    reader.dismissals = [Dismissal(**_values(one, reader.path)) for one in about["dismissals"]]
    reader.problems = [Problem(**_values(cells, reader.path)) for cells in about["problems"]]


def _cells(row: Void | Dismissal | Problem) -> dict[str, Any]:
    cells = asdict(row) | {"place": row.place.line}
    return cells if isinstance(row, Problem) else cells | {"at": row.at.isoformat()}


def _values(cells: dict[str, Any], path: str) -> dict[str, Any]:
    at = {"at": datetime.fromisoformat(cells["at"])} if "at" in cells else {}
    return cells | at | {"place": Place(path, cells["place"])}
