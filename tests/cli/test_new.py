"""A new base from options alone: blueprint, sources, rota, minutes, and notes that are there."""

from __future__ import annotations

import os
from datetime import date
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from conftest import whole

from kb.cli import main
from kb.formats.exam import parse_exam, templates
from kb.formats.study import parse_study

if TYPE_CHECKING:
    from pathlib import Path

    from click.testing import Result

    from kb.core.settings import Study

DATE = ("--date", "2027-05-11", "--as-of", "2027-01-06")


def new(folder: Path, *options: str, given: str | None = None) -> Result:
    """Make a base in a folder, on Wednesday 6 Jan 2027."""
    return CliRunner().invoke(main, ["new", str(folder), *DATE, *options], input=given)


def study_of(folder: Path) -> Study:
    """The settings written, which are read without a problem."""
    study, problems = parse_study((folder / "study.yaml").read_text(encoding="utf-8"), "study.yaml")
    assert not problems
    return study


@pytest.mark.parametrize("name", templates())
def test_a_blueprint_to_start_from_is_a_whole_exam(tmp_path: Path, name: str) -> None:
    """Each has 200 items, and is read without a problem."""
    assert new(tmp_path / "b", "--blueprint", name).exit_code == 0
    exam, problems = parse_exam((tmp_path / "b/exam.yaml").read_text(encoding="utf-8"), "exam.yaml")
    assert exam is not None
    assert not problems
    assert exam.item_count == 200
    assert exam.areas == templates()[name]


def test_the_sciences_have_what_clinical_lists_lack() -> None:
    """Basic science, ethics and law, communication, immunology and genetics."""
    areas = {area.id for area in templates()["sciences"]}
    assert {"basic-science", "ethics-law", "communication", "immunology", "genetics"} <= areas


def test_sources_and_rota_are_written(tmp_path: Path) -> None:
    """As options say; the week begins on the Monday before."""
    sources = ("--source", "north=2800", "--source", "paper-1=200", "--source", "mock-a=100")
    rota = ("--rota", "day, day long day off off off", "--free-minutes", "300")
    assert new(tmp_path, *sources, *rota, "--work-minutes", "45").exit_code == 0
    study = study_of(tmp_path)
    found = [(source.id, source.kind, source.item_count) for source in study.sources]
    assert found == [("north", "bank", 2800), ("paper-1", "paper", 200), ("mock-a", "mock", 100)]
    assert study.rota is not None
    assert study.rota.starts == date(2027, 1, 4)
    assert study.rota.weeks == (("day", "day", "long", "day", "off", "off", "off"),)
    minutes = {shift.name: shift.study_minutes for shift in study.rota.shifts}
    assert (minutes["off"], minutes["day"]) == (300, 45)


def test_minutes_alone_make_an_office_week(tmp_path: Path) -> None:
    """Without a rota the week is that of an office."""
    assert new(tmp_path, "--free-minutes", "200").exit_code == 0
    study = study_of(tmp_path)
    assert study.rota is not None
    assert study.rota.weeks == (("day",) * 5 + ("off",) * 2,)


