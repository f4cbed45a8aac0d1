"""A heading of a sheet: its day, source, area and round, in any order."""

import re
from dataclasses import replace
from datetime import date
from difflib import get_close_matches

from kb.core.errors import nearest
from kb.core.ids import parse_question
from kb.formats.answer_sheet.dates import TYPED, take_day
from kb.formats.answer_sheet.item_ranges import GLUED, ITEM
from kb.formats.answer_sheet.records import Heading, Known, NotUnderstoodError
from kb.formats.dates import find_date

SHORTEST_AREA = 4
"""Least letters typed of an area's name, where only one area begins so."""

DOUBTFUL = re.compile(r"\d{1,2} (?:may|mar|march)\b", re.I)
WEEKDAY = re.compile(
    r"(?:mon|tues?|wed(?:nes)?|thu(?:r|rs)?|fri|sat(?:ur)?|sun)(?:day)?[.,]?$", re.I
)
ROUND_WORDS = {
    **dict.fromkeys(("first", "1st", "round 1", "round one"), "first"),
    **dict.fromkeys(("second", "2nd", "round 2", "round two"), "second"),
    "paper": "paper",
}
FILLERS = ("and", "-", "the", "round", "bank", "block", "date", "area", "source", "from", "on")


def read_heading(line: str, before: Heading, known: Known) -> tuple[Heading, str] | None:
    """The heading from here on and the rest of the line, or None for an answer."""
    day, rest = take_day(line, known)
    if day is None and ITEM.match(GLUED.sub(r"\1 ", line)):
        return None
    named = Heading(day=day)
    unknown = weekday = ""
    while rest := rest.lstrip(" ,;:|.()[]"):
        item = named != Heading() and not unknown and ITEM.match(GLUED.sub(r"\1 ", rest))
        if item and take_day(rest, known)[0] is None:
            break
        if named.day is None:
            day, later = take_day(rest, known)
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
        if WEEKDAY.match(word):
            weekday = word.casefold()[:3]
            continue
        if sign or word.casefold().strip(".:") in FILLERS:
            continue
        if unknown:
            raise _unknown(unknown, known)
        unknown = word.casefold().strip(".:")
    if unknown:
        named = replace(named, source=_new_source(unknown, named, line, known))
    elif named == Heading():
        raise NotUnderstoodError("", "a heading has a date, a source, an area")
    _check_weekday(weekday, named.day)
    return _over(before, named), rest


def _check_weekday(weekday: str, day: date | None) -> None:
    """Refuse a day of the week that has no date, or another one than the date's."""
    if weekday and day is None:
        raise NotUnderstoodError("a day of the week alone", "write the date, such as 14 Jan")
    if weekday and day is not None and f"{day:%a}".casefold() != weekday:
        raise NotUnderstoodError(f"{day.isoformat()} is a {day:%A}", "correct one of them")


def _over(before: Heading, named: Heading) -> Heading:
    """A heading after another: what it does not name is kept; a source drops area and round."""
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
    like = get_close_matches(word, names, cutoff=0.75)
    certain = (named.day is not None and not DOUBTFUL.match(line)) or named.area
    fits = parse_question(f"{word}:1") is not None and not word[0].isdigit()
    if certain and fits and not like and not named.source:
        return word
    raise _unknown(word, known)


def _unknown(word: str, known: Known) -> NotUnderstoodError:
    message = f"'{word}' is not a source, an area or a question"
    names = [*known.sources, *known.areas, *ROUND_WORDS]
    close = get_close_matches(word, names)
    if not close and re.fullmatch(r"[a-z]{1,4}\d{1,6}[a-z]?|\d{1,6}[a-z]", word):
        hint = f"write an item with letters whole, such as north:{word}; a source as source {word}"
    else:
        hint = nearest(word, names) if close else f"if it is a source, write: source {word}"
    return NotUnderstoodError(message, hint)


def _longest_name(rest: str, heading: Heading, known: Known) -> tuple[Heading, str] | None:
    """The heading with the longest name at the beginning of `rest`, and what follows it."""
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
        source = phrase.removeprefix("source ")
        if parse_question(f"{source}:1") is not None:
            return replace(heading, source=source)
    if len(phrase) >= SHORTEST_AREA and " " not in phrase:
        begun = {area for name, area in known.areas.items() if name.startswith(phrase)}
        if len(begun) == 1:
            return replace(heading, area=begun.pop())
    return None


def meant_as_heading(line: str, known: Known) -> bool:
    """Whether a line not understood looks like a heading."""
    if find_date(line, TYPED, known.day_first) is not None:  # even one that does not exist
        return True
    if ITEM.match(GLUED.sub(r"\1 ", line)):
        return False
    words = set(re.split(r"[^\w-]+", line.casefold()))
    return bool(words & {*known.sources, *known.areas})


def format_heading(heading: Heading) -> str:
    """A heading as it is typed."""
    day = heading.day.isoformat() if heading.day else ""
    source = f"source {heading.source}" if heading.source else ""
    return " ".join(part for part in (day, source, heading.area, heading.round) if part)
