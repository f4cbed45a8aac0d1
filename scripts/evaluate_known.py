"""Search for queries whose right note is known, and count how often it comes first.

    python scripts/evaluate.py known NOTES QUERIES.csv [--misses]

NOTES is a base, or a file of JSON Lines with id, title, concepts and text. QUERIES.csv has the
columns kind, query and right: ids, separated by spaces, of notes any of which answers it; none for
a topic that no note covers. Notes listed as only sharing a word do not count as found. SQLite's
full-text engine (FTS5, porter stemmer, any of the words, BM25 with title and concepts weighing
three times as much) answers the same queries for comparison.
"""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import sqlite3
import subprocess
import tempfile
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from kb.core.ids import AreaId, NoteId
from kb.export.handout import Leaf
from kb.export.html_bundle.word_index import index
from kb.search import Index, Page
from kb.storage.derived_store import DerivedStore

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator, Sequence

    from kb.core.search_result import SearchResult

DEPTH = 10
"""Notes looked at, a page of the report."""
CARRIED = Path(__file__).resolve().parent.parent / "kb" / "export" / "html_bundle"
FINDER = """
const given = JSON.parse(require('fs').readFileSync(0, 'utf8'));
const finder = require('./find.js').makeFinder(given.index, given.titles.length);
console.log(JSON.stringify(given.queries.map(query => {
    const {order, answered} = finder.find(query, given.titles);
    return answered ? order.slice(0, 10) : [];
})));
"""
FIELDS = ("title", "concepts", "body")
WEIGHTS = (3.0, 3.0, 1.0)


class Asked(NamedTuple):
    """A query, its kind, and the notes any of which answers it; none for an absent topic."""

    kind: str
    query: str
    right: frozenset[str]


class Found(NamedTuple):
    """The notes a query found, best first."""

    asked: Asked
    notes: tuple[str, ...]

    @property
    def rank(self) -> int:
        """Rank of the first right note, from 1; 0 if it was not found."""
        right = (at for at, note in enumerate(self.notes, 1) if note in self.asked.right)
        return next(right, 0)


def read_queries(path: Path) -> list[Asked]:
    """The rows of a file of queries."""
    with path.open(encoding="utf-8", newline="") as file:
        return [
            Asked(row.get("kind", ""), row["query"], frozenset(row["right"].split()))
            for row in csv.DictReader(file)
        ]


def pages_of(path: Path) -> list[Page]:
    """Pages of a file of JSON Lines."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return [
        Page(
            id=NoteId(note["id"]),
            path=note["id"],
            title=note["title"],
            concepts=tuple(note["concepts"]),
            headings=(),
            body=note["text"],
            remarks=(),
        )
        for note in map(json.loads, filter(None, lines))
    ]


@contextmanager
def opened(notes: Path) -> Iterator[tuple[Callable[[str], SearchResult], list[Page]]]:
    """The product's own search over the notes, and the pages it covers."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as place:
        if notes.is_file():
            pages = pages_of(notes)
            by_path = {page.path: page for page in pages}
            opened_index = Index(DerivedStore(Path(place)))
            opened_index.sync("known", lambda: dict.fromkeys(by_path, "1"), by_path.__getitem__)
            yield lambda words: opened_index.search(words, limit=DEPTH), pages
            opened_index.close()
            return
        from kb.services.session import Session

        os.environ["MISSBOOK_CACHE"] = str(Path(place) / "cache")
        copy = Path(place) / "base"
        shutil.copytree(notes, copy)
        now = datetime.now(UTC)
        whole = Session(copy, now=now, device="evaluate").whole
        # A demo is dated ahead: use the day on which its last note was written.
        last = max((note.written_on for note in whole.notes if note.written_on), default=None)
        session = Session(copy, now=now, device="evaluate", as_of=last)
        pages = [
            Page(
                id=note.id,
                path=note.path,
                title=note.title,
                concepts=note.concepts,
                headings=(),
                body=session.body(note),
                remarks=(),
            )
            for note in session.base.notes
        ]
        yield lambda words: session.search(words, limit=DEPTH), pages
        session.index.close()


def look_up(search: Callable[[str], SearchResult], asked: Sequence[Asked]) -> list[Found]:
    """Search with missbook."""

    def notes(query: str) -> tuple[str, ...]:
        return tuple(str(hit.note) for hit in search(query).hits)

    return [Found(one, notes(one.query)) for one in asked]


def look_up_carried(pages: Sequence[Page], asked: Sequence[Asked]) -> list[Found]:
    """What the carried file's own search finds, run by Node.js."""
    leaves = [
        Leaf(
            note=page.id,
            path=page.path,
            title=page.title,
            body=page.body,
            area=AreaId(""),
            area_name="",
            concepts=page.concepts,
        )
        for page in pages
    ]
    titles = [page.title for page in pages]
    given = {"index": index(leaves, ()), "titles": titles, "queries": [one.query for one in asked]}
    done = subprocess.run(
        ["node", "-e", FINDER],
        input=json.dumps(given).encode(),
        capture_output=True,
        check=True,
        cwd=CARRIED,
    )
    return [
        Found(one, tuple(str(pages[number].id) for number in numbers))
        for one, numbers in zip(asked, json.loads(done.stdout), strict=True)
    ]


