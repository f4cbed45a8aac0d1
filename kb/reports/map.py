"""The groups of notes in an area, or the notes related to one.

Each related note comes with the reason. Name an area of the blueprint, or a note by its title,
path or id.
"""

from __future__ import annotations

import posixpath
from dataclasses import replace
from typing import TYPE_CHECKING
from urllib.parse import quote

from kb.core.errors import NotFoundError
from kb.core.lookup import named_note
from kb.core.wording import counted
from kb.knowledge import build_graph, near_area, near_note, suggest_links
from kb.knowledge.topics import find_bridges, find_topics, unplaced_misses
from kb.presentation.paging import paged, paged_lists, typed
from kb.presentation.report_model import Block, Entries, Entry, Option, Report, Text, fields_of
from kb.presentation.terms import TERMS, at_risk, in_marks, marks_by_row, of_area
from kb.stats.marks_at_risk import risk_of
from kb.stats.note_state import judge, open_misses

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from kb.core.ids import NoteId
    from kb.core.model import Base, Note
    from kb.core.settings import Area
    from kb.knowledge import Graph, Near
    from kb.knowledge.topics import Topic
    from kb.search import Index

NEEDS_INDEX = True
PAGE = 8
OPTIONS = (Option("words", "words", default="", required=True, unit="area|note"), *paged(PAGE))
SUGGESTION_COUNT = 3
CITES = ("langville2005", "blondel2008")


def build(base: Base, today: date, *, words: str, limit: int, page: int, index: Index) -> Report:
    """The topics of an area, or the notes around a note."""
    most = page * limit + 1

    def graph_around(notes: Iterable[Note]) -> Graph:
        return build_graph(base, index.neighbours(frozenset(one.path for one in notes)))

    try:
        area = base.exam.area(words)
    except NotFoundError:
        areas = [one.id for one in base.exam.areas]
        note = named_note(base.notes, words, others=areas, what="area and no note")
        title, name = f"Related to: {note.title}", str(note.id)
        blocks = _around_note(base, graph_around([note]), note, most, today)
    else:
        title, name = f"Map of {area.name}", str(area.id)
        graph = graph_around(one for one in base.notes if area.id in one.areas)
        blocks = _around_area(base, graph, area, most, today)
    shown = paged_lists(blocks, typed("map", name), limit, page, PAGE)
    return Report(title, tuple(shown), cites=CITES, terms=TERMS)


# An area


def _around_area(base: Base, graph: Graph, area: Area, most: int, today: date) -> list[Block]:
    risk = risk_of(base, today)
    inside = [note for note in base.notes if area.id in note.areas]
    topics = find_topics(base, graph, area, judge(base, today, inside), risk)
    items = counted(area.item_count, "exam question")
    total = at_risk(sum(risk.marks(q) for q in {q for note in inside for q in note.questions}))
    text = f"{counted(len(inside), 'note')}{total}, {items}. Notes are in the order to read them."
    notes = {note.id: note for note in base.notes}
    blocks: list[Block] = [Text(text, quiet=True)]
    worths = marks_by_row([topic.marks for topic in topics])
    entries = tuple(_topic(topic, own, notes) for topic, own in zip(topics, worths, strict=True))
    empty = f"No note on {area.name} yet: missbook note"
    blocks.append(Entries("topics", entries, title="Groups of notes", empty=empty))
    left = unplaced_misses(topics, open_misses(base, today), area.id)
    if left:
        fit = counted(len(left), "miss without a note fits", "misses without a note fit")
        worth = in_marks(sum(row.marks for row in left))
        worth = f" ({worth})" if worth else ""
        blocks.append(Text(f"{fit} none of these groups{worth}: missbook note --next"))
    blocks.append(_bridges(base, area))
    near = near_area(base, graph, area.id, most)
    if near:
        entries = tuple(_near(notes[row.note], row) for row in near)
        blocks.append(Entries("near", entries, title="Relevant notes in other areas"))
    return blocks


def _topic(topic: Topic, worth: str, notes: dict[NoteId, Note]) -> Entry:
    counts = [
        f"{len(found)} {word}"
        for found, word in ((topic.failing, "failing"), (topic.untested, "untested"))
        if found
    ]
    if topic.open_misses:
        counts.append(f"{counted(len(topic.open_misses), 'miss', 'misses')} without a note")
    first = ", ".join(counts) or "Nothing failing or untested"
    if counts and topic.tied:
        first += f": missbook brief {topic.name.partition(' (')[0]}"
    lines = [first]
    for name in topic.notes[:PAGE]:
        state = "failing" if name in topic.failing else "untested"
        mark = f" ({state})" if name in (*topic.failing, *topic.untested) else ""
        lines.append(f"- {notes[name].title}{mark}")
    if len(topic.notes) > PAGE:
        lines.append(f"- and {counted(len(topic.notes) - PAGE, 'more note')}")
    return Entry(
        head=topic.name[0].upper() + topic.name[1:],
        right=(counted(len(topic.notes), "note"), worth),
        lines=tuple(lines),
        fields=(
            ("topic", topic.name),
            *fields_of(topic, "marks", "notes", "failing", "untested", "open_misses"),
        ),
    )


def _bridges(base: Base, area: Area) -> Block:
    entries = tuple(
        Entry(
            head=f"{row.concept}: "
            + ", ".join(base.exam.area_name(other) for other in row.areas if other != area.id),
            right=(counted(row.note_count, "note"),),
            fields=fields_of(row, "concept", "areas", "note_count"),
        )
        for row in find_bridges(base, area.id)
    )
    title, none = "Concepts shared with other areas", "No concept is shared with another area."
    return Entries("bridges", entries, title=title, numbered=False, empty=none)


# A note


def _around_note(base: Base, graph: Graph, note: Note, most: int, today: date) -> list[Block]:
    (row,) = judge(base, today, notes=(note,))
    areas = of_area(", ".join(map(base.exam.area_name, note.areas)))
    text = f"{areas}; {note.path}; {row.state}: {row.evidence}"
    notes = {other.id: other for other in base.notes}
    missing = suggest_links(base, graph, note, SUGGESTION_COUNT)
    named = {near.note for near in missing}
    found = [near for near in near_note(base, graph, note, most) if near.note not in named]
    entries = tuple(_near(notes[near.note], near) for near in found)
    none = "No other note is related: it shares no concept, question or link with one."
    near_ones = Entries("near", entries, empty="" if missing else none)
    blocks: list[Block] = [Text(text, quiet=True), near_ones]
    if missing:
        entries = tuple(_suggestion(note, notes[near.note], near) for near in missing)
        blocks.append(Entries("suggestions", entries, title="Not linked, and perhaps should be"))
    return blocks


def _near(note: Note, near: Near) -> Entry:
    return Entry(
        head=note.title,
        right=(", ".join(note.areas),),
        lines=("; ".join(near.why),),
        fields=(
            ("note", note.id),
            *fields_of(note, "path", "areas"),
            ("nearness", round(near.nearness, 6)),
            ("why", near.why),
        ),
        note=note.id,
    )


def _suggestion(note: Note, other: Note, near: Near) -> Entry:
    """A related note, with the link to write in `note`."""
    target = quote(posixpath.relpath(other.path, posixpath.dirname(note.path) or "."))
    link = f"[{other.title}]({target})"
    entry = _near(other, near)
    lines = (f"{entry.lines[0]}. To link it, write: {link}",)
    return replace(entry, lines=lines, fields=(*entry.fields, ("link", link)))
