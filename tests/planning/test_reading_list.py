"""The reading list: due notes, each day's minutes, rest, and the last days before the exam."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import combinations
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.cli import main
from kb.core.ids import AreaId, NoteId
from kb.core.model import Base, Note, Reading
from kb.core.settings import Exam, Study
from kb.planning.pace import words_per_minute
from kb.planning.reading_list import Candidate, DayList, ReadingList, candidates, due_on
from kb.services.session import Session

TODAY = date(2027, 2, 14)
FAR = date(2027, 5, 1)


def note(name: str, *, marks: float = 1.0, seconds: float = 60.0, **more: object) -> Candidate:
    """A candidate that is due, unless told otherwise."""
    plain = Candidate(
        note=NoteId(name),
        title=name,
        area=AreaId("a"),
        seconds=seconds,
        marks=marks,
        failing=False,
        due=TODAY,
    )
    return replace(plain, **more)  # type: ignore[arg-type]


def ahead(*minutes: int) -> list[tuple[date, int]]:
    """Budgets from today on."""
    return [(TODAY + timedelta(days=i), m) for i, m in enumerate(minutes)]


def reading_list(
    notes: Iterable[Candidate], days: Iterable[tuple[date, int]], last_look_from: date
) -> list[DayList]:
    """The lists of these days, one after the other."""
    found = ReadingList(notes, last_look_from)
    return [found.take(*one) for one in days]


def names(notes: tuple[Candidate, ...]) -> list[str]:
    """Ids in order."""
    return [one.note for one in notes]


def test_a_note_comes_when_it_is_due() -> None:
    """A note is listed on its day or later, and only once."""
    later = note("later", due=TODAY + timedelta(days=1))
    lists = reading_list([note("now"), later], ahead(10, 10, 10), FAR)
    assert [names(one.notes) for one in lists] == [["now"], ["later"], []]


def test_no_note_on_the_day_after_a_night() -> None:
    """Due notes wait for the next day that does not follow a night."""
    found = ReadingList([note("due")], FAR)
    lists = [found.take(*day, after_night=day[0] == TODAY) for day in ahead(10, 10)]
    assert [names(one.notes) for one in lists] == [[], ["due"]]


def test_the_last_days_take_what_fails_first() -> None:
    """Before the exam a failing note comes before one worth more, whether due or not."""
    far = TODAY + timedelta(days=60)
    rows = [note("worth", marks=9.0, due=far), note("fails", marks=0.1, failing=True, due=far)]
    lists = reading_list(rows, ahead(1, 1), TODAY)
    assert [names(one.notes) for one in lists] == [["fails"], ["worth"]]


def test_what_was_seen_in_the_last_days_does_not_come_again() -> None:
    """A last look is one look."""
    assert reading_list([note("seen", looked=TODAY)], ahead(10), TODAY)[0].notes == ()


@pytest.mark.parametrize(("worth", "first"), [(0.99, "late"), (1.01, "early")])
def test_what_chance_put_late_is_worth_a_hundredth(worth: float, first: str) -> None:
    """By hand: 100 marks late against one early, and room for one of the two."""
    rows = [note("late", marks=100, early=False), note("early", marks=worth)]
    assert names(reading_list(rows, ahead(1), FAR)[0].notes) == [first]


def test_a_note_without_marks_is_read_when_time_is_left(session: Callable[..., Session]) -> None:
    """A note that no mark is known of has none, and comes after one of the least marks."""
    files = {f"cardiology/{name}.md": NOTE.format("2027-02-10") for name in "tu"}
    rows = candidates(session(files).base, {NoteId("u"): 0.0002}, ())
    assert [row.marks for row in rows] == [0.0, 0.0002]
    due = [replace(row, due=TODAY) for row in rows]
    assert [names(one.notes) for one in reading_list(due, ahead(3, 3), FAR)] == [["u"], ["t"]]


def test_a_candidate_has_its_first_area_and_fails_if_it_is_among_those(
    session: Callable[..., Session],
) -> None:
    """A note without an area has none."""
    files = {
        "t.md": NOTE.format("2027-02-10").replace("[cardiology]", "[neurology, cardiology]"),
        "u.md": "Text.\n",
    }
    read = "id,at,note,seconds\r\n" + "".join(
        f"r{n},2027-02-{n}T07:00:00+00:00,t,60\r\n" for n in (11, 13, 12)
    )
    rows = candidates(session({**files, "log/readings-a.csv": read}).base, {}, [NoteId("t")])
    assert [(row.note, row.area, row.failing, row.looked, row.look_count) for row in rows] == [
        ("t", "neurology", True, date(2027, 2, 13), 3),
        ("u", "", False, None, 0),
    ]


def test_the_choice_of_chance_is_of_one_miss(session: Callable[..., Session]) -> None:
    """A note whose question was missed again, or never, is early until chance says otherwise."""
    chosen = "at,note,miss,order\r\n2027-02-12T10:00:00+00:00,t,{},late\r\n"
    files = {"cardiology/t.md": NOTE.format("2027-02-10"), "log/attempts-a.csv": LOG}
    for miss, early in (("x1", False), ("x0", True)):
        log = {"log/chance-order-a.csv": chosen.format(miss)}
        (one,) = candidates(session({**files, **log}).base, {}, ())
        assert (one.early, one.miss) == (early, "x1")
    quiet = {"cardiology/t.md": NOTE.format("2027-02-10")}
    (never,) = candidates(session({**quiet, "log/attempts-a.csv": ""}).base, {}, ())
    assert (never.early, never.miss) == (True, None)


def test_notes_stand_by_area() -> None:
    """A day's notes are grouped by area, the area worth most first."""
    rows = [
        note("a1", marks=1.0),
        note("b1", marks=5.0, area=AreaId("b")),
        note("a2", marks=3.0),
        note("b2", marks=0.5, area=AreaId("b")),
    ]
    assert names(reading_list(rows, ahead(10), FAR)[0].notes) == ["b1", "b2", "a2", "a1"]


