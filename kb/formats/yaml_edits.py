"""Change single words of a YAML file; everything else in it stays as its owner wrote it."""

from collections.abc import Callable, Iterator

import yaml

from kb.core.errors import FormatError, Problem
from kb.formats.yaml_fields import compose, plain_in_list

Change = Callable[[tuple[str, ...], str], str | None]
"""(keys that lead to a word, the word) -> the word instead, or None to leave it. A key itself is
reached by the keys above it and `?`."""


def change_words(text: str, path: str, change: Change) -> str:
    """The text with each word, key or value, as `change` wants it.

    Raises:
        FormatError: It is not YAML and must not be edited.
    """
    problems: list[Problem] = []
    if compose(text, path, 1, problems) is None and text.strip():
        first = problems[0]
        raise FormatError(first.message, place=first.place, hint=first.hint)
    # Only the parser written in Python counts characters exactly.
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    spans: dict[int, tuple[int, str]] = {}
    for keys, node in _scalars((), root) if root else ():
        new = change(keys, str(node.value))
        if new is not None:
            spans[node.start_mark.index] = (node.end_mark.index, plain_in_list(new))
    for start in sorted(spans, reverse=True):
        end, new = spans[start]
        text = text[:start] + new + text[end:]
    return text


def _scalars(keys: tuple[str, ...], node: yaml.Node) -> Iterator[tuple[tuple[str, ...], yaml.Node]]:
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            yield (*keys, "?"), key
            yield from _scalars((*keys, str(key.value)), value)
    elif isinstance(node, yaml.SequenceNode):
        for item in node.value:
            yield from _scalars(keys, item)
    elif node.tag != "tag:yaml.org,2002:null":
        yield keys, node
