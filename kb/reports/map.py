"""Show what surrounds an area or a note, nearest first, with the reason for each.

Name an area of the blueprint, or a note by its title, path or id.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.blocks import Block, Entries, Entry, Option, Report, Text, day_line
from kb.errors import NotFoundError, QueryError, nearest
from kb.graph import build_graph, near_area, near_note

if TYPE_CHECKING:
    from datetime import date

    from kb.graph import Near
    from kb.model import Area, Base, Note

MOMENT = "before a topic"
OPTIONS = (
    Option(
        name="words",
        kind="words",
        default="",
        required=True,
        help="an area of the blueprint, or a note's title, path or id",
    ),
    Option(name="limit", kind="int", default=10, unit="notes", help="How many to list."),
)


def build(base: Base, today: date, *, words: str, limit: int) -> Report:
    """The nearest notes around an area or a note."""
    if limit < 1:
        raise QueryError("limit: at least one note", hint="such as --limit 10")
    graph = build_graph(base)
    area = _area(base, words)
    if area is not None:
        found = near_area(base, graph, area.id, limit)
        inside = sum(area.id in note.areas for note in base.notes)
        title = f"Around {area.name}"
        said = f"{inside} notes of its own; {area.item_count} items of the exam."
    else:
        note = _note(base, words)
        found = near_note(base, graph, note, limit)
        title = f"Around: {note.title}"
        said = ", ".join(note.areas) or "no area"
        said += f"; {note.path}"
    blocks: tuple[Block, ...] = (
        Text(text=said, quiet=True),
        Entries(
            key="near",
            entries=tuple(_entry(base, near) for near in found),
            empty="Nothing is near: it shares no concept, question or link with another note.",
        ),
    )
    return Report(
        name="map",
        title=title,
        right=day_line(today, base.exam.date),
        blocks=blocks,
        cites=("langville2005",),
    )


def _area(base: Base, words: str) -> Area | None:
    try:
        return base.exam.area(words)
    except NotFoundError:
        return None


def _note(base: Base, words: str) -> Note:
    wanted = words.strip().replace("\\", "/").casefold()
    for note in base.notes:
        if wanted in (note.id.casefold(), note.path.casefold(), note.title.casefold()):
            return note
    begins = [note for note in base.notes if note.id.casefold().startswith(wanted)]
    if len(begins) == 1:
        return begins[0]
    known = [*(area.id for area in base.exam.areas), *(note.id for note in base.notes)]
    hint = nearest(wanted, known)
    raise NotFoundError(f"no area and no note called '{words}'", hint=hint)


def _entry(base: Base, near: Near) -> Entry:
    note = next(note for note in base.notes if note.id == near.note)
    return Entry(
        head=note.title,
        right=(", ".join(note.areas),),
        lines=("; ".join(near.why),),
        fields=(
            ("note", note.id),
            ("path", note.path),
            ("areas", note.areas),
            ("nearness", round(near.nearness, 6)),
            ("why", near.why),
        ),
    )
