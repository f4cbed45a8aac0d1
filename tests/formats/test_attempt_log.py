"""The log reads back what it wrote, and a damaged line never affects its neighbours."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.ids import OUTCOMES, REASONS, ROUNDS, AreaId, AttemptId, QuestionId
from kb.core.model import Attempt, Dismissal
from kb.formats import attempt_log
from kb.formats.attempt_ids import merge, voided_ids, with_ids
from kb.formats.attempt_log import format_attempt, format_dismissal, format_void
from kb.formats.csv_lines import format_row, one_line
from kb.formats.logged_answers import plain_columns
from kb.formats.side_logs import SHEETS, LoggedSheet

AT = datetime(2027, 1, 14, 19, 42, tzinfo=UTC)
DRAFT = Attempt(id=AttemptId("a"), at=AT, question=QuestionId("north:1"), outcome="wrong")


def lines(*rows: str) -> bytes:
    """A log file of these rows under the usual header."""
    return (attempt_log.HEADER + "".join(f"{row}\r\n" for row in rows)).encode()


def row(attempt: Attempt = DRAFT) -> str:
    """One line without its end."""
    return format_attempt(attempt).removesuffix("\r\n")


ZONE = timezone(timedelta(minutes=60))
CELL = st.text(max_size=20).map(one_line)
ATTEMPTS = st.builds(
    Attempt,
    id=st.text("0123456789abcdef", min_size=1, max_size=16).map(AttemptId),
    at=st.integers(0, 10**9).map(
        lambda minutes: datetime(2000, 1, 1, tzinfo=ZONE) + timedelta(minutes=minutes % 50_000_000)
    ),
    question=st.sampled_from(["north:1", "paper-1:57", "ü:a.b"]).map(QuestionId),
    outcome=st.sampled_from(OUTCOMES),
    area=st.sampled_from(["", "cardiology"]).map(AreaId),
    concept=CELL,
    first=st.sampled_from(["", "A"]),
    chosen=CELL,
    key=CELL,
    certainty=st.sampled_from([None, 1, 2, 3]),
    seconds=st.one_of(st.none(), st.integers(0, 9999).map(float)),
    reason=st.sampled_from(["", *REASONS]),
    round=st.sampled_from(["", *ROUNDS]),
    sitting=CELL,
    batch=CELL,
    remark=CELL,
)


@given(st.lists(ATTEMPTS, max_size=5))
def test_what_is_written_is_read_back(attempts: list[Attempt]) -> None:
    """parse(format(x)) == x for any list of attempts."""
    raw = (attempt_log.HEADER + "".join(map(format_attempt, attempts))).encode()
    parsed = attempt_log.parse_log(raw, "log/a.csv")
    assert list(parsed.attempts) == attempts
    assert parsed.problems == ()


@given(st.binary(max_size=300))
def test_no_bytes_make_the_parser_raise(raw: bytes) -> None:
    """Whatever a disk gives back, there is an answer."""
    attempt_log.parse_log(raw, "x")
    attempt_log.parse_log(attempt_log.HEADER.encode() + raw, "x")


def test_cells_are_quoted_as_the_standard_says() -> None:
    """RFC 4180 section 2, rules 5 to 7: quotes are doubled, commas quoted, lines end in CRLF."""
    assert format_row({"a": "aaa", "b": 'b"bb', "c": "c,c"}, ("a", "b", "c")) == (
        'aaa,"b""bb","c,c"\r\n'
    )


def test_one_record_is_one_physical_line() -> None:
    """A line break in a remark becomes a space."""
    written = format_attempt(replace(DRAFT, remark="one\r\ntwo\0three"))
    assert written.count("\n") == 1
    assert "one  two three" in written
    assert format_row({"a": " x ", "b": "\ty\n"}, ("a", "b")) == "x,y\r\n"


@pytest.mark.parametrize(
    ("bad", "code"),
    [
        (b"a,b,c\r\n", "few-fields"),
        (row().encode() + b",,,\r\n", "many-fields"),
        (row().encode().replace(b"wrong", b"wr\0ng") + b"\r\n", "damaged-line"),
        (row(replace(DRAFT, remark="x")).encode()[:-1] + b"\xe9\r\n", "not-utf8"),
        (row().encode().replace(b"north:1", b"1041") + b"\r\n", "bad-question"),
        (row().encode().replace(b"2027-01-14T", b"2027-13-14T") + b"\r\n", "bad-date"),
        (row().encode().replace(b"+00:00", b"") + b"\r\n", "bad-date"),
        (row().encode().replace(b"wrong", b"wrnog") + b"\r\n", "bad-outcome"),
        (row().encode()[:-1] + b'"open\r\n', "bad-csv"),
        (row().encode()[:40], "torn-line"),
    ],
)
def test_a_bad_line_is_left_out_and_its_neighbour_kept(bad: bytes, code: str) -> None:
    """One Problem names file and line; the good line before it counts."""
    parsed = attempt_log.parse_log(lines(row()) + bad, "log/a.csv")
    assert [(p.code, str(p.place)) for p in parsed.problems] == [(code, "log/a.csv:3")]
    assert list(parsed.attempts) == [DRAFT]


@given(
    st.lists(st.sampled_from((row(), "torn", '"open', "", "\ufeff", "a,b")), max_size=8), st.data()
)
def test_a_file_that_grew_reads_like_one_read_at_once(rows: list[str], data: st.DataObject) -> None:
    """Wherever the first reading ended, even inside a line; another file is read from its start."""
    raw = lines(*rows)
    reader = attempt_log.LogReader("log/a.csv")
    for cut in sorted(data.draw(st.lists(st.integers(0, len(raw)), max_size=3))):
        reader.read(raw[:cut])
    again = reader.read(raw)
    assert again == attempt_log.parse_log(raw, "log/a.csv")
    assert [a.place for a in again.attempts] == [
        a.place for a in attempt_log.parse_log(raw, "log/a.csv").attempts
    ]
    other = lines(row(), row())
    assert reader.read(other) == attempt_log.parse_log(other, "log/a.csv")


def test_columns_may_stand_in_another_order() -> None:
    """The header decides; columns that are missing are empty, others are passed over."""
    raw = b"outcome,question,at,id,mine\nright,North:7,2027-01-14T08:00:00+01:00,x1,!\n"
    parsed = attempt_log.parse_log(raw, "x")
    assert parsed.problems == ()
    assert parsed.attempts[0].question == "north:7"
    assert parsed.attempts[0].right


def test_a_header_without_an_id_leaves_the_file_out() -> None:
    """Without the columns that matter nothing can be trusted."""
    parsed = attempt_log.parse_log(b"question,outcome\nnorth:1,right\n", "x")
    assert [p.code for p in parsed.problems] == ["bad-header"]


def test_a_log_saved_with_semicolons_says_so() -> None:
    """As a spreadsheet may do; the file is left out as it is."""
    raw = b"id;at;question;outcome\r\na1;2027-01-02T10:00:00+00:00;north:1;right\r\n"
    (problem,) = attempt_log.parse_log(raw, "log/attempts-a.csv").problems
    assert problem.code == "bad-header"
    assert problem.message == "semicolons divide the header, not commas; the file is left out"


def test_the_same_import_twice_gives_the_same_ids() -> None:
    """Ids come from content and place in the import, not from the clock or the batch."""
    first = with_ids([DRAFT, DRAFT], "b-1", day_only=True)
    later = replace(DRAFT, at=AT + timedelta(hours=2))
    second = with_ids([later, later], "b-2", day_only=True)
    assert [a.id for a in first] == [a.id for a in second]
    assert first[0].id != first[1].id


def test_the_same_line_in_two_files_counts_once() -> None:
    """A synchroniser's copy adds nothing."""
    parsed = attempt_log.parse_log(lines(row()), "log/a.csv")
    twin = attempt_log.parse_log(lines(row()), "log/a (copy).csv")
    attempts, _, problems = merge([parsed, twin])
    assert list(attempts) == [DRAFT]
    assert problems == []


