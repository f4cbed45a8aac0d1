"""Tables as spreadsheets and people leave them: read as meant, or left out with the reason."""

from __future__ import annotations

from datetime import date

import pytest

from kb.core.errors import FormatError
from kb.core.ids import AreaId
from kb.core.settings import Area, Exam, Study
from kb.importers.column_mapping import guess_columns
from kb.importers.table_reader import read_table
from kb.importers.table_rows import TableAnswers, TableRows

AREA = Area(id=AreaId("cardiology"), name="Heart", item_count=200)
EXAM = Exam(name="E", date=date(2027, 5, 11), areas=(AREA,))


def take(text: str) -> TableAnswers:
    """The rows of a CSV text, its columns guessed."""
    grid = read_table(text.encode(), "t.csv")
    columns = guess_columns(grid.header, [row.cells for row in grid.rows])
    day = date(2027, 7, 10)
    return TableRows(
        grid=grid, columns=columns, exam=EXAM, study=Study(), source="north", today=day, day=day
    ).answers()


@pytest.mark.parametrize("item", ["41", "0041", "41.0", "41.00", "Q41", "#41", "No. 41"])
def test_one_question_has_one_number(item: str) -> None:
    """However a spreadsheet shows it."""
    assert [d.question for d in take(f"question,result\n{item},wrong\n").drafts] == ["north:41"]


@pytest.mark.parametrize("item", ["-41", "2.75E+03", "41-45", "41 \u2013 45", "46;47"])
def test_what_is_no_single_number_is_left_out(item: str) -> None:
    """A range is several answers, and a shortened number is not known any more."""
    taken = take(f"question,result\n{item},wrong\n")
    assert not taken.drafts
    assert [problem.code for problem in taken.problems] == ["bad-question"]


@pytest.mark.parametrize("item", ["9-3", "b12", "3.2"])
def test_a_number_within_a_chapter_is_an_item(item: str) -> None:
    """As some books count."""
    taken = take(f"question,result\n{item},wrong\n")
    assert [d.question for d in taken.drafts] == [f"north:{item}"]


@pytest.mark.parametrize("error", ["#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?"])
def test_an_error_of_a_spreadsheet_is_no_outcome(error: str) -> None:
    """Not even the one that is spelt like an answer that was not given."""
    taken = take(f"question,result\n41,{error}\n42,n/a\n")
    assert [(d.question, d.outcome) for d in taken.drafts] == [("north:42", "blank")]
    assert [problem.code for problem in taken.problems] == ["bad-outcome"]


@pytest.mark.parametrize(
    "text",
    [
        'question,result,comment\n41,wrong,"gout\n42,right,ok\n43,right,ok\n',
        'question,result,comment\n41,wrong,"gout\n42,right,ok\n43,wrong,never " mind\n',
        'question;result\n41;"wrong\n42;right\n',
    ],
)
def test_a_quotation_mark_never_closed_takes_no_row_with_it(text: str) -> None:
    """The rows below it would be part of a remark; the row is named."""
    with pytest.raises(FormatError, match=r"t\.csv:2: a quotation mark here takes in the rows"):
        take(text)


def test_a_remark_may_have_lines_of_its_own() -> None:
    """Inside quotation marks, as a spreadsheet writes them."""
    taken = take('question,result,comment\n41,wrong,"gout\nnot sepsis, though"\n42,right,\n')
    assert [(d.question, d.remark) for d in taken.drafts] == [
        ("north:41", "gout not sepsis, though"),
        ("north:42", ""),
    ]


@pytest.mark.parametrize(
    "header",
    [
        "Q. No.;My Ans.;Ans. Key;Mark (0/1)",
        "Qn;Your response;Correct response;Points",
        "Item ID;Response;Answer key;Score",
    ],
)
def test_short_and_odd_headings_are_known(header: str) -> None:
    """With the option chosen and the key told apart."""
    draft = take(f"{header}\n41;C;B;0\n").drafts[0]
    assert (draft.question, draft.chosen, draft.key, draft.outcome) == (
        "north:41",
        "C",
        "B",
        "wrong",
    )
