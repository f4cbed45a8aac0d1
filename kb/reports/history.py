"""Every answer to a note's questions, and when you read it.

Name the note by its title, path or id.
"""

from datetime import date

from kb.core.ids import QuestionId
from kb.core.labels import label
from kb.core.lookup import named_note
from kb.core.model import Attempt, Base, Note
from kb.core.wording import capital, dated, often
from kb.presentation.paging import paged, paged_lists, typed
from kb.presentation.report_model import Block, Entries, Entry, Facts, Option, Report, Text
from kb.presentation.terms import TERMS, in_marks
from kb.reports.queue import TO_DO
from kb.stats.note_state import judge

OPTIONS = (Option("words", "words", default="", required=True, unit="note"), *paged())
UNLINKED = "Link it to what it answers: missbook note"


def build(base: Base, today: date, *, words: str, limit: int, page: int) -> Report:
    """What the log says about the note, then its questions, the last missed first."""
    note = named_note(base.notes, words)
    row = next(row for row in judge(base, today) if row.note == note.id)
    evidence = f"{capital(row.evidence)}."
    text = f"{evidence} {TO_DO[row.advice]}" if row.question_count else evidence
    worth = f" {in_marks(row.marks)} at risk." if row.marks else ""
    blocks: list[Block] = [
        Text(text + worth),
        Facts("judged", (("state", "State", row.state, "text"),), quiet=True),
        Entries("questions", _questions(base, note, today), numbered=False, empty=UNLINKED),
        _about(base, note),
    ]
    shown = paged_lists(blocks, typed("history", note.id), limit, page)
    return Report(note.title, tuple(shown), terms=TERMS)


def _questions(base: Base, note: Note, today: date) -> tuple[Entry, ...]:
    found: dict[QuestionId, list[Attempt]] = {question: [] for question in note.questions}
    for attempt in base.attempts:
        if attempt.question in found:
            found[attempt.question].append(attempt)

    def last_missed(question: QuestionId) -> date:
        return max((a.day for a in found[question] if not a.right), default=date.min)

    ordered = sorted(found, key=last_missed, reverse=True)
    return tuple(_question(question, found[question], today) for question in ordered)


def _question(question: QuestionId, tried: list[Attempt], today: date) -> Entry:
    wrong = sum(not attempt.right for attempt in tried)
    return Entry(
        head=question,
        right=(f"missed {wrong} of {len(tried)}",) if tried else ("not in the log",),
        lines=(", ".join(_answer(attempt, today) for attempt in reversed(tried)),) if tried else (),
        fields=(("question", question), ("tried_count", len(tried)), ("wrong_count", wrong)),
    )


def _answer(attempt: Attempt, today: date) -> str:
    """`5 Apr right`; `3 Feb wrong (chose C, key B; down to two)`."""
    pair = attempt.chosen and attempt.key and not attempt.right
    chose = f"chose {attempt.chosen}, key {attempt.key}" if pair else ""
    parts = [part for part in (chose, label(attempt.reason).casefold(), attempt.remark) if part]
    more = f" ({'; '.join(parts)})" if parts else ""
    return f"{dated(attempt.day, today.year)} {label(attempt.outcome).casefold()}{more}"


def _about(base: Base, note: Note) -> Block:
    days = [reading.at.date() for reading in base.readings if reading.note == note.id]
    read = f"{often(len(days))}, last on {dated(max(days))}" if days else "not recorded"
    return Facts(
        "about",
        (
            ("written", "Written", note.written_on, "date"),
            ("read", "Read", read, "text"),
            ("basis", "Basis", note.basis or None, "text"),
            ("checked", "Checked", note.checked, "date"),
            ("path", "File", note.path, "text"),
        ),
    )