def test_what_is_wrong_in_any_file_is_told_of_all() -> None:
    """In the order of the files."""
    files = [attempt_log.parse_log(lines(row()) + b"x\r\n", f"log/{name}.csv") for name in "ab"]
    places = [str(problem.place) for problem in merge(files)[2]]
    assert places == ["log/a.csv:3", "log/b.csv:3"]


def test_one_id_with_two_contents_is_a_problem() -> None:
    """The first is kept, and the second is named with its line."""
    other = replace(DRAFT, outcome="right")
    attempts, _, problems = merge([attempt_log.parse_log(lines(row(), row(other)), "log/a.csv")])
    assert list(attempts) == [DRAFT]
    assert [(p.code, p.place.line) for p in problems] == [("duplicate-id", 3)]


@pytest.mark.parametrize("what", ["a", "b-1"])
def test_a_void_takes_back_an_answer_or_a_whole_import(what: str) -> None:
    """The line stays in the file and no longer counts."""
    void = attempt_log.Void(id="v", at=AT, voids=what)
    raw = lines(row(replace(DRAFT, batch="b-1"))) + format_void(void).encode()
    attempts, _, problems = merge([attempt_log.parse_log(raw, "x")])
    assert attempts == ()
    assert problems == []


def test_a_moment_of_a_lost_clock_is_none() -> None:
    """A day before any log began is left out: it would stretch every chart over the centuries."""
    assert attempt_log.parse_moment("0001-01-01T00:00:00+00:00") is None
    assert attempt_log.parse_moment("1990-01-01T00:00:00+00:00") is not None


