"""The `rota:` part of study.yaml: shifts, weeks, and days that differ."""

import re
from collections.abc import Sequence
from datetime import date, time, timedelta

from kb.core.bank_holidays import bank_holidays, parts_of
from kb.core.errors import nearest
from kb.core.settings import Rota, Shift
from kb.formats.dates import DAY, parse_day
from kb.formats.plan_settings import parse_rest
from kb.formats.yaml_fields import Fields

KNOWN = ("starts", "shifts", "weeks", "exceptions", "rest", "calendar_words", "bank_holidays")
KNOWN_SHIFT = ("from", "to", "study_minutes", "paper_day_minutes")
SPAN = re.compile(rf"({DAY.pattern})\s+(?:to|until)\s+({DAY.pattern})")
LONGEST_SPAN_DAYS = 366

STARTING_SHIFTS: tuple[Shift, ...] = (
    Shift(name="day", start=time(8), end=time(17), study_minutes=120),
    Shift(name="long", start=time(8), end=time(20, 30), study_minutes=30),
    Shift(name="late", start=time(13), end=time(21, 30), study_minutes=90),
    Shift(name="night", start=time(20), end=time(8, 30), study_minutes=0),
    Shift(name="course", start=time(9), end=time(17), study_minutes=60),
    Shift(name="off", start=None, end=None, study_minutes=240),
    Shift(name="leave", start=None, end=None, study_minutes=300),
    Shift(name="holiday", start=None, end=None, study_minutes=0),
)
"""Shifts that are known without being declared (common practice, no source)."""


def format_week(
    shifts: Sequence[str], starts: date, free_minutes: int | None, work_minutes: int | None
) -> str:
    """Lines of study.yaml for one or more weeks of known shifts that repeat from a Monday.

    The minutes are those of study on a day off and on a working day; None for what is usual.
    """
    lines = ["rota:", f"  starts: {starts.isoformat()}"]
    own = []
    if work_minutes is not None:
        own.append(f'    day: {{from: "08:00", to: "17:00", study_minutes: {work_minutes}}}')
    if free_minutes is not None:
        own.append(f"    off: {{study_minutes: {free_minutes}}}")
    lines += ["  shifts:", *own] if own else []
    lines.append("  weeks:")
    weeks = (shifts[at : at + 7] for at in range(0, len(shifts), 7))
    lines += [f"    - [{', '.join(week)}]" for week in weeks]
    return "\n".join([*lines, "", ""])


def parse_rota(fields: Fields) -> Rota | None:
    """Read the `rota:` mapping; what is wrong goes into `fields.problems`, each with its line.

    Returns:
        The rota, or None when it names no day at all.
    """
    fields.warn_unknown(KNOWN)
    shifts = _shifts(fields)
    known = frozenset(shift.name for shift in shifts)
    weeks = _weeks(fields, known)
    exceptions = _exceptions(fields, known)
    starts = _starts(fields, bool(weeks))
    if not weeks and not exceptions:
        if not fields.problems:
            hint = "add weeks of seven shift names, such as - [day, day, day, day, day, off, off]"
            fields.report("", "no-weeks", "the rota has no weeks", hint)
        return None
    return Rota(
        starts=starts,
        shifts=shifts,
        weeks=weeks,
        exceptions=exceptions,
        calendar_words=_words(fields, known),
        bank_holidays=_bank_holidays(fields),
        rest=parse_rest(fields.part("rest")),
    )


def _shifts(fields: Fields) -> tuple[Shift, ...]:
    found = {shift.name: shift for shift in STARTING_SHIFTS}
    for name, given in fields.entries("shifts"):
        row = given.mapping(name)
        if row is None:
            continue
        row.warn_unknown(KNOWN_SHIFT)
        start, end = row.clock("from"), row.clock("to")
        if (start is None) != (end is None):
            hint = "give both 'from' and 'to', or neither for a day without duty"
            given.report(name, "half-shift", f"the shift '{name}' has only one of its times", hint)
            start = end = None
        usual = found.get(name.casefold())
        default = usual.study_minutes if usual else _usual_minutes(start, end)
        papers = row.integer("paper_day_minutes", -1, high=720)
        if papers >= 0 and start is not None:
            hint = "it is for kinds of days without 'from' and 'to'; set study_minutes here"
            message = f"paper_day_minutes has no effect on '{name}', which is no day off"
            row.report("paper_day_minutes", "no-effect", message, hint, "caution")
        found[name.casefold()] = Shift(
            name=name.casefold(),
            start=start,
            end=end,
            study_minutes=row.integer("study_minutes", default, high=960),
            paper_day_minutes=None if papers < 0 else papers,
        )
    return tuple(found.values())


