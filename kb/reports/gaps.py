"""Where your notes are thin.

Areas, topics without a note, notes that say the same, and isolated notes. Each area's share of
the exam is compared with its share of notes and misses.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.core.wording import counted
from kb.knowledge.coverage import (
    share_areas,
    share_topics,
    spelled_two_ways,
    too_long,
    topics_without_note,
    unmet_areas,
    unreached,
)
from kb.knowledge.near_duplicates import find_twins
from kb.presentation.paging import MadeLater, paged, paged_lists, typed
from kb.presentation.report_model import (
    Block,
    Column,
    Entries,
    Entry,
    Option,
    Report,
    Table,
    Text,
    fields_of,
    paragraphs,
    rows_of,
)
from kb.presentation.terms import of_area

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from kb.core.ids import NoteId
    from kb.core.model import Base, Note
    from kb.knowledge.coverage import Share, Spelling
    from kb.knowledge.near_duplicates import Twins
    from kb.search import Index

NEEDS_INDEX = True
OPTIONS = (Option("area", "area", help="Only this area, with its topics."), *paged())
AREA_COLUMNS = (
    Column("area", "Area", "area"),
    Column("exam_fraction", "Of exam", "fraction"),
    Column("note_fraction", "Of notes", "fraction"),
    Column("met_fraction", "Of met", "fraction", quiet=True),
    Column("miss_fraction", "Of misses", "fraction"),
    Column("note_count", "Notes", "count"),
    Column("met_count", "Met", "count", quiet=True),
)
TOPIC_COLUMNS = (
    Column("topic", "Topic"),
    Column("note_count", "Notes", "count"),
    Column("met_count", "Met", "count"),
    Column("miss_count", "Misses", "count"),
)
TERMS = (
    ("of exam", "the area's share of the exam's questions"),
    ("of notes", "its share of the notes; a note of two areas counts half in each"),
    ("of misses", "its share of all misses"),
)


def build(
    base: Base, today: date, *, area: str | None, limit: int, page: int, index: Index
) -> Report:
    """Shares first, then what is missing, duplicated, out of reach or too long."""
    inside = {note.id for note in base.notes if area is None or area in note.areas}
    notes = {note.id: note for note in base.notes}
    found = find_twins(base, index.neighbours())
    if area is not None:
        found = tuple(row for row in found if {row.keep, row.other} & inside)
    lone = _lone(base, index, inside)
    long = [note for note in too_long(base) if note.id in inside]
    empty = [(where, topic) for where, topic in topics_without_note(base) if area in (None, where)]
    blocks = [*_shares(base, area), *_missing(base, empty, area)]
    if base.notes:
        pairs = MadeLater(found, lambda row: _pair(row, notes[row.keep], notes[row.other]))
        blocks.append(
            _list("twins", "Notes that say the same", pairs, "No two notes say the same.")
        )
        if area is None:
            blocks.append(_spellings(spelled_two_ways(base)))
        title = "Isolated notes: no link, concept or question shared with any other"
        blocks.append(_list("unreached", title, MadeLater(lone, _note), "No note is isolated."))
        title = "Too long to reread: split them, one idea to a note"
        blocks.append(
            _list("long", title, MadeLater(long, _note), "No note is too long to reread.")
        )
    else:
        blocks.append(Text("No notes yet: missbook note"))
    return Report(
        "Gaps" if area is None else f"Gaps in {base.exam.area(area).name}",
        tuple(paged_lists(blocks, typed("gaps", area=area), limit, page)),
        terms=TERMS,
    )


def _lone(base: Base, index: Index, inside: set[NoteId]) -> list[Note]:
    """Notes that nothing ties to another, not even words in common."""
    found = [note for note in unreached(base) if note.id in inside]
    near = index.neighbours(frozenset(note.path for note in found))
    there = {note.path for note in base.notes}
    return [n for n in found if there.isdisjoint(path for path, _ in near.get(n.path, ()))]


def _shares(base: Base, area: str | None) -> list[Block]:
    rows = [row for row in share_areas(base) if area in (None, row.area)]
    blocks: list[Block] = [Table("areas", AREA_COLUMNS, rows_of(AREA_COLUMNS, rows))]
    if area is not None:
        topics = rows_of(TOPIC_COLUMNS, share_topics(base, base.exam.area(area)))
        none = "No topics of this area are listed in exam.yaml yet: add 'topics:'."
        blocks.append(Table("topics", TOPIC_COLUMNS, topics, empty=none))
    elif rows and rows[0].behind_fraction > 0 and rows[0].miss_fraction:
        blocks.append(Text(_furthest_behind(base, rows[0])))
    return blocks


def _furthest_behind(base: Base, row: Share) -> str:
    need = f"{100 * row.exam_fraction:.0f}% of the exam"
    need += f" and {100 * (row.miss_fraction or 0):.0f}% of the misses"
    name = base.exam.area(row.area).name
    has = f"{100 * (row.note_fraction or 0):.0f}% of the notes"
    return f"Furthest behind: {name}, {need} but {has}: missbook queue --area {row.area}"


def _missing(base: Base, empty: Sequence[tuple[str, str]], area: str | None) -> list[Block]:
    by_area: dict[str, list[str]] = {}
    for where, topic in empty:
        by_area.setdefault(where, []).append(topic)
    entries = [
        Entry(
            head=f"{base.exam.area_name(where)}: {', '.join(topics)}",
            fields=(("area", where), ("topics", tuple(topics))),
        )
        for where, topics in by_area.items()
    ]
    none = "No topics are listed in exam.yaml yet, so gaps by topic cannot be shown."
    if any(known.topics for known in base.exam.areas):
        none = "Every syllabus topic has a note."
    title = f"Syllabus topics without a note ({len(empty)})"
    unmet = [known for known in unmet_areas(base) if area in (None, known.id)]
    rows = ", ".join(f"{known.name} {known.item_count}" for known in unmet)
    text = f"No question met yet, by questions in the exam: {rows}." if unmet else ""
    listed = _list("topics_without_note", title, entries, none, numbered=False)
    return [listed, *paragraphs(text)]


def _list(
    key: str, title: str, entries: Sequence[Entry], none: str, *, numbered: bool = True
) -> Entries:
    """A list under its title, or what is said where it is empty."""
    return Entries(key, entries, title=title if entries else "", empty=none, numbered=numbered)


def _pair(row: Twins, keep: Note, other: Note) -> Entry:
    alike = f"{100 * row.likeness_fraction:.0f}% alike"
    about = f", both about {', '.join(row.shared_concepts[:3])}" if row.shared_concepts else ""
    command = f"missbook merge {keep.id} {other.id}"
    return Entry(
        head=f"{keep.title} / {other.title}",
        lines=(f"{alike}{about}. Read both, then: {command}",),
        fields=(
            *fields_of(row, "keep", "other"),
            ("likeness_fraction", round(row.likeness_fraction, 4)),
            ("shared_concepts", row.shared_concepts),
            ("command", command),
        ),
        note=row.keep,
    )


def _spellings(found: Sequence[Spelling]) -> Entries:
    title = "Same concept, two spellings"
    title += " (search treats them as one)" if all(row.sure for row in found) else ""
    none = "No concept is spelled two ways."
    return _list("spellings", title, [*map(_spelling, found)], none, numbered=False)


def _spelling(row: Spelling) -> Entry:
    pairs = zip(row.spellings, row.note_counts, strict=True)
    head = ", ".join(f"{name} ({counted(count, 'note')})" for name, count in pairs)
    unsure = () if row.sure else ("perhaps two concepts; if one, correct the rarer spelling",)
    return Entry(head=head, lines=unsure, fields=fields_of(row, "spellings", "note_counts", "sure"))


def _note(note: Note) -> Entry:
    return Entry(
        head=note.title,
        right=(of_area(", ".join(note.areas)), f"{note.word_count} words"),
        fields=(("note", note.id), *fields_of(note, "path", "areas", "word_count")),
        note=note.id,
    )
