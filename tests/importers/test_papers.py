"""A paper's answers and a study group's table are read, and what is off names its line."""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.errors import FormatError
from kb.core.ids import AreaId
from kb.core.model import Attempt
from kb.core.settings import Area, Exam, Study
from kb.importers.answers import parse_answers
from kb.importers.score_matrix import parse_matrix
from kb.importers.table_reader import read_table

AT = datetime(2027, 4, 5, 9, tzinfo=UTC)
EXAM = Exam(
    name="E",
    date=date(2027, 5, 11),
    areas=(Area(id=AreaId("cardiology"), name="Cardiology", item_count=4),),
    paper_count=1,
    paper_minutes=8,
)


def answers(text: str) -> tuple[Attempt, ...]:
    """The answers of a paper in a CSV file."""
    return parse_answers(read_table(text.encode(), "p.csv"), EXAM, Study(), "paper-5", AT)


def test_answers_become_attempts() -> None:
    """Right, wrong, blank and changed, with seconds and certainty; the order of time is kept."""
    head = "Item,Answer,Key,First,Time,Certainty,Area"
    text = f"{head}\n1,a,A,,60,3,Cardiology\n2,B,C,C,90.5,,\n3,,D,,,,\n"
    one, two, three = answers(text)
    assert (one.question, one.outcome, one.seconds, one.certainty, one.area) == (
        "paper-5:1",
        "right",
        60,
        3,
        "cardiology",
    )
    assert (two.outcome, two.first, two.chosen, two.key) == ("wrong", "C", "B", "C")
    assert (three.outcome, three.sitting, three.round) == ("blank", "paper-5", "paper")
    assert one.at < two.at


def test_a_paper_from_a_spreadsheet_is_read() -> None:
    """Semicolons, decimal commas and Windows line ends; an area by its name."""
    text = "item;chosen;key;seconds;area\r\n1;A;A;62,5;cardiology\r\n2;B;C;30;\r\n"
    one, two = answers(text)
    assert (one.outcome, one.seconds, one.area) == ("right", 62.5, "cardiology")
    assert two.outcome == "wrong"
    assert parse_matrix("q1;q2\r\n1;0\r\n0;1\r\n", "m.csv").rows == ((1, 0), (0, 1))


def test_a_paper_may_name_its_columns_as_a_table_may() -> None:
    """`Your answer`, whole options and minutes are understood; other columns do not count."""
    head = "Question No,Your answer,Correct answer,Time taken,Date,Score"
    (one,) = answers(f"{head}\n7,C. Gout,B. Rash,1:30,1999-01-01,0\n")
    assert (one.question, one.chosen, one.key, one.outcome) == ("paper-5:7", "C", "B", "wrong")
    assert (one.seconds, one.day) == (90, AT.date())


def test_a_line_of_blanks_is_no_item() -> None:
    """A spreadsheet leaves cells of spaces behind; the next line still has its number."""
    text = "item,chosen,key\n1,A,A\n , ,\n2,A,B\n"
    assert [a.question for a in answers(text)] == [
        "paper-5:1",
        "paper-5:2",
    ]


def test_an_unknown_area_is_named_with_its_line() -> None:
    """And with the nearest."""
    text = "item,chosen,key,area\n1,A,A,\n2,A,A,cardiolgy\n"
    with pytest.raises(FormatError) as caught:
        answers(text)
    assert str(caught.value).startswith("p.csv:3: area 'cardiolgy' is not in the blueprint")
    assert caught.value.hint == "did you mean cardiology?"