@given(
    st.lists(st.tuples(st.integers(1, 40), st.integers(1, 50)), min_size=1, max_size=8),
    st.integers(0, 3),
)
@settings(deadline=None)
def test_no_other_set_of_notes_is_worth_more(rows: list[tuple[int, int]], minutes: int) -> None:
    """Against every set that fits: the day's list holds most marks, within its minutes."""
    notes = [
        note(f"n{i}", seconds=5.0 * steps, marks=float(marks))
        for i, (steps, marks) in enumerate(rows)
    ]
    found = reading_list(notes, ahead(minutes), FAR)[0]
    best = max(
        sum(n.marks for n in some)
        for size in range(len(notes) + 1)
        for some in combinations(notes, size)
        if sum(n.seconds for n in some) <= 60 * minutes
    )
    assert found.seconds <= 60 * minutes
    assert abs(sum(n.marks for n in found.notes) - best) < 1e-9


def test_gaps_lengthen() -> None:
    """3, 10 and 30 days after the first, second and each later look."""
    gaps = [(due_on(TODAY, looks) - TODAY).days for looks in range(5)]
    assert gaps == [3, 10, 30, 30, 30]


def test_a_note_is_read_three_to_five_times_in_eight_weeks() -> None:
    """By hand: days 3, 13 and 43, and the last look."""
    exam = TODAY + timedelta(days=56)
    fresh = note("n", due=due_on(TODAY, 0))
    days = ahead(*[10] * 56)
    found = ReadingList([fresh], exam - timedelta(days=3))
    read = [n for n, one in enumerate(days) if found.take(*one).notes]
    assert read == [3, 13, 43, 53]


NOTE = "---\ntitle: T wave\nareas: [cardiology]\nquestions: [north:7]\nwritten: {}\n---\n" + (
    "word " * 238
)
LOG = "id,at,question,outcome\r\nx1,2027-02-12T09:00:00+00:00,north:7,wrong\r\n"


