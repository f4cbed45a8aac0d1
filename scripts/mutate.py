"""Plant faults in the code and see whether the tests of its folder notice; print the score.

    python scripts/mutate.py [FOLDER ...] [--changed REF] [--count N] [--seed N ...] [--minutes M]
    python scripts/mutate.py --listed

FOLDER is a folder of kb/ (default: stats, planning, formats, importers and storage). Each fault is
planted alone, in a copy of the project. Those tests in tests/FOLDER that run its line run until one
fails: first those named after the module, then the others. Where the line is only read on import,
or its function keeps its results, all tests of the folder do, those that run the module first. A
fault that makes them run far too long counts as noticed. Golden files of the reports are in other
folders and not used. A library was tried first; it skips module constants and needs a system that
can fork.

--listed plants the faults of listed_faults.csv, which once no test noticed, or stored output alone;
tests that compare with stored output do not count there.
"""

from __future__ import annotations

import argparse
import csv
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from itertools import zip_longest
from operator import itemgetter
from pathlib import Path
from queue import SimpleQueue
from random import Random
from typing import TYPE_CHECKING

from coverage import CoverageData
from planted_faults import Fault, find_faults, kept_lines

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

ROOT = Path(__file__).resolve().parent.parent
FOLDERS = ("stats", "planning", "formats", "importers", "storage")
COPIED = ("kb", "tests", "scripts", "notes", "README.md", "DEVELOPERS.md", "pyproject.toml")
UNUSED = ("cacheprovider", "unraisableexception", "threadexception")
"""Plugins of pytest that take a tenth of a run of few tests."""
STORED = ("golden", "reads_as_agreed", "sample")
"""Parts of the names of tests that compare with stored output."""
SLACK_SECONDS = 20.0
SLOWER = 4
"""A run that takes this many times the sound one plus the slack has noticed the fault."""


@dataclass(slots=True)
class Sound:
    """What was learnt of the sound tests: how long those of each folder take, and which tests run
    each line of each module.
    """

    seconds: dict[str, float] = field(default_factory=dict)
    runs: dict[str, dict[int, frozenset[str]]] = field(default_factory=dict)


@dataclass(slots=True)
class Copy:
    """A copy of the project in which one fault at a time is planted."""

    root: Path
    sound: Sound

    def warm(self, folder: str) -> None:
        """Run the tests of a folder once as they are."""
        begun = time.monotonic()
        measure = [f"--cov=kb/{folder}", "--cov-context=test", "--cov-report="]
        if self.test([f"tests/{folder}"], 1800, *measure, bytecode=True):
            raise SystemExit(f"the tests in tests/{folder} fail as they are: put them right first")
        self.sound.seconds[folder] = time.monotonic() - begun
        data = CoverageData(str(self.root / ".coverage"))
        data.read()
        for name in data.measured_files():
            lines = data.contexts_by_lineno(name).items()
            self.sound.runs[Path(name).resolve().relative_to(self.root.resolve()).as_posix()] = {
                line: frozenset(one.rpartition("|")[0] for one in found if one)
                for line, found in lines
            }

    def passes(self, fault: Fault) -> bool:
        """Whether all tests that run its line still pass with the fault in place."""
        path = self.root / fault.path
        sound = path.read_bytes()
        # Bytecode is told apart by time and size only, which a fault may leave as they were.
        for old in (path.parent / "__pycache__").glob(f"{path.stem}.*.pyc"):
            old.unlink()
        try:
            path.write_bytes(fault.plant(sound))
            return self._run(self._tests(fault), _folder(fault.path))
        finally:
            path.write_bytes(sound)

    def _tests(self, fault: Fault) -> list[str]:
        """The tests that run a fault's line, those named after its module first."""
        folder = Path(fault.path).parts[:2]
        every = {
            path: own for path, own in self.sound.runs.items() if Path(path).parts[:2] == folder
        }
        lines = every.get(fault.path, {})
        kept = fault.line in kept_lines((self.root / fault.path).read_bytes())
        near = frozenset().union(*lines.values())
        found = None if kept else lines.get(fault.line)
        found = found or near.union(*(one for own in every.values() for one in own.values()))
        if fault.listed:
            found = frozenset(n for n in found if not any(part in n for part in STORED))
        names = [f"test_{part}" for part in Path(fault.path).with_suffix("").parts[2:]]
        named = {test for test in found if any(name in test for name in names)}
        return sorted(found, key=lambda test: (test not in named, test not in near, test))

    def _run(self, tests: Sequence[str], folder: str) -> bool:
        if not tests:
            return True
        chosen = self.root / "chosen.txt"
        chosen.write_text("\n".join(tests), encoding="utf-8")
        try:
            return (
                self.test(["@chosen.txt"], SLOWER * self.sound.seconds[folder] + SLACK_SECONDS) == 0
            )
        except subprocess.TimeoutExpired:
            return False

    def test(self, tests: Sequence[str], limit: float, *more: str, bytecode: bool = False) -> int:
        """Exit status of pytest on these tests.

        Raises:
            subprocess.TimeoutExpired: It took longer than `limit` seconds.
        """
        surroundings = {**os.environ, "PYTHONUTF8": "1", "PYTHONHASHSEED": "1"}
        if not bytecode:
            surroundings["PYTHONDONTWRITEBYTECODE"] = "1"
        command = [sys.executable, "-m", "pytest", "-x", "-q"]
        command += [f"-pno:{plugin}" for plugin in UNUSED]
        return subprocess.run(
            [*command, *more, *tests],
            cwd=self.root,
            env=surroundings,
            timeout=limit,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=False,
        ).returncode


