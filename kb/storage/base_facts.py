"""What a search must know of a base, kept so that it need not read log and settings again.

It is valid for one state of everything except the notes' text; what is shown of each note is valid
for some days only.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, NamedTuple

from kb.core.ids import digest
from kb.storage.derived_store import about, fill, put_about

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable, Mapping
    from datetime import date

    from kb.storage.note_catalogue import Catalogue

Card = tuple[object, ...]
"""What a search shows of a note."""


class NoteFact(NamedTuple):
    """A note's id, and the remarks on its missed questions."""

    note: str
    remarks: tuple[str, ...]


class BaseFacts(NamedTuple):
    """Facts of one state of a base.

    `timezone` is that of the person; `errors` are the base's errors, each as one line; `areas` are
    the short names of areas by id; `unknown_areas` says which areas of the log are not among them.
    """

    timezone: str
    errors: tuple[str, ...]
    areas: dict[str, str]
    unknown_areas: str = ""


def read_facts(catalogue: Catalogue, mark: str) -> BaseFacts | None:
    """The facts that were kept, if they are those of the state that `mark` identifies."""

    def work(db: sqlite3.Connection) -> BaseFacts | None:
        kept = about(db, "facts")
        if not kept:
            return None
        known, timezone, errors, *areas = json.loads(kept)
        return BaseFacts(timezone, tuple(errors), *areas) if known == mark else None

    found: BaseFacts | None = catalogue.read(work) if mark else None
    return found


def keep_facts(
    catalogue: Catalogue, mark: str, facts: BaseFacts, notes: Mapping[str, NoteFact]
) -> None:
    """Keep facts; `notes` are those of every note by path."""
    rows = [
        (path, fact.note, json.dumps(fact.remarks), digest(fact.note, *fact.remarks))
        for path, fact in notes.items()
    ]

    def work(db: sqlite3.Connection) -> None:
        fill(db, "fact", rows)
        put_about(db, "facts", json.dumps([mark, *facts]))

    catalogue.store.write(work)


def page_digests(catalogue: Catalogue) -> dict[str, str]:
    """A digest of each note's text and fact, by path."""
    sql = "SELECT path, note.digest || ' ' || fact.mark FROM note JOIN fact USING (path)"
    return dict(catalogue.read(lambda db: db.execute(sql).fetchall()))


def read_note_facts(catalogue: Catalogue, path: str | None = None) -> dict[str, NoteFact]:
    """Facts by path: of the note at `path`, or of all notes."""
    sql = "SELECT path, note, remarks FROM fact" + (" WHERE path = ?" if path else "")
    given = (path,) if path else ()
    rows = catalogue.read(lambda db: db.execute(sql, given).fetchall())
    return {path: NoteFact(note, tuple(json.loads(remarks))) for path, note, remarks in rows}


def read_cards(
    catalogue: Catalogue, mark: str, day: date, paths: Iterable[str]
) -> dict[str, Card] | None:
    """Cards by path, of those notes that have one; None if those kept are not of that state, or
    not valid on that day.
    """

    def work(db: sqlite3.Connection) -> dict[str, Card] | None:
        known, first, last = json.loads(about(db, "card") or '["", "", ""]')
        if known != mark or not first <= day.isoformat() <= last:
            return None
        sql = "SELECT card FROM card WHERE path = ?"
        rows = ((path, db.execute(sql, (path,)).fetchone()) for path in paths)
        return {path: _tuples(json.loads(row[0])) for path, row in rows if row}

    found: dict[str, Card] | None = catalogue.read(work)
    return found


def keep_cards(
    catalogue: Catalogue, mark: str, days: tuple[date, date], cards: Mapping[str, Card]
) -> None:
    """Keep the cards of all notes shown, by path; they are valid from the first of `days` to the
    last.
    """
    rows = [(path, json.dumps(card)) for path, card in cards.items()]

    def work(db: sqlite3.Connection) -> None:
        fill(db, "card", rows)
        put_about(db, "card", json.dumps([mark, *map(str, days)]))

    catalogue.store.write(work)


def carded_paths(catalogue: Catalogue) -> frozenset[str] | None:
    """Notes that have a card; None if every note has."""

    def work(db: sqlite3.Connection) -> frozenset[str] | None:
        sql = "SELECT (SELECT count(*) FROM note) = (SELECT count(*) FROM card)"
        if db.execute(sql).fetchone()[0]:
            return None
        return frozenset(path for (path,) in db.execute("SELECT path FROM card"))

    found: frozenset[str] | None = catalogue.read(work)
    return found


def _tuples(row: list[object]) -> Card:
    """JSON has only lists; a record holds tuples."""
    return tuple(tuple(value) if isinstance(value, list) else value for value in row)
