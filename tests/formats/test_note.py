"""A note is read from any Markdown file, and a new one reads back as it was meant."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.ids import AreaId, NoteId, QuestionId
from kb.core.model import Note
from kb.formats.note import format_note, parse_note, slug, storable

FULL = """\
---
title: Thiazides and calcium
areas: [nephrology, Endocrinology]
concepts: [thiazide, hypercalcaemia]
questions: [North:41, harbour:7]
basis: physiology text, 2024 edition
checked: 2027-01-14
written: 2027-01-20T21:10+00:00
mine: kept
---
They raise calcium; loops lower it.
"""


def test_every_key_is_read() -> None:
    """Front matter becomes a record; words are counted in the body alone."""
    note, body, problems = parse_note(FULL, "nephrology/thiazides.md")
    assert problems == ()
    assert body == "They raise calcium; loops lower it.\n"
    assert (note.id, note.title) == ("thiazides", "Thiazides and calcium")
    assert note.areas == ("nephrology", "endocrinology")
    assert note.questions == ("north:41", "harbour:7")
    assert note.checked == date(2027, 1, 14)
    assert note.written_at == datetime(2027, 1, 20, 21, 10, tzinfo=UTC)
    assert note.dated
    assert note.word_count == 6
    assert str(note.place) == "nephrology/thiazides.md:1"


def test_a_plain_file_is_a_note_too() -> None:
    """Its title is its heading or its file name; its time is that of the file."""
    at = datetime(2027, 1, 3, 9, tzinfo=UTC)
    note, _, problems = parse_note("Some text\n# Real title\n", "loose-end.md", at)
    assert problems == ()
    assert (note.title, note.written_at, note.dated) == ("Real title", at, False)
    assert parse_note("Text", "a/loose-end_two.md")[0].title == "loose end two"
    assert [parse_note("Text", f"a/{stem}.md")[0].title for stem in ("_end-", "-")] == ["end", "-"]


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("checked: 2027-02-30", "bad-date"),
        ("written: yesterday", "bad-date"),
        ("written: 2027-01-20T21:10", "bad-date"),
        ("questions: [1041]", "bad-question"),
        ("concepts: {a: 1}", "bad-value"),
    ],
)
def test_a_wrong_value_names_its_line(line: str, code: str) -> None:
    """The rest of the note is read."""
    note, _, problems = parse_note(f"---\ntitle: T\n{line}\n---\nx\n", "x.md")
    assert [(p.code, p.place.line) for p in problems] == [(code, 3)]
    assert problems[0].hint
    assert note.title == "T"


@pytest.mark.parametrize(
    ("body", "code", "line"),
    [
        ("One.\nSeen 943 476 5870.", "patient-identifier", 5),
        ("Give 40 mg daily.", "dose-without-basis", 4),
        ("5 micrograms/kg then", "dose-without-basis", 4),
        ("\nGive 40 mg daily, then 1 g.", "dose-without-basis", 5),
        ("Which?\nA. one\nB. two\nC. three\nD. four\nE. five", "looks-copied", 4),
        ("word " * 151, "looks-copied", 4),
    ],
)
def test_what_should_not_stand_in_a_note_is_cautioned(body: str, code: str, line: int) -> None:
    """A caution with its line, never an error."""
    _, _, problems = parse_note(f"---\ntitle: T\n---\n{body}\n", "x.md")
    assert [(p.code, p.place.line, p.severity) for p in problems] == [(code, line, "caution")]


@pytest.mark.parametrize(
    "body",
    ["Sodium below 120 mmol/L", "protein 3 g/L in CSF", "ratio over 30 mg/mmol", "10 mg/dL"],
)
def test_laboratory_values_are_no_doses(body: str) -> None:
    """A concentration is not a dose."""
    assert parse_note(f"---\ntitle: T\n---\n{body}\n", "x.md")[2] == ()


def test_a_dose_without_a_basis_is_shown_by_its_line() -> None:
    """Front matter is lines 1 to 3, so the second line of the text is line 5 of the file."""
    problems = parse_note("---\ntitle: T\n---\nFirst.\nGive 40 mg daily.\n", "x.md")[2]
    assert [(p.code, p.place.line) for p in problems] == [("dose-without-basis", 5)]


@pytest.mark.parametrize(
    ("body", "dose"),
    [
        ("Amoxicillin 1 g", True),
        ("heparin 5,000 units", True),
        ("lignocaine up to 10 ml", True),
        ("insulin 10 international units", True),
        ("Potassium 40 mmol then look", True),
        ("potassium 40 mmol a day", False),
        ("potassium 6.1 mmol/L", False),
        ("haemoglobin 80 g", False),
        ("albumin 30 g per litre", False),
        ("a stone of 1 g", False),
    ],
)
def test_a_drug_with_an_amount_is_a_dose(body: str, dose: bool) -> None:
    """Unless it is a concentration, an intake or an output, or measured in blood."""
    codes = [problem.code for problem in parse_note(f"{body}\n", "x.md")[2]]
    assert codes == (["dose-without-basis"] if dose else [])


def test_a_dose_with_a_basis_is_fine() -> None:
    """The basis says where it was checked."""
    assert parse_note("---\nbasis: formulary\n---\nGive 40 mg daily.\n", "x.md")[2] == ()


PLAIN = st.text(min_size=1, max_size=40).filter(lambda t: t.isprintable() and t.strip() == t)


@given(PLAIN, st.lists(PLAIN, max_size=3, unique=True), PLAIN)
def test_a_new_note_reads_back(title: str, concepts: list[str], basis: str) -> None:
    """parse(format(x)) == x, whatever the words are."""
    note = Note(
        id=NoteId("x"),
        path="cardiology/x.md",
        title=title,
        areas=(AreaId("cardiology"),),
        concepts=tuple(concepts),
        questions=(QuestionId("north:1"), QuestionId("paper-1:57")),
        basis=basis,
        written_at=datetime(2027, 1, 20, 21, 10, tzinfo=UTC),
    )
    read, body, problems = parse_note(format_note(note, "Line one.\nTwo."), note.path)
    assert problems == ()
    assert body == "Line one.\nTwo.\n"
    assert (read.title, read.concepts, read.basis) == (title, tuple(concepts), basis)
    assert (read.areas, read.questions, read.written_at) == (
        note.areas,
        note.questions,
        note.written_at,
    )


@pytest.mark.parametrize(
    ("change", "keys"),
    [
        ({}, ""),
        ({"areas": ("renal",)}, "area: renal\n"),
        ({"areas": ("renal", "chest")}, "areas: [renal, chest]\n"),
        ({"written_on": date(2027, 1, 20)}, "written: 2027-01-20\n"),
        (
            {
                "written_on": date(2027, 1, 20),
                "written_at": datetime(2027, 1, 20, 21, 10, tzinfo=UTC),
            },
            "written: 2027-01-20T21:10+00:00\n",
        ),
    ],
)
def test_a_new_note_has_a_key_for_what_is_known(change: dict[str, Any], keys: str) -> None:
    """One area or several, a moment before a day, and nothing that is empty."""
    note = Note(id=NoteId("x"), path="x.md", title="T", **change)
    assert format_note(note, "\r\nOne.\n\n") == f"---\ntitle: T\n{keys}---\nOne.\n"


@given(st.text(max_size=300))
def test_no_text_makes_the_parser_raise(text: str) -> None:
    """Anything at all is a note, perhaps with Problems."""
    parse_note(text, "a/b.md")


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Café au lait: how many?", "cafe-au-lait-how-many"),
        ("α1-antitrypsin", "1-antitrypsin"),
        ("???", "note"),
        ("Con", "con-note"),
        ("Con.", "con-note"),
        ("word " * 30, "-".join(["word"] * 12)),
    ],
)
def test_a_title_makes_a_file_name_for_every_system(title: str, name: str) -> None:
    """Short, ASCII, and never a name that a system keeps for itself."""
    assert slug(title) == name


@pytest.mark.parametrize(
    ("area", "folder"),
    [("cardiology", "cardiology"), ("con", "con-note"), ("AUX.1", "AUX-note"), ("icon", "icon")],
)
def test_an_area_makes_a_folder_for_every_system(area: str, folder: str) -> None:
    """Windows keeps the names of devices, with any suffix and in any case."""
    assert storable(area) == folder


def test_what_may_be_a_patient_is_shown_by_its_line() -> None:
    """In the front matter as in the text; the number has the check digit of modulus 11, worked by
    hand: 9*10+4*9+3*8+4*7+7*6+6*5+5*4+9*3+1*2 = 299, and 299 + 9 = 28 * 11.
    """
    text = "---\ntitle: T\nmine: NHS 943 476 5919\n---\nFirst.\nNHS 943 476 5919.\n"
    problems = parse_note(text, "x.md")[2]
    lines = sorted({p.place.line for p in problems if p.code == "patient-identifier"})
    assert lines == [3, 6]


@pytest.mark.parametrize(
    ("title", "name"),
    [
        (f"{'a' * 29} {'b' * 30}", f"{'a' * 29}-{'b' * 30}"),
        (f"{'a' * 29} {'b' * 31}", "a" * 29),
        ("a" * 70, "a" * 60),
    ],
)
def test_a_file_name_has_at_most_sixty_characters(title: str, name: str) -> None:
    """Whole words, unless the first alone is longer."""
    assert slug(title) == name


@pytest.mark.parametrize(
    ("body", "count"),
    [
        ("| a | b |\n| --- | --- |\n| 1 | 2 |\n| 3 | 4 |\n", 2),
        ("| a |\n|:-:|\n| 1 |\n\nWords.\n\n| b |\n|---|\n| 2 |\n| 3 |\n", 3),
        ("| a | b |\n| 1 | 2 |\n", 0),
        ("| a |\n|---|\n", 0),
        ("|---|\n", 0),
        ("Up | down\n", 0),
    ],
)
def test_rows_of_tables_are_counted_below_their_heads(body: str, count: int) -> None:
    """Without the head and the rule below it; lines with bars but no rule are no table."""
    note, _, _ = parse_note(f"---\ntitle: T\n---\n{body}", "a.md")
    assert note.table_row_count == count


@pytest.mark.parametrize(
    ("body", "copied"),
    [
        ("A. one\nB. two\nC. three", False),
        ("A. one\nB. two\nC. three\nD) four", True),
        ("word " * 150, False),
        ("word " * 150 + "\n\n" + "word " * 150, False),
        ("word " * 151, True),
        ("One.\n\n" + "word " * 151, True),
    ],
)
def test_four_options_or_a_very_long_paragraph_read_like_a_bank(body: str, copied: bool) -> None:
    """Up to 150 words are one's own (common practice, no source)."""
    problems = parse_note(f"---\ntitle: T\n---\n{body}\n", "x.md")[2]
    assert [p.code for p in problems] == (["looks-copied"] if copied else [])


def test_a_name_of_a_patient_in_a_file_s_name_is_of_the_whole_file() -> None:
    """Its hyphens stand for spaces; there is no line to go to."""
    problems = parse_note("Words.\n", "renal/nhs-943-476-5919.md")[2]
    assert [(p.code, str(p.place)) for p in problems] == [
        ("patient-identifier", "renal/nhs-943-476-5919.md")
    ]
