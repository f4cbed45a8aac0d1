"""Make a big base for measuring: notes of the demo's words, reshuffled, with answers to match.

    python scripts/make_base.py [--notes 6000] [--attempts 20000] [--seed 1] OUT_DIR

The text is nonsense, but its words, lengths and links are like the demo's. The same arguments
always give the same base.
"""

from __future__ import annotations

import argparse
import itertools
import sys
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Note
from kb.core.settings import Area, Exam
from kb.formats.attempt_ids import with_ids
from kb.formats.attempt_log import HEADER, format_attempt
from kb.formats.exam import parse_exam
from kb.formats.note import format_note, parse_note, slug
from kb.planning.apportionment import largest_remainder

if TYPE_CHECKING:
    from collections.abc import Sequence

DEMO = Path(__file__).resolve().parent.parent / "notes"
FIRST = datetime(2026, 11, 2, 18, 0, tzinfo=UTC)
DAYS = 150
RIGHT_FRACTION = 0.66
"""As in the demo; own round figure."""


@dataclass(slots=True)
class Words:
    """Which words follow each word in an area's notes, and the notes' concepts."""

    follows: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    starts: list[str] = field(default_factory=list)
    concepts: list[str] = field(default_factory=list)

    def sentence(self, rng: Random, length: int) -> str:
        """About `length` words, each following the one before somewhere in the demo."""
        word = rng.choice(self.starts)
        found = [word]
        while len(found) < length:
            after = self.follows.get(word)
            word = rng.choice(after) if after and rng.random() > 0.1 else rng.choice(self.starts)
            found.append(word)
        return " ".join(found).capitalize() + "."


def learn_words(demo: Path, areas: Sequence[Area]) -> dict[AreaId, Words]:
    """Words of the demo's notes by area; an area without notes gets those of all."""
    found: dict[AreaId, Words] = {area.id: Words() for area in areas}
    common = Words()
    for path in sorted(demo.glob("*/*.md")):
        note, body, _ = parse_note(path.read_text(encoding="utf-8"), path.name)
        words = [w.strip(".,:;()*|#-[]") for w in f"{note.title} {body}".split()]
        words = [w for w in words if w.isalpha()]
        for store in (common, *(found[area] for area in note.areas if area in found)):
            store.starts += words
            store.concepts += note.concepts
            for word, following in itertools.pairwise(words):
                store.follows[word].append(following)
    if not common.starts:
        sys.exit(f"{demo}: no notes to take words from")
    return {area: words if words.starts else common for area, words in found.items()}


