"""Notes that need work, worst first.

Each note is judged by its questions since you last wrote it, and comes with what to do.
"""

from collections.abc import Mapping, Sequence
from datetime import date

from kb.core.ids import NoteId
from kb.core.model import Base
from kb.core.wording import capital, counted, often, short_day
from kb.knowledge import Companion
from kb.presentation.companion_lines import along_lines, find_along
from kb.presentation.paging import first_of, next_page, no_page, page_of, paged, typed
from kb.presentation.report_model import (
    Block,
    Entries,
    Entry,
    Option,
    Report,
    Text,
    fields_of,
    paragraphs,
)
from kb.presentation.terms import TERMS, at_risk, in_marks, marks_by_row, of_area
from kb.stats.marks_at_risk import Risk, risk_of
from kb.stats.note_state import Judged, OpenMiss, judge, open_misses

OPTIONS = (
    *paged(),
    Option("area", "area", help="Only notes of this area."),
    Option(
        "state",
        "text",
        default="",
        choices=("", "failing", "untested", "holding"),
        help="Only notes in this state. Default: those that need work.",
    ),
)

LISTS = (
    ("failing", "Failing: missed again since you wrote them"),
    ("untested", "Untested: not tried since you wrote them"),
    ("holding", "Holding, but probably forgotten by now"),
)
TO_DO = {
    "rewrite": "Rewrite it.",
    "split": "It holds more than one idea: split it.",
    "re-attempt": "Try its questions again.",
    "wait": "Try its questions again from tomorrow on.",
    "leave": "Leave it alone.",
}


def build(
    base: Base, today: date, *, limit: int, area: str | None, state: str, page: int = 1
) -> Report:
    """Misses more urgent than any note, then the notes, then what else is at risk."""
    everything = judged = judge(base, today)
    misses = open_misses(base, today)
    if area:
        judged = tuple(row for row in judged if row.area == area)
        misses = tuple(row for row in misses if row.area == area)
    rows = [row for row in judged if (row.state == state if state else row.advice != "leave")]
    open_states = {row.state for row in rows if not row.settled}
    lists = sorted(LISTS, key=lambda one: one[0] not in open_states)
    rows.sort(key=lambda row: [word for word, _ in lists].index(row.state))
    top = max((row.urgency for row in rows), default=0.0)
    ahead = tuple(row for row in misses if row.urgency > top)[:limit] if page == 1 else ()
    blocks: list[Block] = []
    total = at_risk(sum(row.marks for row in rows))
    if total and len(rows) > 1:
        need = "" if state else " need work"
        blocks.append(Text(f"{len(rows):,} notes{need}{total} in all.", key="total"))
    if ahead:
        title = "No note yet, and more urgent than any note below" if rows else "No note yet"
        worth = marks_by_row([row.marks for row in ahead])
        entries = tuple(_miss(row, own) for row, own in zip(ahead, worth, strict=True))
        blocks.append(Entries("ahead", entries, title=title))
    empty = "No note needs work." if judged else "There is no note yet: missbook note"
    empty = no_page(len(rows), page) or empty
    shown = page_of(rows, limit, page)
    along = find_along(base, everything, frozenset(row.note for row in shown))
    titles = {row.note: row.title for row in everything}
    worth = marks_by_row([row.marks for row in shown])
    if not shown and (judged or not misses):
        blocks.append(Entries("notes", (), empty=empty))
    first = first_of(limit, page)
    for word, title in lists:
        own = tuple(
            _note(row, mark, along.get(row.note, ()), titles)
            for row, mark in zip(shown, worth, strict=True)
            if row.state == word
        )
        if own:
            blocks.append(Entries("notes", own, title="" if state else title, first=first))
            first += len(own)
    blocks += next_page(typed("queue", area=area, state=state), len(rows), limit, page)
    blocks += paragraphs(_unwritten(misses), _untouched(risk_of(base, today)))
    head = f"Notes that are {state}" if state else "Notes that need work"
    return Report(head, tuple(blocks), terms=TERMS)


def _note(
    row: Judged, worth: str, along: Sequence[Companion], titles: Mapping[NoteId, str]
) -> Entry:
    return Entry(
        head=row.title,
        right=(of_area(row.area), worth),
        lines=(f"{capital(row.evidence)}. {TO_DO[row.advice]}", *along_lines(along, titles)),
        fields=(
            ("id", row.note),
            *fields_of(row, "area", "state", "marks", "miss_fraction"),
            ("tried_since_count", row.tried_count),
            ("failed_since_count", row.wrong_count),
            ("tried_count", row.ever_tried_count),
            ("wrong_count", row.ever_wrong_count),
            *fields_of(row, "last_outcome", "last_day", "advice"),
            ("read_with", tuple(one.note for one in along)),
        ),
        note=row.note,
    )


def _miss(row: OpenMiss, worth: str) -> Entry:
    day, remark = row.attempt.day, row.attempt.remark
    when = f"Missed {often(row.miss_count)}, last on {short_day(day)}"
    remark = f", {remark}" if remark else ""
    return Entry(
        head=row.question,
        right=(of_area(row.area), worth),
        lines=(f"{when}{remark}: missbook note {row.question}",),
        fields=(*fields_of(row, "question", "area", "marks", "miss_count"), ("last_day", day)),
    )


def _unwritten(misses: Sequence[OpenMiss]) -> str:
    have = counted(len(misses), "miss has", "misses have")
    risk = at_risk(sum(row.marks for row in misses))
    return f"{have} no note yet{risk}: missbook note --next" if misses else ""


def _untouched(risk: Risk) -> str:
    unmet = risk.untouched()
    names = ", ".join(
        f"{row.area.name} ({in_marks(row.marks)})" if risk.speaks else row.area.name
        for row in unmet[:5]
    )
    more = f" and {len(unmet) - 5} more" if len(unmet) > 5 else ""
    return f"No answer logged yet in: {names}{more}." if unmet else ""
