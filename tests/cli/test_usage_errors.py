"""Slips in the words of a command: one line that says what is wrong, then where the help is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.testing import Result

FILES = {
    "a.md": "---\ntitle: Kidney\narea: nephrology\n---\nKidney and heart.\n",
    "b.md": "---\ntitle: Heart\narea: cardiology\n---\nHeart and kidney of Quill.\n",
}


@pytest.fixture
def run(beside: Callable[..., Callable[..., Result]]) -> Callable[..., Result]:
    """Run missbook on a small base."""
    return beside(FILES)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("log", "block", "north", "1-40", "--wrong", "3", "7-9"), "join items with commas"),
        (("compare", "DIC", "TTP", "or", "HUS"), "not expected: or HUS; put words that belong"),
        (("queue", "nephrology"), "not expected: nephrology; for an area: --area nephrology"),
        (("log", "undo", "--lasst"), "there is no option --lasst; did you mean --last?"),
        (("forecast", "--pass", "61"), "did you mean --pass-mark or --pass-sd?"),
        (("queue", "--foo"), "there is no option --foo\n"),
        (("log", "block", "north", "1-40", "--took", "62min"), "--took: '62min' is not a"),
        (("log", "block", "north", "1-40", "--took", "0"), "must be from 0.1 to 1440"),
        (("calendar", "--days", "0"), "--days: must be 1 or more; you typed 0"),
        (("note", "--limit", "0"), "--limit: must be 1 or more; you typed 0"),
        (("queue", "--limit", "x"), "--limit: 'x' is not a whole number"),
        (("find", "heart", "--minutes", "five"), "--minutes: 'five' is not a number"),
        (("draw", "many"), "N: 'many' is not a whole number"),
        (("calendar", "--out", "."), "--out: '.' is a folder"),
        (
            ("find", "heart", "--since", "9999-12-31"),
            "'9999-12-31' is not a date from 1990 to 2200",
        ),
        (("find",), "missing argument 'WORDS...'"),
        (("queue", "--area", "cardiology", "--area", "nephrology"), "--area was given 2 times"),
        (("find", "-quill", "--limit", "3", "--limit", "5"), "--limit was given 2 times"),
        (
            ("log", "one", "north:1", "--day", "2027-01-01", "--day", "2027-01-02"),
            "--day was given",
        ),
    ],
)
def test_a_slip_is_told_in_one_line(
    run: Callable[..., Result], arguments: tuple[str, ...], said: str
) -> None:
    """In the words of the person, not of the library."""
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert said in result.stderr
    _, hint = result.stderr.splitlines()
    assert hint.startswith("  hint: see ")
    assert hint.endswith(" --help")


@pytest.mark.parametrize(
    "arguments",
    [
        ("queue", "--limit", "0"),
        ("mixups", "--limit", "-1"),
        ("plan", "--days", "0"),
        ("reread", "--days", "-2"),
        ("reasons", "--weeks", "0"),
        ("standing", "--compare-days", "0"),
        ("map", "nephrology", "--limit", "0"),
        ("gaps", "--limit", "0"),
        ("find", "heart", "--page", "0"),
        ("find", "heart", "--minutes", "-5"),
    ],
)
def test_a_list_of_nothing_is_not_asked_for(
    run: Callable[..., Result], arguments: tuple[str, ...]
) -> None:
    """It would say that there is nothing to do."""
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert " or more; you typed " in result.stderr


def test_a_comma_may_divide_decimals(run: Callable[..., Result]) -> None:
    """As on the page."""
    assert run("brief", "nephrology", "--minutes", "1,5").exit_code == 0


@pytest.mark.parametrize("word", ["-quill", "-heart-of"])
def test_a_minus_leaves_a_word_out(run: Callable[..., Result], word: str) -> None:
    """It is no option, though letters of it may be."""
    found = run("find", "kidney", "-quill").stdout
    assert "1 note" in found
    assert run("find", "kidney", word, "--json").exit_code == 0


def test_help_is_still_asked_for_in_short(run: Callable[..., Result]) -> None:
    """A single letter behind the minus is an option."""
    assert "Usage: main find" in run("find", "-h").stdout


@pytest.mark.parametrize(
    "arguments", [("rewrite", "kidney"), ("note", "north:1", "--edit"), ("rewrite", "a.md")]
)
def test_no_editor_opens_where_nobody_is(run: Callable[..., Result], arguments: tuple) -> None:
    """A script would hang in it."""
    result = run(*arguments)
    assert result.exit_code == 2
    assert "no terminal to write it at" in result.stderr
