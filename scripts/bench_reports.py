"""How long a whole command takes to read a base and compute, from start to last line.

Each command runs in its own process, alternating with a bare one that only imports what every
command needs, so that the ratio carries over to other machines.
"""

from __future__ import annotations

import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from kb.storage.derived_store import DerivedStore

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

ROOT = Path(__file__).resolve().parent.parent
FLOOR = "import click, numpy"
LAST_DAY = date(2027, 4, 10)
"""After the last answer of a base made by make_base.py, so that all answers count."""
COMMANDS = ("queue", "standing", "today", "brief cardiology", "forecast", "map cardiology")
"""Targets: the first four within `MOST_TIMES` the bare process, computed afresh."""
MOST_TIMES = 6
AIMED = 4


@dataclass(frozen=True, slots=True)
class Cost:
    """Seconds and megabytes at the peak of one process; no memory where the system cannot say.

    Seconds are of processor time, so that other work on the machine counts little; by the clock
    where the system cannot say.
    """

    seconds: float
    megabytes: float | None


def cost_of(command: Sequence[str], folder: Path = ROOT) -> Cost:
    """What one process costs from its start to its end; its status may be 0 or 1.

    Raises:
        subprocess.CalledProcessError: It failed.
    """
    environment = {**os.environ, "PYTHONWARNINGS": "ignore"}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # a person's computer keeps compiled code
    for name in [name for name in environment if name.endswith("_NUM_THREADS")]:
        del environment[name]  # set by our own import above; each process sets its own
    began = time.perf_counter()
    process = subprocess.Popen(
        command, cwd=folder, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    megabytes = None
    if hasattr(os, "wait4"):
        _, status, usage = os.wait4(process.pid, 0)
        code = process.returncode = os.waitstatus_to_exitcode(status)
        megabytes = usage.ru_maxrss / (1024**2 if sys.platform == "darwin" else 1024)
        seconds = usage.ru_utime + usage.ru_stime
    else:
        code = process.wait()
        seconds = time.perf_counter() - began
    if code not in (0, 1):
        raise subprocess.CalledProcessError(code, command)
    return Cost(seconds, megabytes)


def measure(base: Path, day: date, runs: int) -> None:
    """Print median times of each command: computed, and repeated while nothing changed."""
    print("| command | computed | of a bare process | at most | repeated | of a bare process |")
    print("| --- | --- | --- | --- | --- | --- |")
    bare_command = [sys.executable, "-c", FLOOR]
    for number, words in enumerate(COMMANDS):
        command = [sys.executable, "-m", "kb", "--base", str(base), *words.split()]
        command += ["--as-of", day.isoformat()]
        bare, computed, repeated = [], [], []
        for _ in range(runs):
            bare.append(cost_of(bare_command).seconds)
            DerivedStore.of(base).write(lambda db: db.execute("DELETE FROM report"))
            computed.append(cost_of(command).seconds)
            repeated.append(cost_of(command).seconds)
        floor = statistics.median(bare)
        cells = [
            f"{statistics.median(times):.2f} s | {statistics.median(times) / floor:.1f} times"
            for times in (computed, repeated)
        ]
        cells.insert(1, f"{MOST_TIMES}" if number < AIMED else "")
        print(f"| {words} | {' | '.join(cells)} |", flush=True)


def settle(base: Path) -> None:
    """Make every file look old, since results from a recently changed file are not kept."""
    past = time.time() - 3600
    for path in base.rglob("*"):
        if path.is_file():
            os.utime(path, (past, past))


def run(note_count: int, answer_count: int, base: Path | None, day: date, runs: int) -> None:
    """Measure the base named, or one made for the purpose."""
    with tempfile.TemporaryDirectory() as name:
        os.environ["MISSBOOK_CACHE"] = str(Path(name) / "cache")
        if base is None:
            from make_base import make

            base = Path(name) / "base"
            make(base, note_count, answer_count, 1)
        count = sum(1 for _ in base.rglob("*.md"))
        settle(base)
        print(f"{count} notes, {os.cpu_count()} cores, Python {platform.python_version()}\n")
        measure(base, day, runs)


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand `reports` to scripts/bench.py."""
    parser = commands.add_parser("reports", help="whole commands that read and compute")
    parser.add_argument("--notes", type=int, default=6000, help="notes of the base to make")
    parser.add_argument("--answers", type=int, default=20_000, help="its answers")
    parser.add_argument("--base", type=Path, metavar="DIR", help="measure this base instead")
    parser.add_argument("--as-of", type=date.fromisoformat, default=LAST_DAY, metavar="DATE")
    parser.add_argument("--runs", type=int, default=5)
    parser.set_defaults(
        run=lambda given: run(given.notes, given.answers, given.base, given.as_of, given.runs)
    )
