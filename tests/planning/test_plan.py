"""The plan of a base: from log, rota and settings; golden plans for three rotas; remedies."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import Golden
from plan_bases import OFFICE, PART_TIME, ROLLING, TODAY, attempts, look, study

from kb.cli import main
from kb.planning.progress import progress_line
from kb.planning.remedies import (
    area_marks,
    calendar_entries,
    plan_for,
    remedies,
    with_minutes,
    with_papers,
    with_sample,
)
from kb.planning.what_if import what_if
from kb.planning.workload import Situation, seconds_per_question
from kb.presentation.render import render_text
from kb.presentation.report_model import Text
from kb.services.session import Session


@pytest.mark.parametrize(
    ("name", "rota"),
    [("office-hours", OFFICE), ("rolling-eight-weeks", ROLLING), ("part-time", PART_TIME)],
)
def test_golden_plans(
    session: Callable[..., Session], golden: Golden, name: str, rota: str
) -> None:
    """Office hours, a rolling hospital rota with nights and 60 % part-time, as they are shown."""
    opened = session({"study.yaml": study(rota)})
    report = opened.report("plan", {"days": 14})
    golden.check(f"reports/plan-{name}.txt", render_text(report))


@pytest.mark.parametrize("rota", [OFFICE, ROLLING, PART_TIME])
def test_no_day_holds_more_than_rest_leaves(session: Callable[..., Session], rota: str) -> None:
    """On each day of each rota work and reading stay within the minutes after rest."""
    now = look(session({"study.yaml": study(rota)}).base)
    plan = plan_for(now)
    for day, left in zip(plan.days, now.days(), strict=True):
        used = day.question_count * now.work.seconds / 60 + day.reading_minutes
        used += day.paper_count * 180 + day.mock * 360
        late = plan.papers_from is not None and day.day >= plan.papers_from
        assert used <= (max(left.minutes, 360) if late and left.free else left.minutes) + 1e-6
        assert not (left.after_night and day.reading_minutes)


def test_what_was_done_is_not_planned_again(session: Callable[..., Session]) -> None:
    """Questions met leave the first round, those of the second leave the second."""
    before = look(session({"study.yaml": study(OFFICE)}).base)
    rows = [f"2027-02-01 north:{n} right - first" for n in range(1, 41)]
    rows += [f"2027-02-02 north:{n} right - second" for n in range(1, 11)]
    after = look(session({"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}).base)
    assert before.work.first_count == 2700
    assert (after.first_done, after.second_done) == (40, 10)
    assert after.work.first_count == 2660
    assert after.work.second_count == before.work.second_count - 10


def test_papers_and_mock_that_were_sat_are_not_planned_again(
    session: Callable[..., Session],
) -> None:
    """A hundred items in paper round are one paper; an answer from a mock is the mock."""
    text = study("").replace(
        "reserve:", "  - {source: p, kind: paper}\n  - {source: m, kind: mock}\nreserve:"
    )
    rows = [f"2027-02-01 p:{n} right - paper" for n in range(1, 201)] + [
        "2027-02-02 m:1 right - paper"
    ]
    now = look(session({"study.yaml": text, "log/attempts-a.csv": attempts(*rows)}).base)
    assert (now.work.paper_count, now.work.mock) == (13, False)


def test_the_pace_is_the_exams_until_it_is_measured(session: Callable[..., Session]) -> None:
    """108 s a question (200 items in twice 180 minutes) until 20 answers are timed."""
    few = [f"2027-02-01 north:{n} right 50 first" for n in range(1, 20)]
    enough = [*few, "2027-02-01 north:20 right 90 first"]
    one = session({"log/attempts-a.csv": attempts(*few)}).base
    two = session({"log/attempts-a.csv": attempts(*enough)}).base
    assert seconds_per_question(one) == (108.0, 0)
    assert seconds_per_question(two) == (52.0, 20)


def test_minutes_used_today_are_gone(session: Callable[..., Session]) -> None:
    """What was answered or read today takes its time from today's minutes."""
    rows = [f"2027-02-14 north:{n} right 60 first" for n in range(1, 31)]
    log = {"log/attempts-a.csv": attempts(*rows), "study.yaml": study(OFFICE)}
    assert look(session(log).base).days()[0].minutes == 240 - 30
    read = "id,at,note,seconds\r\nr1,2027-02-14T18:00:00+00:00,x,600\r\n"
    both = {**log, "log/readings-a.csv": read}
    assert look(session(both).base).days()[0].minutes == 240 - 30 - 10


def infeasible(session: Callable[..., Session]) -> Situation:
    """A bank of 6,000 in twelve weeks of office hours."""
    return look(session({"study.yaml": study(OFFICE, items=6000, reserve=0)}).base)


def test_an_infeasible_plan_says_by_how_much(session: Callable[..., Session]) -> None:
    """What finds no place is counted, in questions and minutes, and nothing is lost."""
    now = infeasible(session)
    plan = plan_for(now)
    placed = sum(day.question_count for day in plan.days)
    missing = plan.first_missing + plan.second_missing
    assert not plan.fits
    assert placed + missing == 12000
    assert plan.missing_minutes >= missing * 108 / 60


def test_each_remedy_does_what_it_says(session: Callable[..., Session]) -> None:
    """A remedy called enough makes the plan fit, and one step less would not."""
    now = what_if(infeasible(session), "sample=0.2, papers=3, mock=no")
    found = {remedy.key: remedy for remedy in remedies(now)}
    minutes = int(found["minutes"].change.split()[0])
    assert found["minutes"].enough
    assert plan_for(with_minutes(now, minutes)).fits
    assert not plan_for(with_minutes(now, minutes - 1)).fits
    later = int(found["later"].change.split()[2])
    assert found["later"].enough
    moved = replace(now, exam_day=now.exam_day + timedelta(days=later))
    assert plan_for(moved).fits
    assert not plan_for(replace(moved, exam_day=moved.exam_day - timedelta(days=1))).fits