@pytest.mark.parametrize("text", ["", "\ufeff\r\n"])
def test_an_empty_file_is_said_to_be_empty(text: str) -> None:
    """Rather than to lack columns."""
    with pytest.raises(FormatError, match=r"^p\.csv: the table is empty"):
        answers(text)


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("1,F,A,60", "p.csv:2: 'F' is not an option"),
        ("1,A,,60", "p.csv:2: item 1 has no key"),
        ("1,A,A,-5", "p.csv:2: seconds '-5' is not understood"),
        ("1,A,A,soon", "p.csv:2: seconds 'soon' is not understood"),
        ("1,A,A,9\n1,B,A,9", "p.csv:3: question 1 appears twice"),
        ("1,A,A,9000", "p.csv: the times add up to 150 minutes; the paper has 8"),
        ("1,A,A,\n2,A,A,\n3,A,A,\n4,A,A,\n5,A,A,", "p.csv: 5 answers, more than the 4 items"),
        ("", "p.csv:1: no answers"),
    ],
)
def test_a_paper_that_cannot_be_names_what_is_off(body: str, said: str) -> None:
    """One line with file and line, and a remedy."""
    with pytest.raises(FormatError) as caught:
        answers(f"item,chosen,key,seconds\n{body}\n")
    assert str(caught.value).startswith(said)
    assert caught.value.hint


def test_a_missing_column_is_named() -> None:
    """Without a key nothing can be marked."""
    with pytest.raises(FormatError, match=r"p\.csv:1: the first line has no column key"):
        answers("item,chosen\n1,A\n")


def test_a_group_is_read_as_ones_and_zeros_or_by_its_key() -> None:
    """Names are left out, blanks are wrong, letters are marked by the key."""
    assert parse_matrix("Q1,Q2\n1,0\n0,1\n", "m.csv").rows == ((1, 0), (0, 1))
    text = "candidate,Q1,Q2\nkey,A,C\nx,a,B\ny,,C\n"
    found = parse_matrix(text, "m.csv")
    assert found.items == ("Q1", "Q2")
    assert found.rows == ((1, 0), (0, 1))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Q1,Q2\n1,0\n", "m.csv:1: fewer than two candidates"),
        ("Q1,Q2\n1,0\n1\n", "m.csv:3: 1 answers, fewer than the 2 items"),
        ("Q1,Q2\n1,0\n1,0,1\n", "m.csv:3: 3 answers, more than the 2 items"),
        ("Q1,Q2\n1,0\n1,B\n", "m.csv:3: 'B' is neither 0 nor 1"),
        ("c,Q1,Q2\nkey,A,\nx,A,B\ny,A,B\n", "m.csv:3: an item has no key"),
        ("c,Q1,Q2\nkey,A,B\nx,A,AB\ny,A,B\n", "m.csv:3: 'AB' is not an option"),
        ("c,Q1,Q2\nx,A,A\ny,A,B\nkey,A\n", "m.csv:4: 1 answers, fewer than the 2 items"),
        ("c,Q1,Q2\nx,A,A\ny,A,B\nkey,A,B,C\n", "m.csv:4: 3 answers, more than the 2 items"),
    ],
)
def test_a_table_that_is_no_matrix_names_its_line(text: str, said: str) -> None:
    """Each gets one line and a remedy."""
    with pytest.raises(FormatError) as caught:
        parse_matrix(text, "m.csv")
    assert str(caught.value).startswith(said)


@given(st.text(max_size=150))
def test_no_text_raises_anything_else(text: str) -> None:
    """Only a FormatError, whatever was saved as CSV."""
    for read in (
        lambda: parse_matrix(text, "m.csv"),
        lambda: answers(f"item,chosen,key\n{text}"),
    ):
        with suppress(FormatError):
            read()


def test_a_blank_is_wrong_in_a_table_of_answers() -> None:
    """With ones and noughts, and with letters against a key; worked by hand."""
    assert parse_matrix("Q1,Q2,Q3\n1,,0\n-,1,na\n", "m.csv").rows == ((1, 0, 0), (0, 1, 0))
    assert parse_matrix("Q1,Q2,Q3\n1,N/A,NA\n0,1,0\n", "m.csv").rows == ((1, 0, 0), (0, 1, 0))
    letters = "candidate,Q1,Q2\nkey,A,B\nx,a,\ny,,B\n"
    assert parse_matrix(letters, "m.csv").rows == ((1, 0), (0, 1))


