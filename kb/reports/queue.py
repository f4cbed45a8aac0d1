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
    day_line,
    fields_of,
)
from kb.presentation.terms import TERMS, in_marks, marks_by_row, of_area
from kb.stats.marks_at_risk import Risk, risk_of
from kb.stats.note_state import Judged, OpenMiss, judge, open_misses

OPTIONS = (
    *paged(),
    Option(name="area", kind="area", help="Only notes of this area."),
    Option(
        name="state",
        kind="text",
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
    base: Base,
    today: date,
    *,
    limit: int,
    area: str | None,
    state: str,
    page: int = 1,
) -> Report:
    """Misses more urgent than any note, then the notes, then what else is at risk."""
    everything = judged = judge(base, today)
    misses = open_misses(base, today)
    if area:
        judged = tuple(row for row in judged if row.area == area)
        misses = tuple(row for row in misses if row.area == area)
    if state:
        rows = tuple(row for row in judged if row.state == state)
    else:
        rows = tuple(row for row in judged if row.advice != "leave")
    rows = tuple(sorted(rows, key=lambda row: [word for word, _ in LISTS].index(row.state)))
    top = max((row.urgency for row in rows), default=0.0)
    ahead = tuple(row for row in misses if row.urgency > top)[:limit] if page == 1 else ()
    blocks: list[Block] = []
    total = in_marks(sum(row.marks for row in rows))
    if total and len(rows) > 1:
        text = (
            f"{counted(len(rows), 'note')}{'' if state else ' need work'}, {total} at risk in all."
        )
        blocks.append(Text(text=text, key="total"))
    if ahead:
        title = "No note yet, and more urgent than any note below" if rows else "No note yet"
        worth = marks_by_row([row.marks for row in ahead])
        entries = tuple(_miss(row, own, today) for row, own in zip(ahead, worth, strict=True))
        blocks.append(Entries(key="ahead", title=title, entries=entries))
    empty = "No note needs work." if judged else "There is no note yet: missbook note"
    empty = no_page(len(rows), page) or empty
    shown = page_of(rows, limit, page)
    along = find_along(base, everything, frozenset(row.note for row in shown))
    titles = {row.note: row.title for row in everything}
    worth = marks_by_row([row.marks for row in shown])
    if not shown:
        blocks.append(Entries(key="notes", entries=(), empty=empty))
    first = first_of(limit, page)
    for word, title in LISTS:
        own = tuple(
            _note(row, mark, along.get(row.note, ()), titles)
            for row, mark in zip(shown, worth, strict=True)
            if row.state == word
        )
        if own:
            head = "" if state else title
            blocks.append(Entries(key="notes", title=head, entries=own, first=first))
            first += len(own)
    own_command = typed("queue", area=area, state=state)
    blocks += next_page(own_command, len(rows), limit, page)
    blocks += _rest(misses, risk_of(base, today))
    return Report(
        name="queue",
        title="Notes that need work" if not state else f"Notes that are {state}",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        terms=TERMS,
    )


def _note(
    row: Judged, worth: str, along: Sequence[Companion], titles: Mapping[NoteId, str]
) -> Entry:
    return Entry(
        head=row.title,
        right=(of_area(row.area), *((worth,) if worth else ())),
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


def _miss(row: OpenMiss, worth: str, today: date) -> Entry:
    attempt = row.attempt
    when = short_day(attempt.day)
    times = f"missed {often(row.miss_count)}"
    remark = f", {attempt.remark}" if attempt.remark else ""
    return Entry(
        head=row.question,
        right=(of_area(row.area), *((worth,) if worth else ())),
        lines=(f"{capital(times)}, last on {when}{remark}: missbook note {row.question}",),
        fields=(
            *fields_of(row, "question", "area", "marks", "miss_count"),
            ("last_day", attempt.day),
        ),
    )


def _rest(misses: tuple[OpenMiss, ...], risk: Risk) -> list[Block]:
    blocks: list[Block] = []
    if misses:
        have = "miss has" if len(misses) == 1 else "misses have"
        worth = in_marks(sum(row.marks for row in misses))
        at_risk = f", {worth} at risk" if worth else ""
        text = f"{len(misses)} {have} no note yet{at_risk}: missbook note --next"
        blocks.append(Text(text=text))
    unmet = risk.untouched()
    if unmet:
        names = ", ".join(
            f"{row.area.name} ({in_marks(row.marks)})" if risk.speaks else row.area.name
            for row in unmet[:5]
        )
        more = f" and {len(unmet) - 5} more" if len(unmet) > 5 else ""
        blocks.append(Text(text=f"No answer logged yet in: {names}{more}."))
    return blocks
