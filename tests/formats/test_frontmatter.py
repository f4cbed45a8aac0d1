"""Front matter is read with its places and edited without touching anything else."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from kb.core.errors import FormatError, KBError
from kb.formats import frontmatter
from kb.formats.yaml_fields import compose, plain, plain_in_list

OWNED = (
    "---\n# mine\ntitle: 'Water: too much'   # keep\nmnemonic: {a: 1,   b: 2}\n"
    "questions:   # missed\n  - north:1\n  # between\n\nchecked: 2027-01-14\n---\nBody.\n"
)


def test_a_block_list_grows_by_one_line() -> None:
    """Every other line stays as its owner wrote it."""
    edited = frontmatter.add_to_list(OWNED, "x.md", "questions", "north:2")
    assert edited == OWNED.replace("  - north:1\n", "  - north:1\n  - north:2\n")


def test_a_flow_list_grows_in_place() -> None:
    """Inside brackets only the new item is added."""
    text = "---\nquestions: [north:1,  north:2]  # two\n---\n"
    edited = frontmatter.add_to_list(text, "x.md", "questions", "north:3")
    assert edited == "---\nquestions: [north:1,  north:2, north:3]  # two\n---\n"


def test_a_single_value_becomes_a_list() -> None:
    """One question written without brackets is kept, beside the new one."""
    text = "---\nquestions: north:1 # one\n---\n"
    edited = frontmatter.add_to_list(text, "x.md", "questions", "north:2")
    assert edited == "---\nquestions: [north:1, north:2] # one\n---\n"


def test_a_missing_list_is_added_at_the_end() -> None:
    """A new key comes last, before the closing dashes."""
    edited = frontmatter.add_to_list("---\ntitle: T\n---\nB\n", "x.md", "questions", "north:2")
    assert edited == "---\ntitle: T\nquestions: [north:2]\n---\nB\n"


def test_adding_what_is_there_changes_nothing() -> None:
    """Linking twice is linking once."""
    assert frontmatter.add_to_list(OWNED, "x.md", "questions", "north:1") == OWNED


def test_windows_line_ends_survive() -> None:
    """Every line of a CRLF file still ends in CRLF after an edit."""
    text = OWNED.replace("\n", "\r\n")
    edited = frontmatter.add_to_list(text, "x.md", "questions", "north:2")
    assert edited.replace("\r\n", "") == edited.replace("\r\n", "").replace("\n", "")
    assert edited.replace("\r\n", "\n").count("north:2") == 1


def test_a_value_is_replaced_without_its_comment() -> None:
    """Only the value changes; the comment behind it stays."""
    edited = frontmatter.set_value(OWNED, "x.md", "title", "Short")
    assert edited == OWNED.replace("'Water: too much'", "Short")


def test_a_note_without_front_matter_gets_one() -> None:
    """The body is untouched below the new front matter."""
    assert frontmatter.set_value("Body\n", "x.md", "title", "T") == "---\ntitle: T\n---\nBody\n"


def test_an_unclosed_front_matter_is_never_edited() -> None:
    """Editing it could only damage it."""
    with pytest.raises(KBError, match="not closed"):
        frontmatter.set_value("---\ntitle: T\n", "x.md", "title", "U")


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("---\ntitle: T\n", "unclosed-front-matter", 1),
        ("---\ntitle: [a\n---\n", "bad-yaml", 2),
        ("---\na: 1\nb: @x\n---\n", "bad-yaml", 3),
        ("---\n- a\n- b\n---\n", "not-a-mapping", 2),
        ("---\nplain words\n---\n", "not-a-mapping", 2),
        ("---\na: 1\na: 2\n---\n", "duplicate-key", 3),
        ("---\na: \x07\n---\n", "bad-yaml", 2),
    ],
)
def test_what_cannot_be_read_is_a_problem_with_its_line(text: str, code: str, line: int) -> None:
    """Bad front matter never raises; it says where and what."""
    _, _, problems = frontmatter.parse(text, "x.md")
    assert [(p.code, p.place.line) for p in problems] == [(code, line)]


WORDS = st.text(min_size=1, max_size=30).filter(lambda t: t.strip() == t and t.isprintable())


@given(WORDS)
def test_any_value_survives_writing_and_reading(value: str) -> None:
    """parse(format(x)) == x for a value alone and in a list."""
    assert yaml.safe_load(f"k: {plain(value)}")["k"] in (value, yaml.safe_load(plain(value)))
    text = frontmatter.format_front((("title", value), ("concepts", (value, "other"))))
    fields, _, problems = frontmatter.parse(text + "body", "x.md")
    assert fields is not None
    assert problems == ()
    assert fields.text("title") == value
    assert fields.texts("concepts") == (value, "other")
    assert yaml.safe_load(f"[{plain_in_list(value)}, x]")[1] == "x"


KEYS = st.sampled_from(["title", "area", "mine", "questions"])
LINES = st.lists(
    st.one_of(
        st.builds(lambda key, value: f"{key}: {plain(value)}", KEYS, WORDS),
        st.just("# a comment"),
        st.just(""),
        st.builds(lambda value: f"list:\n  - {plain(value)}  # why", WORDS),
    ),
    max_size=6,
    unique_by=lambda line: line.split(":")[0] if ":" in line else line,
)


@given(LINES, WORDS, st.sampled_from(["\n", "\r\n"]))
def test_an_edit_keeps_every_other_line(lines: list[str], value: str, newline: str) -> None:
    """Whatever the owner wrote, adding a question only adds it."""
    text = newline.join(["---", *"\n".join(lines).split("\n"), "---", "Body", ""])
    edited = frontmatter.add_to_list(text, "x.md", "questions", "north:9")
    before = [line for line in text.split(newline) if not line.startswith("questions")]
    after = [line for line in edited.split(newline) if not line.startswith("questions")]
    assert after == before
    fields, _, problems = frontmatter.parse(edited, "x.md")
    assert fields is not None
    assert problems == ()
    assert "north:9" in fields.texts("questions")


@given(st.text())
def test_no_text_makes_the_parser_raise(text: str) -> None:
    """Anything at all is read, perhaps with Problems."""
    frontmatter.parse(f"---\n{text}\n---\n{text}", "x.md")
    frontmatter.parse(text, "x.md")


def test_plain_words_stay_text() -> None:
    """`no`, `012` and `1:30` are words here, not False, ten and ninety.

    Source: YAML 1.1 integer and boolean types; what PyYAML's own loader makes of them is checked
    too, so that the reason for our conversion stays true.
    """
    text = "a: no\nb: 012\nc: 1:30\nd: 12:30\ne: 1e3\nf: 2026-02-30\n"
    assert yaml.safe_load("[no, off, on, 12:30, 1:30:00, 010, 0o10, 1e3]") == [
        False,
        False,
        True,
        750,
        5400,
        8,
        "0o10",
        "1e3",
    ]
    problems: list = []  # type: ignore[type-arg]
    fields = compose(text, "x", 1, problems)
    assert fields is not None
    assert [fields.text(key) for key in "abcdef"] == [
        "no",
        "012",
        "1:30",
        "12:30",
        "1e3",
        "2026-02-30",
    ]
    assert problems == []


@pytest.mark.parametrize(
    ("front", "edited"),
    [
        ("questions:", "questions: [north:2]"),
        ("questions: []", "questions: [north:2]"),
        ("questions: north:2", "questions: north:2"),
        ("questions: [north:2]", "questions: [north:2]"),
        ("questions: [north:1, north:2]", "questions: [north:1, north:2]"),
        ("questions:\n- north:1", "questions:\n- north:1\n- north:2"),
        ("questions:\n- north:1 # c\ntitle: T", "questions:\n- north:1 # c\n- north:2\ntitle: T"),
        ("questions: ['north:1']", "questions: ['north:1', north:2]"),
    ],
)
def test_a_question_is_added_once_in_the_form_that_is_there(front: str, edited: str) -> None:
    """In a block, in brackets, alone, or to an empty key."""
    found = frontmatter.add_to_list(f"---\n{front}\n---\nB\n", "x.md", "questions", "north:2")
    assert found == f"---\n{edited}\n---\nB\n"


def test_a_value_of_several_lines_is_replaced_whole() -> None:
    """A block of text, a list and a mapping; comments and blank lines behind it stay."""
    text = "---\nbasis: |\n  one\n  two\n\n# mine\ntitle: T\n---\n"
    assert frontmatter.set_value(text, "x.md", "basis", "new") == (
        "---\nbasis: new\n\n# mine\ntitle: T\n---\n"
    )
    text = "---\nbasis:\n  - one\n  - a: b\n# mine\ntitle: T\n---\n"
    assert frontmatter.set_value(text, "x.md", "basis", "new") == (
        "---\nbasis: new\n# mine\ntitle: T\n---\n"
    )


@pytest.mark.parametrize("value", ["{a: b}", "\n  a: b\n  c: d"])
def test_a_mapping_is_replaced_whole(value: str) -> None:
    """In braces or on lines of its own."""
    text = f"---\nbasis: {value}\n# mine\ntitle: T\n---\n".replace(": \n", ":\n")
    found = frontmatter.set_value(text, "x.md", "basis", "new")
    assert found == "---\nbasis: new\n# mine\ntitle: T\n---\n"


def test_a_mapping_is_not_taken_for_a_list() -> None:
    """The place and the form it should have are told."""
    with pytest.raises(KBError, match="'questions' is not a list") as caught:
        frontmatter.add_to_list("---\na: b\nquestions: {a: b}\n---\n", "x.md", "questions", "n:2")
    assert caught.value.place is not None
    assert caught.value.place.line == 3
    assert caught.value.hint == "write it as a list, such as questions: [n:2]"


@pytest.mark.parametrize(("front", "line"), [("a: 1\na: 2", 3), ("a: [", 2), ("- a", 2)])
def test_front_matter_that_cannot_be_read_is_not_edited(front: str, line: int) -> None:
    """A key twice, no YAML, no mapping: each with its line of the file."""
    for edit in (frontmatter.set_value, frontmatter.add_to_list):
        with pytest.raises(KBError) as caught:
            edit(f"---\n{front}\n---\n", "x.md", "a", "b")
        assert str(caught.value.place) == f"x.md:{line}"


def test_front_matter_without_its_last_line_break_and_with_a_mark() -> None:
    """A byte-order mark stays before it; a note without any loses it."""
    assert frontmatter.set_value("\ufeff---\na: 1\n---\nB", "x.md", "b", "two") == (
        "\ufeff---\na: 1\nb: two\n---\nB"
    )
    assert (
        frontmatter.set_value("\ufeffB\r\n", "x.md", "b", "two") == "---\r\nb: two\r\n---\r\nB\r\n"
    )
    assert frontmatter.set_value("---\n---\nB", "x.md", "b", "two") == "---\nb: two\n---\nB"


def test_new_front_matter_leaves_out_what_is_empty() -> None:
    """Words, lists, and nothing."""
    fields = (("a", ""), ("b", ()), ("c", "x"), ("d", ("y", "z, w")))
    assert frontmatter.format_front(fields) == "---\nc: x\nd: [y, 'z, w']\n---\n"


@pytest.mark.parametrize(
    ("text", "changed"),
    [
        ("---\na: [x, y]  # x\nx: 'x'\n---\nx\n", "---\na: [z, y]  # x\nw: z\n---\nx\n"),
        ("---\r\na:\r\n- x\r\n- 'y, y'\r\n---\r\nx", "---\r\na:\r\n- z\r\n- 'y, y'\r\n---\r\nx"),
        ("---\na: {b: {c: x}}\nd:\ne: ~\n---\n", "---\na: {b: {c: z}}\nd:\ne: ~\n---\n"),
        ("x\n", "x\n"),
        ("---\n---\nx\n", "---\n---\nx\n"),
    ],
)
def test_words_of_the_front_matter_are_changed_and_nothing_else(text: str, changed: str) -> None:
    """The word x becomes z as a value and w as a key; comments, quotes and the body stay."""

    def change(keys: tuple[str, ...], word: str) -> str | None:
        return ("w" if keys[-1] == "?" else "z") if word == "x" else None

    assert frontmatter.change_words(text, "n.md", change) == changed


def test_words_of_the_front_matter_may_grow() -> None:
    """Each in its own place, whatever the length of those before it."""
    text = "---\na: [x, y, x]\nx: x  # x\n---\n"
    changed = frontmatter.change_words(text, "n.md", lambda _, word: "xyz" if word == "x" else None)
    assert changed == "---\na: [xyz, y, xyz]\nxyz: xyz  # x\n---\n"


def test_words_of_front_matter_that_cannot_be_read_stay() -> None:
    """The place is that of the front matter."""
    with pytest.raises(FormatError):
        frontmatter.change_words("---\na: [x\n---\n", "n.md", lambda *_: "z")
