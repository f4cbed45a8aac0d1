"""The plan of a base: from log, rota and settings; golden plans for three rotas; one truth."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import Golden
from plan_bases import OFFICE, PART_TIME, ROLLING, TODAY, attempts, look, study

from kb.cli import main
from kb.planning.calendar_entries import calendar_entries
from kb.planning.pace import pace_of
from kb.planning.progress import days_done, past_and_coming, progress_line
from kb.planning.workload import area_marks, plan_for, plan_of, situation
from kb.presentation.render import render_text
from kb.presentation.report_model import Entries, Facts, Table, Text
from kb.services.session import Session


@pytest.mark.parametrize(
    ("name", "rota"),
    [("office-hours", OFFICE), ("rolling-eight-weeks", ROLLING), ("part-time", PART_TIME)],
)
def test_golden_plans(
    session: Callable[..., Session], golden: Golden, name: str, rota: str
) -> None:
    """Office hours, a rolling hospital rota with nights and 60% part-time, as they are shown."""
    opened = session({"study.yaml": study(rota)})
    report = opened.report("plan", {"days": 14})
    golden.check(f"reports/plan-{name}.txt", render_text(report))


@pytest.mark.parametrize("rota", [OFFICE, ROLLING, PART_TIME])
def test_no_day_holds_more_than_rest_leaves(session: Callable[..., Session], rota: str) -> None:
    """On each day of each rota all work stays within the minutes after rest, or a paper's."""
    now = look(session({"study.yaml": study(rota)}).base)
    plan = plan_for(now)
    for day, left in zip(plan.days, now.days(), strict=True):
        most = max(left.minutes, min(360, left.room_minutes)) if left.free else left.minutes
        assert day.used_minutes <= most + 1e-6
        assert day.used_minutes <= day.minutes + 1e-6
        assert not (left.after_night and day.note_count)


