"""Where the base is thin: shares of exam, notes, questions and misses, and notes out of reach."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from kb.core.answers import Answers
from kb.knowledge.graph_builder import concept_key
from kb.stats.note_state import SPLIT_WORD_COUNT

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kb.core.ids import AreaId
    from kb.core.model import Base, Note
    from kb.core.settings import Area

LEAST_LETTERS = 7
"""Shorter concepts that differ in one letter are mostly two ideas: ilium and ileum, IgA and IgG."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One area's fractions of the exam's items, the notes, the questions met and the misses.

    A note of two areas counts half in each. A fraction is None when there is nothing to share.
    """

    area: AreaId
    exam_fraction: float
    note_fraction: float | None
    met_fraction: float | None
    miss_fraction: float | None
    note_count: int
    met_count: int
    miss_count: int

    @property
    def behind_fraction(self) -> float:
        """How far the notes lag behind the larger of the exam's share and the misses' share."""
        need = max(self.exam_fraction, self.miss_fraction or 0.0)
        return need - (self.note_fraction or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class TopicShare:
    """A syllabus topic with its notes, and what the log says of the questions known to be on it."""

    area: AreaId
    topic: str
    note_count: int
    met_count: int
    miss_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Spelling:
    """One idea under several spellings, or two that look like one; commonest spelling first.

    `sure` when the rules of the search take them for the same.
    """

    spellings: tuple[str, ...]
    note_counts: tuple[int, ...]
    sure: bool


def share_areas(base: Base) -> tuple[Share, ...]:
    """One row for each area of the blueprint, the one whose notes lag furthest first."""
    notes: Counter[str] = Counter()
    weights: dict[str, float] = {}
    for note in base.notes:
        for area in note.areas:
            notes[area] += 1
            weights[area] = weights.get(area, 0.0) + 1 / len(note.areas)
    known = {area.id for area in base.exam.areas}
    answers = Answers.of(base.attempts)
    answers = answers.only(answers.where("area", known.__contains__))
    met = answers.counts("area", answers.latest)
    misses = answers.counts("area", ~answers.rights)
    whole = sum(weights.get(area, 0.0) for area in known)
    rows = [
        Share(
            area=area.id,
            exam_fraction=area.item_count / base.exam.item_count if base.exam.item_count else 0.0,
            note_fraction=weights.get(area.id, 0.0) / whole if whole else None,
            met_fraction=met[area.id] / met.total() if met else None,
            miss_fraction=misses[area.id] / misses.total() if misses else None,
            note_count=notes[area.id],
            met_count=met[area.id],
            miss_count=misses[area.id],
        )
        for area in base.exam.areas
    ]
    place = {area.id: number for number, area in enumerate(base.exam.areas)}
    return tuple(sorted(rows, key=lambda row: (-round(row.behind_fraction, 9), place[row.area])))


def share_topics(base: Base, area: Area) -> tuple[TopicShare, ...]:
    """One row for each syllabus topic of an area, in the blueprint's order.

    A note is on a topic when its title or one of its concepts names it. A question is known to be
    on it when such a note answers it, or when the log gives it a concept that names the topic.
    """
    inside = [note for note in base.notes if area.id in note.areas]
    answers = Answers.of(base.attempts)
    here, rows = answers.equals("area", area.id), []
    for topic in area.topics:
        notes = [note for note in inside if is_on(note, topic)]
        asked: set[str] = {question for note in notes for question in note.questions}
        named = {name for name in answers.distinct("concept") if name and _names(name, topic)}
        asked |= answers.distinct("question", here & answers.where("concept", named.__contains__))
        tried = answers.where("question", asked.__contains__)
        rows.append(
            TopicShare(
                area=area.id,
                topic=topic,
                note_count=len(notes),
                met_count=int((tried & answers.new).sum()),
                miss_count=int((tried & ~answers.rights).sum()),
            )
        )
    return tuple(rows)


def is_on(note: Note, topic: str) -> bool:
    """Whether a note's title or one of its concepts names a syllabus topic.

    Source: own, because the rules of the search decide which words are the same.
    """
    return any(_names(text, topic) for text in (note.title, *note.concepts))


def _names(text: str, topic: str) -> bool:
    wanted = _words(topic)
    return bool(wanted) and wanted <= _words(text)


def _words(text: str) -> frozenset[str]:
    return frozenset(concept_key(text).split())


def topics_without_note(base: Base) -> tuple[tuple[AreaId, str], ...]:
    """Syllabus topics that no note is on, as (area, topic) in the blueprint's order."""
    left = {area.id: {topic: _words(topic) for topic in area.topics} for area in base.exam.areas}
    seen: set[tuple[str, str]] = set()
    for note in base.notes:
        for area in note.areas:
            wanted = left.get(area, {})
            for text in (note.title, *note.concepts) if wanted else ():
                if (area, text) not in seen:
                    seen.add((area, text))
                    words = _words(text)
                    for topic in [topic for topic, own in wanted.items() if own <= words]:
                        del wanted[topic]
    return tuple(
        (a.id, topic) for a in base.exam.areas for topic in a.topics if topic in left[a.id]
    )