def choose(paths: Iterable[Path], count: int, seed: int) -> list[Fault]:
    """Up to `count` faults, spread evenly over the folders; 0 means all.

    A fault has its place by its own words, so that an edit elsewhere leaves the sample as it was.
    """
    placed: dict[str, list[tuple[float, Fault]]] = {}
    for path in sorted(paths):
        name, alike = path.relative_to(ROOT).as_posix(), Counter[str]()
        for fault in find_faults(path.read_bytes(), name):
            alike[fault.what] += 1
            at = Random(f"{seed} {name} {fault.what} {alike[fault.what]}").random()
            placed.setdefault(_folder(name), []).append((at, fault))
    by_folder = [[fault for _, fault in sorted(own, key=itemgetter(0))] for own in placed.values()]
    found = [fault for row in zip_longest(*by_folder) for fault in row if fault]
    return found[:count] if count else found


def _folder(path: str) -> str:
    return Path(path).parts[1]


def listed() -> list[Fault]:
    """The faults of the list, each in the one place where it belongs.

    Raises:
        SystemExit: The code has changed, so that the place is not there any more.
    """
    found = []
    with (ROOT / "scripts" / "listed_faults.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            path, sound = f"kb/{row['file']}", row["sound"].encode()
            source = (ROOT / path).read_bytes()
            start = source.find(sound)
            if source.count(sound) != 1:
                raise SystemExit(f"{row['id']}: {path} no longer has '{row['sound']}' once")
            line = source.count(b"\n", 0, start) + row["sound"].count("\n") + 1
            told = f"{row['id']} {row['what']}"
            fault = Fault(path, line, start, start + len(sound), row["fault"], told, listed=True)
            found.append(fault)
    return found


def _changed(reference: str) -> list[Path]:
    """Modules of kb/ that differ from a commit."""
    command = ["git", "diff", "--name-only", "--diff-filter=d", reference, "--", "kb"]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, encoding="utf-8")
    paths = [ROOT / line for line in done.stdout.splitlines() if line.endswith(".py")]
    return [
        path
        for path in paths
        if (ROOT / "tests" / _folder(path.relative_to(ROOT).as_posix())).is_dir()
    ]


def _copies(folder: Path, count: int, folders: Iterable[str]) -> SimpleQueue[Copy]:
    """Copies of the project; the tests of each folder have run unchanged in one of them."""
    copies: SimpleQueue[Copy] = SimpleQueue()
    sound = Sound()
    for number in range(count):
        copy = Copy(folder / str(number), sound)
        for name in COPIED:
            source = ROOT / name
            if source.is_dir():
                ignored = shutil.ignore_patterns("__pycache__", ".*")
                shutil.copytree(source, copy.root / name, ignore=ignored)
            else:
                shutil.copy2(source, copy.root / name)
        _lend(copy.root / ".cache")
        copies.put(copy)

    def warm(name: str) -> None:
        copy = copies.get()
        try:
            copy.warm(name)
        finally:
            copies.put(copy)

    with ThreadPoolExecutor(count) as pool:
        list(pool.map(warm, folders))
    return copies


