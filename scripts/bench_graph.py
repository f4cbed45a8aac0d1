"""Measure the concept graph: its speed on a base, and how well it suggests links.

    python scripts/bench.py graph speed DIR [--as-of DATE] [--runs N]
    python scripts/bench.py graph links DIR [--as-of DATE]
    python scripts/bench.py graph large DIR [--as-of DATE]
    python scripts/bench.py graph near DIR --note NOTE [--note NOTE] [--as-of DATE]

`speed` times what `map` and `gaps` do, the base and its index being up to date. `links` hides
every link between two notes in turn and asks for suggestions for the note that had it. `large`
copies the notes in memory until there are 50,000 and times the graph alone, without text
similarity. `near` prints a table of the five nearest notes of each note named.
"""

from __future__ import annotations

import statistics
import time
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from kb.core.ids import NoteId, QuestionId
from kb.knowledge import build_graph, near_note, suggest_links
from kb.knowledge.topics import find_topics
from kb.services.session import Session
from kb.stats.marks_at_risk import Risk
from kb.stats.note_state import judge

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping

    from kb.core.model import Base, Note

CUTS = (1, 3, 5)
LARGE = 50_000


def open_base(folder: Path, day: date | None) -> Session:
    """A session on the base as it is on that day, or today."""
    return Session(folder, now=datetime.now(UTC), device="bench", as_of=day)


