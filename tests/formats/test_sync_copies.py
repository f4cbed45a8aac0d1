"""Copies that a synchroniser leaves are found by their names and compared."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.formats.sync_copies import find_twins, original_of, twin_problem

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

NOTE = "---\ntitle: Heat\narea: cardiology\n---\n{text}\n"


@pytest.mark.parametrize(
    "name",
    [
        "heat (conflicted copy 2027-01-14).md",
        "heat (Phone's conflicted copy 2027-01-14 194210).md",
        "heat.sync-conflict-20270114-194210-ABCDEFG.md",
        "heat_conflict-20270114-194210.md",
        "heat (1).md",
        "heat - Copy.md",
        "heat copy 2.md",
        "Heat 2.md",
    ],
)
def test_a_copy_is_known_by_its_name(name: str) -> None:
    """Each of the usual ways of naming one."""
    assert original_of(f"cardiology/{name}", ["cardiology/heat.md"]) == "cardiology/heat.md"


@pytest.mark.parametrize("name", ["heat-2.md", "copy.md", "heat and cold.md", "type 2.md"])
def test_a_note_of_its_own_is_no_copy(name: str) -> None:
    """A number is part of many a title; without an original there is no copy."""
    assert original_of(name, ["heat.md", name]) == ""


@given(st.text(max_size=40))
def test_any_name_has_an_answer(name: str) -> None:
    """No name is too strange."""
    original_of(name, [name, "x.md"])
    find_twins([name, "x.md"])


def test_two_versions_are_shown_side_by_side() -> None:
    """The first line that differs, with its number, from both."""
    problem = twin_problem("a.md", "a (1).md", "one\ntwo\nthree\n", "one\n2\nthree\n")
    assert problem is not None
    assert str(problem).splitlines()[0] == (
        "a (1).md:2: two versions of one note; a.md: 'two' | here: '2'"
    )
    assert problem.severity == "error"


def test_a_numbered_note_of_its_own_is_no_twin() -> None:
    """A bare number makes a copy only if the texts are alike."""
    assert (
        twin_problem("type.md", "type 2.md", "One thing.\n", "Quite something else 12345\n") is None
    )


def test_an_exact_copy_can_go() -> None:
    """It only needs deleting."""
    problem = twin_problem("a.md", "a (1).md", "one\n", "one\n")
    assert problem is not None
    assert (problem.severity, problem.hint) == ("caution", "delete this copy")


def test_the_base_lists_copies_of_notes(session: Callable[..., Session]) -> None:
    """`check` says so, for every pair in the base."""
    start = session(
        {
            "cardiology/heat.md": NOTE.format(text="Old."),
            "cardiology/heat (conflicted copy 2027-01-14).md": NOTE.format(text="New."),
            "cardiology/cold.md": NOTE.format(text="x"),
        }
    )
    found = [problem for problem in start.base.problems if problem.code == "note-twins"]
    assert [str(problem.place) for problem in found] == [
        "cardiology/heat (conflicted copy 2027-01-14).md:5"
    ]


LOG = """\
id,at,question,outcome
a1,2027-01-14T19:42:00+00:00,north:1,wrong
a2,2027-01-14T19:43:00+00:00,north:2,right
"""


def test_conflicted_copies_of_a_log_are_united(session: Callable[..., Session]) -> None:
    """Lines in both count once, and lines of either are kept."""
    more = LOG + "a3,2027-01-14T19:44:00+00:00,north:3,right\n"
    start = session(
        {
            "log/attempts-phone.csv": LOG,
            "log/attempts-phone (conflicted copy 2027-01-15).csv": more,
            "log/attempts-phone (1).csv": LOG.replace("a2", "a4").replace("north:2", "north:4"),
        }
    )
    assert [attempt.id for attempt in start.base.attempts] == ["a1", "a2", "a4", "a3"]
    assert start.base.problems == ()


def test_differences_are_counted_and_long_lines_cut() -> None:
    """Sixty characters of each; further lines count as differing too."""
    sixty, more = "a" * 60, "b" * 61
    problem = twin_problem("a.md", "a (1).md", f"x\n{sixty}\n", f"x\n{more}\nz\n")
    assert problem is not None
    assert problem.message == (
        f"two versions of one note (2 lines differ); a.md: '{sixty}' | here: '{'b' * 57}...'"
    )
    assert problem.place.line == 2
    assert problem.hint == "bring into a.md what it lacks, then delete this file"


def test_line_ends_alone_are_said_so() -> None:
    """The two notes say the same."""
    problem = twin_problem("a.md", "a (1).md", "x\n", "x\r\n")
    assert problem is not None
    assert (problem.message, problem.place.line) == ("the same as a.md but for its line ends", 0)


@pytest.mark.parametrize(("other", "twin"), [("abcxyz\n", False), ("abcd56\n", True)])
def test_six_parts_in_ten_make_a_numbered_note_a_copy(other: str, twin: bool) -> None:
    """Worked by hand: of 14 characters in both 2 x 4 are alike (.57), or 2 x 5 (.71)."""
    assert (twin_problem("type.md", "type 2.md", "abcd12\n", other) is not None) == twin
    assert twin_problem("type.md", "type (2).md", "abcd12\n", other) is not None


def test_a_numbered_note_just_alike_enough_is_a_copy() -> None:
    """By hand: of ten characters in both, 2 x 3 are alike: six in ten exactly."""
    assert twin_problem("type.md", "type 2.md", "abc12", "abc89") is not None


def test_twins_are_listed_in_order_of_path() -> None:
    """Each copy with its note, in the same folder only."""
    notes = ["b/heat (2).md", "a/heat (1).md", "a/Heat.md", "b/heat.md", "heat (1).md"]
    assert find_twins(notes) == (("a/Heat.md", "a/heat (1).md"), ("b/heat.md", "b/heat (2).md"))
