"""The cells of a table of answers: days in their order, outcomes in their words, seconds.

Cells are as `table_reader` gives them: white space is single, and none is around them.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from kb.core.ids import OUTCOME_OF, REASONS, Outcome
from kb.formats.answer_sheet.answer_codes import tidy
from kb.formats.answer_sheet.outcome_words import of_cell
from kb.formats.dates import find_date

YEAR = r"(?P<year>\d{4}|\d{2})(?!\d)"
NAME, NTH = r"(?P<month>[a-z]{3})[a-z]{0,6}\.?", r"(?P<day>\d{1,2})(?:st|nd|rd|th)?"
NUMBERS = re.compile(rf"(?P<one>\d{{1,2}})[-/. ](?P<two>\d{{1,2}})[-/. ]{YEAR}")
TYPED = (
    re.compile(r"(?P<year>\d{4})[-/.](?P<month>\d{1,2})[-/.](?P<day>\d{1,2})(?!\d)"),
    NUMBERS,
    re.compile(rf"{NTH}[- ]{NAME},?[- ]{YEAR}", re.I),
    re.compile(rf"{NAME} {NTH},? (?P<year>\d{{4}})(?!\d)", re.I),
)
"""Dates of a table; of the name of a month only the first letters count, as in `Juli`."""
MIDDAY = re.compile(r"(?:12(?:[:.]00)? )?(?:(noon|midday)|midnight)", re.I)
CLOCK = re.compile(
    r"(\d{1,2})(?:[:.](\d{2})(?:[:.](\d{2})(?:[.,]\d+)?)?)?\s*([ap]\.?\s?m\.?)?"
    r"\s*(z|(?:utc|gmt)?[+-]\d{1,2}(?::?\d{2})?|utc|gmt)?",
    re.I,
)
CERTAINTIES = {
    **dict.fromkeys(("1", "low", "guess", "guessed", "unsure", "not sure"), 1),
    **dict.fromkeys(("2", "medium", "mid", "fairly sure", "moderate"), 2),
    **dict.fromkeys(("3", "high", "sure", "certain", "very sure"), 3),
}
NEGATED: dict[str, Outcome] = {
    **dict.fromkeys(("1", "yes", "y", "true", "t", "x", "\u2713", "\u2714"), "wrong"),
    **dict.fromkeys(("ja", "oui", "si", "s\u00ed", "sim", "tak"), "wrong"),
    **dict.fromkeys(("0", "no", "n", "false", "f", "nein", "non", "nee", "nej", "nie"), "right"),
}
"""What a cell means in a column that is named for wrong answers."""
OPTION = re.compile(
    r"(?:(?:option|answer|choice)\s+)?[(\[]?([a-j])(?:[)\].:]+(?:\s+(.*))?|\s+[-\u2013]\s+(.*))?",
    re.I,
)
"""An option by its letter, alone or before its words."""
MOST_SECONDS = 100_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """How the columns of a table are read: the order of its dates, its decimal comma.

    `notes` say what was detected and what was assumed.
    """

    day_first: bool
    decimal_comma: bool = False
    notes: tuple[str, ...] = ()


def find_reading(days: Iterable[str], numbers: Iterable[str], *, day_first: bool) -> Reading:
    """Work out the order of dates and the decimal sign from all cells of their columns.

    `day_first` is the order that is assumed where the cells do not decide it.
    """
    notes: list[str] = []
    pairs = [(int(m[1]), int(m[2])) for text in days if (m := NUMBERS.match(text))]
    first_big, second_big = (any(pair[at] > 12 for pair in pairs) for at in (0, 1))
    names = {True: "day before month", False: "month before day"}
    if first_big and second_big:
        notes.append(f"dates {names[day_first]}; some are the other way round")
    elif first_big or second_big:
        day_first = first_big
        notes.append(f"dates {names[day_first]}")
    elif pairs:
        notes.append(f"dates {names[day_first]} (assumed; day_first in study.yaml)")
    comma = _has_decimal_comma(list(numbers))
    if comma:
        notes.append("decimal comma")
    return Reading(day_first=day_first, decimal_comma=comma, notes=tuple(notes))


def _has_decimal_comma(numbers: Sequence[str]) -> bool:
    """Whether a comma divides decimals: it does where other than three digits follow it, or where
    it follows a point.
    """
    with_comma = [text for text in numbers if "," in text]
    if any(re.search(r"\.\d{3},\d+\s*\D*$", text) for text in with_comma):
        return True
    if any("." in text for text in numbers):
        return False
    return any(re.search(r",(?!\d{3}(?!\d))\d+", text) for text in with_comma)


def parse_when(text: str, reading: Reading) -> tuple[date, time | None, timedelta | None] | None:
    """A day, the time of day if there is one, and its offset if given; None if it is not a date."""
    found = find_date(text, TYPED, reading.day_first)
    try:
        day = date(found[0] or 0, found[1], found[2]) if found else None
    except ValueError:
        day = None
    if found is None or day is None:
        return None
    rest = re.sub(r"^(?:T|,|\s|at\b)+", "", found[3], flags=re.I)
    clock = parse_clock(rest) if rest else (None, None)
    return None if clock is None else (day, *clock)


def parse_clock(text: str) -> tuple[time, timedelta | None] | None:
    """A time of day such as 19:42, 7.42 pm, 12 noon or 19:42:10+01:00, and its offset if given.

    24:00, the end of the day in ISO 8601, is its last second, so that the day stays what it was.
    """
    text = MIDDAY.sub(lambda named: "12:00" if named[1] else "0:00", text.replace("\u2212", "-"))
    match = CLOCK.fullmatch(text)
    if match is None or not (match[2] or match[4]):
        return None
    if re.fullmatch(r"24[:.]00(?:[:.]00)?(?:[.,]0+)?", text):
        return time(23, 59, 59), None
    hour = int(match[1])
    half = (match[4] or "").casefold()[:1]
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "p" else 0)
    try:
        clock = time(hour, int(match[2] or 0), int(match[3] or 0))
    except ValueError:
        return None
    offset = re.sub(r"(?i)utc|gmt", "", match[5] or "")
    if not match[5]:
        return clock, None
    if offset in ("", "z", "Z"):
        return clock, timedelta(0)
    hours, minutes = int(offset[1:3].rstrip(":")), re.search(r"(?<=.{2})[\d]{2}$", offset[1:])
    away = timedelta(hours=hours, minutes=int(minutes[0]) if minutes else 0)
    if away > timedelta(hours=14):
        return None
    return clock, -away if offset[0] == "-" else away


def moment(day: date, clock: time, offset: timedelta | None, zone: ZoneInfo) -> datetime | None:
    """An aware moment on the doctor's clock; None where the calendar ends."""
    try:
        if offset is not None:
            return (datetime.combine(day, clock, UTC) - offset).astimezone(zone)
        return datetime.combine(day, clock, zone)
    except OverflowError:
        return None


