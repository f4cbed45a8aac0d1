"""Two answers taken for each other: pairs, clusters, and what they cost.

A miss names its pair in the remark (`gout vs pseudogout`). Where it only kept its letters (`C>B`),
the names come from another miss with the same two letters of that question, else from the notes
that answer it: one that compares two things, or two notes on different things. Pairs are
symmetric: taking A for B and B for A is one mix-up.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from kb.core.answers import Answers
from kb.core.ids import NoteId, QuestionId
from kb.core.model import Attempt, Base, Note
from kb.core.pairs import Pair, compared_in, ordered_pair, parse_pair
from kb.language.name_matching import Keys, Naming, naming_of

TECHNIQUE = ("misread", "rushed")
"""For these reasons a wrong letter says nothing about what was taken for what."""

Told = Literal["remark", "options", "notes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PairMiss:
    """A miss in which one of `pair` was taken for the other; `told` says what named them."""

    attempt: Attempt
    pair: Pair
    told: Told


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixup:
    """One pair, in alphabetical order. `count` misses are such a mix-up, `last_day` the latest.

    `one` and `other` are spelled as in the latest remark that has them. `inferred_count` of the
    misses have no remark that names the pair. `questions` are those missed, `marks` what is at
    risk on them, `note` an existing note that compares the two, if there is one.
    """

    one: str
    other: str
    count: int
    inferred_count: int
    last_day: date
    questions: tuple[QuestionId, ...]
    marks: float
    note: NoteId | None = None


def pair_misses(base: Base) -> tuple[PairMiss, ...]:
    """Every miss for which it is known what was taken for what, in order of time.

    Source: own, because only the doctor's words and links tell what the options said.
    """
    answers = Answers.of(base.attempts)
    lettered = ~(answers.equals("chosen", "") | answers.equals("key", ""))
    misses = answers.only(~answers.rights & (lettered | ~answers.equals("remark", "")))
    remarks = [parse_pair(miss.remark) if miss.remark else None for miss in misses]
    by_letters = {
        (miss.question, letters): pair
        for miss, pair in zip(misses, remarks, strict=True)
        if pair and (letters := _letters(miss))
    }
    bare = {
        miss.question
        for miss, pair in zip(misses, remarks, strict=True)
        if not pair and _letters(miss)
    }
    named_pairs = dict.fromkeys(pair for pair in remarks if pair)
    by_notes = _pairs_of_notes(base.notes, bare, naming_of(base), named_pairs) if bare else {}
    found: list[PairMiss] = []
    for miss, named in zip(misses, remarks, strict=True):
        if named:
            found.append(PairMiss(attempt=miss, pair=named, told="remark"))
        elif miss.reason not in TECHNIQUE and (letters := _letters(miss)):
            known = by_letters.get((miss.question, letters))
            if pair := known or by_notes.get(miss.question):
                source: Told = "options" if known else "notes"
                found.append(PairMiss(attempt=miss, pair=pair, told=source))
    return tuple(found)


def _letters(attempt: Attempt) -> Keys:
    """The chosen option and the key, where the log has both."""
    letters = frozenset((attempt.chosen, attempt.key)) - {""}
    return letters if len(letters) == 2 else frozenset()


def _pairs_of_notes(
    notes: Iterable[Note],
    questions: Collection[QuestionId],
    naming: Naming,
    named_pairs: Iterable[Pair],
) -> dict[QuestionId, Pair]:
    """The pair that the notes answering a question distinguish.

    A comparing note distinguishes the pair in a remark (`named_pairs`) that it names, otherwise the
    two in its title. Without such a note it is the first concepts of two notes that share none.
    """
    answering: dict[QuestionId, list[Note]] = {}
    for note in notes:
        for question in note.questions:
            if question in questions:
                answering.setdefault(question, []).append(note)
    if not answering:
        return {}
    by_note: dict[NoteId, Pair] = {}
    for pair in named_pairs:
        others = {note.id for note in naming.about(pair[1])}
        for note in naming.about(pair[0]):
            if note.id in others:
                by_note.setdefault(note.id, pair)
    found: dict[QuestionId, Pair] = {}
    for question, group in answering.items():
        maybe = [by_note.get(note.id) or compared_in(note) for note in group]
        compared = [pair for pair in maybe if pair]
        if len({tuple(map(str.casefold, pair)) for pair in compared}) == 1:
            found[question] = compared[0]
        elif not compared and len(group) == 2 and (apart := _apart(*group)):
            found[question] = apart
    return found


def _apart(one: Note, other: Note) -> Pair | None:
    if not one.concepts or not other.concepts:
        return None
    shared = {c.casefold() for c in one.concepts} & {c.casefold() for c in other.concepts}
    return None if shared else ordered_pair(one.concepts[0], other.concepts[0])


def rank_mixups(
    base: Base, marks: Mapping[QuestionId, float], since: date | None = None
) -> tuple[Mixup, ...]:
    """Every pair of the log, costliest first, then most frequent, then by name.

    Args:
        base: Its misses are read in order of time.
        marks: Marks at risk on each question; one not in it costs nothing.
        since: Only misses on or after that day count.
    """
    naming = naming_of(base)
    found: dict[frozenset[Keys], list[PairMiss]] = {}
    spelled: dict[Keys, str] = {}
    for miss in pair_misses(base):
        key = frozenset(naming.key(name) for name in miss.pair)
        if len(key) == 2 and (since is None or miss.attempt.day >= since):
            found.setdefault(key, []).append(miss)
            for name in miss.pair:
                if miss.told == "remark" or naming.key(name) not in spelled:
                    spelled[naming.key(name)] = name
    rows = [
        _mixup(naming, ordered_pair(*(spelled[name] for name in key)), misses, marks)
        for key, misses in found.items()
    ]
    return tuple(sorted(rows, key=lambda row: (-row.marks, -row.count, row.one, row.other)))


def _mixup(
    naming: Naming, pair: Pair, misses: list[PairMiss], marks: Mapping[QuestionId, float]
) -> Mixup:
    questions = tuple(dict.fromkeys(miss.attempt.question for miss in misses))
    note = comparing_note(naming, pair, questions)
    return Mixup(
        one=pair[0],
        other=pair[1],
        count=len(misses),
        inferred_count=sum(miss.told != "remark" for miss in misses),
        last_day=misses[-1].attempt.day,
        questions=questions,
        marks=sum(marks.get(question, 0.0) for question in questions),
        note=note.id if note else None,
    )


def comparing_note(naming: Naming, pair: Pair, questions: Collection[QuestionId]) -> Note | None:
    """A note that compares the two: its title or concepts name both. Those that answer one of the
    questions come first, then the order of ids.
    """
    others = {note.id for note in naming.about(pair[1])}
    return next((note for note in naming.about(pair[0], questions) if note.id in others), None)


def clusters(mixups: Iterable[Mixup]) -> tuple[tuple[str, ...], ...]:
    """Groups of three or more names joined by mix-ups, largest first."""
    joined: dict[str, set[str]] = {}
    for row in mixups:
        group = joined.get(row.one, {row.one}) | joined.get(row.other, {row.other})
        for name in group:
            joined[name] = group
    groups = {tuple(sorted(group)) for group in joined.values() if len(group) > 2}
    return tuple(sorted(groups, key=lambda group: (-len(group), group)))
