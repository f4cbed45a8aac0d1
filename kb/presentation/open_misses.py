"""Misses without a note, and the notes that may already cover one of them."""

from datetime import date

from kb.core.ids import QuestionId
from kb.core.labels import label
from kb.core.model import Base
from kb.core.search_result import Hit
from kb.core.wording import often, short_day
from kb.presentation.paging import first_of, next_page, no_page, page_of
from kb.presentation.report_model import Block, Entries, Entry, Report, Text, day_line
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
        blocks += next_page("note", len(rows), limit, page)
        blocks += [Text(hint, quiet=True)] if hint else []
    worth = in_marks(sum(row.marks for row in rows))
    return Report(
        name="note",
        title=f"{'1 miss' if len(rows) == 1 else f'{len(rows)} misses'} without a note"
        + (f", worth {worth}" if worth else ""),
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        terms=TERMS,
        areas=base.exam.short_names,
    )


def _miss(row: OpenMiss, worth: str) -> Entry:
    attempt = row.attempt
    text = f"missed {often(row.miss_count)}, last on {short_day(attempt.day)}"
    parts = [text]
    if attempt.chosen and attempt.key:
        parts.append(f"chose {attempt.chosen}, key {attempt.key}")
    if attempt.reason:
        parts.append(label(attempt.reason).lower())
    if attempt.remark:
        parts.append(attempt.remark)
    return Entry(
        head=row.question,
        right=(of_area(row.area), *((worth,) if worth else ())),
        lines=("; ".join(parts),),
        fields=(
            ("question", row.question),
            ("area", row.area),
            ("marks", row.marks),
            ("miss_count", row.miss_count),
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
    blocks: list[Block] = []
    if misses:
        last = misses[-1]
        text = f"Missed {often(len(misses))}, last on {short_day(last.day)}"
        if last.chosen and last.key:
            text += f": chose {last.chosen}, key {last.key}"
        blocks.append(Text("; ".join([text, *parts]) + "."))
    else:
        blocks.append(Text("The log has no miss of it."))
    if linked:
        names = ", ".join(note.title for note in linked)
        blocks.append(Text(f"Answered already by: {names}."))
    notes = {note.id: note for note in base.notes}
    entries = tuple(
        Entry(
            head=notes[hit.note].title,
            right=(", ".join(notes[hit.note].areas),),
            lines=(notes[hit.note].path,),
            passage=hit.passage,
            fields=(
                ("note", hit.note),
                ("path", notes[hit.note].path),
                ("areas", notes[hit.note].areas),
                ("weight", hit.weight),
            ),
        )
        for hit in hits
        if hit.note in notes and question not in notes[hit.note].questions
    )
    empty = "No note seems to cover it."
    title = "These may cover it" if entries else ""
    blocks.append(Entries("covering", entries, title=title, empty=empty))
    todo = f"missbook note {question} --link NOTE, or --text TEXT, or --dismiss REASON"
    if not asked:
        blocks.append(Text(todo, quiet=True))
    area = base.exam.area_name(misses[-1].area) if misses else ""
    return Report(
        name="note",
        title=str(question),
        right=of_area(area),
        blocks=tuple(blocks),
        areas=base.exam.short_names,
    )
