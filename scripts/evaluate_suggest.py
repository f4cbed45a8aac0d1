"""Measure, on public test collections and the demo, the suggestions made while writing.

    python scripts/evaluate.py suggest DIR [DIR ...] [--base BASE]

Same point or not: every other sentence of a document makes a note, and the sentences between make
a draft on the same point; with the note left out, the draft has no match. A curve is fitted on
each collection and tested on the others. Area: documents that answer only one query serve as notes
of one area; each is left out in turn.
"""

from __future__ import annotations

import re
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import numpy as np
from evaluate_search import build, read_lines, read_relevance

from kb.core.ids import AreaId, NoteId
from kb.core.search_result import Hit
from kb.knowledge.suggestions import LIKELY_SAME, SAME_COVERED, SAME_LEAD, SAME_LEVEL, vote_area

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from kb.search import Index

SENTENCE = re.compile(r"(?<=[.])\s+")
SHORT_WORDS = 12
"""A remark has about this many words."""

Trial = tuple[bool, float, float, bool]
"""Whether the draft is a whole one, what the nearest and the next note cover, and the truth."""


def halves(documents: Sequence[dict[str, str]]) -> tuple[list[dict[str, str]], dict[str, str]]:
    """Notes of every other sentence, and drafts of the sentences between."""
    notes, drafts = [], {}
    for document in documents:
        sentences = [s for s in SENTENCE.split(document["text"]) if len(s) > 20]
        if len(sentences) >= 4:
            notes.append({"id": document["id"], "title": "", "text": " ".join(sentences[1::2])})
            drafts[document["id"]] = " ".join(sentences[0::2])
    return notes, drafts


def trials(folder: Path) -> list[Trial]:
    """Drafts with their note in the index, and without it."""
    notes, drafts = halves(read_lines(folder / "docs.jsonl"))
    found: list[Trial] = []
    with tempfile.TemporaryDirectory() as place:
        index = build(notes, Path(place))
        for name, draft in drafts.items():
            for whole in (True, False):
                text = draft if whole else " ".join(draft.split()[:SHORT_WORDS])
                hits = index.similar(text, limit=3)
                for shown in (hits, [hit for hit in hits if hit.note != name]):
                    first, second = [hit.weight for hit in (*shown, *(_NONE, _NONE))[:2]]
                    found.append((whole, first, second, bool(shown) and shown[0].note == name))
        index.close()
    return found


_NONE = Hit(note=NoteId(""), weight=0.0)


