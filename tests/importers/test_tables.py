"""Tables from elsewhere are read whatever their encoding, separator, dates and words."""

from __future__ import annotations

import io
import random
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.errors import FormatError, KBError, QueryError
from kb.core.ids import AreaId, AttemptId, QuestionId
from kb.core.model import Attempt
from kb.core.settings import Area, Exam, Source, Study
from kb.importers.cell_values import (
    Reading,
    find_reading,
    moment,
    parse_clock,
    parse_outcome,
    parse_seconds,
    parse_when,
)
from kb.importers.column_mapping import given_columns, guess_columns, missing, remembered_columns
from kb.importers.reconcile import compare
from kb.importers.table_reader import Grid, read_table
from kb.importers.table_rows import TableAnswers, TableRows

EXAM = Exam(
    name="The Quill Examination",
    date=date(2027, 5, 11),
    areas=(Area(id=AreaId("cardiology"), name="Cardiology", item_count=200),),
)
STUDY = Study(sources=(Source(id="north", name="North", item_count=300),))
TODAY = date(2027, 2, 14)
PLAIN = Reading(day_first=True)


def take(text: str, *, source: str = "north", study: Study = STUDY) -> TableAnswers:
    """The rows of a CSV text, its columns guessed."""
    grid = read_table(text.encode(), "bank.csv")
    columns = guess_columns(grid.header)
    return TableRows(
        grid=grid,
        columns=columns,
        exam=EXAM,
        study=study,
        source=source,
        today=TODAY,
        day=date(2027, 2, 10),
    ).answers()


@pytest.mark.parametrize(
    ("encoding", "said"),
    [
        ("utf-8", "UTF-8"),
        ("utf-8-sig", "UTF-8"),
        ("utf-16", "UTF-16"),
        ("cp1252", "cp1252"),
    ],
)
def test_the_encoding_is_found_and_shown(encoding: str, said: str) -> None:
    """Accents come through from each encoding a spreadsheet program writes."""
    text = "item,result,remark\n" + "7,wrong,Ménière’s – not Sjögren’s or Guillain-Barré\n" * 20
    grid = read_table(text.encode(encoding), "bank.csv")
    assert grid.rows[0].cells[2] == "Ménière’s – not Sjögren’s or Guillain-Barré"
    assert grid.notes[0] == said


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_found(separator: str) -> None:
    """Whatever stands between cells, each cell is its own."""
    rows = [["item", "result", "remark"], ["7", "wrong", "a b"], ["8", "right", ""]]
    text = "".join(separator.join(row) + "\r\n" for row in rows)
    grid = read_table(text.encode(), "bank.csv")
    assert grid.header == ("item", "result", "remark")
    assert [row.cells for row in grid.rows] == [("7", "wrong", "a b"), ("8", "right", "")]


def test_a_row_has_the_line_on_which_it_begins() -> None:
    """A quoted cell over two lines and blank lines between do not shift it."""
    grid = read_table(b'item,result,remark\n7,wrong,"one\ntwo"\n\n8,right,\n', "bank.csv")
    assert [(row.line, row.cells[0]) for row in grid.rows] == [(2, "7"), (5, "8")]


def test_titles_above_the_header_are_passed_over() -> None:
    """An export often begins with its own name and date."""
    grid = read_table(b"My results\n\nitem,result\n7,wrong\n", "bank.csv")
    assert grid.header == ("item", "result")


def test_a_table_without_a_header_has_numbered_columns() -> None:
    """No row is taken for a header by mistake."""
    grid = read_table(b"7,wrong\n8,right\n", "bank.csv")
    assert grid.header == ("column 1", "column 2")
    assert len(grid.rows) == 2


