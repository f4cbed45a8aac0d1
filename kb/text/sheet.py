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
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date
from difflib import get_close_matches
from typing import TYPE_CHECKING

from kb.errors import Place, Problem, nearest
from kb.model import AreaId, Outcome, QuestionId, parse_question
from kb.text.sheet_marks import REMARK_SIGN, Marks, format_marks, read_marks, tidy

if TYPE_CHECKING:
    from collections.abc import Mapping

MOST_IN_RANGE = 300
SHORTEST_AREA = 4
"""Letters of an area's name that must be typed at least, where only one area begins so."""

MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
SOURCE = r"(?:(?P<source>[^\W\d][\w.-]*):)?"
ITEM = re.compile(
    SOURCE + r"(?P<first>\d{1,9})(?:\s*(?:-+|\bto\b)\s*(?P<last>\d{1,9})(?!\w))?(?!\w)", re.I
)
GLUED = re.compile(
    r"^((?:[^\W\d][\w.-]*:)?\d+)(?=(?:x|w|[a-j](?:/[a-j])?\s*-*>)(?:\W|[a-j]\b|$))", re.I
)
DAY_MONTH = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th)?[ .-]?\s?([a-z]{3,9})\.?(?:,? (\d{4}))?(?!\w)", re.I
)
MONTH_DAY = re.compile(r"([a-z]{3,9})\.? (\d{1,2})(?:st|nd|rd|th)?(?:,? (\d{4}))?(?!\w)", re.I)
NUMBERS = re.compile(r"(\d{1,2})[./](\d{1,2})(?:[./](\d{4}|\d{2}))?(?![\w/])")
ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?!\w)")
DOUBTFUL = re.compile(r"\d{1,2} (?:may|mar|march)\b", re.I)
WEEKDAY = re.compile(r"(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*[.,]?$", re.I)
ROUND_WORDS = {
    "first": "first",
    "1st": "first",
    "round 1": "first",
    "round one": "first",
    "second": "second",
    "2nd": "second",
    "round 2": "second",
    "round two": "second",
    "paper": "paper",
}
FILLERS = ("and", "-", "the", "round", "bank", "block", "date", "area", "source", "from", "on")

