"""The `rota:` part of study.yaml: shifts, weeks, and days that differ."""

from __future__ import annotations

import re
from datetime import date, time, timedelta
from typing import TYPE_CHECKING, NamedTuple

import yaml

from kb.core.errors import nearest
from kb.core.settings import RestLimits, Rota, Shift
from kb.formats.bank_holidays import bank_holidays, parts_of
from kb.formats.dates import DAY, parse_day
from kb.formats.plan_settings import parse_rest

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from typing import TypeGuard

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
    """Lines of study.yaml for a week of shifts that repeats.

    Args:
        shifts: Names of shifts that are known, seven or a multiple of it.
        starts: A Monday.
        free_minutes: Study on a day off; None for what is usual.
        work_minutes: The same for a working day.
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
            fields.report(fields.line, "no-weeks", "the rota has no weeks", hint)
        return None
    rest = fields.mapping("rest")
    return Rota(
        starts=starts,
        shifts=shifts,
        weeks=weeks,
        exceptions=exceptions,
        calendar_words=_words(fields, known),
        bank_holidays=_bank_holidays(fields),
        rest=parse_rest(rest) if rest else RestLimits(),
    )


def _shifts(fields: Fields) -> tuple[Shift, ...]:
    found = {shift.name: shift for shift in STARTING_SHIFTS}
    given = fields.mapping("shifts")
    for name in given or ():
        row = given.mapping(name) if given else None
        if row is None:
            continue
        row.warn_unknown(KNOWN_SHIFT)
        start, end = row.clock("from"), row.clock("to")
        if (start is None) != (end is None):
            hint = "give both 'from' and 'to', or neither for a day without duty"
            line = fields.place("shifts").line if given is None else given.place(name).line
            row.report(line, "half-shift", f"the shift '{name}' has only one of its times", hint)
            start = end = None
        usual = found.get(name.casefold())
        default = usual.study_minutes if usual else _usual_minutes(start, end)
        papers = row.integer("paper_day_minutes", -1, high=720)
        if papers >= 0 and start is not None:
            hint = "it is for kinds of days without 'from' and 'to'; set study_minutes here"
            message = f"paper_day_minutes has no effect on '{name}', which is no day off"
            line = row.place("paper_day_minutes").line
            row.report(line, "no-effect", message, hint, "caution")
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
    hours = (end.hour - start.hour) + (end.minute - start.minute) / 60
    return 30 if hours > 10 else 120


def _starts(fields: Fields, needed: bool) -> date:
    day = fields.day("starts")
    if day is None:
        if needed and "starts" not in fields:
            hint = "name the Monday on which the first of the weeks began, such as 2027-01-04"
            fields.report(
                fields.line, "no-rota-start", "the rota does not say when it starts", hint
            )
        return date(2024, 1, 1)
    monday = day - timedelta(days=day.weekday())
    if monday != day:
        line = fields.place("starts").line
        message = f"the rota starts on {day.isoformat()}, which is not a Monday"
        fields.report(line, "not-a-monday", message, f"write {monday.isoformat()}", "caution")
    return monday


def _weeks(fields: Fields, known: frozenset[str]) -> tuple[tuple[str, ...], ...]:
    rows = fields.rows("weeks")
    found = []
    for number, row in enumerate(rows):
        line = _row_line(fields, number)
        names = tuple(name.casefold() for name in row)
        if len(names) != 7:
            hint = "name a shift for each day from Monday to Sunday"
            fields.report(line, "bad-week", f"a week with {len(names)} days instead of 7", hint)
            continue
        if all(_is_known(fields, line, name, known) for name in names):
            found.append(names)
    return tuple(found) if len(found) == len(rows) else ()


def _row_line(fields: Fields, number: int) -> int:
    """The line of the file that holds one week."""
    offset = fields.line - int(fields.node.start_mark.line)
    for key, node in fields.node.value:
        if key.value == "weeks" and isinstance(node, yaml.SequenceNode):
            return offset + int(node.value[number].start_mark.line)
    return fields.line


def _is_known(fields: Fields, line: int, name: str, known: frozenset[str]) -> bool:
    if name in known:
        return True
    hint = nearest(name, known) or "declare it under 'shifts:'"
    fields.report(line, "unknown-shift", f"the shift '{name}' is not declared", hint)
    return False


def _exceptions(fields: Fields, known: frozenset[str]) -> tuple[tuple[date, str], ...]:
    given = fields.mapping("exceptions")
    found: dict[date, str] = {}
    for key in given or ():
        if given is None:
            break
        line, name = given.place(key).line, given.text(key).casefold()
        days = _days_of(key)
        if not days:
            hint = "write 2027-02-15, or 2027-02-20 to 2027-02-26"
            fields.report(line, "bad-date", f"'{key}' is neither a day nor a span of days", hint)
        elif _is_known(fields, line, name, known):
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
        fields.report(fields.place("bank_holidays").line, "bad-value", message, hint)
        return ""
    return code


def _words(fields: Fields, known: frozenset[str]) -> tuple[tuple[str, str], ...]:
    given = fields.mapping("calendar_words")
    found = {}
    for key in given or ():
        if given is not None:
            name = given.text(key).casefold()
            if _is_known(fields, given.place(key).line, name, known):
                found[" ".join(key.casefold().split())] = name
    return tuple(sorted(found.items()))


class CalendarDays(NamedTuple):
    """What a calendar file does to study.yaml: its new text, the days set, those removed, and those
    that stay although the file has another shift; each day with its shift in study.yaml.
    """

    text: str
    set: tuple[tuple[date, str], ...]
    removed: tuple[tuple[date, str], ...]
    kept: tuple[tuple[date, str], ...]


def set_calendar_days(
    text: str, days: Mapping[date, str], source: str, first: date
) -> CalendarDays:
    """Set days from a calendar file as exceptions, each marked as from that file. A day on which
    the person has noted something of their own stays.

    Args:
        text: study.yaml, valid YAML.
        days: Shift by day.
        source: Names the file.
        first: From this day on, what the same file brought before and has no longer is removed.
    """
    keys, mark = ("rota", "exceptions"), f"# from {source}"
    removed, kept = {}, {}
    node = _child(_child(yaml.compose(text, Loader=yaml.SafeLoader), keys[0]), keys[1])
    for key, value in reversed(node.value if isinstance(node, yaml.MappingNode) else ()):
        if not DAY.fullmatch(key.value):
            continue
        day, start = parse_day(key.value), text.rfind("\n", 0, int(key.start_mark.index)) + 1
        end = text.find("\n", start) + 1 or len(text)
        _, sign, comment = text[int(value.end_mark.index) : end].partition("#")
        if f"{sign}{comment}".strip() == mark and day >= first and day not in days:
            removed[day] = value.value
            text = text[:start] + text[end:]
        elif (
            sign and not comment.startswith(" from ") and days.get(day, value.value) != value.value
        ):
            kept[day] = value.value
    done = {day: shift for day, shift in sorted(days.items()) if day not in kept}
    rows = tuple((day.isoformat(), shift) for day, shift in done.items())
    text = set_entries(text, keys, rows, mark)
    return CalendarDays(
        text=text,
        set=tuple(done.items()),
        removed=tuple(sorted(removed.items())),
        kept=tuple(sorted(kept.items())),
    )


def set_entries(
    text: str, keys: tuple[str, str], entries: tuple[tuple[str, str], ...], comment: str = ""
) -> str:
    """The text of study.yaml with `entries` set in the mapping under `keys`; all else untouched.

    Args:
        text: study.yaml, valid YAML.
        keys: The outer and the inner key, such as ("rota", "exceptions").
        entries: Key and value to set; a key that is there gets the new value in place.
        comment: Stands behind each entry that has a line of its own and no comment yet.

    Returns:
        The new text; comments, order and line ends are kept.
    """
    newline = "\r\n" if "\r\n" in text else "\n"
    for key, value in entries:
        text = _set_entry(text, keys, key, value, newline, f"  {comment}" if comment else "")
    return text


def _set_entry(
    text: str, keys: tuple[str, str], key: str, value: str, newline: str, comment: str
) -> str:
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    outer = _child(root, keys[0])
    inner = _child(outer, keys[1])
    line = f"{key}: {value}{comment}"
    indent = " " * int(outer.value[0][0].start_mark.column) if _has_entries(outer) else ""
    block = _has_entries(outer) and not outer.flow_style
    if comment and block and _has_entries(inner) and inner.flow_style:
        old = text[inner.start_mark.index : inner.end_mark.index]
        if "#" not in old:  # a line for each entry, so that each can have its comment
            rows = (text[k.start_mark.index : v.end_mark.index] for k, v in inner.value)
            lines = "".join(f"{newline}{indent}  {row}" for row in rows)
            text = text[: inner.start_mark.index].rstrip(" ") + lines + text[_end(inner) :]
            return _set_entry(text, keys, key, value, newline, comment)
    if _has_entries(inner):
        present = _child(inner, key)
        if present is not None:
            before, after = text[: present.start_mark.index], text[present.end_mark.index :]
            bare = not inner.flow_style and after.partition("\n")[0].strip() == ""
            return f"{before}{value}{comment if bare else ''}{after}"
        first_key, last_value = inner.value[0][0], inner.value[-1][1]
        if inner.flow_style:
            at = int(last_value.end_mark.index)
            return f"{text[:at]}, {key}: {value}{text[at:]}"
        return _insert_line(text, last_value, first_key.start_mark.column, line, newline)
    if _has_entries(outer) and not outer.flow_style:
        if inner is not None:
            at, rest = int(inner.start_mark.index), text[_end(inner) :]
            return f"{text[:at].rstrip(' ')}{newline}{indent}  {line}{rest}"
        at = int(outer.start_mark.index)
        return f"{text[:at]}{keys[1]}:{newline}{indent}  {line}{newline}{indent}{text[at:]}"
    if _has_entries(outer):
        at = int(outer.value[-1][1].end_mark.index)
        return f"{text[:at]}, {keys[1]}: {{{key}: {value}}}{text[at:]}"
    if outer is not None:
        at, rest = int(outer.start_mark.index), text[_end(outer) :]
        return f"{text[:at].rstrip(' ')}{newline}  {keys[1]}:{newline}    {line}{rest}"
    if text and not text.endswith(("\n", "\r")):
        text += newline
    return f"{text}{keys[0]}:{newline}  {keys[1]}:{newline}    {line}{newline}"


def _has_entries(node: yaml.Node | None) -> TypeGuard[yaml.MappingNode]:
    return isinstance(node, yaml.MappingNode) and bool(node.value)


def _end(node: yaml.Node) -> int:
    return int(node.end_mark.index)


def _child(node: yaml.Node | None, key: str) -> yaml.Node | None:
    if not isinstance(node, yaml.MappingNode):
        return None
    return next((value for name, value in node.value if name.value == key), None)


def _insert_line(text: str, last: yaml.Node, column: int, line: str, newline: str) -> str:
    """Put a line of its own behind the line on which `last` ends."""
    at = text.find("\n", int(last.end_mark.index))
    if at < 0:
        return f"{text}{newline}{' ' * column}{line}{newline}"
    return f"{text[: at + 1]}{' ' * column}{line}{newline}{text[at + 1 :]}"