def test_a_workbook_reads_like_its_csv() -> None:
    """Dates, whole numbers and truth values come out as text."""
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["item", "date", "correct", "seconds"])
    sheet.append([7, datetime(2027, 1, 14, 19, 42), True, 61.5])  # noqa: DTZ001 - as workbooks hold them
    sheet.append([8, date(2027, 1, 15), False, 60.0])
    raw = io.BytesIO()
    book.save(raw)
    grid = read_table(raw.getvalue(), "bank.xlsx")
    assert [row.cells for row in grid.rows] == [
        ("7", "2027-01-14 19:42:00", "true", "61.5"),
        ("8", "2027-01-15", "false", "60"),
    ]


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "the table is empty"),
        (b"PK\x03\x04 not a zip", "this workbook cannot be read"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "an old kind of workbook"),
        (b"item,res\0ult\n1,2\n", "this is not a text file"),
    ],
)
def test_a_file_that_is_no_table_is_one_line(raw: bytes, said: str) -> None:
    """It says what the file is not, and names it."""
    with pytest.raises(FormatError, match=said) as caught:
        read_table(raw, "bank.csv")
    assert str(caught.value).startswith("bank.csv")


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_a_table_in_utf_16_needs_no_mark(encoding: str) -> None:
    """It reads like the same table in UTF-8."""
    text = "item,result,remark\n7,wrong,Sjögren\n8,right,\n"
    grid = read_table(text.encode(encoding), "bank.csv")
    assert grid.rows == read_table(text.encode(), "bank.csv").rows
    assert encoding.replace("-", "_") in grid.notes


@given(st.binary(max_size=200))
def test_no_bytes_make_the_table_reader_raise(raw: bytes) -> None:
    """Whatever a file holds, there are rows or one clear error."""
    try:
        grid = read_table(raw, "x")
        guess_columns(grid.header)
    except KBError:
        return
    assert grid.header


CELL = st.text(st.characters(codec="utf-8"), max_size=12)


@given(st.lists(st.lists(CELL, min_size=7, max_size=7), max_size=4))
def test_no_cells_make_the_row_reader_raise(rows: list[list[str]]) -> None:
    """Every row is taken, or left with a Problem that names its line."""
    header = ("item", "date", "outcome", "chosen", "key", "seconds", "area")
    from kb.importers.table_reader import Row

    body = tuple(Row(line=n, cells=tuple(cells)) for n, cells in enumerate(rows, start=2))
    grid = Grid(path="x", header=header, rows=body)
    columns = {name: at for at, name in enumerate(header)}
    taken = TableRows(
        grid=grid, columns=columns, exam=EXAM, study=STUDY, source="north", today=TODAY, day=TODAY
    ).answers()
    assert len(taken.drafts) + len(taken.left) == len(rows)
    assert {line for line, _ in taken.left} <= {problem.place.line for problem in taken.problems}


@given(st.text(max_size=30))
def test_no_text_makes_a_cell_reader_raise(text: str) -> None:
    """A cell is understood or it is None."""
    for reading in (PLAIN, Reading(day_first=False, decimal_comma=True)):
        parse_when(text, reading)
        parse_seconds(text, reading)
    parse_clock(text)
    parse_outcome(text)
    find_reading([text], [text], day_first=True)


@pytest.mark.parametrize(
    ("text", "day", "clock"),
    [
        ("2027-01-14", date(2027, 1, 14), None),
        ("2027/1/4 7:05", date(2027, 1, 4), time(7, 5)),
        ("14/01/2027", date(2027, 1, 14), None),
        ("14.1.27", date(2027, 1, 14), None),
        ("14 Jan 2027, 19:42", date(2027, 1, 14), time(19, 42)),
        ("14-January-2027", date(2027, 1, 14), None),
        ("Jan 14, 2027 7:42 PM", date(2027, 1, 14), time(19, 42)),
        ("2027-01-14T19:42:10.5", date(2027, 1, 14), time(19, 42, 10)),
    ],
)
def test_dates_in_their_usual_spellings(text: str, day: date, clock: time | None) -> None:
    """Each is the day it says, with its time of day if it has one."""
    assert parse_when(text, PLAIN) == (day, clock, None)


@pytest.mark.parametrize("text", ["", "soon", "31/02/2027", "14/01/2027 25:00", "12", "1/2"])
def test_what_is_no_date_is_none(text: str) -> None:
    """A day that does not exist is not moved to one that does."""
    assert parse_when(text, PLAIN) is None


