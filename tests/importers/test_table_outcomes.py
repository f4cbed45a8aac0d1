"""Outcomes in tables: what a cell says under its heading, and what option and key say, agree."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.ids import AreaId
from kb.core.settings import Area, Exam, Study
from kb.formats.answer_sheet.outcome_words import table
from kb.importers.cell_values import compare_options
from kb.importers.column_mapping import given_columns, guess_columns
from kb.importers.table_reader import read_table
from kb.importers.table_rows import TableRows

DAY = date(2027, 2, 14)
EXAM = Exam(
    name="Quill", date=date(2027, 5, 11), areas=(Area(id=AreaId("a"), name="A", item_count=9),)
)
WORDS = sorted(table())
NO = {"0", "0.0", "no", "n", "false", "f", "nein", "non", "nee", "nej", "nie"}
"""Words for no: in a column named for wrong answers they mean right."""
NEGATIVE = (
    *("Wrong", "Incorrect?", "Is wrong", "Missed", "Error", "Mistake", "Failed", "Not correct"),
    *("Marked wrong", "Unsuccessful", "Lost mark", "Answered incorrectly", "Falsch"),
)


def outcomes(text: str, *given_: str) -> str:
    """`1 right, 3 wrong` for the items of a table that would be logged."""
    grid = read_table(text.encode(), "t.csv")
    columns = guess_columns(grid.header, [row.cells for row in grid.rows])
    columns |= given_columns(given_, grid.header)
    rows = TableRows(
        grid=grid, columns=columns, exam=EXAM, study=Study(), source="north", today=DAY, day=DAY
    )
    found = rows.answers().drafts
    return ", ".join(f"{draft.question.partition(':')[2]} {draft.outcome}" for draft in found)


def cell(heading: str, text: str, more: str = "") -> str:
    """The outcome of a row with this cell; empty if it is left out."""
    quoted = text.replace('"', '""')
    found = outcomes(
        f'Q,{heading}{more and ",Chosen,Key"}\n7,"{quoted}"{more}\n', f"outcome={heading}"
    )
    return found.removeprefix("7 ")


@pytest.mark.parametrize(
    ("table_", "logged"),
    [
        ("Item,Correct,Wrong\n1,1,0\n2,0,1\n3,0,0\n4,1,1\n5,1,\n", "1 right, 2 wrong, 5 right"),
        ("Item,Right,Wrong\n1,x,\n2,,x\n3,,\n4,x,x\n", "1 right, 2 wrong"),
        ("Item,Incorrect?,Correct?\n1,1.0,0.0\n2,0.0,1.0\n3,yes,yes\n", "1 wrong, 2 right"),
        ("Item,Right\n1,x\n2,\n", ""),
        ("Item,Result\n1,x\n2,ok\n", "1 wrong, 2 right"),
        ("Item,Result\n1,+\n2,-\n", "1 right"),
        ("Item,Result\n1,ok\n2,-\n", "1 right, 2 blank"),
        (
            "Item,Score\n1,1/1\n2,0/1\n3,100%\n4,0%\n5,0.5\n6,1.00\n",
            "1 right, 2 wrong, 3 right, 4 wrong, 6 right",
        ),
        ("Item,Result,My answer,Key\n1,Correct,C,B\n2,Incorrect,B,B\n3,Correct,B,B\n", "3 right"),
        (
            "Item,Result,My answer,Key\n1,,C,B\n2,Skipped,,B\n3,wrong,,B\n",
            "1 wrong, 2 blank, 3 wrong",
        ),
        ("Item,Chosen,Key\n1,C. Gout,B. Rash\n2,B,b) Rash\n3,,B\n", "1 wrong, 2 right, 3 blank"),
        ("Item,Chosen,Key\n1,Option C,B\n2,(B),B\n3,C - gout,C: gout\n", "1 wrong, 2 right"),
        (
            "Item,Chosen,Key\n1,C. tetani,C. difficile\n2,E. coli,E. coli\n3,Gout,Rash\n4,C,Gout\n",
            "1 wrong, 2 right, 3 wrong",
        ),
        ("Item,Chosen,Key\n1,G. Gout,B. Rash\n2,A. Gout,A. Rash\n", ""),
        ("Item,Your option,Right option\n1,3,2\n", ""),
        (
            "Item,Status\n1,Passed\n2,Failed\n3,Not attempted\n4,Partially correct\n",
            "1 right, 2 wrong, 3 blank, 4 wrong",
        ),
    ],
)
def test_a_foreign_table(table_: str, logged: str) -> None:
    """What can only mean one thing is logged; all else is left out for the person to say."""
    assert outcomes(table_) == logged


@pytest.mark.parametrize("heading", NEGATIVE)
def test_no_word_is_logged_as_its_opposite_where_yes_means_wrong(heading: str) -> None:
    """Only a no means right there; a word for right is right only if it says so itself."""
    for word in WORDS:
        found, said = cell(heading, word), table()[word].said
        itself = said == "right" and word.startswith(("right", "correct"))
        assert found != "right" or word in NO or itself, word
        assert found in ("", "blank") or said != "blank", word


@given(
    word=st.sampled_from(WORDS),
    heading=st.sampled_from(("Result", "Correct", "Outcome", "Score", "Answered correctly")),
    change=st.sampled_from((str, str.upper, str.title)),
    options=st.sampled_from(("", ",C,B", ",B,B", ",,B", ",C. Gout,B. Rash")),
)
def test_no_word_is_logged_as_another_outcome(
    word: str, heading: str, change: type[str], options: str
) -> None:
    """Nor against the option and the key beside it."""
    found, said = cell(heading, change(word), options), table()[word].said
    assert found in ("", said)
    if options.startswith(",C"):
        assert found != "right"
    if options == ",B,B":
        assert found != "wrong"


OPTIONS = st.sampled_from(("A", "B", "b", "A. Gout", "b) Rash", "(B) Rash", "Option B", "Gout"))


@given(chosen=OPTIONS, key=OPTIONS)
def test_options_compare_the_same_both_ways(chosen: str, key: str) -> None:
    """And an option is never wrong against itself."""
    for lettered in (True, False):
        one = compare_options(chosen, key, lettered=lettered)
        assert one == compare_options(key, chosen, lettered=lettered)
    assert compare_options(chosen, chosen, lettered=True) == "right"
