"""A whole text edited by hand: line ends, and the differences between two versions."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.formats.note_edits import differences, with_line_ends_of

LINES = st.lists(st.sampled_from(["a", "b", "c", ""]), max_size=8)


@pytest.mark.parametrize(
    ("old", "typed", "new"),
    [
        ("a\r\nb\r\n", "a\nb\nc\n", "a\r\nb\r\nc\r\n"),
        ("a\nb\n", "a\r\nb\r\nc\r\n", "a\nb\nc\n"),
        ("a\nb\n", "a\nb", "a\nb"),
        ("\ufeffa\n", "a\nb\n", "\ufeffa\nb\n"),
        ("a\r\nb\nc\r\n", "a\nb\nx\nc\n", "a\r\nb\nx\r\nc\r\n"),
        ("a", "a\nb\n", "a\nb\n"),
        ("", "a\n", "a\n"),
    ],
)
def test_line_ends_stay_as_they_were(old: str, typed: str, new: str) -> None:
    """Old lines keep their own ends, new lines get the usual one, and a byte-order mark stays."""
    assert with_line_ends_of(old, typed) == new


@given(LINES, st.lists(st.sampled_from(["\n", "\r\n"]), min_size=8, max_size=8))
def test_what_was_not_edited_stays_to_the_byte(lines: list[str], ends: list[str]) -> None:
    """A form that brings the text back unchanged changes no byte of the file."""
    old = "".join(line + end for line, end in zip(lines, ends, strict=False))
    assert with_line_ends_of(old, old.replace("\r\n", "\n")) == old


@given(LINES, LINES)
def test_each_version_can_be_read_off_the_differences(first: list[str], second: list[str]) -> None:
    """Lines of both and of one side, with all context, are that side."""
    one, other = ("".join(f"{line}\n" for line in lines) for lines in (first, second))
    found = differences(one, other, context=99)
    if first == second:
        assert found == ()
    else:
        assert [line.text for line in found if line.side != "second"] == first
        assert [line.text for line in found if line.side != "first"] == second


def test_differences_say_how_much_is_left_out() -> None:
    """Lines that are alike and far away are counted, not shown."""
    one = "".join(f"{number}\n" for number in range(20))
    found = differences(one, one.replace("10\n", "ten\n"), context=1)
    assert [(line.side, line.text) for line in found] == [
        ("both", "9"),
        ("first", "10"),
        ("second", "ten"),
        ("both", "11"),
    ]
    assert found[0].left_out_count == 9


def test_line_ends_are_no_difference() -> None:
    """Two versions that differ in line ends alone are shown as alike."""
    assert differences("\ufeffa\r\nb\r\n", "a\nb\n") == ()


def test_every_group_of_differences_says_what_lies_before_it() -> None:
    """On its first line only: nothing before the first group, fourteen lines before the second."""
    one = "".join(f"{number}\n" for number in range(20))
    other = one.replace("0\n", "zero\n", 1).replace("17\n", "new\n")
    found = differences(one, other)
    counts = [(line.text, line.left_out_count) for line in found if line.left_out_count]
    assert counts == [("15", 12)]
    assert [line.text for line in found] == [
        *("0", "zero", "1", "2", "15", "16", "17", "new", "18", "19")
    ]


def test_very_long_texts_are_compared_without_their_common_lines() -> None:
    """Both over 2,000 lines; in a shorter one every line is compared."""
    for count, same in ((2000, True), (2001, False)):
        one = ["x"] * count
        other = ["new", *one]
        pair = ["".join(f"{line}\n" for line in lines) for lines in (one, other)]
        found = differences(*pair)
        assert (len(found) == 3) == same


def test_line_ends_of_a_long_note_of_like_lines_stay() -> None:
    """Three hundred lines, most of them the same, with both kinds of end by turns."""
    old = "".join(f"- same{end}" for end in ("\r\n", "\n") * 150)
    typed = old.replace("\r\n", "\n")
    assert with_line_ends_of(old, typed) == old
    assert with_line_ends_of(old, typed + "new\n") == old + "new\r\n"
    assert with_line_ends_of(old, "new\n" + typed) == "new\r\n" + old