@pytest.mark.parametrize(
    "remark", ["=1+1", "+44", "-3 mmol", "@home", "'=1", "''=1", "'tis", "= x, y"]
)
def test_a_remark_like_a_formula_is_quoted_and_read_back(remark: str) -> None:
    """A spreadsheet that opens the log must not run it (OWASP, CSV injection)."""
    line = row(replace(DRAFT, remark=remark))
    written = next(csv.reader([line]))[-1]
    assert written[0] not in "=+-@"
    (read,) = attempt_log.parse_log(lines(line), "x").attempts
    assert read.remark == remark


def test_a_formula_in_a_side_log_is_quoted_and_read_back() -> None:
    """The name of a sheet is free text too."""
    at = datetime(2027, 2, 1, 9, tzinfo=UTC)
    sheet = LoggedSheet(at=at, name="=cmd", size=1, digest="d", day=at.date())
    line = SHEETS.format(sheet)
    assert ",'=cmd," in line
    assert SHEETS.parse((SHEETS.header + line).encode(), "x")[0] == (sheet,)


def test_seconds_are_written_as_they_were_measured() -> None:
    """83.25 s are not 83 s."""
    assert ",83.25," in row(replace(DRAFT, seconds=83.25))


def test_answers_are_counted_by_what_they_have_and_by_what_follows_from_it() -> None:
    """Three lines: their outcomes are columns of the log, their sources part of a reference."""
    rows = [("a", "north:1", "wrong"), ("b", "harbour:1", "right"), ("c", "north:2", "right")]
    text = [
        row(replace(DRAFT, id=AttemptId(own), question=QuestionId(of), outcome=said))
        for own, of, said in rows
    ]
    attempts, _, _ = merge([attempt_log.parse_log(lines(*text), "x")])
    assert dict(attempts.counts("outcome")) == {"wrong": 1, "right": 2}
    assert dict(attempts.counts("source")) == {"north": 2, "harbour": 1}


def test_answers_are_in_order_of_time_whatever_their_offsets() -> None:
    """10:30 at +02:00 is 08:30 UTC, before 09:00 UTC (RFC 3339, section 5.1 on comparing)."""
    early = row(replace(DRAFT, id=AttemptId("b"))).replace("19:42:00+00:00", "10:30:00+02:00")
    late = row().replace("19:42:00+00:00", "09:00:00+00:00")
    attempts, _, _ = merge([attempt_log.parse_log(lines(late, early), "x")])
    assert [attempt.id for attempt in attempts] == ["b", "a"]


@pytest.mark.parametrize(
    ("voids", "taken_back"),
    [
        ([("v1", "a", "")], {"a"}),
        ([("v1", "a", ""), ("v2", "v1", "")], {"v1"}),
        ([("v1", "a", "b-1"), ("v2", "b-1", "")], {"b-1"}),
        ([("v1", "a", ""), ("v2", "v1", ""), ("v3", "v2", "")], {"a", "v2"}),
        ([("v1", "a", ""), ("v2", "a", ""), ("v3", "v1", "")], {"a", "v1"}),
        ([("v1", "", "")], set()),
    ],
)
def test_a_void_can_be_taken_back_itself(
    voids: list[tuple[str, str, str]], taken_back: set[str]
) -> None:
    """By its id or that of its import, and again; worked by hand."""
    made = [attempt_log.Void(id=own, at=AT, voids=what, batch=b) for own, what, b in voids]
    assert voided_ids(made) == taken_back
    assert voided_ids(made[::-1]) == taken_back


@pytest.mark.parametrize(("count", "counts"), [(1, False), (2, True), (5001, False), (5002, True)])
def test_an_answer_undone_and_redone_a_thousand_times(count: int, counts: bool) -> None:
    """Each void takes back the one before it; in whatever order they are read."""
    made = [attempt_log.Void(id="v0", at=AT, voids="a")]
    made += [attempt_log.Void(id=f"v{n}", at=AT, voids=f"v{n - 1}") for n in range(1, count)]
    assert ("a" not in voided_ids(made)) is counts
    assert ("a" not in voided_ids(made[::-1])) is counts