NO_AREA = AreaId("")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What a heading says. `day` is None until one names a date; `number` counts headings."""

    day: date | None = None
    source: str = ""
    area: AreaId = NO_AREA
    round: str = ""
    number: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """One answer of a sheet, with the heading that holds for it and its line, from 1.

    `span` is how many questions its line or range is about: the narrower one counts.
    """

    question: QuestionId
    outcome: Outcome
    heading: Heading
    line: int
    first: str = ""
    chosen: str = ""
    key: str = ""
    certainty: int | None = None
    seconds: float | None = None
    reason: str = ""
    remark: str = ""
    span: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftLine:
    """A line not understood, as it stood, with the heading that held for it."""

    line: int
    text: str
    heading: Heading


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What a sheet holds. `left` are the lines not understood, in order."""

    answers: tuple[SheetLine, ...] = ()
    left: tuple[LeftLine, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def undated_count(self) -> int:
        """Answers for which no heading names a date."""
        return sum(answer.heading.day is None for answer in self.answers)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What names on a sheet may mean: areas by every spelling, sources by id, and the date order.

    `day` is the day of the sheet: short dates are completed to the latest such day up to it.
    `today`, if given, is the last day that a heading may name.
    """

    areas: Mapping[str, AreaId]
    sources: tuple[str, ...]
    day: date
    day_first: bool = True
    today: date | None = None


class NotUnderstoodError(Exception):
    """A line of a sheet says nothing that can be taken."""

    def __init__(self, message: str, hint: str) -> None:
        super().__init__(message)
        self.hint = hint


def parse_sheet(text: str, path: str, known: Known) -> Sheet:
    """Read a sheet. Every line that is not understood is left, with a Problem that says why."""
    return _Reader(path, known).read(text)


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
        for number, raw in enumerate(lines, start=1):
            rest = tidy(raw)
            while rest:
                try:
                    rest = self._part(rest, number)
                except NotUnderstoodError as error:
                    self._leave(raw, rest, number, error)
                    rest = ""
        return Sheet(
            answers=tuple(self.answers),
            left=tuple(self.left),
            problems=tuple(self.problems),
        )

    def _leave(self, raw: str, rest: str, number: int, error: NotUnderstoodError) -> None:
        """Keep a line. If it was meant as a heading, the answers below it have no source, so that
        none of them is booked to the source of an earlier heading.
        """
        text = raw if rest == tidy(raw) else rest
        self.left.append(LeftLine(line=number, text=text, heading=self.heading))
        if _meant_as_heading(rest, self.known):
            self.heading = Heading(
                day=_day_or_none(rest, self.known), number=self.heading.number + 1
            )
        self.problems.append(
            Problem(
                place=Place(self.path, number),
                code="sheet-line",
                message=f"not understood: {str(error) or rest}",
                hint=error.hint,
            )
        )

    def _part(self, text: str, number: int) -> str:
        """Take one heading or one answer from the beginning of a line; returns what follows it."""
        found = _heading(text, self.heading, self.known)
        if found is not None:
            self.heading, rest = found
            return rest
        piece, rest = _piece(GLUED.sub(r"\1 ", text))
        answers = _answers(piece, self.heading, number)
        for answer in answers:
            self._check(answer)
        for answer in answers:
            self._add(answer)
        return rest

    def _check(self, answer: SheetLine) -> None:
        place = self.at.get((answer.heading.number, answer.question))
        if place is not None and self.answers[place].span == answer.span:
            item = answer.question.partition(":")[2]
            hint = "mend one of them; for a second try put a new heading above it"
            line = self.answers[place].line
            raise NotUnderstoodError(f"{item} stands on line {line} already", hint)

    def _add(self, answer: SheetLine) -> None:
        """Add an answer; where ranges overlap, the narrower line counts."""
        at = (answer.heading.number, answer.question)
        place = self.at.get(at)
        if place is None:
            self.at[at] = len(self.answers)
            self.answers.append(answer)
        elif answer.span < self.answers[place].span:
            self.answers[place] = answer


def _heading(line: str, before: Heading, known: Known) -> tuple[Heading, str] | None:
    """The heading that holds from here on and the rest of the line, or None for an answer."""
    day, rest = _take_day(line, known)
    if day is None and ITEM.match(GLUED.sub(r"\1 ", line)):
        return None
    named = Heading(day=day)
    unknown = ""
    while rest := rest.lstrip(" ,;:|.()[]"):
        if named != Heading() and not unknown and _begins_answers(rest, known):
            break
        if named.day is None:
            day, later = _take_day(rest, known)
            if day is not None:
                named, rest = replace(named, day=day), later
                continue
        found = _longest_name(rest, named, known)
        if found is not None:
            named, rest = found
            continue
        word = re.split(r"[\s,;|]", rest, maxsplit=1)[0]
        rest = rest[len(word) :]
        sign = not any(character.isalnum() for character in word)
        if sign or word.casefold().strip(".:") in FILLERS or WEEKDAY.match(word):
            continue
        if unknown:
            raise NotUnderstoodError(
                f"'{unknown}' is no source, area or item", _hint(unknown, known)
            )
        unknown = word.casefold().strip(".:")
    if unknown:
        named = replace(named, source=_new_source(unknown, named, line, known))
    elif named == Heading():
        raise NotUnderstoodError("", "a heading has a date, a source, an area")
    return _over(before, named), rest


def _over(before: Heading, named: Heading) -> Heading:
    """A heading after another: what it does not name stays, but area and round go with a source."""
    kept = before if not named.source else Heading(day=before.day)
    return Heading(
        day=named.day or kept.day,
        source=named.source or kept.source,
        area=named.area or kept.area,
        round=named.round or kept.round,
        number=before.number + 1,
    )


def _new_source(word: str, named: Heading, line: str, known: Known) -> str:
    """A source that was not declared: one word beside a date or an area, unlike any known name.

    `5 may be` is taken for item 5 and its remark rather than for a day in May.
    """
    names = [*known.sources, *known.areas, *ROUND_WORDS]
    like = get_close_matches(word, names, n=1, cutoff=0.75)
    told = (named.day is not None and not DOUBTFUL.match(line)) or named.area
    fits = parse_question(f"{word}:1") is not None and not word[0].isdigit()
    if told and fits and not like and not named.source:
        return word
    raise NotUnderstoodError(f"'{word}' is no source, area or item", _hint(word, known))


def _hint(word: str, known: Known) -> str:
    names = [*known.sources, *known.areas, *ROUND_WORDS]
    close = get_close_matches(word, names, n=1, cutoff=0.6)
    return nearest(word, names) if close else f"if it is a source, write: source {word}"


def _begins_answers(rest: str, known: Known) -> bool:
    glued = GLUED.sub(r"\1 ", rest)
    return ITEM.match(glued) is not None and _take_day(rest, known)[0] is None


def _longest_name(rest: str, heading: Heading, known: Known) -> tuple[Heading, str] | None:
    """The longest name at the beginning of `rest`, booked into the heading, and what follows."""
    words = [(match[0], match.end()) for match in re.finditer(r"[^\s,;|]+", rest)][:6]
    for length in range(len(words), 0, -1):
        phrase = " ".join(word for word, _ in words[:length]).strip(".:").casefold()
        found = _named(phrase, heading, known)
        if found is not None:
            return found, rest[words[length - 1][1] :]
    return None


def _named(phrase: str, heading: Heading, known: Known) -> Heading | None:
    for name in (phrase, phrase.replace(" ", "-"), phrase.replace(" ", "")):
        if name in known.sources:
            return replace(heading, source=name)
    if phrase in known.areas:
        return replace(heading, area=known.areas[phrase])
    if phrase in ROUND_WORDS:
        return replace(heading, round=ROUND_WORDS[phrase])
    if phrase.startswith("source "):
        source = phrase.removeprefix("source ").strip()
        if parse_question(f"{source}:1") is not None:
            return replace(heading, source=source)
    if len(phrase) >= SHORTEST_AREA and " " not in phrase:
        begun = {area for name, area in known.areas.items() if name.startswith(phrase)}
        if len(begun) == 1:
            return replace(heading, area=begun.pop())
    return None


def _meant_as_heading(line: str, known: Known) -> bool:
    dated = (ISO, NUMBERS, DAY_MONTH, MONTH_DAY)
    if any(_is_month(match) for pattern in dated if (match := pattern.match(line))):
        return True
    if ITEM.match(line):
        return False
    words = set(re.split(r"[^\w-]+", line.casefold()))
    return bool(words & {*known.sources, *known.areas})


def _is_month(match: re.Match[str]) -> bool:
    word = next((group for group in match.groups() if group and group.isalpha()), "")
    return not word or _month(word) > 0


def _month(word: str) -> int:
    """Number of a month by its name, shortened to three letters or more; 0 if it is none."""
    names = [n for n, name in enumerate(MONTHS, start=1) if name.startswith(word.casefold())]
    return names[0] if len(names) == 1 and len(word) >= 3 else 0


def _take_day(line: str, known: Known) -> tuple[date | None, str]:
    """A date at the beginning of a line, and the rest of it."""
    match = ISO.match(line)
    if match:
        return _day(int(match[1]), int(match[2]), int(match[3]), known), line[match.end() :]
    match = DAY_MONTH.match(line)
    if match and _month(match[2]):
        day = _completed(match[3], _month(match[2]), int(match[1]), known)
        return day, line[match.end() :]
    match = MONTH_DAY.match(line)
    if match and _month(match[1]):
        day = _completed(match[3], _month(match[1]), int(match[2]), known)
        return day, line[match.end() :]
    match = NUMBERS.match(line)
    if match:
        one, two = int(match[1]), int(match[2])
        month, number = (two, one) if known.day_first else (one, two)
        return _completed(match[3], month, number, known), line[match.end() :]
    return None, line


def _day_or_none(line: str, known: Known) -> date | None:
    try:
        return _take_day(line, known)[0]
    except NotUnderstoodError:
        return None


def _completed(year: str | None, month: int, number: int, known: Known) -> date:
    """A date without a year is the latest such day that is not after the sheet's own day."""
    if year:
        return _day(int(year) + (2000 if len(year) == 2 else 0), month, number, known)
    found = _day(known.day.year, month, number, known, check=False)
    return found if found <= known.day else _day(known.day.year - 1, month, number, known)


def _day(year: int, month: int, number: int, known: Known, *, check: bool = True) -> date:
    try:
        found = date(year, month, number)
    except ValueError as error:
        hint = "write it as 14 Jan or 2027-01-14"
        raise NotUnderstoodError(f"{year}-{month:02}-{number:02} is no date", hint) from error
    if check and known.today is not None and found > known.today:
        hint = "answers are logged when they were given"
        raise NotUnderstoodError(f"{found.isoformat()} is still to come", hint)
    return found


BEFORE_REMARK = re.compile(rf"(?:^|\s){REMARK_SIGN}(?:\s|$)")
NEXT = re.compile(
    r"\s*[,;]\s*(?=(?:[^\W\d][\w.-]*:)?(?P<number>\d{1,9})(?:\s*-+\s*\d{1,9})?"
    r"(?:(?P<alone>\s*(?:$|[,;]))|\s*(?P<mark>[?_]|x\b|[\u2713\u2717]|-\s*(?:$|[,;])|"
    r"[a-j](?:/[a-j])?\s*-*>\s*[a-j]\b|"
    r"(?:right|wrong|blank|skipped|guess(?:ed)?|ok|c[123]|\d{1,4}\s?s)\b)|(?=\s)))",
    re.I,
)
UNIT = re.compile(
    r"[\d.]+\s*(?:%|m?g|mcg|ml|mm|cm|mmol|mosm|units?|times|bpm|kpa|"
    r"(?:second|minute|hour|day|week|month|year|fold)s?)\b",
    re.I,
)
"""A number with a unit belongs to a remark."""


def _piece(line: str) -> tuple[str, str]:
    """One answer from the beginning of a line, and the rest behind its comma.

    A comma divides where another item follows. Behind a remark that item must bear a mark and be
    one of the next few, since a remark may hold commas and numbers of its own.
    """
    match = ITEM.match(line)
    if match is None:
        return line, ""
    sign = BEFORE_REMARK.search(line, match.end())
    end = sign.start() if sign else len(line)
    for comma in NEXT.finditer(line, match.end(), end):
        before, after = line[: comma.start()], line[comma.end() :]
        plain = not read_marks(_behind(before, match.end()))[1]
        ahead = 0 < int(comma["number"]) - int(match["last"] or match["first"]) <= MOST_IN_RANGE
        told = comma["mark"] is not None or (plain and comma["alone"] is not None)
        likely = ahead and plain and not UNIT.match(after)
        if (told and (plain or ahead)) or likely:
            return before, after
    return line, ""


def _behind(line: str, start: int) -> str:
    return re.sub(r"^[\s.):]+", "", line[start:]) if start else line


def _answers(line: str, heading: Heading, number: int) -> list[SheetLine]:
    match = ITEM.match(line)
    if match is None:
        raise NotUnderstoodError("", "a line begins with the number of a question")
    listed = _listed(line)
    if listed:
        return [answer for part in listed for answer in _answers(part, heading, number)]
    source = (match["source"] or heading.source).casefold()
    if not source:
        hint = "put a heading with the source above it, such as: 14 Jan north"
        raise NotUnderstoodError(f"'{match[0]}' has no source", hint)
    if source != heading.source:
        heading = Heading(day=heading.day, source=source, number=heading.number)
    marks, remark = read_marks(_behind(line, match.end()))
    if marks.unclear:
        raise NotUnderstoodError(f"{match[0]}: {marks.unclear}", marks.unclear_hint)
    found = []
    items = _items(match)
    for item in items:
        question = parse_question(f"{source}:{item}")
        if question is None:
            raise NotUnderstoodError(f"'{source}' is no source", "such as north")
        found.append(_line(question, heading, number, marks, remark, len(items)))
    return found


def _listed(line: str) -> list[str]:
    """Items of a line that has nothing but items with spaces between, if it has several."""
    parts = line.replace(",", " ").split()
    several = len(parts) > 1 and all(re.fullmatch(r"\d{1,9}(?:-+\d{1,9})?", p) for p in parts)
    return parts if several else []


def _items(match: re.Match[str]) -> range:
    first = int(match["first"])
    last = int(match["last"] or first)
    if match["last"] and len(match["last"]) < len(match["first"]):
        last = int(match["first"][: -len(match["last"])] + match["last"])
    if not first <= last < first + MOST_IN_RANGE:
        hint = f"a range goes up, over at most {MOST_IN_RANGE} questions"
        raise NotUnderstoodError(f"the range {match[0]}", hint)
    return range(first, last + 1)


def _line(
    question: QuestionId, heading: Heading, number: int, marks: Marks, remark: str, span: int
) -> SheetLine:
    return SheetLine(
        question=question,
        outcome=marks.outcome,
        heading=heading,
        line=number,
        first=marks.first,
        chosen=marks.chosen,
        key=marks.key,
        certainty=marks.certainty,
        seconds=marks.seconds,
        reason=marks.reason,
        remark=remark,
        span=span,
    )


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
        lines.append(_format_line(answer, item))
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
    if _piece(plain) == (plain, "") and not _listed(plain) and GLUED.sub("", plain) == plain:
        match = ITEM.match(plain)
        whole = (marks, answer.remark)
        if match and not match["last"] and read_marks(_behind(plain, match.end())) == whole:
            return plain
    return f"{head} {REMARK_SIGN} {answer.remark}"
