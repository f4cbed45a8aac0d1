"""A sheet in its one tidy spelling, and the lines not understood as a sheet to mend."""

from __future__ import annotations

from dataclasses import replace

from kb.formats.answer_sheet.answer_marks import REMARK_SIGN, Marks, format_marks, read_marks
from kb.formats.answer_sheet.item_ranges import GLUED, ITEM, behind, listed, piece
from kb.formats.answer_sheet.records import Heading, LeftLine, SheetLine


def format_sheet(answers: tuple[SheetLine, ...]) -> str:
    """Answers as a sheet in its one tidy spelling, a heading wherever it changes."""
    lines: list[str] = []
    shown: Heading | None = None
    for answer in answers:
        source, _, item = answer.question.partition(":")
        heading = replace(answer.heading, source=source)
        if heading != shown:
            lines.append(_format_heading(heading))
            shown = heading
        lines.append(_format_line(answer, item if item.isdigit() else answer.question))
    return "\n".join(lines) + "\n" if lines else ""


def format_left(left: tuple[LeftLine, ...]) -> str:
    """Lines not understood as a sheet to mend and take in again, each under its heading."""
    lines: list[str] = []
    shown = Heading()
    for row in left:
        if row.heading != shown:
            lines.append(_format_heading(row.heading))
            shown = row.heading
        lines.append(row.text)
    return "".join(f"{line}\n" for line in lines)


def _format_heading(heading: Heading) -> str:
    day = heading.day.isoformat() if heading.day else ""
    source = f"source {heading.source}" if heading.source else ""
    return " ".join(part for part in (day, source, heading.area, heading.round) if part)


def _format_line(answer: SheetLine, item: str) -> str:
    marks = Marks(
        outcome=answer.outcome,
        first=answer.first,
        chosen=answer.chosen,
        key=answer.key,
        certainty=answer.certainty,
        seconds=answer.seconds,
        reason=answer.reason,
    )
    head = " ".join(part for part in (item, format_marks(marks)) if part)
    plain = f"{head} {answer.remark}".strip()
    if piece(plain) == (plain, "") and not listed(plain) and GLUED.sub("", plain) == plain:
        match = ITEM.match(plain)
        whole = (marks, answer.remark)
        if match and not match["last"] and read_marks(behind(plain, match.end())) == whole:
            return plain
    return f"{head} {REMARK_SIGN} {answer.remark}"
