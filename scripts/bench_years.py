"""What years of use cost: time and memory of every command at three sizes of base.

Each command runs in its own process, with the index built and no report kept, alternating with a
bare process that only imports what every command needs; their ratio carries over to other
machines. The growth is the slope of log(seconds beyond the bare process) over log(notes), by least
squares: 1 means that twice the base takes twice the time.
"""

from __future__ import annotations

import math
import multiprocessing
import os
import platform
import shutil
import statistics
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

from bench_reports import FLOOR, LAST_DAY, Cost, cost_of, settle

from kb.storage.derived_store import DerivedStore

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

SIZES = ((600, 2_000), (6_000, 20_000), (50_000, 200_000))
COMMANDS = (
    "today",
    "queue",
    "find low sodium",
    "brief cardiology --minutes 10",
    "standing",
    "forecast",
    "mixups",
    "reasons",
    "certainty",
    "sitting",
    "gaps",
    "map cardiology",
    "plan",
    "check",
)
LARGE = 50_000
"""From this many notes on each command is measured once, so that the table takes minutes."""
LOG_LINES = 1_000_000
MOST_SECONDS = 4.0


def slope(sizes: Sequence[float], seconds: Sequence[float]) -> float:
    """Exponent of growth with size; NaN with fewer than two points above zero."""
    points = [
        (math.log(size), math.log(second))
        for size, second in zip(sizes, seconds, strict=True)
        if second > 0
    ]
    if len(points) < 2:
        return math.nan
    return statistics.linear_regression(*zip(*points, strict=True)).slope


def _command(base: Path, words: str) -> list[str]:
    command = [sys.executable, "-m", "kb", *words.split(), "--base", str(base)]
    return [*command, "--as-of", LAST_DAY.isoformat()]


def _forget(base: Path) -> None:
    """Drop kept reports, so that making one is what is measured."""
    DerivedStore.of(base).write(lambda db: db.execute("DELETE FROM report"))


def measure(base: Path, words: str, runs: int) -> tuple[Cost, float]:
    """The median run of a command, and its time in multiples of a bare process."""
    bare, costs = [], []
    for _ in range(runs):
        bare.append(cost_of([sys.executable, "-c", FLOOR]).seconds)
        _forget(base)
        costs.append(cost_of(_command(base, words)))
    middle = sorted(costs, key=lambda cost: cost.seconds)[len(costs) // 2]
    return middle, middle.seconds / statistics.median(bare)


def run(sizes: Sequence[tuple[int, int]], runs: int) -> None:
    """Print one line per command: three cells per size, the growth, and whether it is slow."""
    from make_base import make

    print(f"{os.cpu_count()} cores, Python {platform.python_version()}, medians of {runs}")
    print(f"(single runs from {LARGE:,} notes on)\n")
    heads = [f"{notes:,} notes, {answers:,} answers" for notes, answers in sizes]
    print(f"| command | {' | '.join(heads)} | growth |")
    print(f"| --- |{' --- |' * (len(sizes) + 1)}")
    cells: dict[str, list[str]] = {}
    beyond: dict[str, list[float]] = {}
    slow: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        os.environ["MISSBOOK_CACHE"] = str(Path(folder) / "cache")
        for notes, answers in sizes:
            base = Path(folder) / str(notes)
            make(base, notes, answers, 1)
            settle(base)
            first = cost_of(_command(base, "find low sodium"))
            cells.setdefault("first build", []).append(_cell(first, None))
            beyond.setdefault("first build", []).append(first.seconds)
            for words in COMMANDS:
                cost, ratio = measure(base, words, 1 if notes >= LARGE else runs)
                cells.setdefault(words, []).append(_cell(cost, ratio))
                beyond.setdefault(words, []).append(cost.seconds * (1 - 1 / ratio))
                if cost.seconds > MOST_SECONDS:
                    slow.append(f"{words} at {notes:,} notes: {cost.seconds:.1f} s")
            shutil.rmtree(base)
    for words, row in cells.items():
        growth = slope([notes for notes, _ in sizes], beyond[words])
        print(f"| {words} | {' | '.join(row)} | {growth:.2f} |")
    print(f"\nOver {MOST_SECONDS:.0f} s: {'; '.join(slow) or 'none'}.")


def _cell(cost: Cost, ratio: float | None) -> str:
    memory = "" if cost.megabytes is None else f", {cost.megabytes:.0f} MB"
    times = "" if ratio is None else f", {ratio:.1f} times"
    return f"{cost.seconds:.2f} s{times}{memory}"


def run_log(lines: int) -> None:
    """Print the time to read a log of `size` lines and compute standing from it."""
    from make_base import make

    with tempfile.TemporaryDirectory() as folder:
        os.environ["MISSBOOK_CACHE"] = str(Path(folder) / "cache")
        base = Path(folder) / "base"
        # A process is charged with the memory that the one which starts it has used before.
        with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as other:
            other.submit(make, base, 600, lines, 1).result()
            other.submit(settle, base).result()
        for when in ("first", "again"):
            _forget(base)
            cost = cost_of(_command(base, "standing"))
            print(f"standing with {lines:,} answers, {when}: {_cell(cost, None)}", flush=True)


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand `years` to scripts/bench.py."""
    parser = commands.add_parser("years", help="every command at three sizes of base")
    parser.add_argument(
        "--sizes", type=int, default=len(SIZES), help="only the first N of the sizes"
    )
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--log", action="store_true", help="a log of a million lines instead")
    parser.set_defaults(
        run=lambda given: run_log(LOG_LINES) if given.log else run(SIZES[: given.sizes], given.runs)
    )