def spelled_two_ways(base: Base) -> tuple[Spelling, ...]:
    """Concepts under more than one spelling: the sure ones first, then those that look alike.

    Two look alike when they are long, have no digit, and differ in one letter left out, put in
    or changed, and one of them stands in a single note. Hyper- and hypo- are never alike.

    Source: own, because a slip of the pen has no published measure that knows medicine.
    """
    counts: Counter[str] = Counter()
    for note in base.notes:
        counts.update(set(note.concepts))
    groups: dict[str, list[str]] = {}
    for concept in counts:
        groups.setdefault(concept_key(concept), []).append(concept)
    found = [_spelling(names, counts, sure=True) for names in groups.values() if _differ(names)]
    first = {key: max(names, key=lambda n: (counts[n], n)) for key, names in groups.items()}
    found += [
        _spelling([first[one], first[other]], counts, sure=False)
        for one, other in _one_letter_apart(first)
        if min(counts[first[one]], counts[first[other]]) == 1
    ]
    return tuple(sorted(found, key=lambda row: (not row.sure, row.spellings)))


def _differ(names: Iterable[str]) -> bool:
    """Whether names differ in more than the case of their first letter."""
    return len({name[:1].casefold() + name[1:] for name in names}) > 1


def _spelling(names: list[str], counts: Counter[str], *, sure: bool) -> Spelling:
    order = tuple(sorted(names, key=lambda name: (-counts[name], name)))
    return Spelling(spellings=order, note_counts=tuple(counts[name] for name in order), sure=sure)


def _one_letter_apart(first: dict[str, str]) -> list[tuple[str, str]]:
    """Pairs of keys whose spellings differ in one letter; found by leaving each letter out."""
    holes: dict[str, list[str]] = {}
    for key, name in first.items():
        plain = name.casefold()
        if len(plain) >= LEAST_LETTERS and not any(letter.isdigit() for letter in plain):
            for hole in {plain, *(plain[:at] + plain[at + 1 :] for at in range(len(plain)))}:
                holes.setdefault(hole, []).append(key)
    pairs: set[tuple[str, str]] = set()
    for keys in holes.values():
        if 1 < len(keys) < 20:
            pairs.update((one, other) for one in keys for other in keys if one < other)
    return sorted(pair for pair in pairs if _near(*(first[key].casefold() for key in pair)))


def _near(one: str, other: str) -> bool:
    if {one[:5], other[:5]} & {"hyper"} and {one[:4], other[:4]} & {"hypo"}:
        return False
    blocks = SequenceMatcher(None, one, other, autojunk=False).get_matching_blocks()
    same = sum(block.size for block in blocks)
    return max(len(one), len(other)) - same <= 1


def unreached(base: Base) -> tuple[Note, ...]:
    """Notes that no link ties to another, and no concept or question that the other has too."""
    paths = {note.path for note in base.notes}
    links = {(note.path, link.path) for note in base.notes for link in note.links}
    linked = {end for link in links if link[0] != link[1] and link[1] in paths for end in link}
    held = Counter(name for note in base.notes for name in _names_of(note))
    alone = (note for note in base.notes if note.path not in linked)
    return tuple(note for note in alone if all(held[name] == 1 for name in _names_of(note)))


def _names_of(note: Note) -> set[str]:
    """A note's concepts and questions; the key of a concept never looks like a question."""
    return {concept_key(concept) for concept in note.concepts}.union(note.questions)


def too_long(base: Base) -> tuple[Note, ...]:
    """Notes too long to re-read, longest first, then by path.

    Source: own, because no limit is published: `note_state.SPLIT_WORD_COUNT`.
    """
    found = [note for note in base.notes if note.word_count > SPLIT_WORD_COUNT]
    return tuple(sorted(found, key=lambda note: (-note.word_count, note.path)))


def unmet_areas(base: Base) -> tuple[Area, ...]:
    """Areas of the blueprint with items and no question met, in its order."""
    met = Answers.of(base.attempts).distinct("area")
    return tuple(area for area in base.exam.areas if area.item_count and area.id not in met)
