"""Two answers taken for each other: pairs, clusters, and what they cost.

A mix-up is named in the remark of a miss (`gout vs pseudogout`), or by the concepts of two notes
that answer the question. Pairs are symmetric: taking A for B and B for A is one mix-up.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import date

    from kb.model import Attempt, Base, Note, NoteId, QuestionId

VERSUS = re.compile(
    r"^\W*(?P<one>[^;.]+?)\s*(?:\bvs\b\.?|\bv\b\.?|\bversus\b|\bnot\b|\bor\b|<>|≠|/)\s*"
    r"(?P<other>[^;.]+?)\W*(?:[;.].*)?$",
    re.I,
)
MOST_WORDS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixup:
    """One pair, in alphabetical order. `count` misses named it, `last_day` the latest.

    `one` and `other` are spelled as in the latest remark. `questions` are those missed, `marks`
    what is at risk on them, `note` an existing note that compares the two, if there is one.
    """

    one: str
    other: str
    count: int
    last_day: date
    questions: tuple[QuestionId, ...]
    marks: float
    note: NoteId | None = None


def parse_pair(remark: str) -> tuple[str, str] | None:
    """The two diagnoses that a remark names, as written, in alphabetical order; or None.

    Each has at most six words; `a vs b`, `a v b`, `a or b`, `a not b` and `a/b` are understood.
    """
    match = VERSUS.match(remark.strip())
    if match is None:
        return None
    pair = sorted((_clean(match[side]) for side in ("one", "other")), key=str.casefold)
    if not all(pair) or pair[0].casefold() == pair[1].casefold():
        return None
    if any(len(name.split()) > MOST_WORDS for name in pair):
        return None
    return pair[0], pair[1]


def _clean(name: str) -> str:
    return " ".join(name.strip(" ,:-").split())


def rank_mixups(base: Base, marks: Mapping[QuestionId, float]) -> tuple[Mixup, ...]:
    """Every pair of the log, costliest first, then most frequent, then by name.

    Args:
        base: Its misses are read in order of time.
        marks: Marks at risk on each question; one not in it costs nothing.
    """
    found: dict[tuple[str, str], list[Attempt]] = {}
    spelled: dict[tuple[str, str], tuple[str, str]] = {}
    for attempt in base.attempts:
        pair = None if attempt.right else parse_pair(attempt.remark)
        if pair is not None:
            key = (pair[0].casefold(), pair[1].casefold())
            found.setdefault(key, []).append(attempt)
            spelled[key] = pair
    rows = [_mixup(base, spelled[key], misses, marks) for key, misses in found.items()]
    return tuple(sorted(rows, key=lambda row: (-row.marks, -row.count, row.one, row.other)))


def _mixup(
    base: Base,
    pair: tuple[str, str],
    misses: list[Attempt],
    marks: Mapping[QuestionId, float],
) -> Mixup:
    questions = tuple(dict.fromkeys(miss.question for miss in misses))
    note = comparing_note(base.notes, pair, questions)
    return Mixup(
        one=pair[0],
        other=pair[1],
        count=len(misses),
        last_day=misses[-1].day,
        questions=questions,
        marks=sum(marks.get(question, 0.0) for question in questions),
        note=note.id if note else None,
    )


def comparing_note(
    notes: Iterable[Note], pair: tuple[str, str], questions: tuple[QuestionId, ...]
) -> Note | None:
    """A note that compares the two: its title or concepts name both. Those that answer one of the
    questions come first, then the order of the notes.
    """
    found = [note for note in notes if all(_names(note, name) for name in pair)]
    found.sort(key=lambda note: not set(note.questions) & set(questions))
    return found[0] if found else None


def notes_about(notes: Iterable[Note], name: str) -> tuple[Note, ...]:
    """Notes whose title or concepts name one of the two, to fill its side of a comparing note."""
    return tuple(note for note in notes if _names(note, name))


def _names(note: Note, name: str) -> bool:
    wanted = set(re.findall(r"[\w-]+", name.casefold()))
    said = [note.title, *note.concepts]
    return any(wanted <= set(re.findall(r"[\w-]+", text.casefold())) for text in said)


def clusters(mixups: Iterable[Mixup]) -> tuple[tuple[str, ...], ...]:
    """Names that hang together through mix-ups, three or more of them; largest first."""
    joined: dict[str, set[str]] = {}
    for row in mixups:
        group = joined.get(row.one, {row.one}) | joined.get(row.other, {row.other})
        for name in group:
            joined[name] = group
    groups = {tuple(sorted(group)) for group in joined.values() if len(group) > 2}
    return tuple(sorted(groups, key=lambda group: (-len(group), group)))