def _lend(cache: Path) -> None:
    """Give a copy the fetched test data, by a link where the system allows one."""
    try:
        cache.symlink_to((ROOT / ".cache").resolve(), target_is_directory=True)
    except OSError:
        shutil.copytree(ROOT / ".cache", cache)


def run(faults: Sequence[Fault], jobs: int, minutes: float) -> dict[Fault, bool]:
    """Whether each fault was noticed; none is begun after the time is up."""
    end = time.monotonic() + minutes * 60
    with tempfile.TemporaryDirectory(prefix="faults-", ignore_cleanup_errors=True) as folder:
        free = _copies(Path(folder), jobs, sorted({_folder(f.path) for f in faults}))

        def one(fault: Fault) -> bool | None:
            if time.monotonic() > end:
                return None
            copy = free.get()
            try:
                noticed = not copy.passes(fault)
            finally:
                free.put(copy)
            if not noticed:
                print(f"  survived  {fault.path}:{fault.line}  {fault.what}", flush=True)
            return noticed

        with ThreadPoolExecutor(jobs) as pool:
            outcomes = list(pool.map(one, faults))
    return {f: noticed for f, noticed in zip(faults, outcomes, strict=True) if noticed is not None}


def table(outcomes: dict[Fault, bool]) -> str:
    """Table of faults planted, faults noticed and score, by folder and overall."""
    lines = [f"{'Folder':<12}{'Planted':>8}{'Noticed':>8}{'Score':>8}"]
    folders = dict.fromkeys(_folder(fault.path) for fault in outcomes)
    for folder in (*sorted(folders), "all"):
        mine = [seen for fault, seen in outcomes.items() if folder in ("all", _folder(fault.path))]
        share = f"{sum(mine) / len(mine):.0%}" if mine else "-"
        lines.append(f"{folder:<12}{len(mine):>8}{sum(mine):>8}{share:>8}")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Plant faults as the command line says; status 1 if the score is below the floor."""
    parser = argparse.ArgumentParser(description="Plant faults and see whether tests notice.")
    parser.add_argument("folders", nargs="*", help="folders of kb/, or single modules")
    parser.add_argument("--listed", action="store_true", help="the faults of listed_faults.csv")
    parser.add_argument("--changed", metavar="REF", help="only modules that differ from a commit")
    parser.add_argument("--count", type=int, default=100, help="how many (0: all; default 100)")
    parser.add_argument("--seed", type=int, nargs="+", default=[1], help="one for each sample")
    parser.add_argument("--minutes", type=float, default=600, help="begin none after so long")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="at the same time")
    parser.add_argument("--floor", type=float, default=0, help="least score in percent")
    chosen = parser.parse_args(arguments)
    if chosen.changed:
        paths = _changed(chosen.changed)
    else:
        given = [ROOT / "kb" / name for name in chosen.folders or FOLDERS]
        paths = [p for g in given for p in ([g] if g.suffix == ".py" else g.rglob("*.py"))]
    seeds = {"listed": listed()} if chosen.listed else {}
    if not seeds:
        seeds = {f"seed {seed}": choose(paths, chosen.count, seed) for seed in chosen.seed}
    faults = list(dict.fromkeys(fault for sample in seeds.values() for fault in sample))
    if not faults:
        print("Nothing to plant a fault in.")
        return 0
    outcomes = run(faults, chosen.jobs, chosen.minutes)
    for name, sample in seeds.items():
        print(name)
        print(table({fault: outcomes[fault] for fault in sample if fault in outcomes}))
    if len(outcomes) < len(faults):
        print(f"Time was up after {len(outcomes)} of {len(faults)} faults.")
    return int(100 * sum(outcomes.values()) < chosen.floor * len(outcomes))


if __name__ == "__main__":
    sys.exit(main())