def by_hand(**cells: str) -> bytes:
    """A log of one line typed by a person."""
    usual = {"id": "a", "at": AT.isoformat(), "question": "north:1", "outcome": "wrong"}
    return lines(",".join((usual | cells).get(name, "") for name in attempt_log.COLUMNS))


@pytest.mark.parametrize(
    ("cells", "change"),
    [
        ({"outcome": " Wrong "}, {}),
        ({"outcome": " Wrong ", "seconds": "0"}, {"seconds": 0.0}),
        ({"outcome": " Wrong ", "seconds": "0.5"}, {"seconds": 0.5}),
        ({"question": " North:1"}, {}),
        ({"reason": " Misread"}, {"reason": "misread"}),
        ({"round": "Second "}, {"round": "second"}),
        ({"area": "Cardiology"}, {"area": "cardiology"}),
        ({"certainty": "3"}, {"certainty": 3}),
        ({"seconds": "0"}, {"seconds": 0.0}),
        ({"seconds": "999999"}, {"seconds": 999999.0}),
        ({"at": "2027-01-13T24:00:00+00:00"}, {"at": datetime(2027, 1, 14, tzinfo=UTC)}),
        ({"at": "2027-01-13T24:00Z"}, {"at": datetime(2027, 1, 14, tzinfo=UTC)}),
        ({"at": "1990-01-01T00:00:00+00:00"}, {"at": datetime(1990, 1, 1, tzinfo=UTC)}),
    ],
)
def test_a_line_in_another_spelling_counts(cells: dict[str, str], change: dict[str, Any]) -> None:
    """As a person or another version may write it; nothing is said."""
    parsed = attempt_log.parse_log(by_hand(**cells), "x")
    assert parsed.problems == ()
    assert parsed.attempts == (replace(DRAFT, **change),)


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("certainty", "4", "certainty '4' is not 1, 2 or 3"),
        ("seconds", "1000000", "seconds '1000000' is not a number of seconds"),
        ("seconds", "-1", "seconds '-1' is not a number of seconds"),
        ("seconds", "soon", "seconds 'soon' is not a number of seconds"),
        ("seconds", "nan", "seconds 'nan' is not a number of seconds"),
        ("reason", "misraed", "unknown reason 'misraed'"),
        ("round", "third", "unknown round 'third'"),
    ],
)
def test_a_value_not_understood_is_dropped_and_told(name: str, value: str, said: str) -> None:
    """The answer counts without it."""
    parsed = attempt_log.parse_log(by_hand(**{name: value}), "x")
    assert [(p.code, p.message, p.place.line) for p in parsed.problems] == [
        (f"bad-{name}", f"{said}; the answer counts without it", 2)
    ]
    assert parsed.attempts == (DRAFT,)


@pytest.mark.parametrize(
    "at", ["1989-12-31T23:59:59+00:00", "0001-01-01T00:00:00+00:00", "9999-12-31T24:00Z", "2027"]
)
def test_a_moment_no_log_can_have_leaves_the_line_out(at: str) -> None:
    """Before 1990, past the end of the calendar, or not a moment."""
    parsed = attempt_log.parse_log(by_hand(at=at), "x")
    assert parsed.attempts == ()
    assert [(p.code, p.message) for p in parsed.problems] == [
        ("bad-date", f"'{at}' is not a moment; left out")
    ]


def test_a_header_in_another_spelling_is_read() -> None:
    """Capitals, spaces, a byte-order mark, and cells in quotation marks."""
    raw = (
        b'\xef\xbb\xbf ID ,"At",QUESTION, outcome\r\na,2027-01-14T19:42:00+00:00,north:1,wrong\r\n'
    )
    for text in (raw, raw.replace(b" ID ", b"ID")):
        parsed = attempt_log.parse_log(text, "x")
        assert (parsed.attempts, parsed.problems) == ((DRAFT,), ())


def test_an_empty_line_is_passed_over() -> None:
    """With or without spaces in it."""
    parsed = attempt_log.parse_log(lines("", "  ", row()), "x")
    assert (parsed.attempts, parsed.problems) == ((DRAFT,), ())


