"""Make a base from a collection of texts and one learner's answers.

    python scripts/convert_collection.py DOCS.jsonl ATTEMPTS.csv BLUEPRINT.csv OUT_DIR

DOCS.jsonl has `id`, `title` and `text` in each line; ATTEMPTS.csv the columns date, question, area,
correct, seconds, confidence (1-4) and phase (pass1, pass2, paper1 ...); BLUEPRINT.csv the columns
area and questions_per_paper. The same files always give the same base.

Areas: the documents least like one another each begin an area; every other document joins the
most similar of them (cosine of word vectors, rare words weighing more) that still has room, in
proportion to the blueprint.
"""

from __future__ import annotations

import csv
import json
import math
import re
import sys
from collections import Counter
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from kb.core.errors import KBError, Place
from kb.core.ids import AreaId, AttemptId, NoteId, Outcome, QuestionId, Round
from kb.core.model import Attempt, Note
from kb.core.settings import Area
from kb.formats.attempt_ids import with_ids
from kb.formats.attempt_log import HEADER, format_attempt
from kb.formats.exam import format_exam
from kb.formats.note import format_note, slug

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

CERTAINTY = {"1": 1, "2": 2, "3": 2, "4": 3}
ROUNDS: dict[str, Round] = {"pass1": "first", "pass2": "second"}
QUESTIONS_PER_NOTE = 5
TITLE_LENGTH = 80
MOST_SECONDS = 86_400
Vector = dict[str, float]


def main(arguments: Sequence[str]) -> int:
    """Convert the files named in `arguments`; exit status 2 and one line if they cannot be used."""
    if len(arguments) != 4:
        print("usage: convert_collection.py DOCS.jsonl ATTEMPTS.csv BLUEPRINT.csv OUT_DIR")
        return 2
    docs, attempts, blueprint, out = (Path(argument) for argument in arguments)
    try:
        convert(docs, attempts, blueprint, out)
    except KBError as error:
        print(error, file=sys.stderr)
        return 2
    return 0


def convert(docs_path: Path, attempts_path: Path, blueprint_path: Path, out: Path) -> None:
    """Write the base into `out`, which is new or empty.

    Raises:
        KBError: A file cannot be read or used, or the folder is not empty.
    """
    areas = read_blueprint(blueprint_path)
    attempts = read_attempts(attempts_path, {area.id for area in areas})
    docs = list(read_docs(docs_path))
    try:
        out.mkdir(parents=True, exist_ok=True)
        if any(out.iterdir()):
            raise KBError("the folder is not empty", place=Place(str(out)), hint="name a new one")
        write_settings(out, areas, attempts)
        write_log(out, attempts)
        write_notes(out, areas, attempts, docs)
    except OSError as error:
        raise KBError(f"cannot be written: {error.strerror}", place=Place(str(out))) from error


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """Turn an error while reading a file into one line."""
    try:
        yield
    except OSError as error:
        raise KBError(f"cannot be read: {error.strerror}", place=Place(str(path))) from error
    except UnicodeDecodeError as error:
        raise KBError("not UTF-8", place=Place(str(path)), hint="save it as UTF-8") from error


def rows_of(path: Path, columns: Sequence[str]) -> Iterator[tuple[int, dict[str, str]]]:
    """The lines of a CSV file as (line number, cells); raises KBError if a column is missing."""
    with reading(path), path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.DictReader(file)
        missing = [name for name in columns if name not in (reader.fieldnames or ())]
        if missing:
            raise KBError(f"the header lacks {', '.join(missing)}", place=Place(str(path), 1))
        for row in reader:
            if any(row[name] is None for name in columns):
                raise KBError("too few fields", place=Place(str(path), reader.line_num))
            yield reader.line_num, {name: row[name].strip() for name in columns}


def read_blueprint(path: Path) -> tuple[Area, ...]:
    """The blueprint's areas with their items."""
    areas = []
    for line, row in rows_of(path, ("area", "questions_per_paper")):
        if not row["area"] or not row["questions_per_paper"].isdecimal():
            raise KBError("an area needs a name and whole items", place=Place(str(path), line))
        area = AreaId(row["area"].casefold())
        areas.append(Area(id=area, name=area, item_count=int(row["questions_per_paper"])))
    if not sum(area.item_count for area in areas):
        raise KBError("the blueprint has no items", place=Place(str(path)))
    return tuple(areas)


