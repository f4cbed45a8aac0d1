"""The text of a sheet -> its answers, and the lines not understood, to correct and log."""

import re
from dataclasses import replace
from datetime import date

from kb.core.errors import Place, Problem
from kb.core.ids import QuestionId
from kb.formats.answer_sheet.answer_codes import tidy
from kb.formats.answer_sheet.dates import day_or_none
from kb.formats.answer_sheet.headings import format_heading, meant_as_heading, read_heading
from kb.formats.answer_sheet.item_ranges import GLUED, answers_of, check_shared_mark, piece
from kb.formats.answer_sheet.records import (
    Heading,
    Known,
    LeftLine,
    NotUnderstoodError,
    Sheet,
    SheetLine,
)
from kb.language.patient_identifiers import find_identifiers

NOBODY_HINT = "take it out: the log never needs to say who a patient was"
LONGEST_LINE = 20_000
"""Characters of a line, enough for 2,000 answers. Dividing one takes the square of its length."""
PLUS = re.compile(r"\W{0,20}[\w:.-]{0,60}\d\s{0,9}\+")
NUMBERED = re.compile(r"^(?:question|item|q|no\.?|nr\.?)\s*(?=\d)", re.I)
"""What may stand before the number of an item."""
MINUS = re.compile(r"\d\s*-+\s*$")


def parse_sheet(text: str, path: str, known: Known) -> Sheet:
    """Read a sheet. Every line not understood is kept, with a Problem that says why."""
    return _Reader(path, known).read(text)


def format_left(left: tuple[LeftLine, ...], day: date | None = None) -> str:
    """Lines not understood as a sheet to correct and log, each under its heading.

    `day` is written where no heading names one: the corrected file is saved on a later day.
    """
    lines: list[str] = []
    shown = Heading()
    for row in left:
        heading = replace(row.heading, day=row.heading.day or day)
        if heading != shown:
            lines.append(format_heading(heading))
            shown = heading
        lines.append(row.text)
    return "".join(f"{line}\n" for line in lines)


class _Reader:
    def __init__(self, path: str, known: Known) -> None:
        self.path, self.known = path, known
        self.heading = Heading()
        self.answers: list[SheetLine] = []
        self.at: dict[tuple[int, QuestionId], int] = {}
        self.left: list[LeftLine] = []
        self.problems: list[Problem] = []

    def read(self, text: str) -> Sheet:
        lines = re.split(r"\r\n|\r|\n|\u2028|\u2029", text.removeprefix("\ufeff"))
        self.plus = any(PLUS.match(line) for line in lines)
        for number, raw in enumerate(lines, start=1):
            if len(raw) > LONGEST_LINE:
                said = f"a line of {len(raw)} characters"
                self._leave(raw, raw, number, NotUnderstoodError(said, "write shorter lines"))
                continue
            whole = rest = tidy(raw)
            while rest:
                try:
                    rest = self._part(rest, number)
                except NotUnderstoodError as error:
                    self._leave(raw if rest == whole else rest, rest, number, error)
                    rest = ""
        return Sheet(
            answers=tuple(self.answers), left=tuple(self.left), problems=tuple(self.problems)
        )

    def _leave(self, text: str, rest: str, number: int, error: NotUnderstoodError) -> None:
        """Keep a line. If it was meant as a heading, the answers below it have no source, so that
        none is logged under the source of an earlier heading.
        """
        self.left.append(LeftLine(line=number, text=text, heading=self.heading))
        if meant_as_heading(rest, self.known):
            day = day_or_none(rest, self.known)
            self.heading = Heading(day=day, number=self.heading.number + 1)
        message = f"not understood: {str(error) or rest}"
        self.problems.append(Problem(Place(self.path, number), error.code, message, error.hint))

    def _part(self, text: str, number: int) -> str:
        """Read one heading or answer at the beginning of a line; returns what follows it."""
        if text.partition(" ")[0].casefold() not in self.known.sources:
            text = NUMBERED.sub("", text)
        if text.casefold().startswith("[x]"):
            hint = "write 41 x if it was wrong, or 41 ok if it was right"
            raise NotUnderstoodError(f"{text}: is the box ticked, or crossed?", hint)
        found = read_heading(text, self.heading, self.known)
        if found is not None:
            self.heading, rest = found
            return rest
        check_shared_mark(text)
        sources = {*self.known.sources, self.heading.source}
        part, rest = piece(GLUED.sub(r"\1 ", text), sources)
        answers = answers_of(part, self.heading, number, sources)
        if self.plus and MINUS.search(part):
            hint = "write x if it was wrong, or blank if it was not answered"
            raise NotUnderstoodError(f"{part}: next to a plus, a minus may mean wrong", hint)
        for answer in answers:
            self._check(answer)
        for answer in answers:
            self._add(answer)
        return rest

    def _check(self, answer: SheetLine) -> None:
        if answer.remark and not self.known.no_patient:
            for _, what in find_identifiers(answer.remark):
                item = answer.question.partition(":")[2]
                message = f"{item}: the remark contains what looks like {what}"
                raise NotUnderstoodError(message, NOBODY_HINT, "patient-identifier")
        place = self.at.get((answer.heading.number, answer.question))
        if place is not None and self.answers[place].span == answer.span:
            item = answer.question.partition(":")[2]
            hint = "correct one; if you did it twice, put a new heading above the second"
            line = self.answers[place].line
            raise NotUnderstoodError(f"{item} is already on line {line}", hint)

    def _add(self, answer: SheetLine) -> None:
        """Add an answer; where ranges overlap, the narrower line counts."""
        at = (answer.heading.number, answer.question)
        place = self.at.get(at)
        if place is None:
            self.at[at] = len(self.answers)
            self.answers.append(answer)
        elif answer.span < self.answers[place].span:
            self.answers[place] = answer
