"""Changes to study.yaml made by position, so that comments, order and line ends stay."""

import re
from collections.abc import Mapping
from datetime import date
from typing import NamedTuple, TypeGuard

import yaml

from kb.core.errors import FormatError, Place
from kb.formats.dates import DAY, parse_day

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
    """Set days from a calendar file as exceptions, each marked as from that file. A day on which
    the person has noted something of their own stays.

    Args:
        text: study.yaml, valid YAML.
        days: Shift by day.
        source: Names the file.
        first: From this day on, what the same file brought before and has no longer is removed.

    Raises:
        FormatError: It is written in braces in a way that leaves no room for the marks.
    """
    keys, mark = ("rota", "exceptions"), f"# from {source}"
    text = _on_own_lines(text, keys)
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
    text = _on_own_lines(text, keys) if comment else text
    for key, value in entries:
        text = _set_entry(text, keys, key, value, newline, f"  {comment}" if comment else "")
    return text


def _on_own_lines(text: str, keys: tuple[str, str]) -> str:
    """The text with what is `{a: b}` under `keys` on a line for each entry, so that it can have a
    comment.
    """
    newline = "\r\n" if "\r\n" in text else "\n"
    for depth in (0, 1):
        parent = yaml.compose(text, Loader=yaml.SafeLoader)
        if depth:
            parent = _child(parent, keys[0])
        node = _child(parent, keys[depth])
        if not (_has_entries(parent) and (parent.flow_style or _in_braces(node))):
            continue
        at, line = (node or parent).start_mark.index, (node or parent).start_mark.line + 1
        old = text[at : _end(node)] if node else ""
        if parent.flow_style or "#" in old or not _has_entries(node):
            message = f"days from a calendar cannot be marked in {{...}} under '{keys[0]}'"
            hint = "put each setting, and each exception, on a line of its own; then import again"
            raise FormatError(message, place=Place("study.yaml", line), hint=hint)
        lead = newline + " " * (int(parent.value[0][0].start_mark.column) + 2)
        rows = [
            f"{text[k.start_mark.index : _end(k)]}: {text[v.start_mark.index : _end(v)]}"
            for k, v in node.value
        ]
        lines = "".join(lead + LINE_BREAK.sub(" ", row) for row in rows)
        text = text[:at].rstrip(" ") + lines + text[_end(node) :]
    return text


def _in_braces(node: yaml.Node | None) -> bool:
    return _has_entries(node) and bool(node.flow_style)


def _set_entry(
    text: str, keys: tuple[str, str], key: str, value: str, newline: str, comment: str
) -> str:
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    outer = _child(root, keys[0])
    inner = _child(outer, keys[1])
    line = f"{key}: {value}{comment}"
    indent = " " * int(outer.value[0][0].start_mark.column) if _has_entries(outer) else ""
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
