"""Answers as a sheet in its one tidy spelling, so that tests can read back what was written."""

from dataclasses import replace

from kb.formats.answer_sheet.answer_codes import REMARK_SIGN, Codes, read_codes
from kb.formats.answer_sheet.headings import format_heading
from kb.formats.answer_sheet.item_ranges import GLUED, ITEM, behind, listed, piece
from kb.formats.answer_sheet.records import Coded, Heading, SheetLine


def format_sheet(answers: tuple[SheetLine, ...]) -> str:
    """Answers as a sheet in its one tidy spelling, a heading wherever it changes."""
    lines: list[str] = []
    shown: Heading | None = None
    for answer in answers:
        source, _, item = answer.question.partition(":")
        heading = replace(answer.heading, source=source)
        if heading != shown:
            lines.append(format_heading(heading))
            shown = heading
        lines.append(_format_line(answer, item if item.isdigit() else answer.question))
    return "\n".join(lines) + "\n" if lines else ""


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


def format_codes(codes: Coded, *, sure: bool = False) -> str:
    """Codes in their one tidy spelling; with `sure`, right is written out."""
    sign = {"right": "ok" if sure or codes.reason else "", "wrong": "x", "blank": "blank"}
    change = f"{codes.chosen}>{codes.key}" if codes.chosen and codes.key else ""
    if change and codes.first:
        change = f"{codes.first}/{change}"
    certainty = f"c{codes.certainty}" if codes.certainty else ""
    seconds = f"{codes.seconds:g}s" if codes.seconds is not None else ""
    shown = "" if change and codes.outcome == "right" else sign[codes.outcome]
    parts = (shown, change, certainty, seconds, codes.reason)
    return " ".join(part for part in parts if part)