def features(found: Sequence[Trial]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Features (1, covered fraction, relative lead) and whether each draft has a match."""
    rows = [[1.0, first, 1 - second / first if first else 0.0] for _, first, second, _ in found]
    return np.array(rows), np.array([float(same) for _, _, _, same in found])


def fit(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Logistic regression with a small ridge penalty."""
    from scipy.optimize import minimize

    def loss(b: NDArray[np.float64]) -> float:
        return float(np.mean(np.logaddexp(0, x @ b) - y * (x @ b)) + 1e-4 * b @ b)

    return np.asarray(minimize(loss, np.zeros(x.shape[1])).x)


def judge(b: NDArray[np.float64], found: Sequence[Trial]) -> str:
    """Calibration, and how often `probably the same` is right."""
    x, y = features(found)
    chance = 1 / (1 + np.exp(-x @ b))
    off = 0.0
    for low in np.arange(0, 1, 0.1):
        here = (chance >= low) & (chance < low + 0.1)
        if here.any():
            off += here.mean() * abs(chance[here].mean() - y[here].mean())
    said = chance >= LIKELY_SAME
    right = y[said].mean() if said.any() else float("nan")
    brier = np.mean((chance - y) ** 2)
    alone = y.mean() * (1 - y.mean())
    return (
        f"Brier {brier:.3f} (rate alone {alone:.3f}), calibration error {off:.3f}; "
        f"likely same: {100 * said.mean():.0f} % of drafts, right {100 * right:.0f} %"
    )


def area_votes(
    count: int, similar: Callable[[int], Sequence[Hit]], areas: dict[NoteId, tuple[AreaId, ...]]
) -> str:
    """Leave-one-out accuracy of the area, overall and where the vote is clear."""
    names = list(areas)
    rows = []
    for number in range(count):
        own = names[number]
        hits = [hit for hit in similar(number) if hit.note != own]
        area, fraction = vote_area(hits, areas)
        rows.append((area in areas[own], fraction))
    right = sum(ok for ok, _ in rows) / len(rows)
    clear = [ok for ok, fraction in rows if fraction >= 0.8]
    share = sum(clear) / len(clear) if clear else float("nan")
    said = sum(fraction for _, fraction in rows) / len(rows)
    return (
        f"right {100 * right:.0f} % of {len(rows)}, mean vote {100 * said:.0f} %; "
        f"with a vote of 80 % or more ({len(clear)}): right {100 * share:.0f} %"
    )


def judge_collection_areas(folder: Path) -> str:
    """Judge areas on a collection, a document's area being the one query it answers."""
    documents = {document["id"]: document for document in read_lines(folder / "docs.jsonl")}
    answered: dict[str, list[str]] = {}
    for query, grades in read_relevance(folder / "qrels.tsv").items():
        for document, grade in grades.items():
            if grade > 0 and document in documents:
                answered.setdefault(document, []).append(query)
    one = {name: queries[0] for name, queries in answered.items() if len(queries) == 1}
    areas: dict[NoteId, tuple[AreaId, ...]] = {
        NoteId(name): (AreaId(query),) for name, query in one.items()
    }
    with tempfile.TemporaryDirectory() as place:
        index: Index = build([documents[name] for name in one], Path(place))
        texts = [documents[name]["text"] for name in one]
        said = area_votes(len(one), lambda n: index.similar(texts[n], limit=11), areas)
        index.close()
    return said


def judge_base_areas(base: Path) -> str:
    """Judge areas on the notes of a base."""
    from kb.services.session import Session

    now = datetime.now(UTC)
    session = Session(base, now=now, device="evaluate")
    notes = [note for note in session.whole.notes if note.areas]
    # A demo is dated ahead: use the day on which its last note was written.
    last = max((note.written_on for note in notes if note.written_on), default=None)
    session = Session(base, now=now, device="evaluate", as_of=last)
    areas = {note.id: note.areas for note in notes}
    texts = [f"{note.title}. {session.body(note)}" for note in notes]
    return area_votes(len(notes), lambda n: session.similar(texts[n], limit=11), areas)


def evaluate(folders: Sequence[Path], base: Path | None) -> None:
    """Print all measurements."""
    found = {folder.name: trials(folder) for folder in folders}
    shipped = np.array([SAME_LEVEL, SAME_COVERED, SAME_LEAD])
    for name, held in found.items():
        others = [trial for other, rest in found.items() if other != name for trial in rest]
        print(f"same or not, {name}, as shipped: {judge(shipped, held)}")
        if others:
            b = fit(*features(others))
            print(f"same or not, {name}, fitted on the others {b.round(2)}: {judge(b, held)}")
    together = [trial for rest in found.values() for trial in rest]
    print(f"fitted on all: {fit(*features(together)).round(2)}")
    for folder in folders:
        print(f"area, {folder.name}: {judge_collection_areas(folder)}")
    if base:
        print(f"area, {base.name}: {judge_base_areas(base)}")


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand `suggest` to scripts/evaluate.py."""
    parser = commands.add_parser("suggest", help="suggestions while writing")
    parser.add_argument("folders", type=Path, nargs="+", metavar="DIR")
    parser.add_argument("--base", type=Path, metavar="BASE", help="measure areas on it as well")
    parser.set_defaults(run=lambda given: evaluate(given.folders, given.base))
