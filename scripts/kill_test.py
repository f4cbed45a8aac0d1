"""Kill missbook while it writes, a few hundred times: nothing acknowledged may be lost.

    python scripts/kill_test.py --kills 300 [--writers 8]

A worker (`kill_worker.py`) does everything that writes to a base, as commands and as the page do:
answers, voids, dismissals, scores, readings and draws; notes written, edited, linked and merged;
names changed, remarks blanked, acts undone, settings edited. It prints what it has acknowledged. It
is killed at a random moment, or in the middle of a random system call. Then the base is read:
everything acknowledged must be there once, and every note wholly old or wholly new. The worker's
clock jumps back and forth, and two devices take turns. With several writers, that many workers
write to the base at once, and all of them are killed within three seconds.
"""

from __future__ import annotations

import argparse
import io
import random
import re
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "scripts")]

from kill_worker import announced, note_body, work  # noqa: E402

__all__ = ["announced", "judge", "note_body", "run"]

KILLS_A_BASE = 25
LIFE_SECONDS = 3.0
CALLS_A_SECOND = 700
EXAM = (
    "exam: The Quill Examination\ndate: 2027-05-11\n"
    "blueprint: [{area: cardiology, items: 150}, {area: nephrology, items: 50}]\n"
)
STUDY = "sources:\n  - {source: bank, kind: bank, items: 9000, areas: {1-9000: cardiology}}\n"


@dataclass
class Tally:
    """What was acknowledged and what was found."""

    kills: int = 0
    acknowledged: int = 0
    found: int = 0
    lost: list[str] = field(default_factory=list)
    batches: dict[str, int] = field(default_factory=dict)
    voided: set[str] = field(default_factory=set)
    maybe_voided: set[str] = field(default_factory=set)
    notes: dict[str, int] = field(default_factory=dict)
    texts: dict[str, int] = field(default_factory=dict)
    merging: dict[str, str] = field(default_factory=dict)
    merged: set[str] = field(default_factory=set)
    gone: set[str] = field(default_factory=set)
    holdings: dict[tuple[str, str], int] = field(default_factory=dict)

    @property
    def single_count(self) -> int:
        """Acts acknowledged one by one."""
        many = (self.voided, self.notes, self.texts, self.merged, self.gone, self.holdings)
        return sum(map(len, many))

    def hear(self, said: str) -> None:
        """Record what a worker acknowledged; a torn last line was not."""
        for line in said.splitlines(keepends=True):
            words = line.split()
            if not line.endswith("\n") or not words:
                continue
            self._take(words[0], line.removeprefix(f"{words[0]} ").rstrip("\n"))

    def _take(self, what: str, rest: str) -> None:
        one, _, other = rest.partition(" ")
        if what == "logged":
            self.batches[one] = int(other)
        elif what == "voids":
            self.maybe_voided.add(one)
        elif what == "voided":
            self.voided.add(one)
        elif what == "gone":
            self.gone.add(one)
        elif what == "failed":
            self.lost.append(f"failed {rest}")
        elif what == "has":
            text, _, count = other.rpartition(" ")
            self.holdings[one, text] = int(count)
        elif what == "no_longer":
            self.holdings.pop((one, other), None)
        elif what == "note":
            self.notes[one] = int(other)
        elif what == "text":
            self.texts[one] = int(other)
        elif what == "merges":
            self.merging[one] = other
        elif what == "merged":
            self.merged.add(one)


def raw_lines(root: Path) -> list[list[str]]:
    """Cells of all whole lines of all logs."""
    import csv

    found: list[list[str]] = []
    for path in sorted((root / "log").glob("attempts*.csv")):
        text = path.read_bytes().decode()
        found.extend(csv.reader(io.StringIO(text[: text.rfind("\n") + 1], newline="")))
    return [row for row in found if row and row[0] != "id"]


def judge(root: Path, tally: Tally) -> None:
    """Read the base as a fresh process would, and compare it with what was acknowledged."""
    from kb.formats.attempt_log import COLUMNS
    from kb.services.session import Session

    rows = [dict(zip(COLUMNS, row, strict=True)) for row in raw_lines(root)]
    ids = Counter(row["id"] for row in rows)
    tally.lost += [f"line {id_} stands {n} times" for id_, n in ids.items() if n > 1]
    in_batch = Counter(row["batch"] for row in rows if row["outcome"] != "void")
    tally.acknowledged = sum(tally.batches.values()) + tally.single_count
    tally.found = 0
    for (path, own), wanted in tally.holdings.items():
        count = _text(root, path).count(own)
        tally.found += count == wanted
        if count != wanted:
            tally.lost.append(f"{path} has {own} {count} times")
    _judge_merged(root, tally)
    logged = "".join(_text(root, f"log/{path.name}") for path in (root / "log").glob("*.csv"))
    for own in tally.gone:
        tally.found += own not in logged
        tally.lost += [f"{own} was blanked and is still in the log"] * (own in logged)
    for batch, count in tally.batches.items():
        tally.found += min(count, in_batch[batch])
        if in_batch[batch] != count:
            tally.lost.append(f"import {batch}: {in_batch[batch]} of {count}")
    session = Session(root, now=datetime(2027, 2, 14, tzinfo=UTC), device="judge")
    counting = {str(attempt.id) for attempt in session.whole.attempts}
    away = {row["voids"] for row in rows if row["outcome"] == "void"}
    tally.found += len(tally.voided & away)
    tally.lost += [f"{id_} voided and still counts" for id_ in tally.voided & counting]
    answers = {row["id"] for row in rows if row["outcome"] not in ("void", "aside")}
    tally.lost += [
        f"{id_} does not count" for id_ in answers - counting - tally.voided - tally.maybe_voided
    ]
    for path, version in tally.notes.items():
        whole = [note_body(version), note_body(version + 1)]
        text = _text(root, path)
        if text.split("---\n", 2)[-1] in whole:
            tally.found += 1
        else:
            tally.lost.append(f"{path} is not whole at version {version}")
    for file in root.glob("cardiology/*.md"):
        body = _text(root, f"cardiology/{file.name}").split("---\n", 2)[-1]
        begun = re.match(r"version (\d+),", body)
        if not file.name.startswith("page-") and (not begun or body != note_body(int(begun[1]))):
            tally.lost.append(f"{file.name} is half written")


