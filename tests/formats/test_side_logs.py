"""The logs beside the answers: what each line holds, which lines are refused, and which count."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from kb.core.ids import AttemptId, NoteId, QuestionId
from kb.core.model import Drawn, Reading, ReadingChoice, Renamed
from kb.formats.side_logs import (
    CALENDAR,
    CHANCE_ORDER,
    DRAWS,
    HELD_BACK,
    READINGS,
    RENAMES,
    SCORES,
    SHEETS,
    CalendarRow,
    LoggedSheet,
    SideLog,
    lines_logged,
    sheet_digest,
)

AT = datetime(2027, 2, 1, 9, tzinfo=UTC)
MOMENT = "2027-02-01T09:00:00+00:00"


def parsed(log: SideLog, *lines: str) -> list[str]:
    """Codes and lines of the problems of a file, `ok` where all lines are records."""
    raw = (log.header + "".join(f"{line}\r\n" for line in lines)).encode()
    found, problems = log.parse(raw, "log/x.csv")
    assert len(found) + len(problems) == len(lines)
    return [f"{p.code} {p.place.line}" for p in problems] or ["ok"]


@pytest.mark.parametrize(
    ("log", "line", "fits"),
    [
        (READINGS, f"r,{MOMENT},aki,0", True),
        (READINGS, f"r,{MOMENT},aki,", True),
        (READINGS, f"r,{MOMENT},aki,999999", True),
        (READINGS, f"r,{MOMENT},aki,1000000", False),
        (READINGS, f"r,{MOMENT},aki,-0.1", False),
        (READINGS, f"r,{MOMENT},aki,nan", False),
        (READINGS, f"r,{MOMENT},,10", False),
        (READINGS, f"r,{MOMENT},\0\0\0,10", False),
        (READINGS, "r,2027-02-01T09:00:00,aki,10", False),
        (READINGS, f"r,{MOMENT},aki", False),
        (READINGS, f"r,{MOMENT},aki,10,more", False),
        (READINGS, f'r,{MOMENT},"aki,10', False),
        (READINGS, f",{MOMENT},aki,10", True),
        (SCORES, f"s,{MOMENT},p,,0,0,", True),
        (SCORES, f"s,{MOMENT},p,,5,5,yes", True),
        (SCORES, f"s,{MOMENT},p,,6,5,", False),
        (SCORES, f"s,{MOMENT},p,,-1,5,", False),
        (SCORES, f"s,{MOMENT},,,1,5,", False),
        (DRAWS, f"{MOMENT},d,first,7,1,north:1", True),
        (DRAWS, f"{MOMENT},d,third,7,1,north:1", False),
        (DRAWS, f"{MOMENT},d,,7,1,north:1", False),
        (DRAWS, f"{MOMENT},d,first,7,one,north:1", False),
        (DRAWS, f"{MOMENT},d,first,7,1,north", False),
        (DRAWS, f"{MOMENT},,first,7,1,north:1", False),
        (HELD_BACK, f"{MOMENT},d,first,7,1,north:1", True),
        (RENAMES, f"i,{MOMENT},item,north:1,north:2", True),
        (RENAMES, f"i,{MOMENT},place,north:1,north:2", False),
        (RENAMES, f",{MOMENT},item,north:1,north:2", False),
        (RENAMES, f"i,{MOMENT},item,north:1,", False),
    ],
)
def test_a_line_is_a_record_or_is_told(log: SideLog, line: str, fits: bool) -> None:
    """With its line; the others of the file count."""
    good = log.format(*(log.parse((log.header + line + "\r\n").encode(), "x")[0]))
    assert (good != "") == fits
    assert parsed(log, line) == (["ok"] if fits else [f"{log.code} 2"])


HEADERS = {
    READINGS.stem: "id,at,note,seconds",
    CHANCE_ORDER.stem: "at,note,miss,order",
    DRAWS.stem: "at,draw,round,seed,position,question",
    HELD_BACK.stem: "at,draw,round,seed,position,question",
    SCORES.stem: "id,at,sitting,area,right,items,official",
    RENAMES.stem: "id,at,kind,old,new",
    SHEETS.stem: "at,name,size,digest,day,batch",
    CALENDAR.stem: "at,uid,slot,day,title,content,sequence,cancelled",
}


@pytest.mark.parametrize(
    ("log", "record", "line"),
    [
        (
            READINGS,
            Reading(id="r", at=AT, note=NoteId("aki"), seconds=41.25),
            f"r,{MOMENT},aki,41.25",
        ),
        (READINGS, Reading(id="r", at=AT, note=NoteId("aki")), f"r,{MOMENT},aki,"),
        (
            DRAWS,
            Drawn(
                at=AT, draw="d", round="second", seed="7", position=3, question=QuestionId("a:1")
            ),
            f"{MOMENT},d,second,7,3,a:1",
        ),
        (
            CHANCE_ORDER,
            ReadingChoice(at=AT, note=NoteId("aki"), miss=AttemptId("m"), early=True),
            f"{MOMENT},aki,m,early",
        ),
        (
            CHANCE_ORDER,
            ReadingChoice(at=AT, note=NoteId("aki"), miss=AttemptId("m"), early=False),
            f"{MOMENT},aki,m,late",
        ),
        (
            RENAMES,
            Renamed(id="i", at=AT, kind="area", old="renal", new="nephrology"),
            f"i,{MOMENT},area,renal,nephrology",
        ),
        (
            SHEETS,
            LoggedSheet(at=AT, name="a.txt", size=3, digest="ab", day=date(2027, 1, 2), batch="b"),
            f"{MOMENT},a.txt,3,ab,2027-01-02,b",
        ),
        (
            CALENDAR,
            CalendarRow(
                at=AT,
                uid="u",
                slot="s",
                day=date(2027, 1, 2),
                title="T, x",
                content="c",
                sequence=2,
                cancelled=True,
            ),
            f'{MOMENT},u,s,2027-01-02,"T, x",c,2,yes',
        ),
    ],
)
def test_a_record_is_one_line_and_reads_back(log: SideLog, record: object, line: str) -> None:
    """Below a header of its columns, with the line ends of RFC 4180."""
    assert log.header == HEADERS[log.stem] + "\r\n"
    assert log.format(record) == line + "\r\n"
    raw = b"\xef\xbb\xbf" + (log.header + "\r\n" + log.format(record)).encode()
    assert log.parse(raw, "x") == ((record,), ())


def test_what_is_wrong_is_said_with_what_a_line_has() -> None:
    """A damaged line, and a last one that is cut off."""
    raw = f"{READINGS.header}nonsense\r\n \r\nr,{MOMENT},aki,5".encode()
    found, problems = READINGS.parse(raw, "log/readings-a.csv")
    assert found == ()
    assert [(p.place.path, p.place.line, p.message) for p in problems] == [
        ("log/readings-a.csv", 2, "this is not a reading; left out"),
        ("log/readings-a.csv", 4, "the last line is cut off; kept aside"),
    ]
    assert READINGS.parse(f"{READINGS.header} ".encode(), "x") == ((), ())
    assert {p.hint for p in problems} == {"a line has id, moment with offset, note and seconds"}


def test_a_record_that_is_in_two_files_counts_once_in_order_of_time() -> None:
    """As it came first; draws are told apart by draw and position."""
    early = Reading(id="b", at=AT.replace(hour=8), note=NoteId("x"))
    late, again = (Reading(id="a", at=AT, note=NoteId(name)) for name in ("first", "second"))
    same = Reading(id="c", at=AT, note=NoteId("y"))
    assert READINGS.union([same, late, again, early]) == (early, late, same)
    one = Drawn(at=AT, draw="d", round="first", seed="1", position=1, question=QuestionId("a:1"))
    two = Drawn(at=AT, draw="d", round="first", seed="1", position=2, question=QuestionId("a:1"))
    assert DRAWS.union([two, one, one]) == (one, two)


def test_a_sheet_that_grew_twice_is_known_to_its_longest_part() -> None:
    """A digest of 32 digits; a longer sheet of the same beginning, or an empty one, is another."""
    raws = (b"", b"1\n", b"1\n2\n", b"1\n2\n3\n4\n")
    logged = [
        LoggedSheet(at=AT, name="a", size=len(raw), digest=sheet_digest(raw), day=AT.date())
        for raw in raws
    ]
    assert len(sheet_digest(b"")) == 32
    assert lines_logged(b"1\n2\n3\n", logged) == 2
    assert lines_logged(raws[3], logged) == 4
    assert lines_logged(b"x\n", logged) == 0