def measure_speed(folder: Path, day: date | None, runs: int) -> None:
    """Print the median seconds of each step and of whole reports."""
    start = open_base(folder, day)
    area = max(start.exam.areas, key=lambda area: area.item_count).id
    _ = start.index
    note = start.base.notes[len(start.base.notes) // 2]
    inside = frozenset(one.path for one in start.base.notes if area in one.areas)
    print(f"{len(start.base.notes)} notes, {len(start.base.attempts)} attempts")
    steps: list[tuple[str, Callable[[], object]]] = [
        ("neighbours of one area's notes", lambda: start.index.neighbours(inside)),
        ("neighbours of all notes", start.index.neighbours),
        ("graph", lambda: build_graph(start.base, start.index.neighbours(inside))),
        (f"map {area}", lambda: start.report("map", {"words": area})),
        ("map of a note", lambda: start.report("map", {"words": note.path})),
        ("gaps", lambda: start.report("gaps")),
        ("open the base and map", lambda: open_base(folder, day).report("map", {"words": area})),
    ]
    print(f"{'median of ' + str(runs):34} elapsed  processor")
    for name, step in steps:
        elapsed, worked = _median(step, runs)
        print(f"{name:34} {elapsed:5.2f} s    {worked:5.2f} s")


def measure_large(folder: Path, day: date | None) -> None:
    """Print the time for a graph of 50,000 notes, copied in memory from those of a base."""
    start = open_base(folder, day)
    copies = -(-LARGE // len(start.base.notes))
    notes = [_copy(note, number) for number in range(copies) for note in start.base.notes]
    base = replace(start.base, notes=tuple(notes[:LARGE]))
    area = max(base.exam.areas, key=lambda area: area.item_count)
    print(f"{len(base.notes)} notes, {len(base.attempts)} attempts, elapsed and processor seconds")
    risk = Risk(base, start.today)
    began, before = time.perf_counter(), time.process_time()
    graph = build_graph(base)
    edges = sum(map(len, graph.values())) // 2
    print(f"graph: {len(graph)} nodes, {edges} edges {_since(began, before)}")
    began, before = time.perf_counter(), time.process_time()
    topics = find_topics(base, graph, area, judge(base, start.today), risk)
    print(f"topics of {area.id}: {len(topics)} {_since(began, before)}")
    began, before = time.perf_counter(), time.process_time()
    near_note(base, graph, base.notes[0], 8)
    print(f"near a note {_since(began, before)}")


def _since(began: float, before: float) -> str:
    return f"{time.perf_counter() - began:.2f} s  {time.process_time() - before:.2f} s"


def _copy(note: Note, number: int) -> Note:
    """A note under another id, its concepts and questions renamed for this copy."""
    return replace(
        note,
        id=NoteId(f"{note.id}-{number}"),
        path=f"{number}/{note.path}",
        concepts=tuple(f"{concept} k{number}" for concept in note.concepts),
        questions=tuple(QuestionId(f"{question}.{number}") for question in note.questions),
        links=tuple(replace(link, path=f"{number}/{link.path}") for link in note.links),
    )


def _median(step: Callable[[], object], runs: int) -> tuple[float, float]:
    """Median seconds by the clock and of processor time; a busy machine affects only the first."""
    step()
    elapsed, worked = [], []
    for _ in range(runs):
        began, before = time.perf_counter(), time.process_time()
        step()
        elapsed.append(time.perf_counter() - began)
        worked.append(time.process_time() - before)
    return statistics.median(elapsed), statistics.median(worked)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One hidden link, and the rank at which it was suggested (0: not suggested)."""

    place: int
    given_count: int


def hide_link(base: Base, note: Note, other: Note) -> Base:
    """The base without the links between two notes, in either direction."""
    pair = {note.path, other.path}
    notes = tuple(
        replace(one, links=tuple(link for link in one.links if link.path not in pair))
        if one.path in pair
        else one
        for one in base.notes
    )
    return replace(base, notes=notes)


def linked_pairs(base: Base) -> list[tuple[Note, Note]]:
    """Every linked pair of notes, in the direction of the link."""
    by_path = {note.path: note for note in base.notes}
    seen: set[frozenset[str]] = set()
    found = []
    for note in base.notes:
        for link in note.links:
            pair = frozenset((note.path, link.path))
            if link.path in by_path and len(pair) == 2 and pair not in seen:
                seen.add(pair)
                found.append((note, by_path[link.path]))
    return found


def try_links(base: Base, suggest: Callable[[Base, Note], list[str]]) -> list[Trial]:
    """Hide each linked pair in turn and look for it among the suggestions."""
    trials = []
    for note, other in linked_pairs(base):
        less = hide_link(base, note, other)
        subject = next(one for one in less.notes if one.path == note.path)
        given = suggest(less, subject)[: max(CUTS)]
        place = given.index(other.id) + 1 if other.id in given else 0
        trials.append(Trial(place=place, given_count=len(given)))
    return trials


def measure_links(folder: Path, day: date | None) -> None:
    """Print how often a hidden link is suggested, by the graph and by similarity of text alone."""
    start = open_base(folder, day)
    neighbours = start.index.neighbours()
    by_path = {note.path: note.id for note in start.base.notes}
    pairs = linked_pairs(start.base)
    print(f"{len(pairs)} linked pairs among {len(start.base.notes)} notes, each hidden in turn")
    print(f"{'':24} found first  in 3  in 5  mean reciprocal rank  of those offered")

    def by_graph(less: Base, note: Note) -> list[str]:
        near = {note.path: neighbours.get(note.path, ())}
        found = suggest_links(less, build_graph(less, near), note, max(CUTS))
        return [row.note for row in found]

    def by_ties(less: Base, note: Note) -> list[str]:
        return [row.note for row in suggest_links(less, build_graph(less), note, max(CUTS))]

    def by_text(less: Base, note: Note) -> list[str]:
        linked = {link.path for link in note.links}
        return [by_path[p] for p, _ in neighbours.get(note.path, ()) if p not in linked]

    for name, suggest in (
        ("graph, as in `map`", by_graph),
        ("graph without likeness", by_ties),
        ("likeness alone", by_text),
    ):
        print(f"{name:24} {_summary(try_links(start.base, suggest))}")


def _summary(trials: list[Trial]) -> str:
    count = len(trials)
    hits = [sum(0 < trial.place <= cut for trial in trials) for cut in CUTS]
    rank = sum(1 / trial.place for trial in trials if trial.place) / max(1, count)
    cells = "  ".join(f"{hit:3}/{count}" for hit in hits)
    offered = sum(min(trial.given_count, 3) for trial in trials)
    return f"{cells}  {rank:.2f}  {hits[1]}/{offered}"


def show_near(folder: Path, day: date | None, names: list[str]) -> None:
    """Print the five nearest notes of each note, with the reasons."""
    start = open_base(folder, day)
    for name in names:
        note = start.note(name)
        near: Mapping[str, tuple[tuple[str, float], ...]]
        near = start.index.neighbours(frozenset([note.path]))
        print(f"\n{note.title} ({', '.join(note.areas)})")
        for row in near_note(start.base, build_graph(start.base, near), note, 5):
            other = start.note(row.note)
            print(f"  {row.nearness:.3f}  {other.title}: {'; '.join(row.why)}")


def run(given: argparse.Namespace) -> None:
    """Run the measurement named on the command line."""
    if given.what == "speed":
        measure_speed(given.folder, given.as_of, given.runs)
    elif given.what == "large":
        measure_large(given.folder, given.as_of)
    elif given.what == "links":
        measure_links(given.folder, given.as_of)
    else:
        show_near(given.folder, given.as_of, given.note)


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand `graph` to scripts/bench.py."""
    parser = commands.add_parser("graph", help="the concept graph: speed, links suggested")
    parser.add_argument("what", choices=("speed", "links", "large", "near"))
    parser.add_argument("folder", type=Path, metavar="DIR")
    parser.add_argument("--note", action="append", default=[], help="for near; may be repeated")
    parser.add_argument("--as-of", type=date.fromisoformat, metavar="DATE")
    parser.add_argument("--runs", type=int, default=5)
    parser.set_defaults(run=run)