def _text(root: Path, path: str) -> str:
    file = root / path
    return file.read_bytes().decode() if file.is_file() else ""


def _judge_merged(root: Path, tally: Tally) -> None:
    """The text of a note to be merged is in its own file, or in that of the other and set aside;
    a merged one has no file of its own.
    """
    for path, version in tally.texts.items():
        there, kept = _text(root, path), _text(root, tally.merging.get(path, ""))
        whole = note_body(version)
        found = whole in there or (path in tally.merging and whole in kept)
        tally.found += found
        tally.lost += [] if found else [f"the text of {path} is not whole"]
    for path in tally.merged:
        gone = not (root / path).exists()
        tally.found += gone
        tally.lost += [] if gone else [f"{path} was merged and is still there"]


def _start(root: Path, rng: random.Random, die_at: int) -> subprocess.Popen[str]:
    command = [sys.executable, __file__, "--work", str(root), str(rng.randint(0, 10**9))]
    return subprocess.Popen(
        [*command, str(die_at)], stdout=subprocess.PIPE, text=True, encoding="utf-8"
    )


def kill_once(
    root: Path, rng: random.Random, tally: Tally, writers: int = 1, seconds: float = LIFE_SECONDS
) -> None:
    """Start as many workers, kill them within `seconds` or at one of their calls, and judge."""
    most = int(CALLS_A_SECOND * seconds)
    calls = [rng.randint(1, most) if rng.random() < 0.5 else 0 for _ in range(writers)]
    workers = [_start(root, rng, die_at) for die_at in calls]
    said = [worker.stdout.readline() if worker.stdout else "" for worker in workers]
    for worker, die_at in zip(workers, calls, strict=True):
        if not die_at:
            time.sleep(rng.uniform(0.0, seconds) / writers)
            worker.kill()
    for worker, first in zip(workers, said, strict=True):
        with worker:  # not communicate(): it would pass over what readline() has buffered
            tally.hear(first + (worker.stdout.read() if worker.stdout else ""))
    tally.kills += writers
    judge(root, tally)


def run(
    kills: int, seed: int, writers: int = 1, seconds: float = LIFE_SECONDS
) -> tuple[int, int, int, list[str]]:
    """Kill `kills` times; returns counts of kills, acknowledged, found, and the losses."""
    rng = random.Random(seed)
    totals = [0, 0, 0]
    lost: list[str] = []
    while totals[0] < kills:
        with tempfile.TemporaryDirectory() as folder:
            root = Path(folder)
            (root / "exam.yaml").write_text(EXAM, encoding="utf-8")
            (root / "study.yaml").write_text(STUDY, encoding="utf-8")
            tally = Tally()
            for _ in range(0, min(KILLS_A_BASE, kills - totals[0]), writers):
                kill_once(root, rng, tally, writers, seconds)
            totals = [
                totals[0] + tally.kills,
                totals[1] + tally.acknowledged,
                totals[2] + tally.found,
            ]
            lost += tally.lost
    return totals[0], totals[1], totals[2], lost


def main() -> int:
    """Run the test; exit status 1 if anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--writers", type=int, default=1, help="at the same time (default 1)")
    parser.add_argument("--work", nargs=3, metavar=("BASE", "SEED", "CALL"))
    given = parser.parse_args()
    if given.work:
        try:
            work(Path(given.work[0]), int(given.work[1]), int(given.work[2]))
        except Exception as error:
            print("failed", type(error).__name__, error, flush=True)
            raise
        return 0
    kills, acknowledged, found, lost = run(given.kills, given.seed, given.writers)
    print(f"kills {kills}, acknowledged {acknowledged}, found {found}, lost {len(lost)}")
    for line in lost[:20]:
        print(f"  {line}")
    return 1 if lost or found != acknowledged else 0


if __name__ == "__main__":
    sys.exit(main())
