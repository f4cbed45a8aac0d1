"""What a calendar is written from: events of a day by hand, and their revisions."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from kb.core.ids import AreaId, NoteId
from kb.core.settings import PlanSettings
from kb.formats.side_logs import CalendarRow
from kb.planning.calendar_entries import Entry, calendar_entries, paper_dates, revised
from kb.planning.paper_days import PaperWork, Placed
from kb.planning.plan_records import DayPlan, Plan, Work
from kb.planning.reading_list import Candidate, DayList
from kb.planning.study_days import OFFICE
from kb.planning.workload import Situation

MONDAY = date(2027, 3, 1)
NOW = datetime(2027, 3, 1, 7, tzinfo=UTC)
MOCK = PaperWork(name="mock", title="Mock", items=200, parts=(1, 2), part_count=2, part_minutes=180)
CHECK = replace(MOCK, name="held-back questions", parts=(1,), part_count=1, window=(9, 6))


def day(number: int, **more: object) -> DayPlan:
    """A day of the plan."""
    plain = DayPlan(day=MONDAY + timedelta(days=number), shift="off", minutes=240)
    return replace(plain, **more)  # type: ignore[arg-type]


def sat(number: int, paper: PaperWork = MOCK, parts: tuple[int, ...] = (1, 2)) -> DayPlan:
    """A day on which parts of a paper are sat."""
    own = MONDAY + timedelta(days=number)
    return day(number, paper=Placed(paper=paper, day=own, parts=parts))


def situation(settings: PlanSettings | None = None) -> Situation:
    """An exam four weeks away."""
    return Situation(
        today=MONDAY,
        exam_day=MONDAY + timedelta(days=28),
        zone="Europe/London",
        rota=OFFICE,
        work=Work(),
        settings=settings or PlanSettings(),
        bank_count=0,
        kept_count=0,
    )


def entries(*days: DayPlan, settings: PlanSettings | None = None) -> list[tuple[str, str, str]]:
    """Title, detail and hours of each event, the exam left out."""
    found = calendar_entries(situation(settings), Plan(days=days), {"a": "Area A", "mock": "Mock"})
    return [
        (entry.title, entry.detail, f"{entry.start:%H:%M} {entry.minutes}" if entry.start else "")
        for entry in found[:-1]
    ]


@pytest.mark.parametrize(
    ("parts", "settings", "hours"),
    [
        ((1, 2), PlanSettings(), ["09:30 180", "13:00 180"]),  # half an hour between
        (
            (1, 2),
            PlanSettings(break_after_minutes=90, break_minutes=60),
            ["09:30 180", "13:30 180"],
        ),
        ((2,), PlanSettings(paper_start=time(14)), ["14:00 180"]),
        ((1, 2), PlanSettings(paper_start=time(20)), ["20:00 180", "23:30 180"]),
        (
            (1, 2),
            PlanSettings(paper_start=time(21)),
            ["21:00 180"],
        ),  # the second would be tomorrow's
    ],
)
def test_parts_of_a_paper_follow_each_other(
    parts: tuple[int, ...], settings: PlanSettings, hours: list[str]
) -> None:
    """From 09:30 or the hour set, with a break between, and never on the next day."""
    found = entries(sat(0, parts=parts), settings=settings)
    assert [one[2] for one in found] == hours
    assert [one[0] for one in found] == [f"Mock, part {n}" for n in parts][: len(hours)]


def test_a_day_of_study_says_what_it_holds() -> None:
    """Each kind only where there is some; areas by name in the details, then why it begins late."""
    note = Candidate(
        note=NoteId("n"),
        title="N",
        area=AreaId("a"),
        seconds=60,
        marks=1,
        failing=False,
        due=MONDAY,
    )
    read = DayList(day=MONDAY, minutes=9, notes=(note, note))
    new = ((AreaId("a"), 30), (AreaId(""), 2))
    full = day(0, notes=read, missed_count=3, new=new, mixed_count=4, until=time(9), why="rest")
    assert entries(full) == [
        ("Study: 2 notes, 3 missed again, 32 new, 4 mixed", "30 Area A; 2 mixed areas; rest", "")
    ]
    assert entries(day(0, mixed_count=4)) == [("Study: 4 mixed", "", "")]
    assert entries(day(0, review="mock and p", review_minutes=80)) == [
        ("Review of Mock and p, 80 min", "", "")
    ]
    assert entries(day(0)) == []


def test_days_after_the_last_and_an_exam_after_it_are_left_out() -> None:
    """The last day itself and an exam on it are in."""
    plan = Plan(days=tuple(day(n, mixed_count=1) for n in range(3)))
    now = situation()
    last = MONDAY + timedelta(days=1)
    assert [e.day for e in calendar_entries(now, plan, {}, last)] == [MONDAY, last]
    whole = calendar_entries(now, plan, {}, now.exam_day)
    assert (len(whole), whole[-1].slot, whole[-1].day) == (4, "exam", now.exam_day)


def test_days_of_papers_are_named_with_their_review() -> None:
    """By hand: parts on two days, a review, one that has no day; a check is no paper."""
    plan = Plan(
        days=(
            sat(0, parts=(1,)),
            sat(2, parts=(2,)),
            day(3, review="p and mock"),
            sat(5, CHECK, (1,)),
        ),
        papers_out=(("p", "no day left"),),
    )
    assert paper_dates(plan) == {
        "p": "not planned: no day left",
        "mock": "part 1 Mon 1 Mar, part 2 Wed 3 Mar; review Thu 4 Mar",
    }
    assert paper_dates(Plan(days=(sat(4),))) == {"mock": "Fri 5 Mar"}


def row(
    number: int, *, sequence: int = 0, content: str = "x", cancelled: bool = False
) -> CalendarRow:
    """An event that a calendar file has held, on a day."""
    return CalendarRow(
        at=NOW - timedelta(days=1),
        uid=f"u{number}",
        slot=f"s{number}",
        day=MONDAY + timedelta(days=number),
        title="T",
        content=content,
        sequence=sequence,
        cancelled=cancelled,
    )


@pytest.mark.parametrize(
    ("known", "last", "expected"),
    [
        ([row(-1)], None, []),  # its day is past
        ([row(0)], None, [("u0", 1, True)]),
        ([row(9)], 8, []),  # beyond what is written now
        ([row(9)], 9, [("u9", 1, True)]),
        ([row(3, sequence=4, cancelled=True)], None, [("u3", 4, True)]),  # told already
        ([row(3), row(3, sequence=1)], None, [("u3", 2, True)]),  # the latest revision counts
        ([row(5), row(2)], None, [("u2", 1, True), ("u5", 1, True)]),
    ],
)
def test_what_is_planned_no_more_is_cancelled(
    known: list[CalendarRow], last: int | None, expected: list[tuple[str, int, bool]]
) -> None:
    """A revision later, on days from today to the last one written, in their order."""
    end = None if last is None else MONDAY + timedelta(days=last)
    found = revised((), known, NOW, MONDAY, end, base_mark="a")
    assert [(e.row.uid, e.row.sequence, e.row.cancelled) for e in found] == expected


@pytest.mark.parametrize(
    ("known", "sequence"),
    [
        ([], 0),
        (["same"], 0),
        (["other"], 1),
        (["cancelled"], 1),
        (["same", "other"], 1),  # two devices wrote it differently
        (["other", "same"], 1),
        (["same", "same"], 0),  # or alike
        (["later", "other"], 3),
    ],
)
def test_a_revision_follows_a_change_alone(known: list[str], sequence: int) -> None:
    """What is the same stays as it was written, with its UID."""
    entry = Entry(day=MONDAY, slot="s0", title="T")
    rows = {
        "same": row(0, content=entry.content),
        "other": row(0, content="other"),
        "cancelled": row(0, content=entry.content, cancelled=True),
        "later": row(0, content=entry.content, sequence=3),
    }
    (event,) = revised((entry,), [rows[name] for name in known], NOW, MONDAY, base_mark="a")
    assert (event.row.sequence, event.row.cancelled) == (sequence, False)
    assert (event.row.uid == "u0") == bool(known)
    assert (event.row == rows["same"]) == (set(known) == {"same"})