@pytest.mark.parametrize("key", ["key,A", "key,A,B,C"])
def test_a_key_with_other_than_one_cell_an_item_is_refused(key: str) -> None:
    """Before any candidate is counted against it."""
    with pytest.raises(FormatError, match="than the 2 items"):
        parse_matrix(f"candidate,Q1,Q2\n{key}\nx,A,B\ny,A,B\n", "m.csv")


def taken(body: str, head: str = "item,chosen,key,seconds,certainty,first,area") -> list[Attempt]:
    """The answers of a table with all columns."""
    return list(answers(f"{head}\n{body}\n"))


def test_answers_lie_as_far_apart_as_they_took() -> None:
    """Each at the end of its own time; a second apart where none is known."""
    timed = taken("1,A,A,30,,,\n2,A,B,90.4,,,\n3,,B,,,,")
    assert [(a.at - AT).total_seconds() for a in timed] == [30, 120, 120]
    assert [(a.at - AT).total_seconds() for a in taken("1,A,A\n2,A,B\n3,,B")] == [0, 1, 2]


@pytest.mark.parametrize(
    ("body", "fits"),
    [
        ("1,A,A,600,,,", True),
        ("1,A,A,601,,,", False),
        ("1,A,A,0,,,", True),
        ("1,A,A,,3,,", True),
        ("1,A,A,,4,,", False),
        ("1,A,A,,,e,", True),
        ("1,A,A,,,f,", False),
        ("1,e,E,,,,", True),
        ("1,A,A,,,,Cardiology", True),
        ("1:7,A,A,,,,", True),
        ("paper-5:7,A,A,,,,", True),
        ("?,A,A,,,,", False),
    ],
)
def test_what_a_paper_can_hold(body: str, fits: bool) -> None:
    """Ten minutes for a paper of eight and no more, certainty 1 to 3, options A to E."""
    if fits:
        assert len(taken(body)) == 1
    else:
        with pytest.raises(FormatError):
            taken(body)


def test_a_paper_has_at_most_the_items_of_the_exam() -> None:
    """Four of four are a paper, five are not."""
    rows = "".join(f"{item},A,A,,,,\n" for item in range(1, 5))
    assert len(taken(rows)) == 4
    with pytest.raises(FormatError, match="5 answers, more than the 4 items of the exam"):
        taken(f"{rows}5,A,A,,,,")


def test_cells_and_names_of_columns_may_have_spaces_and_capitals() -> None:
    """A row may be shorter than the header; the last column of a name counts not."""
    (one,) = taken("paper-5:3 , b ,B", " Question ,MINE,Right Answer,right answer")
    assert (one.question, one.chosen, one.key, one.outcome) == ("paper-5:3", "B", "B", "right")
    assert one.seconds is None


@pytest.mark.parametrize(
    ("head", "items"),
    [
        ("candidate,Q1,Q2", ("Q1", "Q2")),
        ("Name,Q1,Q2", ("Q1", "Q2")),
        ("id,Q1,Q2", ("Q1", "Q2")),
        (",Q1,Q2", ("Q1", "Q2")),
        ("Q0,Q1,Q2", ("Q0", "Q1", "Q2")),
    ],
)
def test_a_first_column_may_name_the_candidates(head: str, items: tuple[str, ...]) -> None:
    """By what it is called; any other is an item."""
    found = parse_matrix(f"{head}\n1,0,1\n0,1,1\n", "m.csv")
    assert found.items == items
    assert found.rows[0] == ((1, 0, 1) if len(items) == 3 else (0, 1))


def test_the_line_of_the_key_may_have_capitals_and_lie_anywhere() -> None:
    """It is no candidate; letters of either case are the same option."""
    found = parse_matrix("who,1,2\nann,a,b\nKEY,A,C\nben,A,c\n", "g.csv")
    assert (found.items, found.rows) == (("1", "2"), ((1, 0), (1, 1)))
