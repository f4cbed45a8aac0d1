"""The answer sheet: what a doctor types on a phone, a line for each question.

A heading line names date, source, area, round or sitting and holds for the lines below it. Any
other line is one question or a range, a mark, and what one wants to remember:

    14 Jan north nephrology
    1041                      right
    1042 x C>B gout vs pseudogout
    1043 ?                    right, but a guess
    1044-1052                 all right
    1053 -                    not answered

Pure: text in, drafts and Problems out. Nothing here asks the clock; the caller gives the day.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from kb.errors import Place, Problem, nearest
from kb.model import REASONS, ROUNDS, AreaId, Outcome, QuestionId, parse_question

if TYPE_CHECKING:
    from collections.abc import Mapping

MOST_IN_RANGE = 300
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
DASHES = "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe58\ufe63\uff0d\u00ad"
ARROWS = "\u2192\u279c\u279d\u27a1\u203a\u00bb"

ITEM = re.compile(r"(?:(?P<source>[^\W\d][\w.-]*):)?(?P<first>\d+)(?:\s*-\s*(?P<last>\d+))?(?!\w)")
CHANGE = re.compile(
    r"(?:(?P<first>[a-j])\s*/\s*)?(?P<chosen>[a-j])\s*>+\s*(?P<key>[a-j])(?!\w)", re.I
)
SECONDS = re.compile(r"(\d{1,4})\s*s(?:ec(?:onds?)?)?(?!\w)", re.I)
CERTAINTY = re.compile(r"c\s*=?\s*([123])(?!\w)", re.I)
DAY_MONTH = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?\s+([a-z]{3,9})\.?(?:,?\s+(\d{4}))?(?!\w)", re.I)
NUMBERS = re.compile(r"(\d{1,2})[./](\d{1,2})(?:[./](\d{4}|\d{2}))?(?![\w./])")
ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?!\w)")

WRONG = ("x", "\u00d7", "\u2717", "\u2718", "\u2715", "\u2716", "\u274c", "wrong", "w")
RIGHT = ("\u2713", "\u2714", "\u2705", "right", "ok", "r")
GUESS = ("?", "guess", "guessed")
BLANK = ("-", "_", "blank", "skipped", "none")
AUTOCORRECTED = {"×": "x", "\u2753": "?", "\u2754": "?", "\u00bf": "?", "\uff1f": "?"}


NO_AREA = AreaId("")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What a heading says; empty parts keep what stood before."""

    day: date | None = None
    source: str = ""
    area: AreaId = NO_AREA
    round: str = ""
    sitting: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """One answer of a sheet, with the heading that holds for it and its line, from 1."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What a sheet holds. `left` are the lines not understood, as they stood: (line, text)."""

    answers: tuple[SheetLine, ...] = ()
    left: tuple[tuple[int, str], ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What names on a sheet may mean: areas by every spelling, sources by id, and the date order.

    `day` is the day of the sheet where no heading gives one; its year completes short dates.
    """

    areas: Mapping[str, AreaId]
    sources: tuple[str, ...]
    day: date
    day_first: bool = True


def parse_sheet(text: str, path: str, known: Known) -> Sheet:
    """Read a sheet. Every line that is not understood is left, with a Problem that says why."""
    heading = Heading(day=known.day)
    answers: list[SheetLine] = []
    left: list[tuple[int, str]] = []
    problems: list[Problem] = []
    for number, raw in enumerate(text.removeprefix("\ufeff").splitlines(), start=1):
        for part in _pieces(_tidy(raw)):
            try:
                found = _heading(part, heading, known)
                if found is not None:
                    heading = found
                else:
                    answers.extend(_answers(part, heading, number))
            except _NotUnderstoodError as error:
                if _meant_as_heading(part, known):
                    heading = Heading(day=known.day)
                left.append((number, raw))
                problems.append(
                    Problem(
                        place=Place(path, number),
                        code="sheet-line",
                        message=f"not understood: {str(error) or part}",
                        hint=error.hint,
                    )
                )
    return Sheet(answers=tuple(answers), left=tuple(left), problems=tuple(problems))


class _NotUnderstoodError(Exception):
    def __init__(self, message: str, hint: str) -> None:
        super().__init__(message)
        self.hint = hint


def _tidy(line: str) -> str:
    """One spelling for what phones make of dashes, arrows, full-width signs and emoji."""
    line = unicodedata.normalize("NFKC", line)
    for old in DASHES:
        line = line.replace(old, "-")
    for old in ARROWS:
        line = line.replace(old, ">")
    for old, new in AUTOCORRECTED.items():
        line = line.replace(old, new)
    kept = (c for c in line if unicodedata.category(c) not in ("Cf", "Mn", "Cc", "Cs") or c == "\t")
    return " ".join("".join(kept).split()).strip("\u2022*\u00b7 ")


def _pieces(line: str) -> list[str]:
    """A line, divided where a comma or semicolon is followed by another item number."""
    if not line or line.startswith("#"):
        return []
    if not ITEM.match(line):
        return [line]
    return [
        part.strip()
        for part in re.split(r"[,;]\s*(?=\d+\s*(?:$|[,;x?\-]|\d|[a-z]\b))", line, flags=re.I)
    ]


def _heading(line: str, before: Heading, known: Known) -> Heading | None:
    """The heading that holds from this line on, or None if the line is an answer."""
    day, rest = _take_day(line, known)
    if day is None and ITEM.match(line):
        return None
    new = replace(before, day=day or before.day)
    words = [word for word in re.split(r"[,;|:]?\s+|[,;|]", rest.casefold().strip(" :,")) if word]
    at = 0
    while at < len(words):
        for length in range(min(5, len(words) - at), 0, -1):
            phrase = " ".join(words[at : at + length]).strip(":,.")
            found = _named(phrase, new, known)
            if found is not None:
                new, at = found, at + length
                break
        else:
            if words[at] in ("and", "-", "the", "round", "sitting", "bank", "paper", "block"):
                at += 1
                continue
            names = [*known.sources, *known.areas, *ROUNDS]
            hint = nearest(words[at], names) or "a heading has a date, a source, an area"
            raise _NotUnderstoodError(f"'{words[at]}' is no source, area or item", hint)
    return new


def _meant_as_heading(line: str, known: Known) -> bool:
    """Whether a line that failed was a heading: the answers below it then have no source, so that
    none is booked to the source of an earlier heading.
    """
    if ITEM.match(line) and not NUMBERS.match(line) and not DAY_MONTH.match(line):
        return False
    words = set(re.split(r"\W+", line.casefold()))
    return bool(words & {*known.sources, *known.areas})


def _named(phrase: str, heading: Heading, known: Known) -> Heading | None:
    if phrase in known.sources:
        return replace(heading, source=phrase, area=NO_AREA)
    if phrase in known.areas:
        return replace(heading, area=known.areas[phrase])
    if phrase in ROUNDS:
        return replace(heading, round=phrase)
    if phrase.startswith("source "):
        source = phrase.removeprefix("source ").strip()
        if parse_question(f"{source}:1") is not None:
            return replace(heading, source=source, area=NO_AREA)
    return None


def _take_day(line: str, known: Known) -> tuple[date | None, str]:
    """A date at the beginning of a line, and the rest of it."""
    match = ISO.match(line)
    if match:
        return _day(int(match[1]), int(match[2]), int(match[3])), line[match.end() :]
    match = DAY_MONTH.match(line)
    if match and match[2][:3].casefold() in MONTHS:
        month = MONTHS.index(match[2][:3].casefold()) + 1
        return _completed(match[3], month, int(match[1]), known), line[match.end() :]
    match = NUMBERS.match(line)
    if match:
        one, two = int(match[1]), int(match[2])
        month, day = (two, one) if known.day_first else (one, two)
        return _completed(match[3], month, day, known), line[match.end() :]
    return None, line


def _completed(year: str | None, month: int, day: int, known: Known) -> date:
    """A date without a year is the latest such day that is not after the sheet's own day."""
    if year:
        return _day(int(year) + (2000 if len(year) == 2 else 0), month, day)
    found = _day(known.day.year, month, day)
    return found if found <= known.day else _day(known.day.year - 1, month, day)


def _day(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError as error:
        hint = "write it as 14 Jan or 2027-01-14"
        raise _NotUnderstoodError(f"{year}-{month:02}-{day:02} is no date", hint) from error


def _answers(line: str, heading: Heading, number: int) -> list[SheetLine]:
    match = ITEM.match(line)
    if match is None:
        raise _NotUnderstoodError("", "a line begins with the number of a question")
    source = (match["source"] or heading.source).casefold()
    if not source:
        hint = "put a heading with the source above it, such as: 14 Jan north"
        raise _NotUnderstoodError(f"'{match[0]}' has no source", hint)
    first = int(match["first"])
    last = int(match["last"] or first)
    if match["last"] and len(match["last"]) < len(match["first"]):
        last = int(match["first"][: -len(match["last"])] + match["last"])
    if not first <= last < first + MOST_IN_RANGE:
        hint = f"a range goes up, over at most {MOST_IN_RANGE} questions"
        raise _NotUnderstoodError(f"the range {match[0]}", hint)
    draft = _marks(line[match.end() :].lstrip(" :.)"), heading, number)
    found = []
    for item in range(first, last + 1):
        question = parse_question(f"{source}:{item}")
        if question is None:
            raise _NotUnderstoodError(f"'{source}' is no source", "such as north")
        found.append(replace(draft, question=question))
    return found


def _marks(rest: str, heading: Heading, number: int) -> SheetLine:
    """Everything behind the item: mark, options, certainty, seconds, reason, remark.

    Marks stand at the front in any order; the first word that is none begins the remark.
    """
    outcome: Outcome = "right"
    told: dict[str, str] = {}
    certainty: int | None = None
    seconds: float | None = None
    while rest:
        match = CHANGE.match(rest)
        if match and "key" not in told:
            told.update(first=match["first"] or "", chosen=match["chosen"], key=match["key"])
            same = match["chosen"].casefold() == match["key"].casefold()
            outcome = "right" if same else "wrong"
            rest = _after(rest, match.end())
            continue
        word = rest.split(maxsplit=1)[0]
        plain = word.casefold().strip(",;")
        if plain in WRONG and outcome != "blank":
            outcome = "wrong"
        elif plain in RIGHT and "key" not in told:
            outcome = "right"
        elif plain in GUESS:
            certainty = 1
        elif plain in BLANK and not told:
            outcome = "blank"
        elif plain in REASONS:
            told["reason"] = plain
        elif found := CERTAINTY.fullmatch(plain):
            certainty = int(found[1])
        elif found := SECONDS.fullmatch(plain):
            seconds = float(found[1])
        else:
            break
        rest = _after(rest, len(word))
    return SheetLine(
        question=_PLACEHOLDER,
        outcome=outcome,
        heading=heading,
        line=number,
        first=told.get("first", "").upper(),
        chosen=told.get("chosen", "").upper(),
        key=told.get("key", "").upper(),
        certainty=certainty,
        seconds=seconds,
        reason=told.get("reason", ""),
        remark=rest.strip(),
    )


def _after(rest: str, end: int) -> str:
    return rest[end:].lstrip(" ,;")


_PLACEHOLDER = QuestionId("")


def format_sheet(answers: tuple[SheetLine, ...]) -> str:
    """Answers as a sheet in its one tidy spelling, a heading wherever it changes."""
    lines: list[str] = []
    shown: Heading | None = None
    for answer in answers:
        source, _, item = answer.question.partition(":")
        heading = replace(answer.heading, source=source)
        if heading != shown:
            parts = [heading.day.isoformat() if heading.day else "", source, heading.area]
            lines.append(" ".join(part for part in (*parts, heading.round) if part))
            shown = heading
        lines.append(_format_line(answer, item))
    return "\n".join(lines) + "\n" if lines else ""


def _format_line(answer: SheetLine, item: str) -> str:
    mark = {"right": "", "wrong": "x", "blank": "-"}[answer.outcome]
    change = f"{answer.chosen}>{answer.key}" if answer.chosen and answer.key else ""
    if change and answer.first:
        change = f"{answer.first}/{change}"
    certainty = f"c{answer.certainty}" if answer.certainty else ""
    seconds = f"{answer.seconds:.0f}s" if answer.seconds is not None else ""
    parts = (item, mark, change, certainty, seconds, answer.reason, answer.remark)
    return " ".join(part for part in parts if part)
