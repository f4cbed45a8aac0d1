"""Front matter of a note: split it off, and edit it line by line.

An edit touches the value it is about and nothing else: unknown keys, comments, the order of keys
and the line ends stay as their owner wrote them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import yaml

from kb.core.errors import KBError, Place, Problem
from kb.formats.outline import BOM, halves, split_lines
from kb.formats.yaml_fields import Fields, compose, plain, plain_in_list

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """A note's text in two. `head` is None when there is no front matter.

    `head` begins on line 2 of the file; `body_line` is the line on which the body begins.
    """

    head: str | None
    body: str
    body_line: int


def split(text: str, path: str) -> tuple[Split, tuple[Problem, ...]]:
    """Split front matter from body. An unclosed one is a Problem, and all of it is body."""
    head, body, line, closed = halves(text)
    parts = Split(head=head, body=body, body_line=line)
    if closed:
        return parts, ()
    problem = Problem(
        place=Place(path, 1),
        code="unclosed-front-matter",
        message="the front matter is not closed",
        hint="put a line with three dashes after its last key",
    )
    return parts, (problem,)


def parse(text: str, path: str) -> tuple[Fields | None, Split, tuple[Problem, ...]]:
    """The front matter's fields (None if absent or unusable), the split, and the problems."""
    parts, problems = split(text, path)
    if parts.head is None:
        return None, parts, problems
    found = list(problems)
    fields = compose(parts.head, path, 2, found)
    return fields, parts, tuple(found)


def format_front(fields: Sequence[tuple[str, str | Sequence[str]]]) -> str:
    """Front matter with its two lines of dashes; empty values are left out."""
    lines = ["---\n"]
    for key, value in fields:
        if isinstance(value, str):
            if value:
                lines.append(f"{key}: {plain(value)}\n")
        elif value:
            lines.append(f"{key}: {_flow(value)}\n")
    return "".join([*lines, "---\n"])


def set_value(text: str, path: str, key: str, value: str) -> str:
    """Give `key` one plain value, in its own line or a new one at the end of the front matter.

    Raises:
        KBError: The front matter cannot be read, so it must not be edited.
    """
    return _edit(text, path, key, lambda _: f"{key}: {plain(value)}")


def add_to_list(text: str, path: str, key: str, value: str) -> str:
    """Add `value` to the list under `key`, unless it is there; every other character stays.

    Raises:
        KBError: The front matter cannot be read, so it must not be edited.
    """
    text, head, newline = _head(text, path)
    node = _value_node(head, path, key)
    item = plain_in_list(value)
    if node is None or not node.value:
        return _edit(text, path, key, lambda _: f"{key}: [{item}]")
    if isinstance(node, yaml.ScalarNode):
        if node.value == value:
            return text
        return _edit(text, path, key, lambda old: f"{key}: {_flow([old, value])}")
    if not isinstance(node, yaml.SequenceNode):
        place = Place(path, 2 + int(node.start_mark.line))
        hint = f"write it as a list, such as {key}: [{item}]"
        raise KBError(f"'{key}' is not a list", place=place, hint=hint)
    if any(isinstance(child, yaml.ScalarNode) and child.value == value for child in node.value):
        return text
    end = _end(head, node.value[-1])
    if node.flow_style:
        return _join(text, head, head[:end] + f", {item}" + head[end:])
    end = _line_end(head, end)
    line_break = "" if head[:end].endswith(("\n", "\r")) else newline
    new_line = f"{' ' * node.start_mark.column}- {plain(value)}{newline}"
    return _join(text, head, head[:end] + line_break + new_line + head[end:])


def _edit(text: str, path: str, key: str, write: Callable[[str], str]) -> str:
    text, head, newline = _head(text, path)
    root = _compose_exact(head, path)
    for key_node, node in root.value if root is not None else ():
        if key_node.value == key:
            start, end = key_node.start_mark.index, _end(head, node)
            old = str(node.value) if isinstance(node, yaml.ScalarNode) else ""
            return _join(text, head, head[:start] + write(old) + head[end:])
    line_break = newline if head and not head.endswith(("\n", "\r")) else ""
    return _join(text, head, head + line_break + write("") + newline)


def _head(text: str, path: str) -> tuple[str, str, str]:
    """The text (given an empty front matter if it has none), its head, its newline."""
    newline = "\r\n" if "\r\n" in text else "\n"
    parts, problems = split(text, path)
    if problems:
        first = problems[0]
        raise KBError(first.message, place=first.place, hint=first.hint)
    if parts.head is None:
        text = f"---{newline}---{newline}{text.removeprefix(BOM)}"
        return text, "", newline
    return text, parts.head, newline


def _join(text: str, head: str, new_head: str) -> str:
    start = len(split_lines(text)[0])
    return text[:start] + new_head + text[start + len(head) :]


def _compose_exact(head: str, path: str) -> yaml.MappingNode | None:
    """Compose with the pure Python loader, whose marks count characters exactly."""
    problems: list[Problem] = []
    if compose(head, path, 2, problems) is None or problems:
        first = problems[0]
        raise KBError(first.message, place=first.place, hint=first.hint)
    node = yaml.compose(head, Loader=yaml.SafeLoader)
    return node if isinstance(node, yaml.MappingNode) else None


def _value_node(head: str, path: str, key: str) -> yaml.Node | None:
    root = _compose_exact(head, path)
    for key_node, node in root.value if root is not None else ():
        if key_node.value == key and isinstance(node, yaml.Node):
            return node
    return None


def _end(head: str, node: yaml.Node) -> int:
    """The index just behind what `node` itself occupies in `head`.

    The end mark of a block collection or block scalar lies behind trailing comments and blank
    lines, which belong to the owner and not to the value.
    """
    if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return _end(head, last[1] if isinstance(last, tuple) else last)
    end = int(node.end_mark.index)
    if isinstance(node, yaml.ScalarNode) and node.style in ("|", ">"):
        return len(head[:end].rstrip())
    return end


def _line_end(text: str, index: int) -> int:
    rest = split_lines(text[index:])
    return index + (len(rest[0]) if rest else 0)


def _flow(values: Sequence[str]) -> str:
    return "[" + ", ".join(plain_in_list(value) for value in values) + "]"
