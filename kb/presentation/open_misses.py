"""Misses without a note, and the notes that may already cover one of them."""

from datetime import date

from kb.core.ids import QuestionId
from kb.core.labels import label
from kb.core.model import Base
from kb.core.search_result import Hit
from kb.core.wording import often, short_day
from kb.presentation.paging import first_of, next_page, no_page, page_of
from kb.presentation.report_model import (
    Block,
    Entries,
    Entry,
    Report,
    Text,
    day_line,
    fields_of,
    paragraphs,
)
from kb.presentation.terms import TERMS, in_marks, marks_by_row, of_area
from kb.stats.note_state import OpenMiss, open_misses

STOCK = 20
"""Misses that can be written up in a day or two (common practice, no source)."""


def misses_report(base: Base, today: date, limit: int, page: int, hint: str = "") -> Report:
    """Misses without a note, the costliest first; the hint follows where there are any."""
    rows = open_misses(base, today)
    shown = page_of(rows, limit, page)
    worths = marks_by_row([row.marks for row in shown])
    entries = tuple(_miss(row, own) for row, own in zip(shown, worths, strict=True))
    empty = (
        "Nothing to write up: every question you missed has a note, or you have got it right since."
    )
    empty = no_page(len(rows), page) or empty
    blocks: list[Block] = [Entries("misses", entries, first=first_of(limit, page), empty=empty)]
    whole = sum(row.marks for row in rows)
    if len(rows) > 2 * STOCK and whole:
        share = sum(row.marks for row in rows[:STOCK]) / whole
        text = f"The {STOCK} worth most hold {share:.0%} of these marks: begin with them."
        blocks.insert(0, Text(text))
    if rows:
        blocks += [*next_page("note", len(rows), limit, page), *paragraphs(hint, quiet=True)]
    worth = f", worth {in_marks(whole)}" if whole else ""
    return Report(
        f"{len(rows) or 'No'} miss{'' if len(rows) == 1 else 'es'} without a note{worth}",
        tuple(blocks),
        name="note",
        right=day_line(today, base.exam.date),
        terms=TERMS,
        areas=base.exam.short_names,
    )


def _miss(row: OpenMiss, worth: str) -> Entry:
    attempt = row.attempt
    parts = (
        f"Missed {often(row.miss_count)}, last on {short_day(attempt.day)}",
        f"chose {attempt.chosen}, key {attempt.key}" if attempt.chosen and attempt.key else "",
        label(attempt.reason).lower() if attempt.reason else "",
        attempt.remark,
    )
    return Entry(
        head=row.question,
        right=(of_area(row.area), worth),
        lines=("; ".join(filter(None, parts)),),
        fields=(
            *fields_of(row, "question", "area", "marks", "miss_count"),
            ("last_day", attempt.day),
            ("remark", attempt.remark),
        ),
    )


def covering_report(
    base: Base, today: date, question: QuestionId, hits: tuple[Hit, ...], *, asked: bool = False
) -> Report:
    """What is known of one miss, and the notes that may cover it with the line that matches.

    The command that deals with it is left out where a question follows (`asked`).
    """
    misses = [a for a in base.attempts if a.question == question and not a.right]
    parts = list(dict.fromkeys(a.remark for a in misses if a.remark))
    linked = [note for note in base.notes if question in note.questions]
    text = "The log has no miss of it."
    if misses:
        last = misses[-1]
        text = f"Missed {often(len(misses))}, last on {short_day(last.day)}"
        if last.chosen and last.key:
            text += f": chose {last.chosen}, key {last.key}"
        text = "; ".join([text, *parts]) + "."
    names = ", ".join(note.title for note in linked)
    blocks = paragraphs(text, f"Answered already by: {names}." if linked else "")
    notes = {note.id: note for note in base.notes}
    entries = tuple(
        Entry(
            head=notes[hit.note].title,
            right=(", ".join(notes[hit.note].areas),),
            lines=(notes[hit.note].path,),
            passage=hit.passage,
            fields=(
                ("note", hit.note),
                *fields_of(notes[hit.note], "path", "areas"),
                ("weight", hit.weight),
            ),
        )
        for hit in hits
        if hit.note in notes and question not in notes[hit.note].questions
    )
    title = "These may cover it" if entries else ""
    blocks.append(Entries("covering", entries, title=title, empty="No note seems to cover it."))
    todo = f"missbook note {question} --link NOTE, or --text TEXT, or --dismiss REASON"
    blocks += paragraphs("" if asked else todo, quiet=True)
    area = of_area(base.exam.area_name(misses[-1].area) if misses else "")
    areas = base.exam.short_names
    return Report(str(question), tuple(blocks), name="note", right=area, areas=areas)