@pytest.mark.parametrize(
    ("days", "assumed", "found", "said"),
    [
        (["03/04/2027", "25/04/2027"], False, True, "dates day before month"),
        (["03/04/2027", "04/25/2027"], True, False, "dates month before day"),
        (["03/04/2027"], True, True, "assumed"),
        (["25/04/2027", "04/25/2027"], True, True, "some are the other way round"),
    ],
)
def test_the_order_of_dates_is_found_and_shown(
    days: list[str], assumed: bool, found: bool, said: str
) -> None:
    """A day above 12 tells; where none does, the setting counts and that is said."""
    reading = find_reading(days, [], day_first=assumed)
    assert reading.day_first is found
    assert said in reading.notes[0]


@pytest.mark.parametrize(
    ("numbers", "comma"),
    [(["62,5", "7"], True), (["1,024", "62"], False), (["62.5", "1,024.5"], False)],
)
def test_a_decimal_comma_is_told_from_a_thousands_comma(numbers: list[str], comma: bool) -> None:
    """Three digits behind it make it a thousands sign, unless others say no."""
    assert find_reading([], numbers, day_first=True).decimal_comma is comma


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        *(("62", 62), ("62.5", 62.5), ("1:02", 62), ("0:01:02", 62), ("62 s", 62), ("1m 2s", 62)),
        *(("62 S", 62), ("1 MIN", 60), ("2 Minutes", 120)),
    ],
)
def test_seconds_in_their_usual_spellings(text: str, seconds: float) -> None:
    """However an export writes a duration."""
    assert parse_seconds(text, PLAIN) == seconds


def test_columns_are_guessed_whatever_their_order() -> None:
    """Names of the trade are known in any case and with any signs between."""
    header = ("Answered", "Your answer", "Correct answer", "Time taken (s)", "Question no")
    assert guess_columns(header) == {
        "date": 0,
        "chosen": 1,
        "key": 2,
        "seconds": 3,
        "item": 4,
    }


def test_columns_can_be_told_by_name_or_number() -> None:
    """One that is not there is named, with the nearest."""
    assert given_columns(["item=Nummer", "outcome=2"], ("Nummer", "Ergebnis")) == {
        "item": 0,
        "outcome": 1,
    }
    with pytest.raises(QueryError, match="no column 'Numer'") as caught:
        given_columns(["item=Numer"], ("Nummer", "Ergebnis"))
    assert caught.value.hint == "did you mean Nummer?"
    many = tuple(f"Column {letter}" for letter in "ABCDEFGHIJKLM")
    with pytest.raises(QueryError, match="no column 'xyz'") as caught:
        given_columns(["item=xyz"], many)
    assert caught.value.hint.startswith("its columns are: Column A, Column B")
    with pytest.raises(QueryError, match="'xyz' is not a field") as caught:
        given_columns(["xyz=1"], ("Nummer",))
    assert caught.value.hint.startswith("known are: question, item")
    with pytest.raises(QueryError, match="'itme' is not a field") as caught:
        given_columns(["itme=1"], ("Nummer",))
    assert caught.value.hint == "did you mean time or item?"
    with pytest.raises(QueryError, match="'item' is not field=column"):
        given_columns(["item"], ("Nummer",))


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"encoding": "klingon"}, "no encoding is called 'klingon'"),
        ({"encoding": "ascii"}, "this is not ascii"),
        ({"sheet": "Answers"}, "--worksheet is for workbooks"),
    ],
)
def test_what_does_not_fit_a_csv_file_is_said(options: dict[str, str], said: str) -> None:
    """Rather than to be passed over."""
    with pytest.raises(FormatError, match=said):
        read_table("item,outcome\n1,right,Café\n".encode(), "t.csv", **options)


def test_remembered_columns_are_taken_as_far_as_a_table_has_them() -> None:
    """One without remarks is fine; one whose numbers are named otherwise is asked for again."""
    told = {"item": "Nr", "outcome": "Result", "remark": "Comment"}
    assert remembered_columns(told, ("nr", "x", "result")) == {"item": 0, "outcome": 2}
    assert remembered_columns(told, ("number", "result")) is None


