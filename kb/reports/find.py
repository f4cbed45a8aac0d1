"""Find notes by words as you would say them; "quoted words" stay together, -word leaves out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.blocks import Block, Entries, Entry, Option, Report, Text

if TYPE_CHECKING:
    from datetime import date

    from kb.model import Answer, Base, Hit, Note

MOMENT = "before a topic"
SEARCHES = "words"
SEARCH_LIMIT = 10
OPTIONS = (
    Option(name="words", kind="words", default="", help="Words to look for.", required=True),
    Option(name="area", kind="area", help="Only notes of this area."),
    Option(name="page", kind="int", default=1, help="Which ten to show."),
)


def paths(base: Base, today: date, *, area: str | None, **_: object) -> frozenset[str] | None:
    """The notes that the filters leave, None when nothing is filtered."""
    if not area:
        return None
    return frozenset(note.path for note in base.notes if area in note.areas)


def build(
    base: Base, today: date, *, words: str, area: str | None, page: int, answer: Answer | None
) -> Report:
    """Ten notes a page, best first."""
    notes = {note.id: note for note in base.notes}
    found = answer.hits if answer else ()
    entries = tuple(_entry(notes[hit.note], hit) for hit in found if hit.note in notes)
    count = answer.total_count if answer else 0
    blocks: list[Block] = []
    if answer and answer.also:
        blocks.append(Text(text="also: " + ", ".join(answer.also), quiet=True))
    blocks.append(Entries(key="notes", entries=entries, empty=f"Nothing found for: {words}"))
    if answer and answer.nearest:
        blocks.append(Text(text="Did you mean: " + ", ".join(answer.nearest)))
    return Report(
        name="find", title=f"Found for {words}", right=f"{count} notes", blocks=tuple(blocks)
    )


def _entry(note: Note, hit: Hit) -> Entry:
    return Entry(
        head=note.title,
        right=(", ".join(note.areas),),
        passage=hit.passage,
        fields=(("path", note.path), ("areas", note.areas), ("line", hit.line)),
        note=note.id,
    )