def test_candidates_from_a_base(session: Callable[..., Session]) -> None:
    """A note costs its words at 110 a minute, and begins again at a miss of its question."""
    files = {"cardiology/t.md": NOTE.format("2027-02-10")}
    (quiet,) = candidates(session(files).base, {}, ())
    assert quiet.seconds == pytest.approx(238 / 110 * 60 + 10)
    assert quiet.due == date(2027, 2, 13)
    (missed,) = candidates(session({**files, "log/attempts-a.csv": LOG}).base, {}, ())
    assert missed.due == date(2027, 2, 15)


@pytest.mark.parametrize(
    ("read", "count", "due"),
    [
        ([], 0, 13),
        ([10], 0, 13),  # on the day it was written: no look yet
        ([9, 10], 0, 13),
        ([11], 1, 21),
        ([11, 11], 1, 21),  # twice on one day is one look
        ([12, 11], 2, 42),
    ],
)
def test_a_look_is_a_day_after_the_one_on_which_a_note_was_written(
    read: list[int], count: int, due: int
) -> None:
    """Written on 10 February: due 3, 10 and 30 days after the last reading or the writing."""
    own = Note(id=NoteId("n"), path="n.md", title="N", written_on=date(2027, 2, 10))
    readings = tuple(
        Reading(id=f"r{n}", at=datetime(2027, 2, day, 9, n, tzinfo=UTC), note=own.id)
        for n, day in enumerate(read)
    )
    exam = Exam(name="Quill", date=FAR, areas=())
    (found,) = candidates(Base(exam=exam, study=Study(), notes=(own,), readings=readings), {}, ())
    assert (found.look_count, found.due) == (count, date(2027, 2, 1) + timedelta(days=due - 1))


def test_the_reading_speed_is_learned_from_ten_timed_readings(
    session: Callable[..., Session],
) -> None:
    """By hand: 238 words in 90 s, 10 of them to open the note, are 178.5 words a minute."""
    rows = [f"r{n},2027-02-{n:02}T07:00:00+00:00,t,90\r\n" for n in range(1, 11)]
    head = "id,at,note,seconds\r\n"
    files = {"cardiology/t.md": NOTE.format("2027-01-10")}
    few = session({**files, "log/readings-a.csv": head + "".join(rows[:9])}).base
    enough = session({**files, "log/readings-a.csv": head + "".join(rows)}).base
    assert words_per_minute(few) == 110
    assert words_per_minute(enough) == pytest.approx(178.5)


def test_a_reading_is_recorded_and_moves_the_next_look(base: Callable[..., Path]) -> None:
    """`read` adds one line to the device's log, and the note is due later than before."""
    root = base({"cardiology/t.md": NOTE.format("2027-02-04")})
    day = ["--as-of", "2027-02-14"]
    before = CliRunner().invoke(main, ["--base", str(root), "reread", *day, "--days", "5"])
    assert "T wave" in before.stdout
    done = CliRunner().invoke(main, ["--base", str(root), "read", "t", "--took", "2", *day])
    assert (done.exit_code, done.stdout) == (0, "Read: T wave\n")
    text = (root / "log" / "readings-test.csv").read_text(encoding="utf-8")
    assert text.splitlines()[1].endswith(",t,120")
    after = CliRunner().invoke(main, ["--base", str(root), "reread", *day, "--days", "5"])
    assert "T wave" not in after.stdout


def test_an_unknown_note_is_one_line(base: Callable[..., Path]) -> None:
    """A note that is not there ends in one line, a hint where to look, and exit 2."""
    result = CliRunner().invoke(main, ["--base", str(base()), "read", "nowhere"])
    said = "no note called 'nowhere'\n  hint: to search your notes: missbook find nowhere\n"
    assert (result.exit_code, result.stderr) == (2, said)