def _usual_minutes(start: time | None, end: time | None) -> int:
    """Study minutes to start from: none on a night, half an hour on a long day."""
    if start is None or end is None:
        return 240
    if end <= start:
        return 0
    minutes = 60 * (end.hour - start.hour) + end.minute - start.minute
    return 30 if minutes > 600 else 120


def _starts(fields: Fields, needed: bool) -> date:
    day = fields.day("starts")
    if day is None:
        if needed and "starts" not in fields:
            hint = "name the Monday on which the first of the weeks began, such as 2027-01-04"
            fields.report("", "no-rota-start", "the rota does not say when it starts", hint)
        return date.min
    monday = day - timedelta(days=day.weekday())
    if monday != day:
        message = f"the rota starts on {day.isoformat()}, which is not a Monday"
        fields.report("starts", "not-a-monday", message, f"write {monday.isoformat()}", "caution")
    return monday


def _weeks(fields: Fields, known: frozenset[str]) -> tuple[tuple[str, ...], ...]:
    rows = fields.rows("weeks")
    found = []
    for number, row in enumerate(rows):
        line = fields.line_of("weeks", number)
        names = tuple(name.casefold() for name in row)
        if len(names) != 7:
            hint = "name a shift for each day from Monday to Sunday"
            fields.report(line, "bad-week", f"a week with {len(names)} days instead of 7", hint)
            continue
        if all(_is_known(fields, line, name, known) for name in names):
            found.append(names)
    return tuple(found) if len(found) == len(rows) else ()


def _is_known(fields: Fields, at: str | int, name: str, known: frozenset[str]) -> bool:
    if name in known:
        return True
    hint = nearest(name, known) or "declare it under 'shifts:'"
    fields.report(at, "unknown-shift", f"the shift '{name}' is not declared", hint)
    return False


def _exceptions(fields: Fields, known: frozenset[str]) -> tuple[tuple[date, str], ...]:
    found: dict[date, str] = {}
    for key, given in fields.entries("exceptions"):
        name, days = given.text(key).casefold(), _days_of(key)
        if not days:
            hint = "write 2027-02-15, or 2027-02-20 to 2027-02-26"
            given.report(key, "bad-date", f"'{key}' is neither a day nor a span of days", hint)
        elif _is_known(given, key, name, known):
            found.update(dict.fromkeys(days, name))
    return tuple(sorted(found.items()))


def _days_of(key: str) -> tuple[date, ...]:
    match = SPAN.fullmatch(key.strip())
    try:
        first = parse_day(match[1] if match else key.strip())
        last = parse_day(match[2]) if match else first
    except ValueError:
        return ()
    if last - first > timedelta(days=LONGEST_SPAN_DAYS):
        return ()
    return tuple(first + timedelta(days=i) for i in range((last - first).days + 1))


def _bank_holidays(fields: Fields) -> str:
    """The code of a country, or of a part of it, whose bank holidays are known."""
    code = fields.text("bank_holidays").upper()
    if code in ("", "NONE"):
        return ""
    try:
        bank_holidays(code, 2027)
    except KeyError:
        hint = nearest(code, parts_of(code)) or "write a country by its code, such as IE or GB-ENG"
        message = f"bank_holidays: '{code}' is not a country whose holidays are known"
        fields.report("bank_holidays", "bad-value", message, hint)
        return ""
    return code


def _words(fields: Fields, known: frozenset[str]) -> tuple[tuple[str, str], ...]:
    found = {}
    for key, given in fields.entries("calendar_words"):
        name = given.text(key).casefold()
        if _is_known(given, key, name, known):
            found[" ".join(key.casefold().split())] = name
    return tuple(sorted(found.items()))