def test_the_rota_may_be_a_calendar(tmp_path: Path) -> None:
    """Its shifts become days that differ, as with `missbook rota FILE`."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:x", "BEGIN:VEVENT", "UID:1"]
    lines += ["DTSTAMP:20270101T000000Z", "DTSTART;VALUE=DATE:20270112", "SUMMARY:Night"]
    calendar = tmp_path / "rota.ics"
    calendar.write_bytes("\r\n".join([*lines, "END:VEVENT", "END:VCALENDAR", ""]).encode())
    result = new(tmp_path / "b", "--rota", str(calendar))
    assert result.exit_code == 0, result.output
    assert "1 day from" in result.stdout
    study = study_of(tmp_path / "b")
    assert study.rota is not None
    assert study.rota.exceptions == ((date(2027, 1, 12), "night"),)


def test_notes_that_are_there_stay_as_they_are(tmp_path: Path) -> None:
    """A note without an area gets that of its folder, and keeps the day of its file; no other byte
    of any note changes.
    """
    files = {
        "cardiology/qt.md": "# QT\r\n\r\nLong.\r\n",
        "cardiology/own.md": "---\narea: neurology\nmine: 1\n---\n# Own\n\nText.\n",
        "Infectious diseases/lyme.md": "---\nmine: [a,  b]   # so\n---\nLyme.\n",
        "diary/x.md": "Text.\n",
        "cardiology/broken.md": "---\na: [\n---\nText.\n",
    }
    for path, text in files.items():
        (tmp_path / path).parent.mkdir(exist_ok=True)
        (tmp_path / path).write_bytes(text.encode())
        os.utime(tmp_path / path, (1_770_000_000, 1_770_000_000))
    result = new(tmp_path)
    assert result.exit_code == 0, result.output
    assert "5 notes taken as they are" in result.stdout
    assert "2 notes got the area of the folder" in result.stdout
    after = {path: (tmp_path / path).read_bytes().decode() for path in files}
    assert [path for path in files if after[path] != files[path]] == [
        "cardiology/qt.md",
        "Infectious diseases/lyme.md",
    ]
    for path in ("cardiology/qt.md", "Infectious diseases/lyme.md"):
        assert after[path].endswith(files[path].rpartition("---\n")[2])
    assert "mine: [a,  b]   # so\n" in after["Infectious diseases/lyme.md"]
    notes = whole(tmp_path).notes
    areas = {note.path: note.areas for note in notes}
    assert areas["cardiology/qt.md"] == ("cardiology",)
    assert areas["Infectious diseases/lyme.md"] == ("infection",)
    assert {str(note.written_on) for note in notes} == {"2026-02-02"}


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--source", "north"), "is not a source with its size"),
        (("--source", "no:rth=3"), "is not a source with its size"),
        (("--rota", "day day off"), "3 shifts; a week has seven"),
        (("--rota", "day dya day day day off off"), "there is no shift 'dya'"),
        (("--blueprint", "sciense"), "sciences"),
        (("--free-minutes", "2000"), "must be from 0 to 960"),
    ],
)
def test_what_cannot_be_used_is_refused(
    tmp_path: Path, options: tuple[str, ...], message: str
) -> None:
    """One clear line, and no base."""
    result = new(tmp_path, *options)
    assert result.exit_code == 2
    assert message in result.stderr
    assert not list(tmp_path.iterdir())


def test_what_is_not_given_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One question each; Enter takes the usual answer."""
    monkeypatch.setattr("kb.cli.cmd_new.interactive", lambda: True)
    result = new(tmp_path, given="Quill\nsciences\nnorth=300\n\n250\n50\n")
    assert result.exit_code == 0, result.output
    study = study_of(tmp_path)
    assert [source.id for source in study.sources] == ["north"]
    assert study.rota is not None
    minutes = {shift.name: shift.study_minutes for shift in study.rota.shifts}
    assert (minutes["off"], minutes["day"]) == (250, 50)


@pytest.mark.parametrize("report", ["today", "plan", "gaps", "queue", "standing", "reread"])
def test_an_empty_base_says_what_comes_first(tmp_path: Path, report: str) -> None:
    """And nothing of gaps, weeks or marks, of which it knows nothing."""
    new(tmp_path, "--blueprint", "community")
    shown = CliRunner().invoke(main, [report, "--base", str(tmp_path), "--as-of", "2027-01-06"])
    text = " ".join(shown.stdout.split())
    assert "missbook log block north 1-40 --area cardiovascular" in text
    assert "%" not in text
    assert "marks" not in text


def test_four_commands_lead_to_the_first_note_in_the_queue(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without editing a file: new, a block, a note, and on the next day the queue."""
    new(tmp_path, "--source", "north=2800")
    monkeypatch.chdir(tmp_path)
    for words in (
        ["log", "block", "north", "1-40", "--area", "cardiology", "--wrong", "3,17"],
        ["note", "north:3", "--text", "Torsades needs magnesium first."],
    ):
        assert CliRunner().invoke(main, [*words, "--as-of", "2027-01-06"]).exit_code == 0
    assert "Torsades" in CliRunner().invoke(main, ["queue", "--as-of", "2027-01-07"]).stdout
