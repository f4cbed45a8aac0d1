"""What a table of answers would add, change and leave, before anything is written."""

from collections.abc import Sequence

from kb.core.errors import Problem
from kb.core.labels import label
from kb.core.model import Attempt
from kb.core.settings import Exam
from kb.core.wording import capital, counted, dated
from kb.importers.reconcile import Changes
from kb.presentation.report_model import (
    Column,
    Entries,
    Entry,
    Fact,
    Facts,
    Report,
    Table,
    Text,
    fields_of,
    paragraphs,
)

CHANGED = (
    Column("line", "Line", "count"),
    Column("question", "Question"),
    Column("was", "In the log"),
    Column("becomes", "In the table"),
)
LEFT = (Column("line", "Line", "count"), Column("code", "What"), Column("message", "Why"))


def dry_report(
    exam: Exam,
    changes: Changes,
    problems: Sequence[Problem],
    left_count: int,
    notes: Sequence[str],
    limit: int | None,
) -> Report:
    """The changes that a table would make.

    `problems` say why rows were not understood, or only in part; `notes` how the table was read.
    At most `limit` rows of each table are shown; None for all.
    """
    new, changed = changes.new, changes.changed
    others = (
        (len(changed), "changed"),
        (len(changes.known), "skipped as there already"),
        (left_count, "left out"),
    )
    counts = [f"{counted(len(new), 'answer')} would be added"]
    counts += [f"{count:,} {what}" for count, what in others if count]
    blocks = paragraphs(f"Read as: {', '.join(notes)}.", f"{', '.join(counts)}.")
    entries = tuple(as_logged(draft) for draft in new[:limit])
    title = _title("As they would be logged", new, limit)
    blocks.append(Entries("added", entries, title=title, numbered=False))
    if changed:
        pairs = tuple(
            (draft.place.line, draft.question, _said(old, draft), _said(draft, old))
            for old, draft in changed[:limit]
        )
        title = _title("Changed", changed, limit)
        blocks.append(Table("changed", CHANGED, pairs, title=title))
    if problems:
        whys = tuple((p.place.line, p.code, p.message) for p in problems[:limit])
        title = _title("Not understood", problems, limit)
        blocks.append(Table("problems", LEFT, whys, title=title))
    if changes.same_day_count:
        text = (
            f"{counted(changes.same_day_count, 'new answer')} to questions logged that day before"
        )
        blocks.append(Text(f"{text}: perhaps the same answers.", quiet=True))
    facts: tuple[Fact, ...] = (
        ("added_count", "Added", len(new), "count"),
        ("changed_count", "Changed", len(changed), "count"),
        ("known_count", "Known", len(changes.known), "count"),
        ("left_count", "Left out", left_count, "count"),
    )
    blocks.append(Facts("import", facts, quiet=True))
    title, right = "What would be logged", "nothing was written"
    areas = exam.short_names
    return Report(title, tuple(blocks), name="log", right=right, areas=areas)


def _details(draft: Attempt) -> str:
    """What is known of an answer besides its outcome: `Chose C, key B, 62 s`."""
    parts = (
        f"first {draft.first}" if draft.first else "",
        f"chose {draft.chosen}" if draft.chosen else "",
        f"key {draft.key}" if draft.key else "",
        label(draft.certainty).casefold() if draft.certainty else "",
        f"{draft.seconds:g} s" if draft.seconds is not None else "",
        label(draft.reason).casefold() if draft.reason else "",
        label(draft.round).casefold() if draft.round else "",
        draft.sitting,
        draft.concept,
        f"remark: {draft.remark}" if draft.remark else "",
    )
    return capital(", ".join(part for part in parts if part))


def _title(word: str, rows: Sequence[object], limit: int | None) -> str:
    shown = len(rows) if limit is None else min(limit, len(rows))
    return word if shown == len(rows) else f"{word}, the first {shown} of {len(rows)}"


def as_logged(draft: Attempt) -> Entry:
    """An answer as it would be logged, with what else is known of it beneath."""
    details = _details(draft)
    line = f"line {draft.place.line}" if draft.place.line else ""
    return Entry(
        head=f"{draft.question} {label(draft.outcome).casefold()}",
        right=(line, draft.area, dated(draft.day)),
        lines=(details,) if details else (),
        fields=(
            ("line", draft.place.line),
            ("at", draft.day),
            *fields_of(draft, "question", "outcome", "area", "remark"),
        ),
    )


def _said(attempt: Attempt, other: Attempt) -> str:
    """What differs between an answer and another."""
    names = ("outcome", "first", "chosen", "key", "certainty", "seconds", "reason", "round")
    own = {name: getattr(attempt, name) for name in (*names, "sitting", "remark")}
    return ", ".join(
        str(value) if name == "outcome" else f"{name} {value or '-'}"
        for name, value in own.items()
        if value != getattr(other, name)
    )
