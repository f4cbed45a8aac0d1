"""From a miss to its note: link, write, set aside, and the walk through all of them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from kb.cli import cmd_note, main

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.testing import Result

DAY = "2027-02-14"
NOTE = """\
---
title: Gout or pseudogout
area: nephrology
concepts: [gout, crystals]
questions: [north:150]
basis: own text
written: 2027-01-01
---
Gout has needle-shaped crystals, negatively birefringent; pseudogout has rhomboid ones.
"""
LOG = """\
id,at,question,outcome,chosen,key,remark
1,2027-02-10T12:00:00+00:00,north:101,wrong,C,B,gout vs pseudogout crystals
2,2027-02-11T12:00:00+00:00,north:5,wrong,,,
3,2027-02-12T12:00:00+00:00,west:9,wrong,A,D,crystals of gout
"""


@pytest.fixture
def run(base: Callable[..., Path]) -> Callable[..., Result]:
    """Run missbook on a base with three open misses and one note."""
    files = {
        "nephrology/gout-or-pseudogout.md": NOTE,
        "log/attempts-phone.csv": LOG.replace("\n", "\r\n"),
    }
    root = base(files)

    def call(*arguments: str, text: str | None = None) -> Result:
        given = [arguments[0], *arguments[1:], "--base", str(root), "--as-of", DAY]
        return CliRunner().invoke(main, given, input=text)

    call.root = root  # type: ignore[attr-defined]
    return call


def texts(run: Callable[..., Result]) -> dict[str, str]:
    """Every note of the base by path."""
    root: Path = run.root  # type: ignore[attr-defined]
    return {
        path.relative_to(root).as_posix(): path.read_text(encoding="utf-8")
        for path in root.rglob("*.md")
    }


def test_open_misses_are_listed(run: Callable[..., Result]) -> None:
    """Each with its area, its options and its remark."""
    result = run("note")
    assert result.exit_code == 0
    assert "3 misses without a note" in result.stdout
    assert "chose C, key B; gout vs pseudogout crystals" in result.stdout


def test_a_miss_shows_what_may_cover_it(run: Callable[..., Result]) -> None:
    """The two answers mixed up, the remark, and the note with its matching line."""
    result = run("note", "north:101")
    assert "chose C, key B; gout vs pseudogout crystals" in result.stdout
    assert "Gout or pseudogout" in result.stdout
    assert "needle-shaped" in result.stdout


def test_a_link_changes_one_line(run: Callable[..., Result]) -> None:
    """The note answers the question too, and nothing else in it changes."""
    result = run("note", "north:101", "--link", "gout-or-pseudogout")
    assert result.stdout == "Gout or pseudogout answers north:101.\n"
    expected = NOTE.replace("[north:150]", "[north:150, north:101]")
    assert texts(run)["nephrology/gout-or-pseudogout.md"] == expected
    assert "2 misses without a note" in run("note").stdout


def test_a_note_is_written_from_one_line(run: Callable[..., Result]) -> None:
    """Title from its first clause, area from the source's numbering, the rest as given."""
    text = "Colchicine dose falls with the kidney: watch the filtration rate."
    result = run("note", "north:101", "--text", text, "--basis", "own text")
    assert result.exit_code == 0
    written = texts(run)["nephrology/colchicine-dose-falls-with-the-kidney.md"]
    assert "area: nephrology" in written
    assert "questions: [north:101]" in written
    assert written.endswith(f"---\n\n{text}\n") or written.endswith(f"---\n{text}\n")


def test_the_area_comes_from_the_nearest_notes(run: Callable[..., Result]) -> None:
    """Where neither the log nor the source tells it."""
    result = run("note", "west:9", "--text", "Gout: needle-shaped crystals.")
    assert "Area nephrology, from the closest notes" in result.stderr
    assert "nephrology/gout.md" in result.stdout


def test_concepts_of_the_base_are_offered(run: Callable[..., Result]) -> None:
    """Those that stand in the text, in the base's own spelling."""
    result = run("note", "north:101", "--text", "Crystals tell gout from the rest.")
    assert "It mentions concepts of yours: crystals, gout" in result.stderr


def test_a_miss_can_be_set_aside(run: Callable[..., Result]) -> None:
    """With a reason, for good; it is no open miss any more."""
    result = run("note", "north:5", "--dismiss", "misread")
    assert result.stdout == "north:5 is dismissed: misread.\n"
    assert "2 misses without a note" in run("note").stdout


def test_an_empty_note_is_not_written(run: Callable[..., Result]) -> None:
    """Nothing comes into being for a text of blanks."""
    result = run("note", "north:5", "--text", "  \n")
    assert result.exit_code == 2
    assert len(texts(run)) == 1


def test_json_names_the_new_note(run: Callable[..., Result]) -> None:
    """A script learns the path."""
    result = run("note", "north:5", "--text", "Heart: a fact.", "--json")
    assert json.loads(result.stdout)["path"] == "cardiology/heart.md"


def test_the_walk_needs_a_person(run: Callable[..., Result]) -> None:
    """In a script it says what to use instead."""
    result = run("note", "--next")
    assert result.exit_code == 2
    assert "nobody is here to answer" in result.stderr


def test_the_walk_links_writes_and_sets_aside(
    run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One screen for each miss; Enter takes what is suggested."""
    monkeypatch.setattr(cmd_note, "interactive", lambda: True)
    answers = {
        "north:101": ["1"],
        "north:5": [
            "w",
            "Raised troponin alone is no infarct. Ask for the rise.",
            "",
            "",
            "",
            "book",
        ],
        "west:9": ["n"],
    }
    shown = run("note").stdout
    order = sorted(answers, key=shown.find)
    lines = [line for question in order for line in answers[question]]
    result = run("note", "--next", text="\n".join([*lines, ""]))
    assert result.exit_code == 0, result.output
    assert "Nothing is left to write up here." in result.stdout
    written = texts(run)["cardiology/raised-troponin-alone-is-no-infarct.md"]
    assert "basis: book" in written
    assert "north:101" in texts(run)["nephrology/gout-or-pseudogout.md"]


def test_the_walk_can_be_left(run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch) -> None:
    """Leaving changes nothing."""
    monkeypatch.setattr(cmd_note, "interactive", lambda: True)
    before = texts(run)
    result = run("note", "--next", text="\nq\n")
    assert result.exit_code == 0
    assert texts(run) == before