def test_a_smaller_sample_is_the_largest_that_fits(session: Callable[..., Session]) -> None:
    """The second round is cut to what finds a place, in whole per cent."""
    base = session({"study.yaml": study(OFFICE, items=4000, reserve=0)}).base
    now = what_if(look(base), "papers=0, mock=no")
    found = {remedy.key: remedy for remedy in remedies(now)}["sample"]
    share = int(found.change.split()[4]) / 100
    assert found.enough
    assert plan_for(with_sample(now, share)).fits
    assert not plan_for(with_sample(now, share + 0.01)).fits


def test_a_later_sitting_that_is_not_enough_is_the_one_that_leaves_least(
    session: Callable[..., Session],
) -> None:
    """Of the later days none fits; the first of the best is named, and what it buys is true."""
    now = look(session({"study.yaml": study(OFFICE)}).base)
    found = {remedy.key: remedy for remedy in remedies(now)}["later"]
    days = int(found.change.split()[2])
    left = [
        plan_for(replace(now, exam_day=now.exam_day + timedelta(days=more))).missing_minutes
        for more in range(60)
    ]
    assert not found.enough
    assert left[days] == min(left)
    assert left.index(min(left)) == days
    assert found.minutes_gained == left[0] - left[days]


def test_longer_days_among_the_papers_may_be_enough(session: Callable[..., Session]) -> None:
    """A day off of three hours holds no mock; the fewest minutes that do are named."""
    text = study(PART_TIME.replace("papers: 10", "papers: 1, paper_day_minutes: 180"), items=400)
    now = look(session({"study.yaml": text}).base)
    found = {remedy.key: remedy for remedy in remedies(now)}["paper_days"]
    assert plan_for(now).mock_missing
    assert (found.change, found.enough) == ("360 minutes on a day off among the papers", True)


def test_fewer_papers_give_their_days_to_questions(session: Callable[..., Session]) -> None:
    """With fewer papers the days kept for them shrink in proportion."""
    now = infeasible(session)
    assert with_papers(now, 7).settings.paper_days == 7
    before, after = plan_for(now), plan_for(with_papers(now, 7))
    assert after.second_missing + after.first_missing < before.second_missing + before.first_missing


def test_every_weekly_report_begins_with_progress(session: Callable[..., Session]) -> None:
    """Queue, standing, plan, reading and the others of each week have the line at their top."""
    rows = [f"2027-02-0{n} north:{n} wrong - first" for n in range(1, 10)]
    opened = session({"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)})
    for name in ("queue", "standing", "plan", "reading", "rota"):
        first = opened.report(name).blocks[0]
        assert isinstance(first, Text)
        assert first.text == progress_line(opened.base, TODAY)
        assert first.text.startswith("Last 7 days: ")


def test_progress_compares_plan_and_log(session: Callable[..., Session]) -> None:
    """The week's line has what the plan of a week ago held and what the log holds."""
    rows = [f"2027-02-01 north:{n} right - first" for n in range(1, 11)]
    rows += [f"2027-02-10 north:{n} right - first" for n in range(11, 41)]
    files = {"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}
    base = session(files).base
    line = progress_line(base, TODAY)
    week_ago = replace(base, attempts=base.attempts[:10])
    planned = plan_for(look(week_ago, TODAY - timedelta(days=7))).days[:7]
    assert line.startswith(
        f"Last 7 days: 30 of {sum(d.question_count for d in planned)} planned questions done; "
    )
    assert "\n" not in line
    assert progress_line(session(files, on=date(2027, 5, 12)).base, date(2027, 5, 12)) == ""


def test_areas_never_tried_are_at_risk_in_full(session: Callable[..., Session]) -> None:
    """Before the first answer the blueprint alone orders the areas."""
    base = session().base
    assert list(area_marks(base, TODAY).values()) == [80.0, 70.0, 50.0]


def test_calendar_entries_follow_the_plan(session: Callable[..., Session]) -> None:
    """Each day's questions are one entry, papers of a day do not overlap, and the exam is there."""
    now = look(session({"study.yaml": study(OFFICE, items=300, reserve=0)}).base)
    now = what_if(now, "off=480")
    plan = plan_for(now)
    found = calendar_entries(now, plan, {})
    assert sum(e.kind == "questions" for e in found) == sum(
        day.question_count > 0 for day in plan.days
    )
    assert sum(e.kind.startswith("paper") for e in found) == sum(d.paper_count for d in plan.days)
    assert found[-1].kind == "exam"


def test_the_command_says_a_base_without_banks_plainly(base: Callable[..., Path]) -> None:
    """Without a declared bank the plan says what is missing."""
    root = base({"study.yaml": "sources: [{source: north}]\n"})
    result = CliRunner().invoke(main, ["--base", str(root), "plan", "--as-of", "2027-02-14"])
    assert result.exit_code == 0
    assert "No bank with a number of items is declared in study.yaml" in result.stdout
    assert "gives no number of items: north" in " ".join(result.stdout.split())


def test_after_the_exam_no_day_is_left(base: Callable[..., Path]) -> None:
    """On the day of the exam and after it the reports still answer."""
    for name in ("plan", "reading", "rota"):
        words = ["--base", str(base()), name, "--as-of", "2027-05-12"]
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.stderr
