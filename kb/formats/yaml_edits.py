"""Change single values of a YAML text by their positions; all else stays as its owner wrote it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeGuard

import yaml

from kb.core.errors import FormatError, Problem
from kb.formats.outline import split_lines
from kb.formats.yaml_fields import compose, plain_in_list

Change = Callable[[tuple[str, ...], str], str | None]
"""(keys that lead to a word, the word) -> the word instead, or None to leave it. A key itself is
reached by the keys above it and `?`."""


def check_readable(
    text: str, path: str, first_line: int = 1, *, without_faults: bool = False
) -> None:
    """Check that a text may be edited: it is a YAML mapping, and if asked without any fault.

    Raises:
        FormatError: It must not be edited.
    """
    problems: list[Problem] = []
    if compose(text, path, first_line, problems) is None or (without_faults and problems):
        raise FormatError.of(problems[0])


def nodes(text: str) -> yaml.Node | None:
    """The text with positions that count characters exactly: only the parser written in Python
    counts so.
    """
    return yaml.compose(text, Loader=yaml.SafeLoader)


def change_words(text: str, path: str, change: Change) -> str:
    """The text with each word, key or value, as `change` wants it.

    Raises:
        FormatError: It is not YAML and must not be edited.
    """
    check_readable(text, path)
    root = nodes(text)
    found = {node.start_mark.index: (keys, node) for keys, node in _scalars((), root)}
    for start in sorted(found, reverse=True):
        keys, node = found[start]
        new = change(keys, str(node.value))
        if new is not None:
            text = text[:start] + plain_in_list(new) + text[node.end_mark.index :]
    return text


def _scalars(
    keys: tuple[str, ...], node: yaml.Node | None
) -> Iterator[tuple[tuple[str, ...], yaml.Node]]:
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            yield (*keys, "?"), key
            yield from _scalars((*keys, str(key.value)), value)
    elif isinstance(node, yaml.SequenceNode):
        for item in node.value:
            yield from _scalars(keys, item)
    elif node and node.tag != "tag:yaml.org,2002:null":
        yield keys, node


def set_entry(
    text: str, keys: Sequence[str], value: str, *, comment: str = "", newline: str = ""
) -> str:
    """The text of a YAML mapping with one value set, written as YAML has it, under the keys that
    lead to it; those that are missing are added, on lines that end in `newline` if it is given.

    A comment goes behind the value where it has a line of its own and no comment yet.
    """
    newline = newline or newline_of(text)
    node, depth, column, in_braces = nodes(text), 0, 0, False
    while depth < len(keys) and has_entries(node) and (found := pair(node, keys[depth])):
        column, in_braces = int(node.value[0][0].start_mark.column), bool(node.flow_style)
        (name, node), depth = found, depth + 1
    left = keys[depth:]
    if node and not left:  # the value is there
        colon = text[name.end_mark.index : node.start_mark.index]
        colon = colon if colon.endswith(" ") and "\n" not in colon else ": "
        after = text[end(text, node) :]
        bare = not in_braces and not after.partition("\n")[0].strip()
        return f"{text[: name.end_mark.index]}{colon}{value}{comment if bare else ''}{after}"
    if has_entries(node) and node.flow_style:  # in braces, where it goes last
        at = int(node.value[-1][1].end_mark.index)
        return f"{text[:at]}, {': {'.join(left)}: {value}{'}' * (len(left) - 1)}{text[at:]}"
    if depth:
        column = int(node.value[0][0].start_mark.column) if has_entries(node) else column + 2
    rows = newline.join(" " * (column + 2 * at) + f"{key}:" for at, key in enumerate(left))
    rows = f"{rows} {value}{comment}"
    if node and depth and not has_entries(node):  # below a key without entries
        above = text[: node.start_mark.index].rstrip(" ")
        return f"{above}{newline}{rows}{text[end(text, node) :]}"
    at = line_end(text, end(text, node)) if node and depth else len(text)
    first = newline if at and text[at - 1] not in "\r\n" else ""
    return f"{text[:at]}{first}{rows}{newline}{text[at:]}"


def newline_of(text: str) -> str:
    """How its lines end."""
    return "\r\n" if "\r\n" in text else "\n"


def has_entries(node: yaml.Node | None) -> TypeGuard[yaml.MappingNode]:
    """Whether it is a mapping that is not empty."""
    return isinstance(node, yaml.MappingNode) and bool(node.value)


def pair(node: yaml.Node | None, key: str) -> tuple[yaml.Node, yaml.Node] | None:
    """A key of a mapping and its value; None if it is not there."""
    pairs = node.value if isinstance(node, yaml.MappingNode) else ()
    return next((found for found in pairs if found[0].value == key), None)


def value_of(node: yaml.Node | None, *keys: str) -> yaml.Node | None:
    """The value to which keys lead; None if it is not there."""
    for key in keys:
        node = (pair(node, key) or (None, None))[1]
    return node


def end(text: str, node: yaml.Node) -> int:
    """The index just after a node.

    The end mark of a block collection or block scalar is after trailing comments and blank lines,
    which are not part of the value.
    """
    if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return end(text, last[1] if isinstance(last, tuple) else last)
    at = int(node.end_mark.index)
    if isinstance(node, yaml.ScalarNode) and node.style in ("|", ">"):
        return len(text[:at].rstrip())
    return at


def line_end(text: str, index: int) -> int:
    """Where the line that holds an index ends, its line break included."""
    return index + len(next(iter(split_lines(text[index:])), ""))
