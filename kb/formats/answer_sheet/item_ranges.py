"""A line of answers: its questions, and where one answer ends and the next begins."""

import re
from collections.abc import Collection

from kb.core.errors import likely_slip
from kb.core.ids import parse_question
from kb.formats.answer_sheet.answer_codes import REMARK_SIGN, Codes, read_codes
from kb.formats.answer_sheet.records import Heading, NotUnderstoodError, SheetLine

MOST_IN_RANGE = 300

LETTERED = r"[^\W\d][\w.-]*:(?:[a-z]{1,4}\d{1,6}[a-z]?|\d{1,6}[a-vyz])(?=[\s,;.]|$)"
"""A whole reference whose item has letters. Without its source, b12 or 17c could be a remark or an
option; and an item followed by x or w is wrong.
"""
SOURCE = r"(?:(?P<source>[^\W\d][\w.-]*):)?"
ITEM = re.compile(
    rf"(?P<lettered>{LETTERED})|"
    + SOURCE
    + r"(?P<first>\d{1,9})(?:\s*(?:-+|\bto\b|\bthr(?:ough|u)\b)\s*(?P<last>\d{1,9})(?!\w))?(?!\w)",
    re.I,
)
GLUED = re.compile(
    r"^((?:[^\W\d][\w.-]*:)?\d+)(?=(?:x|w|[a-j](?:/[a-j])?\s*-*>)(?:\W|[a-j]\b|$))", re.I
)
SHARED = re.compile(
    rf"(?P<first>{SOURCE}\d{{1,9}})(?:\s*[,;]\s*\d{{1,9}})+\s+(?P<mark>[^\d,;][^,;]*)"
)
MINUS_ONE = re.compile(r"\s-\s?[01]$")
EXCEPTED = re.compile(
    r"\d|\b(?:except|excluding|but|bar|apart|other than"
    r"|not|save|without|minus|rest|half|most|some)\b",
    re.I,
)
"""In the remark on a range: it may name exceptions."""
BEFORE_REMARK = re.compile(rf"(?:^|\s){REMARK_SIGN}(?:\s|$)")
NEXT = re.compile(
    rf"\s*[,;]\s*(?=(?P<lettered>{LETTERED})|"
    r"(?:[^\W\d][\w.-]*:)?(?P<number>\d{1,9})(?:\s*-+\s*\d{1,9})?[:.)=]?"
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


def piece(line: str, sources: Collection[str] | None = None) -> tuple[str, str]:
    """One answer from the beginning of a line, and the rest behind its comma.

    A comma ends an answer where another item follows. After a remark that item must have a code and
    be one of the next few, since a remark may hold commas and numbers of its own; or it must be an
    item with letters of one of `sources` (of any, if None).
    """
    match = ITEM.match(line)
    if match is None:
        return line, ""
    sign = BEFORE_REMARK.search(line, match.end())
    end = sign.start() if sign else len(line)
    plain = True  # codes alone so far; once there is a remark, it only grows
    for comma in NEXT.finditer(line, match.end(), end):
        before, after = line[: comma.start()], line[comma.end() :]
        if comma["lettered"]:
            if sources is None or comma["lettered"].partition(":")[0].casefold() in sources:
                return before, after
            continue
        plain = plain and not read_codes(behind(before, match.end()))[1]
        last = match["last"] or match["first"]
        ahead = last is not None and 0 < int(comma["number"]) - int(last) <= MOST_IN_RANGE
        marked = comma["mark"] is not None or (plain and comma["alone"] is not None)
        likely = ahead and plain and not UNIT.match(after)
        if (marked and (plain or ahead)) or likely:
            return before, after
    return line, ""


def check_shared_mark(line: str) -> None:
    """Refuse a list of items with one mark behind the last: `5, 6, 7 x`.

    Raises:
        NotUnderstoodError: It may be of all of them, or of the last alone.
    """
    match = SHARED.fullmatch(line)
    codes = read_codes(match["mark"])[0] if match else None
    if match and codes and codes.outcome != "right" and not codes.key and not codes.unclear:
        first, mark = match["first"], match["mark"].split()[0]
        hint = f"give each its own: {first} {mark}, or {first} ok if only the last was"
        raise NotUnderstoodError(f"{line}: is '{mark}' of all of them?", hint)


def behind(line: str, start: int) -> str:
    """What follows an item, without the sign between them."""
    return re.sub(r"^(?:[\s.):=,;|~*]|/(?!/))+", "", line[start:]) if start else line


def answers_of(
    line: str, heading: Heading, number: int, sources: Collection[str]
) -> list[SheetLine]:
    """The answers of a line or part of it; `sources` are those whose items may have letters.

    Raises:
        NotUnderstoodError: They cannot be logged as they are.
    """
    match = ITEM.match(line)
    if match is None:
        raise NotUnderstoodError("", "a line begins with the number of a question")
    parts = listed(line)
    if (len(parts) == 2 and parts[1] in ("0", "1")) or MINUS_ONE.search(match[0]):
        hint = "write x if it was wrong and ok if it was right, or put a comma between two items"
        raise NotUnderstoodError(f"{line}: is it right or wrong?", hint)
    if parts:
        return [answer for part in parts for answer in answers_of(part, heading, number, sources)]
    if match["lettered"]:
        source, _, lettered = match["lettered"].partition(":")
        source = source.casefold()
        if source not in sources:
            meant = likely_slip(source, sources)
            hint = "if it is one, declare it in study.yaml, under 'sources:'"
            hint = f"did you mean {meant}?" if meant else hint
            raise NotUnderstoodError(f"'{source}' is not a source", hint)
    else:
        source, lettered = (match["source"] or heading.source).casefold(), ""
    if not source:
        hint = "put a heading with the source above it, such as: 14 Jan north"
        raise NotUnderstoodError(f"'{match[0]}' has no source", hint)
    if source != heading.source:
        heading = Heading(day=heading.day, source=source, number=heading.number)
    codes, remark = read_codes(behind(line, match.end()))
    if codes.unclear:
        raise NotUnderstoodError(f"{match[0]}: {codes.unclear}", codes.unclear_hint)
    items = (lettered,) if lettered else _items(match)
    questions = [q for item in items if (q := parse_question(f"{source}:{item}")) is not None]
    if not questions:
        raise NotUnderstoodError(f"'{source}' is not a source", "such as north")
    span = len(items)
    if span > 1 and remark and REMARK_SIGN not in line and not_for_all(codes, remark):
        hint = f"write its exceptions on lines of their own; {REMARK_SIGN} before a remark"
        raise NotUnderstoodError(f"{match[0]}: are all {span} {codes.outcome}?", hint)
    return [
        SheetLine(
            question=own, heading=heading, line=number, remark=remark, span=span, **codes.values
        )
        for own in questions
    ]


def not_for_all(codes: Codes, remark: str) -> bool:
    """Whether the remark on a range may say that not all of its items have one outcome."""
    return not codes.is_said or EXCEPTED.search(remark) is not None


def listed(line: str) -> list[str]:
    """The items of a line that is only items with spaces between; empty unless it has several."""
    parts = line.replace(",", " ").split()
    several = len(parts) > 1 and all(re.fullmatch(r"\d{1,9}(?:-+\d{1,9})?", p) for p in parts)
    return parts if several else []


def _items(match: re.Match[str]) -> range:
    first = int(match["first"])
    last = first
    if match["last"]:  # 1041-9 ends at 1049
        last = int(match["first"][: -len(match["last"])] + match["last"])
        if first == last:
            hint = "write x if it was wrong, ok if right"
            raise NotUnderstoodError(f"the range {match[0]}", hint)
    if not first <= last < first + MOST_IN_RANGE:
        hint = f"a range goes up, over at most {MOST_IN_RANGE} questions"
        raise NotUnderstoodError(f"the range {match[0]}", hint)
    return range(first, last + 1)
