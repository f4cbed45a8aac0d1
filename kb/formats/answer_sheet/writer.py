"""A sheet in its one tidy spelling, and the lines not understood as a sheet to correct."""

from dataclasses import replace
from datetime import date

from kb.formats.answer_sheet.answer_codes import REMARK_SIGN, Codes, format_codes, read_codes
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


def format_left(left: tuple[LeftLine, ...], day: date | None = None) -> str:
    """Lines not understood as a sheet to correct and log, each under its heading.

    `day` is written where no heading names one: the corrected file is saved on a later day.
    """
    lines: list[str] = []
    shown = Heading()
    for row in left:
        heading = replace(row.heading, day=row.heading.day or day)
        if heading != shown:
            lines.append(_format_heading(heading))
            shown = heading
        lines.append(row.text)
    return "".join(f"{line}\n" for line in lines)


def _format_heading(heading: Heading) -> str:
    day = heading.day.isoformat() if heading.day else ""
    source = f"source {heading.source}" if heading.source else ""
    return " ".join(part for part in (day, source, heading.area, heading.round) if part)


def _format_line(answer: SheetLine, item: str) -> str:
    codes = Codes(**answer.values)
    heads = [f"{item} {format_codes(codes, sure=sure)}".strip() for sure in (False, True)]
    plain = f"{heads[0]} {answer.remark}".strip()
    tries = [plain, *(f"{head} {REMARK_SIGN} {answer.remark}" for head in heads)]
    return next((line for line in tries if _reads_back(line, codes, answer.remark)), tries[-1])


def _reads_back(line: str, codes: Codes, remark: str) -> bool:
    """Whether a line reads back the same."""
    if piece(line) != (line, "") or listed(line) or GLUED.sub("", line) != line:
        return False
    match = ITEM.match(line)
    if match is None or match["last"]:
        return False
    return read_codes(behind(line, match.end())) == (codes, remark)
