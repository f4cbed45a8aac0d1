"""Front matter of a note: split it off, and edit it.

An edit changes one value only: unknown keys, comments, the order of keys and the line ends stay as
their owner wrote them.
"""

from collections.abc import Sequence

import yaml

from kb.core.errors import FormatError, Place, Problem
from kb.formats import yaml_edits
from kb.formats.outline import BOM, Split, halves, split_lines
from kb.formats.yaml_edits import Change
from kb.formats.yaml_fields import Fields, compose, plain, plain_in_list


def split(text: str, path: str) -> tuple[Split, tuple[Problem, ...]]:
    """Split front matter from body. If it is not closed, that is a Problem, and all is body."""
    parts = halves(text)
    message = "the front matter is not closed"
    hint = "put a line with three dashes after its last key"
    problem = Problem(Place(path, 1), "unclosed-front-matter", message, hint)
    return parts, () if parts.closed else (problem,)


def parse(text: str, path: str) -> tuple[Fields | None, Split, tuple[Problem, ...]]:
    """The fields of the front matter (None if absent or not readable), both parts, and problems."""
    parts, problems = split(text, path)
    if parts.head is None:
        return None, parts, problems
    found = list(problems)
    fields = compose(parts.head, path, 2, found)
    return fields, parts, tuple(found)


def format_front(fields: Sequence[tuple[str, str | Sequence[str]]]) -> str:
    """Front matter between its two lines of dashes; keys with empty values are left out."""
    lines = [
        f"{key}: {plain(value) if isinstance(value, str) else _flow(value)}\n"
        for key, value in fields
        if value
    ]
    return "".join(["---\n", *lines, "---\n"])


def set_value(text: str, path: str, key: str, value: str) -> str:
    """Give `key` one plain value, on its line or a new one at the end of the front matter.

    Raises:
        FormatError: The front matter cannot be read, so it must not be edited.
    """
    return _set(*_head(text, path), key, plain(value))


def add_to_list(text: str, path: str, key: str, value: str) -> str:
    """Add `value` to the list under `key` unless it has it; every other character stays.

    Raises:
        FormatError: The front matter cannot be read, or holds no list under `key`.
    """
    text, head, newline = _head(text, path)
    node = yaml_edits.value_of(yaml_edits.nodes(head), key)
    item = plain_in_list(value)
    if node is None or not node.value:
        return _set(text, head, newline, key, f"[{item}]")
    if not isinstance(node, yaml.ScalarNode | yaml.SequenceNode):
        hint = f"write it as a list, such as {key}: [{item}]"
        raise FormatError(f"'{key}' is not a list", hint, Place(path, 2 + node.start_mark.line))
    held = [node] if isinstance(node, yaml.ScalarNode) else node.value
    if any(isinstance(child, yaml.ScalarNode) and child.value == value for child in held):
        return text
    if isinstance(node, yaml.ScalarNode):
        return _set(text, head, newline, key, _flow([node.value, value]))
    end = yaml_edits.end(head, node.value[-1])
    if node.flow_style:
        return _join(text, head, head[:end] + f", {item}" + head[end:])
    end = yaml_edits.line_end(head, end)
    line_break = "" if head[:end].endswith(("\n", "\r")) else newline
    new_line = f"{' ' * node.start_mark.column}- {plain(value)}{newline}"
    return _join(text, head, head[:end] + line_break + new_line + head[end:])


def change_words(text: str, path: str, change: Change) -> str:
    """The text with words of its front matter changed; see `yaml_edits.change_words`."""
    head = split(text, path)[0].head
    return text if head is None else _join(text, head, yaml_edits.change_words(head, path, change))


def _set(text: str, head: str, newline: str, key: str, value: str) -> str:
    return _join(text, head, yaml_edits.set_entry(head, (key,), value, newline=newline))


def _head(text: str, path: str) -> tuple[str, str, str]:
    """The text (with an empty front matter if it had none), its head, and its line end."""
    newline = yaml_edits.newline_of(text)
    parts, problems = split(text, path)
    if problems:
        raise FormatError.of(problems[0])
    if parts.head is None:
        return f"---{newline}---{newline}{text.removeprefix(BOM)}", "", newline
    yaml_edits.check_readable(parts.head, path, 2, without_faults=True)
    return text, parts.head, newline


def _join(text: str, head: str, new_head: str) -> str:
    start = len(split_lines(text)[0])
    return text[:start] + new_head + text[start + len(head) :]


def _flow(values: Sequence[str]) -> str:
    return "[" + ", ".join(plain_in_list(value) for value in values) + "]"
