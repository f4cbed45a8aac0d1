"""A name with a slip of the pen: one line, the nearest name, status 2, and nothing written."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from kb.cli import main

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from click.testing import Result

LOG = """\
id,at,question,area,outcome,round,sitting
a1,2027-02-01T12:00:00+00:00,north:101,,wrong,,
a2,2027-02-02T12:00:00+00:00,paper-1:7,cardiology,right,paper,paper-1
"""
FILES = {
    "nephrology/potassium.md": "---\ntitle: Raised potassium\narea: nephrology\n"
    "concepts: [hyperkalaemia]\nquestions: [north:101]\nwritten: 2027-02-05\n---\nTall T waves.\n",
    "log/attempts-a.csv": LOG,
}


@pytest.fixture
def run(beside: Callable[..., Callable[..., Result]]) -> Callable[..., Result]:
    """Run missbook on a small base, in a folder beside it."""
    return beside(FILES)


@pytest.mark.parametrize(
    ("arguments", "meant"),
    [
        (("brief", "nefrology"), "nephrology"),
        (("brief", "otassium"), "potassium"),
        (("map", "nefrology"), "nephrology"),
        (("history", "potasium"), "potassium"),
        (("find", "waves", "--area", "nefrology"), "nephrology"),
        (("find", "waves", "--concept", "hyperkalemia"), "hyperkalaemia"),
        (("find", "waves", "--source", "nrth"), "north"),
        (("find", "waves", "--state", "failin"), "failing"),
        (("queue", "--area", "cardiolgy"), "cardiology"),
        (("certainty", "--sitting", "papr-1"), "paper-1"),
        (("sitting", "papr-1"), "paper-1"),
        (("sitting", "papr-1", "--score", "all=1/2"), "paper-1"),
        (("chart", "standin"), "standing"),
        (("chart", "pace", "--sitting", "papr-1"), "paper-1"),
        (("print", "breif"), "brief"),
        (("carry", "notes", "potasium"), "potassium"),
        (("read", "potasium"), "potassium"),
        (("rewrite", "potasium", "--stamp"), "potassium"),
        (("note", "nort:101"), "north"),
        (("note", "north:101", "--dismiss", "misred"), "misread"),
        (("note", "north:101", "--link", "potasium"), "potassium"),
        (("draw", "5", "--source", "nort"), "north"),
        (("log", "blok"), "block"),
        (("log", "block", "nourth", "1-5"), "north"),
        (("log", "block", "north", "1-5", "--area", "cardiolgy"), "cardiology"),
        (("log", "block", "north", "1-5", "--round", "secnd"), "second"),
        (("log", "one", "nourth:5", "x"), "north"),
    ],
)
def test_the_nearest_name_is_offered(
    run: Callable[..., Result], tmp_path: Path, arguments: tuple[str, ...], meant: str
) -> None:
    """Wherever a person names something."""
    log = tmp_path / "base" / "log"
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "did you mean " in result.stderr
    assert meant in result.stderr.partition("did you mean ")[2]
    assert len(result.stderr.splitlines()) == 2
    assert [path.name for path in log.iterdir() if path.suffix == ".csv"] == ["attempts-a.csv"]
    assert (log / "attempts-a.csv").read_bytes() == LOG.encode()


def test_the_next_paper_is_no_slip_of_the_one_before(run: Callable[..., Result]) -> None:
    """It is logged as a source that is not declared yet."""
    result = run("log", "block", "paper-2", "1-5")
    assert result.exit_code == 0
    assert "Not declared in study.yaml yet: paper-2." in result.stdout


def test_a_source_that_was_logged_before_is_no_slip(run: Callable[..., Result]) -> None:
    """Even one that is not declared and all but the name of another: a sheet may say so."""
    taken = CliRunner().invoke(
        main, ["log", "sheet", "-", "--as-of", "2027-02-14"], input="source norths\n1 x\n"
    )
    assert "norths (did you mean north?)" in taken.stdout
    assert run("log", "block", "norths", "2-5").exit_code == 0


def test_a_miss_that_was_never_logged_is_not_set_aside(run: Callable[..., Result]) -> None:
    """A wrong number would set aside nothing and say it was done."""
    result = run("note", "north:999", "--dismiss", "nothing")
    assert result.exit_code == 2
    assert "north:999 has never been logged" in result.stderr


def test_a_note_for_a_question_not_logged_yet_is_written_and_said(
    run: Callable[..., Result],
) -> None:
    """It may be logged later."""
    result = run("note", "north:102", "--text", "Wide QRS.", "--basis", "text")
    assert result.exit_code == 0
    assert "The log does not have north:102 yet." in result.stderr


@pytest.mark.parametrize("report", ["find", "map", "history"])
@pytest.mark.parametrize("words", ["", "   "])
def test_no_words_at_all_are_asked_for(run: Callable[..., Result], report: str, words: str) -> None:
    """Also when the short way of find could answer."""
    run("find", "waves")
    result = run(report, words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "words: nothing was typed" in result.stderr


def test_a_diagnosis_that_no_note_has_is_pointed_out(run: Callable[..., Result]) -> None:
    """It may be a slip; the note is begun all the same."""
    result = run("compare", "hyperkalaemiaa", "gout", "--draft")
    assert result.exit_code == 0
    assert (
        "None of your notes mentions hyperkalaemiaa; did you mean hyperkalaemia?" in result.stderr
    )


def test_a_name_that_no_paper_can_have_is_refused(run: Callable[..., Result]) -> None:
    """Its answers could not be logged under it later."""
    result = run("sitting", "paper 9", "--score", "all=1/2")
    assert result.exit_code == 2
    assert "such as paper-9" in result.stderr