def test_what_is_missing_is_said() -> None:
    """Which question and with what outcome: nothing less is an answer."""
    assert missing({"item": 0}).startswith("which column holds the outcome")
    assert missing({"item": 0, "chosen": 1, "key": 2}) == ""


def test_a_row_becomes_an_answer_with_all_it_tells() -> None:
    """The outcome follows from option and key where no column names it."""
    text = (
        "Question,Date,Answer,Correct answer,Seconds,Area,Confidence,Reason,Comment\n"
        "7,14/01/2027 19:42,b,C,61,Cardiology,low,two left,gout vs pseudogout\n"
    )
    (draft,) = take(text).drafts
    assert draft.question == "north:7"
    assert draft.at == datetime(2027, 1, 14, 19, 42, tzinfo=UTC)
    assert (draft.outcome, draft.chosen, draft.key) == ("wrong", "B", "C")
    assert (draft.seconds, draft.area, draft.certainty) == (61, "cardiology", 1)
    assert (draft.reason, draft.remark) == ("two-left", "gout vs pseudogout")


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (",right,14/01/2027", "no-question"),
        ("7,rihgt,14/01/2027", "bad-outcome"),
        ("7,,14/01/2027", "no-outcome"),
        ("7,right,31/02/2027", "bad-date"),
        ("7,right,14/03/2027", "future-date"),
        ("7,right,14/01/2027,extra", "many-cells"),
        ("a?b,right,14/01/2027", "bad-question"),
        ("-1,right,14/01/2027", "bad-question"),
        ("0,right,14/01/2027", "bad-question"),
        ("1e5,right,14/01/2027", "bad-question"),
    ],
)
def test_a_row_not_understood_is_left_with_its_line(row: str, code: str) -> None:
    """The rows around it are taken."""
    taken = take(f"item,result,date\n1,right,14/01/2027\n{row}\n2,wrong,14/01/2027\n")
    assert [draft.question for draft in taken.drafts] == ["north:1", "north:2"]
    assert [(p.code, str(p.place)) for p in taken.problems] == [(code, "bank.csv:3")]
    assert [line for line, _ in taken.left] == [3]


def test_a_whole_number_with_a_nought_behind_its_point_is_that_number() -> None:
    """As a table of another program writes a column in which a cell is empty."""
    taken = take("item,result,date\n31.0,right,14/01/2027\n3.1,wrong,14/01/2027\n")
    assert [draft.question for draft in taken.drafts] == ["north:31", "north:3.1"]


def test_the_text_of_a_question_never_becomes_its_number() -> None:
    """A column of stems is refused, row by row."""
    stem = "A man of sixty has had pain in his chest for an hour and now feels faint"
    taken = take(f"question,result\n{stem},wrong\n")
    assert [problem.code for problem in taken.problems] == ["bad-question"]


def test_an_unknown_area_is_said_once_and_the_rows_are_taken() -> None:
    """The nearest area is offered."""
    taken = take("item,result,subject\n1,right,cardiolgy\n2,right,cardiolgy\n")
    assert len(taken.drafts) == 2
    assert [(p.code, p.hint) for p in taken.problems] == [
        ("unknown-area", "did you mean cardiology?")
    ]


def attempt(question: str, outcome: str, at: datetime, remark: str = "") -> Attempt:
    """An answer in the log or an import."""
    return Attempt(
        id=AttemptId(""),
        at=at,
        question=QuestionId(question),
        outcome=outcome,  # type: ignore[arg-type]
        remark=remark,
    )


NOON = datetime(2027, 1, 14, 12, tzinfo=UTC)


