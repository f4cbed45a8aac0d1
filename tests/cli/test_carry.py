"""`missbook carry`: which notes go along, what is said, and what the file offers."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.services.selection import answer_form

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from click.testing import Result

    from kb.services.session import Session

DAY = "2027-02-14"
NOTE = "---\ntitle: {}\narea: {}\nquestions: [{}]\nwritten: 2027-02-01\n---\nA fact.\n"
FILES = {
    "cardiology/valves.md": NOTE.format("Valves", "cardiology", "north:1"),
    "nephrology/tubes.md": NOTE.format("Tubes", "nephrology", "north:101"),
    "nephrology/salt.md": NOTE.format("Salt", "nephrology", "north:102"),
    "plain.md": "# Plain\n\nNo front matter.\n",
    "log/attempts-laptop.csv": "id,at,question,outcome\n"
    "0001,2027-02-04T10:00:00+00:00,north:101,wrong\n"
    "0002,2027-02-05T10:00:00+00:00,evening:7,right\n",
}


@pytest.fixture
def root(base: Callable[..., Path], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A base of four notes; one is in the folder above it."""
    monkeypatch.chdir(tmp_path)
    return base(FILES)


def carry(root: Path, *arguments: str) -> Result:
    """Run `carry` on the fixed day."""
    given = ["carry", *arguments, "--base", str(root), "--as-of", DAY]
    return CliRunner().invoke(main, given)


def titles(path: Path) -> list[str]:
    """Titles of the notes in a carried file, in order."""
    return re.findall(r"<h3 id=\"t\d+\">([^<]*)</h3>", path.read_text(encoding="utf-8"))


def test_all_notes_go_along_when_nothing_is_said(root: Path, tmp_path: Path) -> None:
    """By area in the blueprint's order; a note of no area comes last."""
    result = carry(root, "--out", "train.html")
    assert result.exit_code == 0, result.stderr
    found = titles(tmp_path / "train.html")
    assert [found[0], *sorted(found[1:3]), found[3]] == ["Valves", "Salt", "Tubes", "Plain"]


@pytest.mark.parametrize(
    ("arguments", "name", "wanted"),
    [
        (("--area", "nephrology"), "nephrology.html", ["Salt", "Tubes"]),
        (("--state", "failing"), "notes-failing.html", ["Tubes"]),
        (("queue",), "queue-2027-02-14.html", ["Salt", "Tubes", "Valves"]),
        (("notes", "salt", "valves"), "notes.html", ["Salt", "Valves"]),
        (("brief", "nephrology"), "brief-nephrology.html", ["Salt", "Tubes"]),
    ],
)
def test_a_choice_goes_along_in_a_file_named_after_it(
    root: Path, tmp_path: Path, arguments: tuple[str, ...], name: str, wanted: list[str]
) -> None:
    """The notes are those that the report of the same name lists."""
    assert carry(root, *arguments).exit_code == 0
    assert sorted(titles(tmp_path / name)) == wanted


def test_it_says_what_the_file_holds(root: Path, tmp_path: Path) -> None:
    """File and notes, in one line; its size as well in JSON."""
    result = carry(root, "--out", "train.html")
    size = (tmp_path / "train.html").stat().st_size
    assert result.stdout == "Written: train.html, 4 notes\n"
    content = json.loads(carry(root, "--out", "train.html", "--replace", "--json").stdout)
    assert content == {"file": "train.html", "note_count": 4, "byte_count": size}


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("nonsense",), "'nonsense' is none of the lists"),
        (("all", "--day", "2027-02-15"), "--day does not go with all"),
        (("--area", "nowhere"), "no area called 'nowhere'"),
        (("--area", "neurology"), "no note to read"),
        (("--out", "."), "'.' is a folder"),
    ],
)
def test_bad_input_is_one_line_and_writes_nothing(
    root: Path, tmp_path: Path, arguments: tuple[str, ...], message: str
) -> None:
    """What is wrong and how to mend it; exit status 2."""
    result = carry(root, *arguments)
    assert result.exit_code == 2
    assert message in result.stderr
    assert len(result.stderr.splitlines()) <= 2
    assert list(tmp_path.glob("*.html")) == []


def test_the_form_offers_declared_sources_then_logged_ones(
    session: Callable[..., Session],
) -> None:
    """A source that was only logged can be chosen too."""
    form = answer_form(session(FILES))
    assert [source for source, _ in form.sources] == ["north", "paper-1", "evening"]
    assert form.letters == tuple("ABCDE")


def test_a_name_that_would_be_read_as_a_source_is_not_offered(
    session: Callable[..., Session],
) -> None:
    """A source called paper takes that word from the rounds, one called neurology the area."""
    study = "sources:\n  - {source: paper, items: 9}\n  - {source: neurology, items: 9}\n"
    form = answer_form(session({"study.yaml": study}))
    assert form.rounds == ("first", "second")
    assert [area for area, _ in form.areas] == ["cardiology", "nephrology"]
