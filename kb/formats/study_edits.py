"""Changes to study.yaml made by position, so that comments, order and line ends stay."""

import re
from collections.abc import Mapping
from datetime import date
from typing import NamedTuple

from kb.core.errors import FormatError, Place
from kb.formats.dates import DAY, parse_day
from kb.formats.yaml_edits import end, has_entries, line_end, newline_of, nodes, set_entry, value_of

LINE_BREAK = re.compile(r"\s*\n\s*")


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
    """Set days from a calendar file, shift by day, as exceptions marked as from that `source`. A
    day on which the person has noted something of their own stays. From the `first` day on, what
    the same file brought before and has no longer is removed.

    Raises:
        FormatError: It is written in braces in a way that leaves no room for the marks.
    """
    keys, mark = ("rota", "exceptions"), f"# from {source}"
    text = _on_own_lines(text, keys)
    removed, kept = {}, {}
    node = value_of(nodes(text), *keys)
    for key, value in reversed(node.value if has_entries(node) else ()):
        if not DAY.fullmatch(key.value):
            continue
        day, start = parse_day(key.value), text[: key.start_mark.index].rfind("\n") + 1
        stop = line_end(text, int(value.end_mark.index))
        _, sign, comment = text[int(value.end_mark.index) : stop].partition("#")
        if f"{sign}{comment}".strip() == mark and day >= first and day not in days:
            removed[day] = value.value
            text = text[:start] + text[stop:]
        elif (
            sign and not comment.startswith(" from ") and days.get(day, value.value) != value.value
        ):
            kept[day] = value.value
    done = {day: shift for day, shift in sorted(days.items()) if day not in kept}
    rows = tuple((day.isoformat(), shift) for day, shift in done.items())
    text = set_entries(text, keys, rows, mark)
    return CalendarDays(
        text, tuple(done.items()), *(tuple(sorted(r.items())) for r in (removed, kept))
    )


def set_entries(
    text: str, keys: tuple[str, str], entries: tuple[tuple[str, str], ...], comment: str = ""
) -> str:
    """The text of study.yaml with `entries`, keys and values, set in the mapping under `keys`.

    The `comment` goes behind each that has a line of its own and no comment yet. All other text
    stays, its comments, order and line ends.
    """
    text = _on_own_lines(text, keys) if comment else text
    for key, value in entries:
        text = set_entry(text, (*keys, key), value, comment=f"  {comment}" if comment else "")
    return text


def _on_own_lines(text: str, keys: tuple[str, str]) -> str:
    """The text with what is `{a: b}` under `keys` on a line for each entry, so that it can have a
    comment.
    """
    for depth in (0, 1):
        parent = value_of(nodes(text), *keys[:depth])
        node = value_of(parent, keys[depth])
        in_braces = has_entries(node) and node.flow_style
        if not (has_entries(parent) and (parent.flow_style or in_braces)):
            continue
        first = node or parent
        at, stop = first.start_mark.index, end(text, node) if node else 0
        if parent.flow_style or "#" in text[at:stop] or not has_entries(node):
            message = f"days from a calendar cannot be marked in {{...}} under '{keys[0]}'"
            hint = "put each setting, and each exception, on a line of its own; then import again"
            raise FormatError(message, hint, Place("study.yaml", first.start_mark.line + 1))
        lead = newline_of(text) + " " * (int(parent.value[0][0].start_mark.column) + 2)
        rows = [
            f"{text[k.start_mark.index : end(text, k)]}: {text[v.start_mark.index : end(text, v)]}"
            for k, v in node.value
        ]
        lines = "".join(lead + LINE_BREAK.sub(" ", row) for row in rows)
        text = text[:at].rstrip(" ") + lines + text[stop:]
    return text