def read_attempts(path: Path, areas: set[AreaId]) -> tuple[Attempt, ...]:
    """The answers as attempts in file order, each day's starting at 18:00 UTC."""
    columns = ("date", "question", "area", "correct", "seconds", "confidence", "phase")
    found: list[Attempt] = []
    clock: dict[str, datetime] = {}
    papers: Counter[str] = Counter()
    for line, row in rows_of(path, columns):
        digits = re.search(r"\d+$", row["question"])
        area, phase = AreaId(row["area"].casefold()), row["phase"]
        paper = re.fullmatch(r"paper(\d+)", phase)
        try:
            start = datetime.combine(
                date.fromisoformat(row["date"]), datetime.min.time(), UTC
            ) + timedelta(hours=18)
            seconds = float(row["seconds"])
        except ValueError:
            raise KBError("no date or no seconds", place=Place(str(path), line)) from None
        if not 0 <= seconds <= MOST_SECONDS or digits is None or area not in areas:
            message = "the question has no number, its area is unknown or its seconds are unusable"
            raise KBError(message, place=Place(str(path), line))
        if row["correct"] not in ("0", "1") or (phase not in ROUNDS and paper is None):
            raise KBError(
                "correct is 0 or 1; phase pass1, pass2 or paperN", place=Place(str(path), line)
            )
        papers[phase] += 1
        sitting = f"paper-{paper[1]}" if paper else ""
        item = f"{sitting}:{papers[phase]}" if paper else f"bank:{int(digits[0])}"
        at = clock.get(row["date"], start) + timedelta(seconds=round(seconds))
        clock[row["date"]] = at
        outcome: Outcome = "right" if row["correct"] == "1" else "wrong"
        found.append(
            Attempt(
                id=AttemptId(""),
                at=at,
                question=QuestionId(item),
                outcome=outcome,
                area=area,
                certainty=CERTAINTY.get(row["confidence"]),
                seconds=seconds,
                round="paper" if paper else ROUNDS[phase],
                sitting=sitting,
            )
        )
    if not found:
        raise KBError("no answers", place=Place(str(path)))
    return with_ids(found, "collection", day_only=False)


def read_docs(path: Path) -> Iterator[tuple[str, str, str]]:
    """Documents as (id, title, text), one line at a time."""
    with reading(path), path.open(encoding="utf-8-sig") as file:
        for line, text in enumerate(file, start=1):
            if not text.strip():
                continue
            try:
                doc = json.loads(text)
                body = " ".join(str(doc["text"]).split())
                found = str(doc["id"]), title_of(str(doc.get("title") or ""), body), body
            except (ValueError, TypeError, KeyError, AttributeError):
                hint = 'write {"id": ..., "title": ..., "text": ...}'
                raise KBError("not a document", place=Place(str(path), line), hint=hint) from None
            yield found


def title_of(title: str, text: str) -> str:
    """The title; if there is none, the first sentence without its number, cut at a word."""
    unnumbered = re.sub(r"^\d+\s?[.)]\s+", "", text)
    first = re.split(r"(?<=\w)\s?[.?!](?:\s|$)", unnumbered, maxsplit=1)[0]
    whole = " ".join(title.split()) or first
    if len(whole) <= TITLE_LENGTH:
        return whole.strip() or "untitled"
    return whole[:TITLE_LENGTH].rpartition(" ")[0] or whole[:TITLE_LENGTH]