def look_up_plainly(pages: Sequence[Page], asked: Sequence[Asked]) -> list[Found]:
    """Search with SQLite's full-text engine."""
    database = sqlite3.connect(":memory:")
    columns = ", ".join(FIELDS)
    database.execute(f"CREATE VIRTUAL TABLE n USING fts5(id UNINDEXED, {columns}, tokenize=porter)")
    rows = [(page.id, page.title, ". ".join(page.concepts), page.body) for page in pages]
    database.executemany("INSERT INTO n VALUES (?, ?, ?, ?)", rows)
    weights = ", ".join(map(str, WEIGHTS))
    best = f"SELECT id FROM n WHERE n MATCH ? ORDER BY bm25(n, 0, {weights}), id LIMIT {DEPTH}"
    found = []
    for one in asked:
        words = re.findall(r"\w+", one.query)
        any_of = " OR ".join(f'"{word}"' for word in words)
        found.append(Found(one, tuple(row[0] for row in database.execute(best, (any_of,)))))
    database.close()
    return found


def measures(found: Sequence[Found]) -> tuple[float, float, float, float]:
    """Means over queries with a right note: first, in first three, reciprocal rank, not found."""
    count = max(1, len(found))
    ranks = [one.rank for one in found]
    return (
        sum(rank == 1 for rank in ranks) / count,
        sum(0 < rank <= 3 for rank in ranks) / count,
        sum(1 / rank for rank in ranks if rank) / count,
        sum(not one.notes for one in found) / count,
    )


def table(ours: Sequence[Found], theirs: Sequence[Found]) -> str:
    """One line for each kind of query, ours before SQLite's."""
    head = f"{'':<14}{'n':>4}  {'first':>11}{'three':>11}{'RR':>12}{'nothing':>11}"
    lines = [head, f"{'':<18}" + "  ours fts5" * 4]
    kinds = list(dict.fromkeys(one.asked.kind for one in ours if one.asked.right))
    for kind in (*kinds, ""):
        mine, other = (
            measures([f for f in each if f.asked.right and (f.asked.kind == kind or not kind)])
            for each in (ours, theirs)
        )
        count = sum(bool(f.asked.right) and (f.asked.kind == kind or not kind) for f in ours)
        cells = [
            f"{100 * one:5.0f}%{100 * two:4.0f}%" for one, two in zip(mine, other, strict=True)
        ]
        cells[2] = f"{mine[2]:6.3f}{other[2]:6.3f}"
        lines.append(f"{kind or 'all':<14}{count:>4}  " + "".join(f"{cell:>11}" for cell in cells))
    shares = []
    for each in (ours, theirs):
        absent = [one for one in each if not one.asked.right]
        shares.append(100 * sum(bool(one.notes) for one in absent) / max(1, len(absent)))
    count = sum(not one.asked.right for one in ours)
    lines.append(f"falsely found, of {count} absent: {shares[0]:.0f}%, FTS5 {shares[1]:.0f}%")
    return "\n".join(lines)


def misses(found: Sequence[Found]) -> Iterator[str]:
    """One line for each query whose right note is not first, and for each absent topic found."""
    for one in found:
        if one.asked.right and one.rank != 1:
            listed = ", ".join(one.notes[:3]) or "nothing"
            place = one.rank or "-"
            yield f"{one.asked.kind}: {one.asked.query!r}: {place} in {listed}"
        elif not one.asked.right and one.notes:
            yield f"absent: {one.asked.query!r}: {', '.join(one.notes[:3])}"


def evaluate(notes: Path, queries: Path, say_misses: bool, carried: bool) -> None:
    """Print the table and, on request, every query that failed."""
    asked = read_queries(queries)
    with opened(notes) as (search, pages):
        ours = look_up_carried(pages, asked) if carried else look_up(search, asked)
        theirs = look_up_plainly(pages, asked)
    if say_misses:
        print("\n".join(misses(ours)))
    print(f"{len(asked)} queries, {len(pages)} notes")
    print(table(ours, theirs))


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand `known` to scripts/evaluate.py."""
    parser = commands.add_parser("known", help="look up notes that are known to be right")
    parser.add_argument("notes", type=Path, metavar="NOTES")
    parser.add_argument("queries", type=Path, metavar="QUERIES.csv")
    parser.add_argument("--misses", action="store_true", help="name every query that failed")
    parser.add_argument("--carried", action="store_true", help="ask the carried file's own search")
    parser.set_defaults(
        run=lambda given: evaluate(given.notes, given.queries, given.misses, given.carried)
    )
