"""Missed questions to try again, by bank and number.

Picks those due and worth most marks, and lists them by number so that you can call them up in the
bank. N is how many, or --minutes takes as many as fit; without either, as many as today's plan
has. Log them afterwards like any others: they count as repeats.
"""

from collections.abc import Mapping
from datetime import date
from itertools import groupby

from kb.core.errors import QueryError
from kb.core.ids import NoteId, whole_number
from kb.core.model import Base
from kb.core.wording import counted, dated
from kb.planning.missed import Missed, missed_questions
from kb.planning.workload import plan_of
from kb.presentation.paging import paged, paged_lists, typed
from kb.presentation.report_model import Block, Entries, Entry, Option, Report, Text, fields_of
from kb.stats.marks_at_risk import risk_of

PAGE = 50
"""Questions of each source on a page: about an evening's."""
SOME = 10
"""How many are offered where today's plan has none."""
OPTIONS = (
    Option("words", "words", default="", unit="n"),
    Option("minutes", "float", default=0, unit="minutes", help="As many as fit in this time."),
    Option("area", "area", default=None, unit="area", help="Only this area."),
    *paged(PAGE),
)
TERMS = (
    ("due", "three days after a miss; after a right answer, a gap that suits the time left"),
    ("settled", "right twice in a row since it was last missed: it does not come back"),
)


def build(
    base: Base, today: date, *, words: str, minutes: float, area: str | None, limit: int, page: int
) -> Report:
    """The questions due, in groups by source, in pages of `limit` for each of them."""
    every = [m for m in missed_questions(base, base.exam.date) if area in (None, m.area)]
    due = [m for m in every if m.due <= today]
    now, plan = plan_of(base, today)
    cost = now.work.pace.retry_cost
    count = _asked(words, minutes, cost)
    if count is None:
        count = plan.days[0].missed_count if plan.days and not area else len(due)
    risk = risk_of(base, today)
    due.sort(key=lambda m: (-risk.marks(m.question), m.due, m.question))
    chosen = due[:count]
    titles = {note.id: note.title for note in base.notes}
    blocks: list[Block] = []
    for source, found in groupby(sorted(chosen, key=_by_number), key=_source):
        entries = tuple(_entry(missed, titles, today) for missed in found)
        title = base.study.source_name(source)
        blocks.append(Entries(f"source_{source}", entries, title=title, numbered=False))
    blocks.append(Text(_said(due, every, len(chosen), len(chosen) * cost / 60, today)))
    command = typed("retry", words, minutes=minutes or "", area=area)
    shown = paged_lists(blocks, command, limit, page, PAGE)
    title = "Missed questions to try again"
    return Report(title, tuple(shown), cites=("cepeda2008",), terms=TERMS)


def _asked(count: str, minutes: float, cost: float) -> int | None:
    """How many were asked for; None when nothing was."""
    text = count.strip()
    if text and not whole_number(text):
        raise QueryError(f"'{text}' is not a number of questions", hint="such as missbook retry 40")
    if minutes < 0:
        raise QueryError(f"{minutes:g} minutes leave no time", hint="try --minutes 30")
    limits = [int(text)] if text else []
    limits += [int(60 * minutes / cost)] if minutes else []
    return min(limits, default=None)


def _source(missed: Missed) -> str:
    return missed.question.partition(":")[0]


def _by_number(missed: Missed) -> tuple[str, int, str]:
    source, _, item = missed.question.partition(":")
    return source, whole_number(item) or 0, item


def _entry(missed: Missed, titles: Mapping[NoteId, str], today: date) -> Entry:
    note = missed.notes[0] if missed.notes else None
    when = f"missed {dated(missed.missed_on, today.year)}"
    if missed.right_count:
        when += ", right once since"
    return Entry(
        head=f"{missed.question:<14} {titles.get(note, note)}" if note else missed.question,
        right=(when,) if note else ("no note yet", when),
        fields=(
            *fields_of(missed, "question", "area", "missed_on", "due", "right_count"),
            ("note", note or ""),
        ),
        note=note or "",
    )


def _said(due: list[Missed], every: list[Missed], shown: int, minutes: float, today: date) -> str:
    if not every:
        return "No missed question is waiting: each has been right twice since."
    if not due:
        first = min(missed.due for missed in every)
        return f"None is due today; the next is due on {dated(first, today.year)}."
    if not shown:
        are = counted(len(due), "question is", "questions are")
        text = f"{are} due, but today's plan has no minutes for them."
        return f"{text} To try some even so: missbook retry {min(len(due), SOME)}"
    head = f"{counted(shown, 'question')}, about {minutes:.0f} minutes with review."
    left = len(due) - shown
    return f"{head} {counted(left, 'more is', 'more are')} due." if left else head
