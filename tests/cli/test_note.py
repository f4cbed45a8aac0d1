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
    assert "there is no terminal to answer at" in result.stderr


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


@pytest.fixture
def walk(run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """`note --next` with these lines typed; what is typed ends as if the person broke off."""
    monkeypatch.setattr(cmd_note, "interactive", lambda: True)

    def call(*lines: str, options: tuple[str, ...] = ()) -> Result:
        return run("note", "--next", *options, text="".join(f"{line}\n" for line in lines))

    return call


def asked(result: Result) -> list[str]:
    """The questions shown, in order."""
    heads = (line.split() for line in result.stdout.splitlines())
    return [
        words[0] for words in heads if words and words[0].count(":") == 1 and words[0][-1] != ":"
    ]


def test_the_walk_begins_with_the_block_just_logged(
    run: Callable[..., Result], walk: Callable[..., Result]
) -> None:
    """Then the others, the costliest first; the block's report names the command."""
    said = run("log", "block", "west", "40-42", "--wrong", "41").stdout
    assert "1 missed. Write its note now: missbook note --next" in said
    first, *others = asked(walk("", "", "", ""))
    listed = [row["question"] for row in json.loads(run("note", "--json").stdout)["misses"]]
    assert first == "west:41"
    assert others == [question for question in listed if question != "west:41"]


@pytest.mark.parametrize(
    ("options", "questions"),
    [
        (("--area", "nephrology"), {"north:101"}),
        (("--source", "west"), {"west:9"}),
        (("--since", "2027-02-12"), {"west:9"}),
        (("--since", "2027-02-11"), {"north:5", "west:9"}),
        (("--source", "north", "--since", "2027-02-11"), {"north:5"}),
    ],
)
def test_the_walk_takes_only_what_was_asked_for(
    walk: Callable[..., Result], options: tuple[str, ...], questions: set[str]
) -> None:
    """By area, source and day."""
    assert set(asked(walk("", "", "", "", options=options))) == questions


def test_a_sentence_at_the_prompt_is_the_note(
    run: Callable[..., Result], walk: Callable[..., Result]
) -> None:
    """It need not be announced by a key."""
    typed = "Rhomboid crystals bend light the other way."
    result = walk(typed, "n", "", "", "", "", "q", options=("--source", "north"))
    assert result.exit_code == 0, result.output
    assert typed in " ".join(texts(run).values())


def test_words_behind_a_slash_look_for_a_note(
    run: Callable[..., Result], walk: Callable[..., Result]
) -> None:
    """Its number then links it; a slash alone finds none and asks again."""
    result = walk("/", "/needle-shaped pseudogout", "1", "q", options=("--area", "cardiology"))
    assert result.exit_code == 0, result.output
    assert "No note seems to cover it." in result.stdout
    assert "Gout or pseudogout answers north:5." in result.stderr
    assert "north:5" in texts(run)["nephrology/gout-or-pseudogout.md"]


def test_an_unknown_key_is_said_to_be_unknown(
    run: Callable[..., Result], walk: Callable[..., Result]
) -> None:
    """The same miss is asked again, and nothing is written."""
    before = texts(run)
    result = walk("z", "9", "q")
    assert "'z' is not one of the keys" in result.stderr
    assert "'9' is not one of the keys" in result.stderr
    assert len(set(asked(result))) == 1
    assert texts(run) == before


def test_what_was_broken_off_is_offered_again(
    run: Callable[..., Result], walk: Callable[..., Result]
) -> None:
    """Ctrl-C after the text was typed keeps it; it can be written, kept or thrown away later."""
    typed = "Rhomboid crystals bend light the other way."
    only = ("--source", "west")
    broken = walk(typed, "n", options=only)
    assert broken.exit_code == 1
    assert typed not in " ".join(texts(run).values())
    again = walk("n", "n", "q", options=only)
    assert f"You began a note for west:9:\n{typed}" in again.stdout
    written = walk("y", "n", "", "cardiology", "", "", "q", options=only)
    assert written.exit_code == 0, written.output
    assert typed in " ".join(texts(run).values())
    assert "You began" not in walk("q", options=only).stdout


def test_a_large_stock_is_named_so_that_it_can_be_faced(run: Callable[..., Result]) -> None:
    """The share of the twenty worth most, summed from the list itself."""
    run("log", "block", "north", "1-140", "--wrong", "1-60")
    misses = json.loads(run("note", "--limit", "200", "--json").stdout)["misses"]
    marks = [row["marks"] for row in misses]
    share = sum(sorted(marks, reverse=True)[:20]) / sum(marks)
    assert len(misses) > 60
    assert f"The 20 worth most hold {share:.0%} of these marks" in run("note").stdout
