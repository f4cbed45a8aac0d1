"""Every kind of value: what is read, and the one line that is said of what cannot be."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING, Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.formats import yaml_fields
from kb.formats.yaml_fields import Fields, compose, plain, plain_in_list

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.core.errors import Problem


def fields(text: str, first_line: int = 1) -> Fields:
    """The mapping of a text."""
    problems: list[Problem] = []
    found = compose(text, "x.yaml", first_line, problems)
    assert found is not None, problems
    return found


def said(found: Fields) -> list[tuple[int, str, str, str]]:
    """Line, code, message and hint of each problem."""
    return [(p.place.line, p.code, p.message, p.hint) for p in found.problems]


@pytest.mark.parametrize(
    ("value", "get", "expected"),
    [
        ("word", lambda f: f.text("k"), "word"),
        ("' two words '", lambda f: f.text("k"), "two words"),
        ("no", lambda f: f.text("k"), "no"),
        ("", lambda f: f.text("k", "d"), "d"),
        ("~", lambda f: f.text("k", "d"), "d"),
        ("''", lambda f: f.text("k", "d"), ""),
        ("'~'", lambda f: f.text("k", "d"), "~"),
        ("one", lambda f: f.texts("k"), ("one",)),
        ("[one, '', two ]", lambda f: f.texts("k"), ("one", "two")),
        ("", lambda f: f.texts("k"), ()),
        ("2027-05-11", lambda f: f.day("k"), date(2027, 5, 11)),
        ("2027-01-14", lambda f: f.moment("k"), (date(2027, 1, 14), None)),
        (
            "2027-01-14T21:10+00:00",
            lambda f: f.moment("k"),
            (date(2027, 1, 14), datetime(2027, 1, 14, 21, 10, tzinfo=UTC)),
        ),
        ('"08:00"', lambda f: f.clock("k"), time(8)),
        ("08:30", lambda f: f.clock("k"), time(8, 30)),
        ("24:00", lambda f: f.clock("k"), time()),
        ("0", lambda f: f.integer("k", 5), 0),
        ("012", lambda f: f.integer("k", 5), 12),
        ("1000000000", lambda f: f.integer("k", 5), 10**9),
        ("3", lambda f: f.integer("k", 5, low=3, high=3), 3),
        ("", lambda f: f.integer("k", 5, low=7), 5),
        ("0.0", lambda f: f.number("k", 0.5), 0.0),
        ("1e12", lambda f: f.number("k", 0.5), 1e12),
        ("0.25", lambda f: f.number("k", 0.5, low=0.25, high=0.25), 0.25),
        ("", lambda f: f.number("k", 0.5), 0.5),
        *((word, lambda f: f.flag("k", False), True) for word in ("yes", "True", "on")),
        *((word, lambda f: f.flag("k", True), False) for word in ("no", "FALSE", "off")),
        ("", lambda f: f.flag("k", True), True),
        ("Two", lambda f: f.choice("k", ("one", "two"), "one"), "two"),
        ("", lambda f: f.choice("k", ("one", "two"), "one"), "one"),
        ("[[a, b], [c]]", lambda f: f.rows("k"), (("a", "b"), ("c",))),
        ("", lambda f: f.rows("k"), ()),
        ("", lambda f: f.mapping("k"), None),
        ("", lambda f: f.mappings("k"), ()),
    ],
)
def test_a_value_is_read_as_it_is_meant(
    value: str, get: Callable[[Fields], Any], expected: Any
) -> None:
    """A missing value, or none behind the colon, is the default without a word."""
    found = fields(f"k: {value}\n")
    assert get(found) == expected
    assert said(found) == []


BAD = [
    (
        "[a]",
        lambda f: f.text("k", "d"),
        "d",
        "bad-value",
        "what is there is not one value",
        "write one value",
    ),
    (
        "{a: b}",
        lambda f: f.texts("k"),
        (),
        "bad-value",
        "what is there is not a list",
        "write a list such as [one, two]",
    ),
    (
        "[a, [b]]",
        lambda f: f.texts("k"),
        (),
        "bad-value",
        "what is there is not a list",
        "write a list such as [one, two]",
    ),
    (
        "2027-5-11",
        lambda f: f.day("k"),
        None,
        "bad-date",
        "'2027-5-11' is not a date",
        "write a date such as 2027-05-11",
    ),
    (
        "2027-02-30",
        lambda f: f.day("k"),
        None,
        "bad-date",
        "'2027-02-30' is not a date",
        "write a date such as 2027-05-11",
    ),
    (
        "2027-01-14T21:10",
        lambda f: f.moment("k"),
        (None, None),
        "bad-date",
        "'2027-01-14T21:10' is not a date",
        "write a date such as 2027-01-14, or 2027-01-14T21:10+00:00",
    ),
    (
        '"08:00+01:00"',
        lambda f: f.clock("k"),
        None,
        "bad-time",
        "'08:00+01:00' is not a time",
        'write a time such as "08:00"',
    ),
    (
        "25:00",
        lambda f: f.clock("k"),
        None,
        "bad-time",
        "'25:00' is not a time",
        'write a time such as "08:00"',
    ),
    (
        "-1",
        lambda f: f.integer("k", 5),
        5,
        "bad-number",
        "'-1' is not a whole number from 0 up",
        "write a whole number from 0 up",
    ),
    (
        "1.5",
        lambda f: f.integer("k", 5),
        5,
        "bad-number",
        "'1.5' is not a whole number from 0 up",
        "write a whole number from 0 up",
    ),
    (
        "1000000001",
        lambda f: f.integer("k", 5),
        5,
        "bad-number",
        "'1000000001' is not a whole number from 0 up",
        "write a whole number from 0 up",
    ),
    (
        "11",
        lambda f: f.integer("k", 5, low=1, high=10),
        5,
        "bad-number",
        "'11' is not a whole number from 1 to 10",
        "write a whole number from 1 to 10",
    ),
    (
        "-0.1",
        lambda f: f.number("k", 0.5),
        0.5,
        "bad-number",
        "'-0.1' is not a number from 0 up",
        "write a number from 0 up",
    ),
    (
        "2e12",
        lambda f: f.number("k", 0.5),
        0.5,
        "bad-number",
        "'2e12' is not a number from 0 up",
        "write a number from 0 up",
    ),
    (
        "1.01",
        lambda f: f.number("k", 0.5, high=1),
        0.5,
        "bad-number",
        "'1.01' is not a number from 0 to 1",
        "write a number from 0 to 1",
    ),
    (
        "nan",
        lambda f: f.number("k", 0.5),
        0.5,
        "bad-number",
        "'nan' is not a number from 0 up",
        "write a number from 0 up",
    ),
    (
        "perhaps",
        lambda f: f.flag("k", False),
        False,
        "bad-value",
        "'perhaps' is not yes or no",
        "write yes or no",
    ),
    (
        "three",
        lambda f: f.choice("k", ("one", "two"), "two"),
        "two",
        "bad-value",
        "'three' is not one of one, two",
        "write one of one, two",
    ),
    (
        "a",
        lambda f: f.mapping("k"),
        None,
        "bad-value",
        "'a' is not a mapping of keys to values",
        "write a mapping of keys to values",
    ),
    (
        "[a]",
        lambda f: f.mappings("k"),
        (),
        "bad-value",
        "what is there is not a list whose lines begin with '- '",
        "write a list whose lines begin with '- '",
    ),
    (
        "[[a], b]",
        lambda f: f.rows("k"),
        (),
        "bad-value",
        "what is there is not a list of lists",
        "write a list of lists",
    ),
    (
        "[[a, [b]]]",
        lambda f: f.rows("k"),
        (),
        "bad-value",
        "what is there is not a list of lists",
        "write a list of lists",
    ),
    (
        "{a: b}",
        lambda f: f.rows("k"),
        (),
        "bad-value",
        "what is there is not a list of lists",
        "write a list of lists",
    ),
]


@pytest.mark.parametrize(("value", "get", "default", "code", "message", "hint"), BAD)
def test_a_wrong_value_is_told_and_its_default_kept(
    value: str, get: Callable[[Fields], Any], default: Any, code: str, message: str, hint: str
) -> None:
    """One line: where, what is wrong and what to write."""
    found = fields(f"a: 1\nk: {value}\n", first_line=4)
    assert get(found) == default
    assert said(found) == [(5, code, f"k: {message}", hint)]


def test_mappings_inside_know_their_lines() -> None:
    """Also in a list, and from where the text begins in its file."""
    found = fields("# first\nin:\n  a: 1\nmany:\n- b: 2\n- c: 3\n", first_line=10)
    inner = found.mapping("in")
    assert inner is not None
    assert (inner.line, inner.place("a").line, found.line) == (12, 12, 11)
    one, two = found.mappings("many")
    assert (one.line, two.place("c").line, two.place("none").line) == (14, 15, 15)
    assert (two.integer("c", 0), list(found), "in" in found, "b" in found) == (
        3,
        ["in", "many"],
        True,
        False,
    )
    one.report(one.line, "own", "a caution", severity="caution")
    assert [(p.place.path, p.severity) for p in found.problems] == [("x.yaml", "caution")]


def test_keys_are_plain_known_and_there_once() -> None:
    """The first of two counts; a key that is not known is told with the nearest one."""
    found = fields("name: a\nname: b\n[x]: c\nnmae: d\n", first_line=2)
    found.warn_unknown(("name", "date"))
    assert found.text("name") == "a"
    assert said(found) == [
        (
            3,
            "duplicate-key",
            "the key 'name' appears twice",
            "it is first on line 2; keep one of them",
        ),
        (4, "bad-key", "a key must be a plain word", ""),
        (
            5,
            "unknown-setting",
            "the setting 'nmae' is not known and has no effect",
            "did you mean name?",
        ),
    ]
    assert [p.severity for p in found.problems] == ["error", "error", "caution"]


def test_an_empty_text_is_an_empty_mapping_and_a_list_is_none() -> None:
    """The list is told in its line."""
    empty = fields("# nothing\n", first_line=7)
    assert (list(empty), empty.line) == ([], 7)
    problems: list[Problem] = []
    assert compose("\n- a\n", "x.yaml", 7, problems) is None
    assert [(p.place.line, p.code) for p in problems] == [(8, "not-a-mapping")]


@pytest.mark.parametrize(
    ("value", "shown", "in_list"),
    [
        ("plain words", "plain words", "plain words"),
        ("2027-01-14", "2027-01-14", "'2027-01-14'"),
        ("2027-01-14T21:10+00:00", "2027-01-14T21:10+00:00", "'2027-01-14T21:10+00:00'"),
        ("north:1041", "north:1041", "north:1041"),
        ("a, b", "a, b", "'a, b'"),
        ("a: b", "'a: b'", "'a: b'"),
        ("[x]", "'[x]'", "'[x]'"),
        ("no", "'no'", "'no'"),
        ("", "''", "''"),
        ("it's", "it's", "it's"),
        ("two\nlines", '"two\\nlines"', '"two\\nlines"'),
        ("caf\u00e9", "caf\u00e9", "caf\u00e9"),
        ("x" * 300 + " y", "x" * 300 + " y", "x" * 300 + " y"),
    ],
)
def test_a_value_is_quoted_only_where_it_must_be(value: str, shown: str, in_list: str) -> None:
    """And reads back as itself, by itself and in a list."""
    assert plain(value) == shown
    assert fields(f"k: {shown}\n").text("k") == value
    assert fields(f"k: [{plain_in_list(value)}, z]\n").texts("k") == (
        (value, "z") if value else ("z",)
    )
    if "\n" not in value:
        assert plain_in_list(value) == in_list


SIGNS = st.sampled_from(list(":,?-#'\"./()[]{}&*!|>%@`=+~_\\\té\xa0 "))
LINES = st.tuples(
    st.sampled_from(["title: ", "title:", "a:  ", "- ", "", " b: "]),
    st.sampled_from(["", "[", '"', "'"]),
    st.lists(st.sampled_from(["word", "2027-04-05", "no", "north:41", "12:30", ", "]) | SIGNS),
    st.sampled_from(["", "]", '"', "'", " ", "\r"]),
).map(lambda parts: "".join((*parts[:2], *parts[2], parts[3])))


@settings(max_examples=400, deadline=None)
@given(lines=st.lists(LINES, min_size=1, max_size=4), end=st.sampled_from(["", "\n"]))
def test_plain_front_matter_is_read_as_the_parser_reads_it(lines: list[str], end: str) -> None:
    """Whatever is taken for plain has the keys, values, styles and lines that PyYAML finds."""
    text = "\n".join(lines) + end
    node = yaml_fields._plain_mapping(text)
    if node is not None:
        assert _shape(node) == _shape(yaml.compose(text, Loader=yaml_fields.LOADER))


@pytest.mark.parametrize(
    "text",
    [
        "title: Salt in SIADH, once more\nareas: [renal, acute care]\nquestions: [north:41]\n",
        'title: "SIADH: which test?"\nbasis:\nwritten: 2027-04-05T21:10+01:00\n',
    ],
)
def test_usual_front_matter_is_plain(text: str) -> None:
    """Otherwise the test above would be about nothing."""
    node = yaml_fields._plain_mapping(text)
    assert _shape(node) == _shape(yaml.compose(text, Loader=yaml_fields.LOADER))


def _shape(node: Any) -> object:
    if isinstance(node, yaml.MappingNode):
        return [(key.start_mark.line, _shape(key), _shape(value)) for key, value in node.value]
    if isinstance(node, yaml.SequenceNode):
        return [_shape(item) for item in node.value]
    return node.value, node.style or "", node.start_mark.line


def test_a_text_longer_than_any_settings_is_not_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """It would take seconds and a gigabyte; here the limit is 20 characters, of 500,000."""
    monkeypatch.setattr(yaml_fields, "LONGEST", 20)
    problems: list[Problem] = []
    assert compose("k: 1\n" * 4, "x.yaml", 2, problems) is not None
    assert compose("k: 1\n" * 4 + "#", "x.yaml", 2, problems) is None
    last = problems[-1]
    assert (last.code, last.place.line) == ("long-yaml", 2)
    assert last.message == "longer than 20 characters, so it is not read"


def test_a_message_repeats_only_the_beginning_of_a_long_value() -> None:
    """Of 6,000 digits the first are enough to find it."""
    found = fields("k: " + "9" * 6000)
    found.day("k")
    (problem,) = found.problems
    assert len(problem.message) < 310
    assert problem.message.endswith("999...")
