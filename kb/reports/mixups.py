"""Diagnoses you mix up, costliest pair first.

Each pair comes with the note that compares the two, if there is one.

Name both in the remark of a miss, such as `gout vs pseudogout`, and they are counted here. A miss
with letters alone counts when the same letters were named once, or when a note that answers the
question compares two things.
"""

from datetime import date

from kb.core.ids import NoteId
from kb.core.model import Base
from kb.core.wording import capital, counted, often, short_day
from kb.knowledge.mixups import Mixup, clusters, pair_misses, rank_mixups
from kb.presentation.paging import first_of, next_page, no_page, page_of, paged, typed
from kb.presentation.report_model import Block, Entries, Entry, Option, Report, Text, fields_of
from kb.presentation.terms import in_marks, marks_by_row
from kb.stats.marks_at_risk import risk_of

OPTIONS = (*paged(), Option("since", "date", help="Only misses on or after this day."))
FIELDS = ("one", "other", "count", "inferred_count", "last_day", "questions", "marks", "note")
TERMS = (
    ("mix-up", "two answers taken for each other: the key and the one you chose"),
    (
        "by your remarks",
        "your words named the pair; the others follow from the letters of an earlier miss of the "
        "same question, or from the notes that answer it",
    ),
)


def build(base: Base, today: date, *, limit: int, page: int, since: date | None) -> Report:
    """Pairs with their count and cost, and the comparing note to open or to write."""
    risk = risk_of(base, today)
    marks = {m.attempt.question: risk.marks(m.attempt.question) for m in pair_misses(base)}
    rows = rank_mixups(base, marks, since)
    shown = page_of(rows, limit, page)
    empty = no_page(len(rows), page) or (
        "No remark names two answers yet: log a miss such as '41 x C>B gout vs pseudogout'."
    )
    titles = {note.id: note.title for note in base.notes}
    worth = marks_by_row([row.marks for row in shown])
    entries = tuple(_entry(row, own, titles) for row, own in zip(shown, worth, strict=True))
    total = in_marks(sum(marks[q] for q in {q for row in rows for q in row.questions}))
    blocks: list[Block] = []
    if total and len(rows) > 1:
        blocks.append(Text(f"{counted(len(rows), 'pair')}, {total} at risk in all."))
    blocks.append(Entries("mixups", entries, first=first_of(limit, page), empty=empty))
    blocks += next_page(typed("mixups", since=since), len(rows), limit, page)
    groups = "; ".join(", ".join(group) for group in clusters(rows)[:3])
    if groups:
        blocks.append(Text(f"These get confused as a group: {groups}."))
    return Report("Diagnoses you mix up", tuple(blocks), terms=TERMS)


def evidence(row: Mixup) -> str:
    """How often the two were mixed up, how that is known, and when last."""
    by_remark = row.count - row.inferred_count
    by_remarks = f" ({by_remark} by your remarks)" if row.inferred_count and by_remark else ""
    return f"mixed up {often(row.count)}{by_remarks}, last on {short_day(row.last_day)}"


def _entry(row: Mixup, worth: str, titles: dict[NoteId, str]) -> Entry:
    if row.note:
        todo = f"compared in: {titles[row.note]}"
    else:
        todo = f'write one note on both: missbook compare "{row.one}" "{row.other}"'
    return Entry(
        head=f"{row.one} / {row.other}",
        right=(worth,),
        lines=(f"{capital(evidence(row))}; {todo}",),
        fields=fields_of(row, *FIELDS),
    )