def test_a_header_that_lacks_a_column_says_which() -> None:
    """And every line below is passed over, also in a reading later on."""
    reader = attempt_log.LogReader("log/x.csv")
    raw = b"id,at,question\na,2027-01-14T19:42:00+00:00,north:1\n"
    (problem,) = reader.read(raw).problems
    assert problem.message == "the header lacks outcome; the file is left out"
    assert problem.hint.endswith(attempt_log.HEADER.strip())
    assert reader.read(raw + b"b,c,d\n").problems == (problem,)


def test_an_area_is_asked_for_once_for_each_question_that_names_none() -> None:
    """The line's own area goes before it."""
    asked: list[str] = []

    def area_of(question: QuestionId) -> str:
        asked.append(question)
        return "renal"

    own = row(replace(DRAFT, area=AreaId("cardiology")))
    parsed = attempt_log.LogReader("x", area_of).read(lines(row(), own, row()))
    assert [attempt.area for attempt in parsed.attempts] == ["renal", "cardiology", "renal"]
    assert asked == ["north:1"]


def test_what_an_id_covers() -> None:
    """Everything of an answer but its area, concept, import and place; the day alone if only that
    was given.
    """

    def own(**change: Any) -> str:
        return with_ids([replace(DRAFT, **change)], "b", day_only=False)[0].id

    same = {"area": AreaId("renal"), "concept": "x", "id": AttemptId("z"), "batch": "c"}
    assert own(**same) == own()
    changes: list[dict[str, Any]] = [
        {"at": AT + timedelta(seconds=1)},
        {"question": QuestionId("north:2")},
        {"outcome": "blank"},
        {"first": "A"},
        {"chosen": "A"},
        {"key": "A"},
        {"certainty": 1},
        {"seconds": 0.0},
        {"reason": "misread"},
        {"round": "first"},
        {"sitting": "p"},
        {"remark": "x"},
    ]
    assert len({own(), *(own(**change) for change in changes)}) == len(changes) + 1
    later = replace(DRAFT, at=AT + timedelta(hours=1))
    three = with_ids([DRAFT, later, DRAFT], "b", day_only=True)
    assert len({attempt.id for attempt in three}) == 3
    assert [a.batch for a in three] == ["b"] * 3


def test_a_twin_may_differ_in_what_an_id_does_not_cover() -> None:
    """Another area, import or time of day is no conflict."""
    twin = replace(DRAFT, at=AT.replace(hour=0), area=AreaId("x"), concept="y", batch="b-2")
    parsed = attempt_log.parse_log(lines(row(), row(twin)), "x")
    attempts, _, problems = merge([parsed])
    assert (attempts, problems) == ((DRAFT,), [])
    other = attempt_log.parse_log(lines(row(replace(DRAFT, at=AT - timedelta(days=1)))), "y")
    assert [p.code for p in merge([parsed, other])[2]] == ["duplicate-id"]


def test_a_dismissal_counts_until_it_is_taken_back() -> None:
    """By the id of its line."""
    aside = Dismissal(id="s1", at=AT, question=QuestionId("north:1"), reason="misread", remark="r")
    raw = lines(row()) + format_dismissal(aside).encode()
    parsed = attempt_log.parse_log(raw, "x")
    assert parsed.dismissals == (aside,)
    assert merge([parsed])[:2] == ((DRAFT,), (aside,))
    void = format_void(attempt_log.Void(id="v", at=AT, voids="s1")).encode()
    assert merge([attempt_log.parse_log(raw + void, "x")])[:2] == ((DRAFT,), ())


@pytest.mark.parametrize(
    ("seconds", "kept"), [("0", 0.0), ("0.5", 0.5), ("", None), ("-1", None), ("x", None)]
)
def test_no_time_at_all_is_a_time(seconds: str, kept: float | None) -> None:
    """Nought is what a bank may have measured; below it is none."""
    row = {"id": "a", "at": "2027-01-14T19:42:00+00:00", "question": "north:1", "outcome": "right"}
    raw = attempt_log.HEADER + format_row({**row, "seconds": seconds}, attempt_log.COLUMNS)
    found = attempt_log.parse_log(raw.encode(), "log/attempts-a.csv")
    assert [attempt.seconds for attempt in found.attempts] == [kept]


def test_lines_of_the_usual_kind_are_divided_together() -> None:
    """Two fields a line; a field more or less, or a quoted one, and each line is read by itself."""
    assert plain_columns(b"a,b\nc,d\n", 2) == [["a", "c"], ["b", "d"]]
    for odd in (b"a,b\nc\n", b"a,b,c\nd\n", b'a,"b"\nc,d\n', b"a,b\nc,\xff\n"):
        assert plain_columns(odd, 2) is None