def parse_outcome(text: str) -> Outcome | None:
    """The outcome a cell names, in any of its usual words; None if it names none."""
    word = of_cell(_whole(text))
    return OUTCOME_OF[word] if word else None


def parse_mark(text: str, *, negative: bool, paired: bool) -> Outcome | None:
    """The outcome of a cell in a column that is named for right or for wrong answers; None if it
    names none, or may be either.

    `negative` columns are named for wrong answers, so that yes means wrong. Where there is a column
    for the opposite, the column is `paired`: a cross only marks it.
    """
    plain = _whole(text)
    if negative:
        known = parse_outcome(text)
        certain = known == "blank" or plain.startswith(("wrong", "incorrect", "right", "correct"))
        return NEGATED.get(plain) or (known if certain and plain != "-" else None)
    return "right" if paired and plain == "x" else parse_outcome(text)


def _whole(text: str) -> str:
    """A cell in small letters, 1.0 as 1."""
    return re.sub(r"(?<=^[01])[.,]0+$", "", tidy(text)).casefold()


def split_option(text: str) -> tuple[str, str]:
    """The letter of an option and its words: `B`, `b) Gout` and `Option B: gout` have one."""
    match = OPTION.fullmatch(text)
    return (match[1].upper(), match[2] or match[3] or "") if match else ("", text)


def compare_options(chosen: str, key: str, *, lettered: bool) -> Outcome | None:
    """Right if both are the same option, wrong if they differ, blank if none was chosen; None if
    they are written so differently that either may be meant.

    In a `lettered` table all options begin with their letter; else `C. difficile` is words.
    """
    if not chosen:
        return "blank"
    if chosen.casefold() == key.casefold():
        return "right"
    if not lettered:
        return None if len(chosen) == 1 or len(key) == 1 else "wrong"
    (letter, words), (key_letter, key_words) = split_option(chosen), split_option(key)
    if letter != key_letter:
        return "wrong"
    return None if words and key_words else "right"


def parse_seconds(text: str, reading: Reading) -> float | None:
    """Seconds from 62, 62.5, 62,5, 1:02, 62 s, 1 m 2 s, 1 min; None if it is not a duration."""
    plain = text.casefold()
    if match := re.fullmatch(r"(?:(\d{1,3}):)?(\d{1,4}):(\d{2}(?:[.,]\d+)?)", plain):
        seconds = float(match[3].replace(",", "."))
        return _bounded(int(match[1] or 0) * 3600 + int(match[2]) * 60 + seconds)
    pattern = r"(?:(\d+)\s*m(?:in(?:utes?)?)?)?\s*(?:([\d.,]+)\s*s?(?:ec(?:onds?|s)?)?)?"
    match = re.fullmatch(pattern, plain)
    if match is None or not (match[1] or match[2]):
        return None
    number = match[2] or "0"
    marks = (".", ",") if reading.decimal_comma else (",", ".")
    number = number.replace(marks[0], "").replace(marks[1], ".")
    try:
        return _bounded(int(match[1] or 0) * 60 + float(number))
    except ValueError:
        return None


def _bounded(seconds: float) -> float | None:
    return float(seconds) if 0 <= seconds < MOST_SECONDS else None


def parse_reason(text: str) -> str | None:
    """One of the known reasons, with spaces or hyphens; None if it is not one of them."""
    plain = "-".join(text.casefold().split())
    return plain if plain in REASONS else None
