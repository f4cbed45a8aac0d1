"""Make the log of the demo base: three months of one invented doctor, the same every time.

    python scripts/make_demo.py [--notes DIR] [--out DIR] [--seed N]

Reads exam.yaml, study.yaml and the notes, and writes attempts-laptop.csv, attempts-phone.csv and
readings-laptop.csv.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from kb.core.ids import digest
from kb.formats.attempt_ids import with_ids
from kb.formats.attempt_log import format_attempt, format_dismissal, format_void

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from demo_months import READING_COUNT, Months, NoDemoError

from kb.core.model import Attempt, Dismissal, Note
from kb.formats import attempt_log
from kb.formats.exam import parse_exam
from kb.formats.note import parse_note
from kb.formats.side_logs import READINGS
from kb.formats.study import parse_study
from kb.storage.attempt_store import new_reading

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


def format_files(months: Months) -> dict[str, str]:
    """Text of each log file by name."""
    lines: dict[str, list[str]] = {"laptop": [], "phone": []}
    whole: list[Attempt] = []
    for block in months.imports:
        batch = "b-" + digest(block.title, block.device)[:10]
        attempts = with_ids(block.drafts, batch, day_only=False)
        lines[block.device] += [format_attempt(attempt) for attempt in attempts]
        whole += attempts
    lines["laptop"] += _corrections(months, whole)
    found = {
        f"attempts-{device}.csv": attempt_log.HEADER + "".join(rows)
        for device, rows in lines.items()
    }
    found["readings-laptop.csv"] = READINGS.header + "".join(_reading_lines(months))
    return found


def _corrections(months: Months, whole: list[Attempt]) -> Iterable[str]:
    """A line logged twice and taken back, and a dismissed miss."""
    last = max(attempt.at for attempt in whole)
    slip = next(a for a in reversed(whole) if a.round == "second" and a.outcome == "wrong")
    doubled = with_ids(
        [replace(slip, at=slip.at + timedelta(minutes=1))],
        "b-" + digest("slip", slip.id)[:10],
        day_only=False,
    )[0]
    at = last + timedelta(minutes=3)
    void_id = digest("void", doubled.id, at.isoformat(), "laptop")
    void = attempt_log.Void(id=void_id, at=at, voids=doubled.id, remark="typed twice")
    miss = next(a for a in whole if not a.right and a.sitting and not months.last_right[a.question])
    moment = at + timedelta(minutes=1)
    aside = Dismissal(
        id=digest("aside", miss.question, moment.isoformat(), "laptop"),
        at=moment,
        question=miss.question,
        reason="not for this exam",
        remark="the paper withdrew it",
    )
    return [format_attempt(doubled), format_void(void), format_dismissal(aside)]


def _reading_lines(months: Months) -> Iterable[str]:
    words = {note.id: note.word_count for note in months.notes}
    for at, note in sorted(months.read)[:READING_COUNT]:
        speed = months.study.words_per_minute * months.rng.uniform(0.75, 1.15)
        seconds = round(words[note] * 60 / speed + months.study.opening_seconds)
        yield READINGS.format(new_reading(at, note, float(seconds)))


def read_notes(root: Path) -> tuple[Note, ...]:
    """Notes of a base in order of path."""
    paths = sorted(root.glob("*/*.md"), key=lambda path: path.relative_to(root).as_posix())
    return tuple(
        parse_note(path.read_text(encoding="utf-8"), path.relative_to(root).as_posix())[0]
        for path in paths
    )


def make(root: Path, out: Path, seed: int = 2027) -> None:
    """Write the three log files of the base `root` into `out`.

    Raises:
        NoDemoError: A note was written before its questions could have been missed.
    """
    exam, _ = parse_exam((root / "exam.yaml").read_text(encoding="utf-8"), "exam.yaml")
    study, _ = parse_study((root / "study.yaml").read_text(encoding="utf-8"), "study.yaml")
    if exam is None or study.rota is None:
        raise NoDemoError(f"{root}: exam.yaml or the rota in study.yaml cannot be read")
    months = Months(exam, study, read_notes(root), seed)
    months.live()
    out.mkdir(parents=True, exist_ok=True)
    for name, text in format_files(months).items():
        (out / name).write_bytes(text.encode())


def main(arguments: Sequence[str] | None = None) -> int:
    """Make the demo log as the command line says."""
    notes = Path(__file__).resolve().parent.parent / "notes"
    parser = argparse.ArgumentParser(description="Make the log of the demo base.")
    parser.add_argument("--notes", type=Path, default=notes, help="the base")
    parser.add_argument("--out", type=Path, help="where the log files go (default: its log folder)")
    parser.add_argument("--seed", type=int, default=2027)
    chosen = parser.parse_args(arguments)
    try:
        make(chosen.notes, chosen.out or chosen.notes / "log", chosen.seed)
    except (NoDemoError, OSError) as error:
        print(error, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
