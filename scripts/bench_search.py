"""How fast a base is indexed and searched, compared with plain Whoosh, SQLite FTS5 and grep.

Every time is a median within one run. Targets are ratios or, where a person waits, milliseconds.
"""

from __future__ import annotations

import argparse
import gc
import os
import platform
import random
import re
import shutil
import sqlite3
import statistics
import sys
import tempfile
import time
import warnings
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from bench_reports import cost_of

from kb.core.ids import NoteId
from kb.formats.frontmatter import split
from kb.search import Index, Page
from kb.storage.derived_store import DerivedStore

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

ROOT = Path(__file__).resolve().parent.parent
COLD_RUNS = 15
WARM_QUERIES = 200
CHANGES = 25
FLOOR = "import click, whoosh.index"
LARGE = 20_000
"""From this many notes on the targets of a large base hold."""
WORD = re.compile(r"[A-Za-z]{4,}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table; `target` is empty where the figure is for comparison only."""

    what: str
    value: str
    target: str = ""
    met: bool | None = None


def median_ms(times: Sequence[float]) -> float:
    """The median in milliseconds."""
    return 1000 * statistics.median(times)


def centile_ms(times: Sequence[float], part: float) -> float:
    """The `part` quantile in milliseconds."""
    return 1000 * sorted(times)[min(len(times) - 1, int(part * len(times)))]


def clock(task: Callable[[], object]) -> float:
    """Seconds that a task takes."""
    began = time.process_time()
    task()
    return time.process_time() - began


def read_pages(base: Path) -> dict[str, Page]:
    """Every note of a base as the index sees it, held in memory."""
    from kb.services.session import Session

    session = Session(base, now=datetime.now(UTC), device="bench")
    found = {}
    for note in session.whole.notes:
        text = (base / note.path).read_text(encoding="utf-8")
        found[note.path] = Page(
            id=NoteId(note.id),
            path=note.path,
            title=note.title,
            concepts=note.concepts,
            headings=tuple(heading.text for heading in note.headings),
            body=split(text, note.path)[0].body,
            remarks=(),
        )
    return found


def make_queries(pages: dict[str, Page], count: int) -> list[str]:
    """Queries as people type them: two to four words of a note, some titles, some long stems."""
    rng = random.Random(7)
    paths = sorted(pages)
    found = []
    for number in range(count):
        page = pages[rng.choice(paths)]
        words = WORD.findall(page.body) or ["none"]
        if number % 10 == 0:
            found.append(page.title)
        elif number % 20 == 1:
            found.append(" ".join(rng.choice(words) for _ in range(80)))
        else:
            found.append(" ".join(rng.choice(words) for _ in range(rng.randint(2, 4))))
    return found


def sync(index: Index, pages: dict[str, Page], marks: dict[str, str], fingerprint: str) -> None:
    """Bring an index up to date with pages in memory."""
    index.sync(fingerprint, lambda: marks, pages.__getitem__)


def build_whoosh(pages: Iterable[Page], folder: Path) -> None:
    """Index with plain Whoosh: stemmed text fields, one writer."""
    from whoosh import analysis, fields
    from whoosh.index import create_in

    schema = fields.Schema(
        path=fields.ID(unique=True, stored=True),
        title=fields.TEXT(analyzer=analysis.StemmingAnalyzer(), stored=True),
        concepts=fields.TEXT(analyzer=analysis.StemmingAnalyzer()),
        headings=fields.TEXT(analyzer=analysis.StemmingAnalyzer()),
        body=fields.TEXT(analyzer=analysis.StemmingAnalyzer(), stored=True),
    )
    folder.mkdir()
    writer = create_in(str(folder), schema).writer()
    for page in pages:
        writer.add_document(
            path=page.path,
            title=page.title,
            concepts=" ".join(page.concepts),
            headings=" ".join(page.headings),
            body=page.body,
        )
    writer.commit()


def query_whoosh(folder: Path, queries: Sequence[str]) -> list[float]:
    """Seconds for each query, any word matching, in plain Whoosh."""
    from whoosh import query
    from whoosh.analysis import StemmingAnalyzer
    from whoosh.index import open_dir

    analyse = StemmingAnalyzer()
    fields = ("title", "concepts", "headings", "body")
    times = []
    with open_dir(str(folder)).searcher() as searcher:
        for text in queries:
            words = {token.text for token in analyse(text)}
            wanted = query.Or([query.Term(name, word) for word in words for name in fields])
            times.append(clock(lambda wanted=wanted: searcher.search(wanted, limit=10)))  # type: ignore[misc]
    return times


def build_fts(pages: Iterable[Page], path: Path) -> None:
    """Index with SQLite FTS5 and the porter tokenizer."""
    with closing(sqlite3.connect(path)) as store:
        store.execute(
            "CREATE VIRTUAL TABLE note USING fts5"
            "(path UNINDEXED, title, concepts, headings, body, tokenize = 'porter')"
        )
        rows = (
            (p.path, p.title, " ".join(p.concepts), " ".join(p.headings), p.body) for p in pages
        )
        store.executemany("INSERT INTO note VALUES (?, ?, ?, ?, ?)", rows)
        store.commit()


def query_fts(path: Path, queries: Sequence[str]) -> list[float]:
    """Seconds for each query, any word matching, in SQLite FTS5."""
    sql = "SELECT path FROM note WHERE note MATCH ? ORDER BY bm25(note) LIMIT 10"
    times = []
    with closing(sqlite3.connect(path)) as store:
        for text in queries:
            wanted = " OR ".join(f'"{word}"' for word in re.findall(r"\w+", text))
            times.append(clock(lambda wanted=wanted: store.execute(sql, (wanted,)).fetchall()))  # type: ignore[misc]
    return times


def run_grep(base: Path, queries: Sequence[str]) -> list[float]:
    """Seconds for each query, any word matching, with grep over the files; empty without grep."""
    grep = shutil.which("grep")
    if not grep:
        return []
    times = []
    for text in queries[:20]:
        words = [part for word in text.split() for part in ("-e", word)]
        command = [grep, "-rilw", "--include=*.md", "-F", *words, "."]
        times.append(cost_of(command, base).seconds)
    return times


def find_command(base: Path, words: str) -> list[str]:
    """The command that searches `base` in its own process."""
    return [sys.executable, "-m", "kb", "find", "--base", str(base), *words.split()]


def cold(base: Path, queries: Sequence[str]) -> tuple[float, float]:
    """Median seconds of a bare process and of `missbook find`, taken in turn."""
    bare, found = [], []
    for number in range(COLD_RUNS):
        bare.append(cost_of([sys.executable, "-c", FLOOR]).seconds)
        command = find_command(base, queries[number % len(queries)])
        found.append(cost_of(command).seconds)
    return statistics.median(bare), statistics.median(found)


def changed_command(base: Path, path: str, queries: Sequence[str]) -> float:
    """Median seconds of `missbook find` right after one note was edited; the note is put back."""
    file = base / path
    before = file.read_bytes()
    times = []
    try:
        for number in range(7):
            file.write_bytes(before + f"\nOne more line, number {number}.\n".encode())
            command = find_command(base, queries[number])
            times.append(cost_of(command).seconds)
    finally:
        file.write_bytes(before)
    return statistics.median(times)


def put_in_the_past(base: Path) -> None:
    """Move notes and answers a year back, so that all of them count today."""
    for path in (*base.rglob("*.md"), *base.glob("log/*.csv")):
        text = path.read_text(encoding="utf-8").replace("2026-", "2025-").replace("2027-", "2026-")
        path.write_text(text, encoding="utf-8", newline="")


def settle(base: Path) -> None:
    """Make every file look old, since a recently changed one is always read again."""
    past = time.time() - 3600
    for path in base.rglob("*"):
        if path.is_file():
            os.utime(path, (past, past))


def measure(base: Path, place: Path) -> list[Row]:
    """All measurements of one base."""
    pages = read_pages(base)
    ordered = [pages[path] for path in sorted(pages)]
    large = len(pages) >= LARGE
    queries = make_queries(pages, WARM_QUERIES)
    rows: list[Row] = []
    marks = dict.fromkeys(pages, "0")
    index = Index(DerivedStore(place / "ours"))
    ours = clock(lambda: sync(index, pages, marks, "first"))
    theirs = clock(lambda: build_whoosh(ordered, place / "whoosh"))
    fts = clock(lambda: build_fts(ordered, place / "fts.sqlite3"))
    share = ours / theirs
    if large:
        rows.append(Row(what="full build", value=f"{ours:.1f} s", target="60 s", met=ours < 60))
    met = None if large else share <= 1
    target = "" if large else "1"
    what = "full build / Whoosh as it comes"
    rows.append(
        Row(what=what, value=f"{share:.2f} ({ours:.1f} s / {theirs:.1f} s)", target=target, met=met)
    )
    rows.append(Row(what="full build, SQLite FTS5", value=f"{fts:.1f} s"))
    rows.extend(_warm(index, queries, place, base, large))
    rows.append(_changes(index, pages, marks))
    index.close()
    rows.extend(_commands(base, sorted(pages)[len(pages) // 2], queries, large))
    return rows


def _changes(index: Index, pages: dict[str, Page], marks: dict[str, str]) -> Row:
    rng = random.Random(3)
    times = []
    for number, path in enumerate(rng.sample(sorted(pages), CHANGES)):
        marks[path] = f"changed {number}"
        times.append(clock(lambda number=number: sync(index, pages, marks, f"change {number}")))  # type: ignore[misc]
    middle = median_ms(times)
    return Row(what="one changed note, index", value=f"{middle:.1f} ms")


def _warm(index: Index, queries: Sequence[str], place: Path, base: Path, large: bool) -> list[Row]:
    index.search(queries[0])
    ours = [clock(lambda text=text: index.search(text)) for text in queries]  # type: ignore[misc]
    plain = query_whoosh(place / "whoosh", queries[:60])
    fts = query_fts(place / "fts.sqlite3", queries)
    grep = run_grep(base, queries)
    middle, high = median_ms(ours), centile_ms(ours, 0.95)
    titles = [" ".join(text.split()[:2]) for text in queries]
    typed = [text[: max(3, len(text) - 2)] for text in titles]
    keys = [clock(lambda text=text: index.search(text)) for text in typed]  # type: ignore[misc]
    key = centile_ms(keys, 0.95)
    limits = (None, None, None) if large else (None, 15.0, 30.0)
    rows = [
        _limit("warm query, median", middle, limits[0]),
        _limit("warm query, 95th centile", high, limits[1]),
        _limit("keystroke, 95th centile", key, limits[2]),
        Row(what="warm query, Whoosh as it comes", value=_pair(plain)),
        Row(what="warm query, SQLite FTS5", value=_pair(fts)),
    ]
    if grep:
        rows.append(Row(what="grep over the files", value=_pair(grep)))
    return rows


def _limit(what: str, value: float, limit: float | None) -> Row:
    target = "" if limit is None else f"{limit:.0f} ms"
    met = None if limit is None else value <= limit
    return Row(what=what, value=f"{value:.1f} ms", target=target, met=met)


def _pair(times: Sequence[float]) -> str:
    return f"{median_ms(times):.1f} ms, 95th centile {centile_ms(times, 0.95):.1f} ms"


def _commands(base: Path, path: str, queries: Sequence[str], large: bool) -> list[Row]:
    settle(base)
    cost_of(find_command(base, queries[0]))
    short = [text for text in queries if len(text.split()) < 8]
    bare, found = cold(base, short)
    value = f"{found / bare:.2f} ({1000 * found:.0f} ms / {1000 * bare:.0f} ms)"
    most, target = (0.6, "600 ms") if large else (min(0.2, 1.6 * bare), "1.6 and 200 ms")
    rows = [Row(what="cold find / bare process", value=value, target=target, met=found <= most)]
    changed = 1000 * changed_command(base, path, short)
    met = None if large else changed <= 150
    target = "" if large else "150 ms"
    what = "one changed note, whole command"
    rows.append(Row(what=what, value=f"{changed:.0f} ms", target=target, met=met))
    return rows


def run(note_count: int, base: Path | None) -> None:
    """Measure the base named, or one made for the purpose, and print the table."""
    from kb.__main__ import GC_THRESHOLD

    warnings.simplefilter("ignore")
    gc.set_threshold(GC_THRESHOLD)  # as every command does; it holds for all that is compared
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        os.environ["MISSBOOK_CACHE"] = str(place / "cache")
        if base is None:
            from make_base import make

            base = place / "base"
            make(base, note_count, 3 * note_count, 1)
            put_in_the_past(base)
        count = sum(1 for _ in base.rglob("*.md"))
        print(f"{count} notes, {os.cpu_count()} cores, Python {platform.python_version()}")
        print()
        print("| what | measured | at most | met |")
        print("| --- | --- | --- | --- |")
        for row in measure(base, place):
            met = "" if row.met is None else "yes" if row.met else "no"
            print(f"| {row.what} | {row.value} | {row.target} | {met} |")


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand `search` to scripts/bench.py."""
    parser = commands.add_parser("search", help="index and search")
    parser.add_argument("--notes", type=int, default=6000, help="notes of the base to make")
    parser.add_argument("--base", type=Path, metavar="DIR", help="measure this base instead")
    parser.set_defaults(run=lambda given: run(given.notes, given.base))
