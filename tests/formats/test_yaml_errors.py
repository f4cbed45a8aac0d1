"""A text that is not YAML: the line of the mistake, and what it is in plain words."""

from __future__ import annotations

import pytest
import yaml

from kb.core.errors import Problem
from kb.formats.yaml_errors import DEEP, WORDS, fault_of
from kb.formats.yaml_fields import compose

LOADERS = [
    pytest.param(loader, id=loader.__name__)
    for name in ("SafeLoader", "CSafeLoader")
    if (loader := getattr(yaml, name, None)) is not None
]
SLIPS = [
    ("a: 1\nb: [x, y\nc: 2\n", 2, "the bracket '[' opened here is not closed"),
    ("a: 1\nb: [\n", 2, "the bracket '[' opened here is not closed"),
    ("a: 1\nb: {\n\n", 2, "the bracket '{' opened here is not closed"),
    ("a: 1\nb: [x,\n", 2, "the bracket '[' opened here is not closed"),
    ("a: 1\nb: {x: 1\nc: 2\n", 2, "the bracket '{' opened here is not closed"),
    ("a: 'x\nb: 2\n", 1, "the quotation mark opened here is not closed"),
    ('a: "C:\\drive"\n', 1, "a backslash inside double quotes"),
    ("a: 1\njust words\nb: 2\n", 2, "no colon in this line"),
    ("title: a: b\n", 1, "a second colon in this line"),
    ("a:\n\t- x\n", 2, "a tab where spaces belong"),
    ("a: @x\n", 1, "a value cannot begin with this sign"),
    ("a: @x\n\t\n", 1, "a value cannot begin with this sign"),
    ("a: *x\n", 1, "a value cannot begin with *"),
    ("a: &\n", 1, "a value cannot begin with &"),
    ("a: | x\n", 1, "a value cannot begin with | or >"),
    ("a: 1\nb: ]\n", 2, "a bracket is closed here that was not opened"),
    ("a: 1\n---\nb: 2\n", 2, "a second text begins here"),
    ("a:\n  b: 2\n c: 3\n", 3, "this line does not fit those above"),
    ("a: 'it's'\n", 1, "words behind a closed quotation mark"),
]


@pytest.mark.parametrize("loader", LOADERS)
@pytest.mark.parametrize(("text", "line", "message"), SLIPS)
def test_a_slip_is_told_in_its_line(
    loader: type[yaml.SafeLoader], text: str, line: int, message: str
) -> None:
    """Whether the parser written in C is there or not."""
    with pytest.raises(yaml.MarkedYAMLError) as raised:
        yaml.compose(text, Loader=loader)
    at, said, _ = fault_of(raised.value, text)
    assert message in said
    assert at + 1 == line


def test_every_fault_is_provoked() -> None:
    """Every message of ours can occur."""
    told = [message for _, _, message in SLIPS] + [DEEP]
    assert [what for _, what, _ in WORDS if not any(message in what for message in told)] == []


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [("a: 1\nb: \x07x\n", 4, "cannot be seen"), ("[" * 3000, 3, DEEP)],
)
def test_other_faults_are_told_too(text: str, line: int, message: str) -> None:
    """Lines count from where the text begins in its file."""
    problems: list[Problem] = []
    assert compose(text, "x.md", 3, problems) is None
    assert (problems[0].place.line, problems[0].code) == (line, "bad-yaml")
    assert message in problems[0].message


def test_brackets_too_deep_are_told_by_either_parser(monkeypatch: pytest.MonkeyPatch) -> None:
    """The one written in Python does not know in which line."""
    monkeypatch.setattr("kb.formats.yaml_fields.LOADER", yaml.SafeLoader)
    problems: list[Problem] = []
    assert compose("a: 1\nb: " + "[" * 3000, "x.md", 3, problems) is None
    assert [(p.place.line, DEEP in p.message) for p in problems] == [(3, True)]