def assign(texts: Sequence[str], areas: Sequence[Area]) -> list[AreaId]:
    """The area of each text, by similarity and room (see the module docstring)."""
    vectors = _vectors(texts)
    places = [area for area in areas if area.item_count]
    total = sum(area.item_count for area in places)
    room = {a.id: math.ceil(len(texts) * a.item_count / total) for a in places}
    seeds: list[int] = [0] if texts else []
    near = [_likeness(vector, vectors[0]) for vector in vectors]
    while len(seeds) < min(len(places), len(texts)):
        best = min((i for i in range(len(texts)) if i not in seeds), key=lambda i: (near[i], i))
        seeds.append(best)
        near = [max(n, _likeness(v, vectors[best])) for n, v in zip(near, vectors, strict=True)]
    found: list[AreaId] = []
    for vector in vectors:
        ranked = sorted(
            (-_likeness(vector, vectors[seed]), rank) for rank, seed in enumerate(seeds)
        )
        ranks = [rank for _, rank in ranked] + list(range(len(seeds), len(places)))
        area = next(places[rank].id for rank in ranks if room[places[rank].id] > 0)
        room[area] -= 1
        found.append(area)
    return found


def _vectors(texts: Sequence[str]) -> list[Vector]:
    words = [sorted(set(re.findall(r"[a-z]{4,}", text.casefold()))) for text in texts]
    held = Counter(word for each in words for word in each)
    vectors = []
    for each in words:
        weights = {word: math.log(len(texts) / held[word]) for word in each}
        size = math.sqrt(math.fsum(w * w for w in weights.values())) or 1.0
        vectors.append({word: weight / size for word, weight in weights.items()})
    return vectors


def _likeness(one: Vector, other: Vector) -> float:
    return math.fsum(weight * other[word] for word, weight in one.items() if word in other)


def write_settings(out: Path, areas: tuple[Area, ...], attempts: Sequence[Attempt]) -> None:
    """Write exam.yaml, with the exam five weeks after the last answer, and study.yaml."""
    day = max(attempt.day for attempt in attempts) + timedelta(days=35)
    _write(out / "exam.yaml", format_exam("Exam of a converted collection", day, areas))
    lines = ["timezone: UTC\n", "sources:\n"]
    highest: dict[str, int] = {}
    for attempt in attempts:
        source, _, item = attempt.question.partition(":")
        highest[source] = max(int(item), highest.get(source, 0))
    for source, items in sorted(highest.items()):
        kind = "bank" if source == "bank" else "paper"
        lines.append(f"  - {{source: {source}, name: {source}, kind: {kind}, items: {items}}}\n")
    _write(out / "study.yaml", "".join(lines))


def write_log(out: Path, attempts: Sequence[Attempt]) -> None:
    """Write log/attempts-collection.csv."""
    lines = [HEADER, *(format_attempt(attempt) for attempt in attempts)]
    _write(out / "log" / "attempts-collection.csv", "".join(lines))


def write_notes(
    out: Path,
    areas: tuple[Area, ...],
    attempts: Sequence[Attempt],
    docs: Sequence[tuple[str, str, str]],
) -> None:
    """Write one note for each document, linked to up to five questions missed in its area."""
    missed: dict[AreaId, dict[QuestionId, date]] = {area.id: {} for area in areas}
    for attempt in sorted(attempts, key=lambda a: a.at):
        if not attempt.right:
            missed[attempt.area].setdefault(attempt.question, attempt.day)
    chosen = assign([text for _, _, text in docs], areas)
    size, taken = Counter(chosen), Counter[AreaId]()
    names: set[str] = set()
    last = max(attempt.day for attempt in attempts)
    for number, ((doc_id, title, text), area) in enumerate(zip(docs, chosen, strict=True), start=1):
        dealt = list(missed[area])[taken[area] :: size[area]][:QUESTIONS_PER_NOTE]
        taken[area] += 1
        written = min((missed[area][q] for q in dealt), default=last) + timedelta(days=1)
        name = f"{slug(title)}-{slug(doc_id)}"
        while name in names:
            name += "-again"
        names.add(name)
        note = Note(
            id=NoteId(name),
            path=f"{area}/{name}.md",
            title=title,
            areas=(area,),
            questions=tuple(dealt),
            basis="abstract of a public collection",
            written_on=written,
        )
        _write(out / note.path, format_note(note, text))
        if number % 200 == 0 or number == len(docs):
            print(f"{number} of {len(docs)} notes", flush=True)


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode())


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
