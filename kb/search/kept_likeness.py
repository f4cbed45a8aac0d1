"""Which notes are similar, kept in the derived store and brought up to date when notes change."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from kb.search.similarity import NEAREST, ROW, UNKNOWN, Likeness
from kb.storage.derived_store import fill

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from kb.storage.derived_store import DerivedStore

Near = tuple[tuple[str, float], ...]


def neighbours(
    store: DerivedStore,
    mark: str,
    vectors: Callable[[], Mapping[str, Mapping[str, float]]],
    wanted: frozenset[str] | None,
) -> dict[str, Near]:
    """See `Index.neighbours`.

    Args:
        store: That of the base.
        mark: Changes with the words of any note.
        vectors: Words and weights of every note by path, in order of path; not asked for if
            nothing is still to be compared.
        wanted: Paths of notes; None for all.
    """
    known, paths, rows = store.run(_read)
    numbers = _numbers(paths, wanted)
    if known != mark or (rows["above"][numbers] == UNKNOWN).any():
        held = vectors()
        likeness = Likeness([*held.values()])
        place = {path: number for number, path in enumerate(held)}
        likeness.carry_over(rows, np.array([place.get(path, -1) for path in paths], int))
        paths, rows = [*held], likeness.rows
        numbers = _numbers(paths, wanted)
        likeness.fill(numbers)
        line = (mark, json.dumps(paths), rows.tobytes())
        store.write(lambda db: fill(db, "near", [line]))
    others, cosines = (rows[name][numbers, :NEAREST].tolist() for name in ("others", "cosines"))
    return {
        paths[number]: tuple([(paths[o], c) for o, c in zip(*both, strict=True) if o >= 0])
        for number, *both in zip(numbers.tolist(), others, cosines, strict=True)
    }


def _numbers(paths: list[str], wanted: frozenset[str] | None) -> NDArray[np.int_]:
    return np.array([n for n, path in enumerate(paths) if wanted is None or path in wanted], int)


def _read(db: sqlite3.Connection) -> tuple[str, list[str], NDArray[Any]]:
    for mark, paths, rows in db.execute("SELECT mark, paths, rows FROM near"):
        return mark, json.loads(paths), np.frombuffer(rows, ROW)
    return "", [], np.zeros(0, ROW)