def test_an_answer_told_better_replaces_the_one_of_that_day() -> None:
    """Only where there is one on either side, so that nothing is guessed."""
    logged = [attempt("north:1", "wrong", NOON), attempt("north:2", "wrong", NOON)]
    better = attempt("north:1", "wrong", NOON - timedelta(hours=1), "gout")
    twice = [attempt("north:2", "right", NOON, "a"), attempt("north:2", "right", NOON, "b")]
    changes = compare([better, *twice], logged, [better, *twice], timed=False)
    assert changes.changed == ((logged[0], better),)
    assert changes.new == tuple(twice)
    assert changes.same_day_count == 2


def test_with_times_a_second_try_on_the_same_day_is_another_answer() -> None:
    """Only the same minute is the same answer."""
    logged = [attempt("north:1", "wrong", NOON)]
    later = attempt("north:1", "right", NOON + timedelta(hours=6))
    mended = attempt("north:1", "right", NOON)
    assert compare([later], logged, [later], timed=True).new == (later,)
    assert compare([mended], logged, [mended], timed=True).changed == ((logged[0], mended),)
    assert compare(logged, logged, logged, timed=True).known == tuple(logged)


def test_equal_lines_count_as_often_as_they_stand() -> None:
    """Two equal rows against one in the log add one."""
    same = attempt("north:1", "wrong", NOON)
    changes = compare([same, same], [same], [same, same], timed=False)
    assert (len(changes.known), len(changes.new)) == (1, 1)


def test_any_order_of_columns_gives_the_same_answers() -> None:
    """Shuffling the columns of a table changes nothing."""
    header = ["item", "date", "result", "remark"]
    rows = [[str(n), f"{n % 28 + 1:02}/01/2027", "wrong", f"r{n}"] for n in range(1, 60)]
    plain = take("\n".join(",".join(row) for row in [header, *rows]))
    order = [3, 0, 2, 1]
    random.Random(1).shuffle(order)
    mixed = take("\n".join(",".join(row[at] for at in order) for row in [header, *rows]))
    assert mixed.drafts == plain.drafts


@pytest.mark.parametrize(
    ("text", "hour"),
    [("12 am", 0), ("12.30 am", 0), ("1 am", 1), ("12 pm", 12), ("12:30 p.m.", 12), ("11 pm", 23)],
)
def test_twelve_am_is_midnight_and_twelve_pm_is_noon(text: str, hour: int) -> None:
    """As clocks of twelve hours are read in English (common practice, no source)."""
    found = parse_clock(text)
    assert found is not None
    assert found[0].hour == hour


@pytest.mark.parametrize(
    ("text", "hours", "utc"),
    [
        ("2027-01-14 19:42:00+02:00", 2, "2027-01-14T17:42:00+00:00"),
        ("2027-01-14T19:42-05:30", -5.5, "2027-01-15T01:12:00+00:00"),
        ("2027-01-14T19:42Z", 0, "2027-01-14T19:42:00+00:00"),
    ],
)
def test_an_offset_is_taken_from_the_clock(text: str, hours: float, utc: str) -> None:
    """A clock two hours ahead of UTC shows 19:42 at 17:42 UTC (RFC 3339, section 4.2)."""
    found = parse_when(text, PLAIN)
    assert found is not None
    day, clock, offset = found
    assert offset == timedelta(hours=hours)
    assert clock is not None
    at = moment(day, clock, offset, ZoneInfo("Europe/London"))
    assert at is not None
    assert at.astimezone(UTC).isoformat() == utc


def test_answers_of_today_are_taken_and_of_tomorrow_refused() -> None:
    """An answer cannot have been given yet."""
    rows = f"item,outcome,date\n41,wrong,{TODAY}\n42,wrong,{TODAY + timedelta(days=1)}\n"
    found = take(rows)
    assert [attempt.question for attempt in found.drafts] == ["north:41"]
    assert len(found.problems) == 1


def test_answers_without_a_time_keep_the_order_of_their_rows() -> None:
    """So that the last of two answers to one question is the one written last."""
    found = take(
        "item,outcome,date\n43,wrong,2027-02-01\n41,wrong,2027-02-01\n42,right,2027-02-01\n"
    )
    order = sorted(found.drafts, key=lambda attempt: attempt.at)
    assert [attempt.question for attempt in order] == ["north:43", "north:41", "north:42"]
