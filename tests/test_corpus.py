"""Files that have broken a parser, or could: each must end in records and Problems."""

from __future__ import annotations

from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.errors import KBError
from kb.core.ids import AreaId
from kb.core.settings import Area, Exam, Study
from kb.formats import attempt_log
from kb.formats.attempt_ids import merge
from kb.formats.exam import parse_exam
from kb.formats.frontmatter import add_to_list, parse, set_value
from kb.formats.note import parse_note
from kb.formats.study import parse_study, with_columns
from kb.importers.column_mapping import guess_columns, missing
from kb.importers.table_reader import read_table
from kb.importers.table_rows import TableRows
from kb.storage.note_catalogue import decode

if TYPE_CHECKING:
    from collections.abc import Callable

T = TypeVar("T")
CORPUS = Path(__file__).parent / "corpus"
TODAY = date(2027, 2, 14)
NOW = datetime(2027, 2, 14, tzinfo=UTC)
AREA = Area(id=AreaId("cardiology"), name="Cardiology", item_count=200)
EXAM = Exam(name="The Quill Examination", date=date(2027, 5, 11), areas=(AREA,))
TEXT = st.text(st.characters(codec="utf-8"), max_size=80)


def files(folder: str) -> list[Path]:
    """The corpus files of one kind."""
    return sorted((CORPUS / folder).iterdir())


def tried(action: Callable[[], T]) -> tuple[T | None, str]:
    """The result of a call, or the one line with which it is refused."""
    try:
        return action(), ""
    except KBError as error:
        return None, str(error)


@pytest.mark.parametrize("path", files("table"), ids=lambda path: path.name)
def test_every_table_ends_in_rows_or_one_error(path: Path) -> None:
    """Each row is read or reported as a Problem; a file that is not a table is one FormatError."""
    grid, refusal = tried(lambda: read_table(path.read_bytes(), path.name))
    if grid is None:
        assert refusal.startswith(path.name)
        return
    columns = {"item": 0, "outcome": min(1, len(grid.header) - 1), **guess_columns(grid.header)}
    assert missing(columns) == ""
    taken = TableRows(
        grid=grid, columns=columns, exam=EXAM, study=Study(), source="north", today=TODAY, day=TODAY
    ).answers()
    assert len(taken.drafts) + len(taken.left) == len(grid.rows)


@pytest.mark.parametrize("path", files("log"), ids=lambda path: path.name)
def test_every_log_is_read_as_far_as_it_goes(path: Path) -> None:
    """Nothing is raised, and each line left out is reported by number."""
    parsed = attempt_log.parse_log(path.read_bytes(), path.name)
    assert all(problem.place.line for problem in parsed.problems)
    merge([parsed, parsed])


@pytest.mark.parametrize("path", files("note"), ids=lambda path: path.name)
def test_every_note_is_still_a_note(path: Path) -> None:
    """Its text can be searched, and an edit is made or refused in one line."""
    text, _ = decode(path.read_bytes(), path.name)
    note, _, _ = parse_note(text, path.name, NOW)
    assert note.title
    for edit in (set_value, add_to_list):
        edited, refusal = tried(partial(edit, text, path.name, "questions", "north:1"))
        assert refusal.startswith(path.name) if edited is None else "north:1" in edited


@pytest.mark.parametrize("path", files("settings"), ids=lambda path: path.name)
def test_settings_fall_back_and_say_so(path: Path) -> None:
    """Both settings files are read whatever they hold, and columns are added or refused."""
    text, _ = decode(path.read_bytes(), path.name)
    parse_study(text, path.name)
    parse_exam(text, path.name)
    edited, refusal = tried(lambda: with_columns(text, path.name, "north", (("item", "Nr"),)))
    if edited is None:
        assert refusal.startswith(path.name)
        return
    study, _ = parse_study(edited, path.name)
    assert ("item", "Nr") in [pair for table in study.tables for pair in table.columns]


@given(TEXT)
def test_no_text_makes_a_settings_or_note_parser_raise(text: str) -> None:
    """Any text gives records and Problems, never an exception."""
    parse_study(text, "x")
    parse_exam(text, "x")
    parse_note(text, "x.md", NOW)
    parse(f"---\n{text}\n---\n", "x.md")


@given(TEXT.filter(lambda text: text.isprintable()))
def test_a_column_of_any_name_is_remembered(name: str) -> None:
    """A column written into study.yaml is read back unchanged, and the rest of the file is kept."""
    before = "# mine\ntimezone: Europe/London\n"
    text = with_columns(before, "study.yaml", "north", (("item", name),))
    study, problems = parse_study(text, "study.yaml")
    assert text.startswith(before)
    assert dict(study.tables[0].columns)["item"] == name.strip()
    assert problems == ()
