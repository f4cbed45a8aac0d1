"""The answer sheet: what a doctor types on a phone, a line for each question.

A heading line names date, source, area and round, and holds for the lines below it. Any other
line is one question or a range, its marks, and what one wants to remember:

    14 Jan north nephrology
    1041                      right
    1042 x C>B gout vs pseudogout
    1043 ?                    right, but a guess
    1044-1052                 all right
    1053 -                    not answered

Pure: text in, answers and Problems out. Nothing here asks the clock; the caller gives the day.
`reading` goes line by line and asks the other modules, each of which knows one part of a line.
"""

from __future__ import annotations

from kb.formats.answer_sheet.parser import parse_sheet
from kb.formats.answer_sheet.records import Heading, Known, LeftLine, Sheet, SheetLine
from kb.formats.answer_sheet.writer import format_left, format_sheet

__all__ = [
    "Heading",
    "Known",
    "LeftLine",
    "Sheet",
    "SheetLine",
    "format_left",
    "format_sheet",
    "parse_sheet",
]
