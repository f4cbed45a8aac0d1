"""Front matter of a note: split it off, and edit it.

An edit changes one value only: unknown keys, comments, the order of keys and the line ends stay as
their owner wrote them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import yaml

from kb.core.errors import KBError, Place, Problem
from kb.formats import yaml_edits
from kb.formats.outline import BOM, halves, split_lines
from kb.formats.yaml_edits import Change
from kb.formats.yaml_fields import Fields, compose, plain, plain_in_list


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """A note's text in two parts. `head` is None if there is no front matter.

    `head` begins on line 2 of the file, the body on `body_line`.
    """

    head: str | None
    body: str
    body_line: int


def split(text: str, path: str) -> tuple[Split, tuple[Problem, ...]]:
    """Split front matter from body. If it is not closed, that is a Problem, and all is body."""
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
    """The fields of the front matter (None if absent or not readable), both parts, and problems."""
    parts, problems = split(text, path)
    if parts.head is None:
        return None, parts, problems
    found = list(problems)
    fields = compose(parts.head, path, 2, found)
    return fields, parts, tuple(found)


def format_front(fields: Sequence[tuple[str, str | Sequence[str]]]) -> str:
    """Front matter between its two lines of dashes; keys with empty values are left out."""
    lines = ["---\n"]
    for key, value in fields:
        if isinstance(value, str):
            if value:
                lines.append(f"{key}: {plain(value)}\n")
        elif value:
            lines.append(f"{key}: {_flow(value)}\n")
    return "".join([*lines, "---\n"])


def set_value(text: str, path: str, key: str, value: str) -> str:
    """Give `key` one plain value, on its line or a new one at the end of the front matter.

    Raises:
        KBError: The front matter cannot be read, so it must not be edited.
    """
    return _edit(text, path, key, lambda _: f"{key}: {plain(value)}")


def add_to_list(text: str, path: str, key: str, value: str) -> str:
    """Add `value` to the list under `key` unless it has it; every other character stays.

    Raises:
        KBError: The front matter cannot be read, so it must not be edited.
    """
    text, head, newline = _head(text, path)
    found = _pair(head, path, key)
    node = found[1] if found else None
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


def change_words(text: str, path: str, change: Change) -> str:
    """The text with words of its front matter changed; see `yaml_edits.change_words`."""
    head = split(text, path)[0].head
    return text if head is None else _join(text, head, yaml_edits.change_words(head, path, change))


def _edit(text: str, path: str, key: str, write: Callable[[str], str]) -> str:
    text, head, newline = _head(text, path)
    found = _pair(head, path, key)
    if found is not None:
        start, end = found[0].start_mark.index, _end(head, found[1])
        old = str(found[1].value) if isinstance(found[1], yaml.ScalarNode) else ""
        return _join(text, head, head[:start] + write(old) + head[end:])
    line_break = newline if head and not head.endswith(("\n", "\r")) else ""
    return _join(text, head, head + line_break + write("") + newline)


def _head(text: str, path: str) -> tuple[str, str, str]:
    """The text (with an empty front matter if it had none), its head, and its line end."""
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


def _pair(head: str, path: str, key: str) -> tuple[yaml.Node, yaml.Node] | None:
    """The nodes of a key and its value, whose positions count characters exactly: only the parser
    written in Python does so.
    """
    problems: list[Problem] = []
    if compose(head, path, 2, problems) is None or problems:
        first = problems[0]
        raise KBError(first.message, place=first.place, hint=first.hint)
    root = yaml.compose(head, Loader=yaml.SafeLoader)
    return next((pair for pair in (root.value if root else ()) if pair[0].value == key), None)


def _end(head: str, node: yaml.Node) -> int:
    """The index just after `node` in `head`.

    The end mark of a block collection or block scalar is after trailing comments and blank lines,
    which are not part of the value.
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