def test_what_was_done_is_not_planned_again(session: Callable[..., Session]) -> None:
    """Questions met are no longer new, and those of the second round are not repeated."""
    before = look(session({"study.yaml": study(OFFICE)}).base)
    rows = [f"2027-02-01 north:{n} right - first" for n in range(1, 41)]
    rows += [f"2027-02-02 north:{n} right - second" for n in range(1, 11)]
    after = look(session({"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}).base)
    assert before.work.new_count == 2700
    assert before.work.new_count - after.work.new_count == pytest.approx(40, abs=8)
    assert after.work.mixed_count == before.work.mixed_count - 10


PAPERS = "  - {source: p, kind: paper, items: 200}\n  - {source: m, kind: mock, items: 200}\n"


def test_papers_and_mock_that_were_sat_are_not_planned_again(
    session: Callable[..., Session],
) -> None:
    """A part with half of its questions answered was sat; the other parts are left."""
    text = study("", held_back=0).replace("held_back:", PAPERS + "held_back:")
    rows = [f"2027-02-01 p:{n} right - paper" for n in range(1, 51)]
    now = look(session({"study.yaml": text, "log/attempts-a.csv": attempts(*rows)}).base)
    assert [(paper.name, paper.parts) for paper in now.work.papers] == [("p", (2,)), ("m", (1, 2))]
    few = {"study.yaml": text, "log/attempts-a.csv": attempts(*rows[:49])}
    assert [paper.parts for paper in look(session(few).base).work.papers] == [(1, 2), (1, 2)]


def test_no_paper_is_planned_that_is_not_declared(session: Callable[..., Session]) -> None:
    """Rule 6: without a paper under sources none is planned."""
    plan = plan_for(look(session({"study.yaml": study(OFFICE, held_back=0)}).base))
    assert not [day for day in plan.days if day.paper]


def test_the_pace_is_the_exams_until_it_is_measured(session: Callable[..., Session]) -> None:
    """108 s a question (200 questions in twice 180 minutes) until 20 answers are timed."""
    few = [f"2027-02-01 north:{n} right 50 first" for n in range(1, 20)]
    enough = [*few, "2027-02-01 north:20 right 90 first"]
    one = pace_of(session({"log/attempts-a.csv": attempts(*few)}).base)
    two = pace_of(session({"log/attempts-a.csv": attempts(*enough)}).base)
    assert (one.seconds, one.timed_count) == (108.0, 0)
    assert (two.seconds, two.timed_count) == (52.0, 20)
    assert one.review_seconds == 120.0


def test_the_share_wrong_begins_at_a_third(session: Callable[..., Session]) -> None:
    """By hand: 10 wrong of 30 and 3.5 of 10 assumed before are 13.5 of 40."""
    rows = [f"2027-02-01 north:{n} {'wrong' if n <= 10 else 'right'} - first" for n in range(1, 31)]
    assert pace_of(session({"log/attempts-a.csv": attempts(*rows)}).base).miss_fraction == 13.5 / 40


def test_review_is_measured_by_the_pause_after_a_miss(session: Callable[..., Session]) -> None:
    """By hand: an answer of 60 s comes 150 s after each of 20 misses, so a review takes 90 s."""
    lines = ["id,at,question,outcome,seconds,round"]
    for n in range(21):
        minute, second = divmod(150 * n, 60)
        at = f"2027-02-01T18:{minute:02}:{second:02}+00:00"
        lines.append(f"i{n},{at},north:{n + 1},wrong,60,first")
    base = session({"log/attempts-a.csv": "\r\n".join(lines) + "\r\n"}).base
    assert pace_of(base).review_seconds == 90.0


def test_reviews_with_a_note_are_measured_apart(session: Callable[..., Session]) -> None:
    """By hand: 20 reviews of 60 s and 20 of 180 s in which a note was written: 120 s on average."""
    lines, moment = ["id,at,question,outcome,seconds,round"], 0
    for n in range(41):
        minute, second = divmod(moment, 60)
        at = f"2027-02-01T{16 + minute // 60:02}:{minute % 60:02}:{second:02}+00:00"
        lines.append(f"i{n},{at},north:{n + 1},wrong,60,first")
        moment += 120 if n < 20 else 240
    questions = ", ".join(f"north:{n}" for n in range(21, 41))
    note = (
        f"---\ntitle: T\narea: cardiology\nquestions: [{questions}]\nwritten: 2027-02-01\n---\nx\n"
    )
    log = {"log/attempts-a.csv": "\r\n".join(lines) + "\r\n", "cardiology/t.md": note}
    pace = pace_of(session(log).base)
    assert (pace.review_seconds, pace.note_seconds) == (120.0, 180.0)


def test_minutes_used_today_are_gone(session: Callable[..., Session]) -> None:
    """What was answered or read today is taken off today, a wrong answer with its review."""
    rows = [f"2027-02-14 north:{n} right 60 first" for n in range(1, 31)]
    rows += ["2027-02-14 north:31 wrong 60 first"]
    read = "id,at,note,seconds\r\nr1,2027-02-14T18:00:00+00:00,x,600\r\n"
    log = {"log/attempts-a.csv": attempts(*rows), "log/readings-a.csv": read}
    spent = look(session({**log, "study.yaml": study(OFFICE)}).base).work.spent
    assert (spent.notes, spent.other, spent.missed) == (10.0, 31.0 + 2.0, 0.0)


def test_the_areas_of_a_week_follow_mondays_marks(session: Callable[..., Session]) -> None:
    """Rule 5: what is answered since Monday changes the counts, not the order of the areas."""
    old = [f"2027-02-03 north:{n} right - first" for n in range(1, 21)]
    new = [f"2027-02-{d} north:{n} wrong - first" for d in (10, 11) for n in range(1201, 1261)]
    files = {"study.yaml": study(OFFICE)}
    one = session({**files, "log/attempts-a.csv": attempts(*old)}).base
    two = session({**files, "log/attempts-a.csv": attempts(*old, *new)}).base
    order = [[a.area for a in situation(base, TODAY).work.areas] for base in (one, two)]
    assert order[0] == order[1]
    monday = TODAY + timedelta(days=1)
    assert situation(two, monday).work.areas[0].area == "nephrology"


def test_the_day_and_the_plan_begin_with_progress(session: Callable[..., Session]) -> None:
    """Today and plan have the line at their top."""
    rows = [f"2027-02-0{n} north:{n} wrong - first" for n in range(1, 10)]
    opened = session({"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)})
    for name in ("today", "plan"):
        first = opened.report(name).blocks[0]
        assert isinstance(first, Text)
        assert first.text == progress_line(opened.base, TODAY)
        assert first.text.startswith("Last 7 days: ")


def test_progress_counts_everything_and_papers_apart(session: Callable[..., Session]) -> None:
    """By hand: 30 answers and 5 in a paper; the plan of a week ago stands beside them."""
    rows = [f"2027-02-01 north:{n} right - first" for n in range(1, 11)]
    rows += [f"2027-02-10 north:{n} right - first" for n in range(11, 41)]
    rows += [f"2027-02-11 p:{n} right - paper" for n in range(1, 6)]
    text = study(OFFICE).replace("held_back:", PAPERS + "held_back:")
    files = {"study.yaml": text, "log/attempts-a.csv": attempts(*rows)}
    base = session(files).base
    week_ago = replace(base, attempts=base.attempts[:10])
    planned = plan_for(situation(week_ago, TODAY - timedelta(days=7), {})).days[:7]
    count = sum(day.question_count for day in planned)
    line = f"Last 7 days: 30 questions answered of {count} planned, and 5 in papers."
    assert progress_line(base, TODAY) == line
    assert progress_line(session(files, on=date(2027, 5, 12)).base, date(2027, 5, 12)) == ""


def test_the_past_is_taken_in_whole_weeks_up_to_today(session: Callable[..., Session]) -> None:
    """By hand: of 20 days back two weeks are shown, then each day to the exam."""
    rows = [f"2027-01-{n:02d} north:{n} right - first" for n in range(1, 21)]
    rows += ["2027-02-03 north:41 right - first", "2027-02-13 north:42 wrong - first"]
    files = {"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}
    found = past_and_coming(session(files).base, TODAY, 20)
    days = [row.day for row in found]
    first = TODAY - timedelta(days=14)
    assert days == [first + timedelta(days=n) for n in range((date(2027, 5, 11) - first).days)]
    done = {row.day.isoformat(): row.done_count for row in found if row.done_count}
    assert done == {"2027-02-03": 1, "2027-02-13": 1}
    assert [row.done_count for row in found[13:15]] == [1, None]
    assert all(row.planned_count is not None for row in found)


def test_no_plan_is_claimed_for_days_before_the_base_had_one(
    session: Callable[..., Session],
) -> None:
    """A base whose first answer is of this week had no plan a week ago."""
    rows = [f"2027-02-10 north:{n} right - first" for n in range(1, 31)]
    base = session({"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}).base
    assert progress_line(base, TODAY) == "Last 7 days: 30 questions answered."


@pytest.mark.parametrize(
    ("acts", "planned"),
    [
        ([("2027-02-14", ["i0"])], False),
        ([("2027-02-14", []), ("2027-02-14", ["i0", "i1"])], False),
        ([("2027-02-14", ["i9"])], True),
        ([("2027-02-06", ["i0"])], True),
        ([("2027-02-07", ["i0"])], False),
        (None, True),
    ],
)
def test_no_plan_is_claimed_for_a_week_before_the_base_was_begun(
    session: Callable[..., Session], acts: list[tuple[str, list[str]]] | None, planned: bool
) -> None:
    """Older answers logged today do not make a plan of last week; a log that is older than its acts
    had one.
    """
    rows = [f"2027-02-{n:02d} north:{n} right - first" for n in range(1, 13)]
    files = {"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}
    if acts is not None:
        told = [{"at": f"{day}T09:00:00+00:00", "lines": lines} for day, lines in acts]
        lines = [json.dumps(act) for act in ({"acts": 1}, *told)]
        files["log/acts-a.jsonl"] = "\n".join([*lines, ""])
    line = progress_line(session(files).base, TODAY)
    assert line.startswith("Last 7 days: 6 questions answered")
    assert ("planned" in line) == planned


def test_nothing_is_said_of_a_week_before_the_first_answer(
    session: Callable[..., Session],
) -> None:
    """On the evening of the first block there is no week to look back on."""
    rows = [f"2027-02-14 north:{n} right - first" for n in range(1, 31)]
    base = session({"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}).base
    assert progress_line(base, TODAY) == ""


def test_plan_today_reread_retry_and_calendar_agree(session: Callable[..., Session]) -> None:
    """One truth: the same counts for today in each, and what the calendar holds."""
    rows = [f"2027-02-0{1 + n % 9} north:{n} wrong 60 first" for n in range(1, 60)]
    note = "---\ntitle: T{0}\nareas: [cardiology]\nquestions: [north:{0}]\n"
    note += "written: 2027-01-05\n---\nx\n"
    files = {f"n{n}.md": note.format(n) for n in range(1, 9)}
    files |= {"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}
    opened = session(files)
    now, plan = plan_of(opened.base, TODAY)
    day = plan.days[0]
    assert min(day.note_count, day.missed_count, day.new_count) > 0

    def block(name: str, key: str) -> Table | Facts | Entries:
        found = [b for b in opened.report(name).blocks if getattr(b, "key", "") == key]
        return found[0]  # type: ignore[return-value]

    table = block("plan", "days")
    assert isinstance(table, Table)
    row = dict(zip([column.key for column in table.columns], table.rows[0], strict=True))
    counts = block("today", "counts")
    assert isinstance(counts, Facts)
    today = {key: value for key, _, value, _ in counts.facts}
    for key in ("note_count", "missed_count", "new_count", "minutes"):
        assert row[key] == today[key] == getattr(day, key)
    lists = block("reread", f"day_{TODAY:%Y_%m_%d}")
    assert isinstance(lists, Entries)
    assert len(lists.entries) == day.note_count
    retry = [b for b in opened.report("retry").blocks if isinstance(b, Entries)]
    assert sum(len(b.entries) for b in retry) == day.missed_count
    entry = calendar_entries(now, plan, {})[0]
    assert entry.title == (
        f"Study: {day.note_count} notes, {day.missed_count} missed again, {day.new_count} new"
    )


def test_areas_never_tried_are_at_risk_in_full(session: Callable[..., Session]) -> None:
    """Before the first answer the blueprint alone orders the areas."""
    base = session().base
    assert list(area_marks(base).values()) == [80.0, 70.0, 50.0]


def test_calendar_entries_follow_the_plan(session: Callable[..., Session]) -> None:
    """Each day's study is one entry, parts of a day do not overlap, and the exam is there."""
    text = study(OFFICE, items=300, held_back=0).replace("held_back:", PAPERS + "held_back:")
    now = look(session({"study.yaml": text}).base)
    plan = plan_for(now)
    found = calendar_entries(now, plan, {})
    parts = [e for e in found if e.start]
    assert len(parts) == sum(len(d.paper.parts) for d in plan.days if d.paper) == 4
    assert {e.title for e in parts} == {"p, part 1", "p, part 2", "m, part 1", "m, part 2"}
    for one, two in pairwise(parts):
        assert one.day < two.day or one.start < two.start  # type: ignore[operator]
    assert found[-1].slot == "exam"


def test_the_command_says_a_base_without_banks_plainly(base: Callable[..., Path]) -> None:
    """Without a declared bank the plan says what is missing."""
    root = base({"study.yaml": "sources: [{source: north}]\n"})
    result = CliRunner().invoke(main, ["--base", str(root), "plan", "--as-of", "2027-02-14"])
    assert result.exit_code == 0
    assert "Nothing planned yet: name your question bank" in result.stdout
    assert "gives no number of questions: north" in " ".join(result.stdout.split())


def test_after_the_exam_no_day_is_left(base: Callable[..., Path]) -> None:
    """On the day of the exam and after it the reports still answer."""
    for name in ("plan", "reread", "rota"):
        words = ["--base", str(base()), name, "--as-of", "2027-05-12"]
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.stderr


def test_days_short_of_rest_for_one_reason_are_said_in_one_line(
    session: Callable[..., Session],
) -> None:
    """Late until 22:00 on a Friday and day from 08:00 on the Saturday: 10 h, four weeks running."""
    rota = """rota:
  starts: 2027-02-15
  shifts:
    late: {from: "14:00", to: "22:00"}
    day: {from: "08:00", to: "16:00"}
  weeks:
    - [off, off, off, off, late, day, off]
"""
    report = session({"study.yaml": study(rota)}).report("plan", {"days": 28})
    rest = [b.text for b in report.blocks if isinstance(b, Text) and b.text.startswith("Rest on")]
    limit = "only 10 h between late and day; the limit is 11 h"
    assert rest == [f"Rest on 20 Feb, 27 Feb, 6 Mar and 13 Mar: {limit}."]


def test_without_a_note_the_reading_list_is_one_line(session: Callable[..., Session]) -> None:
    """Not a week of days on which nothing is due."""
    report = session({"study.yaml": study(OFFICE)}).report("reread")
    assert [b.text for b in report.blocks if isinstance(b, Text)] == [
        "There is no note to reread yet."
    ]


def test_nothing_was_planned_from_the_exam_on(session: Callable[..., Session]) -> None:
    """Of the eve, the day itself and the one after, only the eve can have had a plan."""
    rows = [f"2027-02-0{n} north:{n} wrong - first" for n in range(1, 10)]
    files = {"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}
    eve = date(2027, 5, 10)
    found = days_done(session(files).base, eve, eve + timedelta(days=3))
    assert [row.day for row in found] == [eve, *(eve + timedelta(days=n) for n in (1, 2))]
    assert [row.planned_count for row in found[1:]] == [0, 0]