def make(out: Path, note_count: int, attempt_count: int, seed: int, demo: Path = DEMO) -> None:
    """Write the base into the new folder `out`."""
    rng = Random(seed)
    exam, _ = parse_exam((demo / "exam.yaml").read_text(encoding="utf-8"), "exam.yaml")
    if exam is None:
        sys.exit(f"{demo / 'exam.yaml'}: no exam")
    spans = _spans(exam, max(exam.item_count, attempt_count * 6 // 10))
    attempts = _attempts(rng, spans, attempt_count)
    write(out / "exam.yaml", (demo / "exam.yaml").read_text(encoding="utf-8"))
    write(out / "study.yaml", _study(spans))
    lines = [format_attempt(attempt) for attempt in with_ids(attempts, "b-00", day_only=False)]
    write(out / "log" / "attempts-laptop.csv", HEADER + "".join(lines))
    _write_notes(out, rng, exam, attempts, note_count, learn_words(demo, exam.areas))


def _spans(exam: Exam, items: int) -> dict[AreaId, tuple[int, int]]:
    counts = largest_remainder(items, [area.item_count for area in exam.areas])
    ends = list(itertools.accumulate(counts))
    return {
        area.id: (end - count + 1, end)
        for area, count, end in zip(exam.areas, counts, ends, strict=True)
    }


def _study(spans: dict[AreaId, tuple[int, int]]) -> str:
    ranges = ", ".join(f"{first}-{last}: {area}" for area, (first, last) in spans.items())
    items = max(last for _, last in spans.values())
    return (
        "timezone: UTC\nsources:\n"
        f"  - {{source: north, kind: bank, items: {items}, areas: {{{ranges}}}}}\n"
    )


def _attempts(rng: Random, spans: dict[AreaId, tuple[int, int]], count: int) -> list[Attempt]:
    items = max(last for _, last in spans.values())
    per_day = -(-count // DAYS)
    found: list[Attempt] = []
    for number in range(count):
        day, within = divmod(number, per_day)
        item = number + 1 if number < items and number < count * 0.6 else rng.randint(1, items)
        found.append(
            Attempt(
                id=AttemptId(""),
                at=FIRST + timedelta(days=day, seconds=60 * within),
                question=QuestionId(f"north:{item}"),
                outcome="right" if rng.random() < RIGHT_FRACTION else "wrong",
                certainty=rng.randint(1, 3),
                seconds=float(rng.randint(30, 150)),
                round="first" if number < count * 0.6 else "second",
            )
        )
    return found


def _write_notes(
    out: Path,
    rng: Random,
    exam: Exam,
    attempts: Sequence[Attempt],
    count: int,
    words: dict[AreaId, Words],
) -> None:
    spans = _spans(exam, max(exam.item_count, len(attempts) * 6 // 10))
    missed: dict[AreaId, list[Attempt]] = {area.id: [] for area in exam.areas}
    seen: set[str] = set()
    for attempt in attempts:
        if not attempt.right and attempt.question not in seen:
            seen.add(attempt.question)
            item = int(attempt.question.partition(":")[2])
            area = next(a for a, (first, last) in spans.items() if first <= item <= last)
            missed[area].append(attempt)
    shares = largest_remainder(count, [area.item_count for area in exam.areas])
    paths: list[str] = []
    for area_row, share in zip(exam.areas, shares, strict=True):
        for number in range(share):
            path = _write_note(out, rng, area_row.id, number, missed, words, paths)
            paths.append(path)


def _write_note(
    out: Path,
    rng: Random,
    area: AreaId,
    number: int,
    missed: dict[AreaId, list[Attempt]],
    words: dict[AreaId, Words],
    paths: list[str],
) -> str:
    store = words[area]
    title = store.sentence(rng, rng.randint(3, 7)).rstrip(".")
    sentences = [store.sentence(rng, rng.randint(8, 16)) for _ in range(rng.randint(2, 6))]
    body = "\n".join(sentences)
    if paths and rng.random() < 0.3:
        target = rng.choice(paths[-200:])
        body += f"\nSee also [{target.partition('/')[2]}](../{target})."
    pool = missed[area]
    linked = rng.sample(pool, min(len(pool), rng.choices((0, 1, 2, 3), (1, 5, 3, 1))[0]))
    last = max((attempt.at for attempt in linked), default=FIRST)
    name = f"{slug(title)}-{number}"
    note = Note(
        id=NoteId(name),
        path=f"{area}/{name}.md",
        title=title,
        areas=(area,),
        concepts=tuple(dict.fromkeys(rng.sample(store.concepts, min(3, len(store.concepts))))),
        questions=tuple(attempt.question for attempt in linked),
        basis="made for measuring",
        written_at=last + timedelta(minutes=30),
    )
    write(out / note.path, format_note(note, body))
    return note.path


def write(path: Path, text: str) -> None:
    """Write one file of the base, making its folder if needed."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode())


def main(arguments: Sequence[str] | None = None) -> int:
    """Make a base as the command line says."""
    parser = argparse.ArgumentParser(description="Make a big base for measuring.")
    parser.add_argument("out", type=Path, metavar="OUT_DIR")
    parser.add_argument("--notes", type=int, default=6000)
    parser.add_argument("--attempts", type=int, default=20000)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args(arguments)
    if chosen.notes < 0 or chosen.attempts < 1:
        print("--notes is at least 0 and --attempts at least 1", file=sys.stderr)
        return 2
    try:
        if chosen.out.exists() and any(chosen.out.iterdir()):
            print(f"{chosen.out}: the folder is not empty\n  hint: name a new one", file=sys.stderr)
            return 2
        make(chosen.out, chosen.notes, chosen.attempts, chosen.seed)
    except OSError as error:
        print(f"{chosen.out}: cannot be written: {error.strerror}", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
