"""A chart says what its report says, with the same numbers, and a sentence when there are none."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from chart_bases import HEAD, full, line, one_answer
from conftest import TODAY

from kb.charts import chart_names
from kb.charts._model import count_axis, day_axis
from kb.core.errors import NotFoundError, QueryError
from kb.core.ids import AreaId
from kb.presentation.render import render_json
from kb.services.answer_logging import AreaScore, log_scores
from kb.stats.forecast import Outlook

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from kb.charts import Chart
    from kb.services.session import Session


def numbers(chart: Chart) -> list[dict[str, Any]]:
    """The rows of a chart's table, by key."""
    keys = [column.key for column in chart.table.columns]
    return [dict(zip(keys, row, strict=True)) for row in chart.table.rows]


def reported(opened: Session, name: str, /, **given: object) -> dict[str, Any]:
    """A report as JSON readers see it."""
    content: dict[str, Any] = json.loads(render_json(opened.report(name, given), opened.today))
    return content


def drawn(chart: Chart, kind: str, panel: int = 0) -> list[Any]:
    """The marks of one kind on a panel."""
    return [mark for mark in chart.panels[panel].elements if type(mark).__name__ == kind]


@pytest.mark.parametrize("name", chart_names())
def test_a_chart_has_words_and_numbers(session: Callable[..., Session], name: str) -> None:
    """One to three sentences with figures stand in for the picture, and a table beside it."""
    chart = session(full()).chart(name)
    assert chart.panels
    assert chart.table.rows
    assert 1 <= len(chart.says) <= 3
    assert all(said.endswith(".") for said in chart.says)
    assert any(letter.isdigit() for letter in chart.alternative)


@pytest.mark.parametrize("name", sorted({*chart_names()} - {"plan"}))
def test_nothing_to_draw_is_said(session: Callable[..., Session], name: str) -> None:
    """An empty picture is never shown: a sentence stands in its place."""
    chart = session().chart(name)
    assert (chart.panels, chart.table.rows) == ((), ())
    assert chart.alternative.endswith(".")


@pytest.mark.parametrize("name", sorted({*chart_names()} - {"plan", "standing"}))
def test_one_answer_is_too_little_to_draw(session: Callable[..., Session], name: str) -> None:
    """That is said, not shown as a picture of one point."""
    chart = session(one_answer()).chart(name)
    assert chart.panels == ()
    assert chart.alternative.endswith(".")


def test_one_answer_gives_a_standing(session: Callable[..., Session]) -> None:
    """A wide one, in every area of the exam."""
    assert len(session(one_answer()).chart("standing").table.rows) == 3


@pytest.mark.parametrize("files", [None, one_answer()], ids=["no answer", "one answer"])
def test_without_an_earlier_plan_only_what_comes_is_drawn(
    session: Callable[..., Session], files: dict[str, str] | None
) -> None:
    """What lies behind cannot be compared, and that is said."""
    assert "no earlier plan" in session(files).chart("plan").alternative


def test_nothing_planned_is_said(session: Callable[..., Session]) -> None:
    """Without a bank of known size, and after the exam, there is no plan to draw."""
    bare = session({"study.yaml": "timezone: UTC\n"}).chart("plan")
    over = session(full(), on=date(2027, 5, 12)).chart("plan", {"weeks": 0})
    assert (bare.panels, over.panels) == ((), ())
    assert bare.alternative.startswith("Nothing is planned")
    assert over.alternative.startswith("No day is left")


def test_standing_is_that_of_the_report(session: Callable[..., Session]) -> None:
    """Every area with its standing, range and count, in the order of the report."""
    opened = session(full())
    keys = ("area", "standing_fraction", "low_fraction", "high_fraction", "tried_count")
    rows = reported(opened, "standing")["areas"]
    chart = opened.chart("standing")
    assert [[row[key] for key in keys] for row in numbers(chart)] == [
        [row[key] for key in keys] for row in rows
    ]
    assert [row["exam_fraction"] for row in numbers(chart)] == [
        row["item_count"] / 200 for row in rows
    ]


def test_standing_draws_the_numbers_of_its_table(session: Callable[..., Session]) -> None:
    """Dots, bands and bars stand where the table says."""
    chart = session(full()).chart("standing")
    rows = numbers(chart)
    (dots,) = drawn(chart, "Dots")
    (spans,) = drawn(chart, "Spans")
    (bars,) = drawn(chart, "Bars", 1)
    assert dots.points == tuple((row["standing_fraction"], at) for at, row in enumerate(rows))
    assert spans.spans == tuple(
        (at, row["low_fraction"], row["high_fraction"]) for at, row in enumerate(rows)
    )
    assert bars.bars == tuple((at, row["exam_fraction"]) for at, row in enumerate(rows))


def test_areas_below_the_pass_mark_are_counted(session: Callable[..., Session]) -> None:
    """All of them are under one that nobody reaches, and none under one that everybody does."""
    counts = {"0.95": "areas are below the pass mark of 95%", "0.01": "no area is below"}
    for mark, said in counts.items():
        files = full()
        files["exam.yaml"] = files["exam.yaml"].replace("pass_mark: 0.6", f"pass_mark: {mark}")
        assert said in session(files).chart("standing").says[0]


def test_shares_over_time_are_counted_by_round(session: Callable[..., Session]) -> None:
    """The hundred right of 150, 25 of 30 and 147 of 200, each in its own panel."""
    chart = session(full()).chart("accuracy")
    totals: dict[str, list[int]] = {}
    for row in numbers(chart):
        own = totals.setdefault(row["round"], [0, 0])
        own[0], own[1] = own[0] + row["right_count"], own[1] + row["tried_count"]
    assert totals == {"first": [100, 150], "second": [25, 30], "paper": [147, 200]}
    assert len(chart.panels) == 3
    assert "67% of 150 new questions" in chart.says[0]
    assert "second round flatters" in chart.alternative


def test_an_axis_of_days_bears_no_more_ticks_than_can_be_drawn() -> None:
    """One answer with a slip in its year does not make the picture take minutes."""
    ticks = day_axis("Week ending", date(1, 1, 1), TODAY).ticks
    assert 50 < len(ticks) <= 101
    assert ticks[-1][1] == "14 Feb"


def test_the_forecast_is_that_of_the_report(session: Callable[..., Session]) -> None:
    """Ranges, mean and chance of passing are the report's; the chances add up to one."""
    opened = session(full())
    figures = reported(opened, "forecast")
    chart = opened.chart("forecast")
    (spans,) = drawn(chart, "Spans", 1)
    assert spans.spans == tuple(
        (at, figures["figures"][f"low_{level}_count"], figures["figures"][f"high_{level}_count"])
        for at, level in enumerate((50, 80, 95))
    )
    assert f"about {figures['figures']['mean_marks']:.0f} of 200" in chart.says[0]
    chance = min(99, round(100 * figures["score"]["pass_fraction"]))
    assert f"pass about {chance} times in 100" in chart.says[0]
    assert sum(row["fraction"] for row in numbers(chart)) == pytest.approx(1, abs=0.002)


def test_the_forecast_takes_another_pass_mark(session: Callable[..., Session]) -> None:
    """A mark asked for counts instead of the exam's own, as in the report; a share it must be."""
    opened = session(full())
    asked = {"pass_mark": 0.75, "pass_sd": 0.0}
    figures = reported(opened, "forecast", **asked)
    chart = opened.chart("forecast", asked)
    chance = 100 * figures["score"]["pass_fraction"]
    assert f"pass about {chance:.0f} times in 100" in chart.says[0]
    assert chart.says[2] == "The pass mark is 75%: 150 questions."
    (rule,) = drawn(chart, "Rule")
    assert rule.at == pytest.approx(150)
    for mark in (61, math.nan):
        with pytest.raises(QueryError, match=r"at most|fraction from 0 to 1"):
            opened.chart("forecast", {"pass_mark": mark})


def test_the_forecast_of_a_known_distribution(
    session: Callable[..., Session], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ten items at a chance of one half: expected 5, the quartiles 4 and 6, and 38% for 6 or more.

    Source: binomial table for n = 10, p = 1/2: cumulated .0107, .0547, .1719, .3770, .6230, .8281,
    .9453, .9893 for 1 to 8 (any textbook).
    """
    pmf = tuple(math.comb(10, score) / 1024 for score in range(11))
    monkeypatch.setattr(
        "kb.charts.forecast.exam_outlook", lambda base, history: Outlook(pmf=pmf, past=())
    )
    chart = session(full()).chart("forecast", {"pass_mark": 0.6, "pass_sd": 0.0})
    assert chart.says == (
        "Expect about 5 of 10, most likely 3 to 7; you would pass about 38 times in 100.",
        "The score lies between 4 and 6 with a chance of 50%, between 3 and 7 with a chance of 80%"
        " and between 2 and 8 with a chance of 95%.",
        "The pass mark is 60%: 6 questions.",
    )
    six = next(row for row in numbers(chart) if row["score_count"] == 6)
    assert (six["fraction"], six["at_least_fraction"]) == pytest.approx((0.2051, 0.3770), abs=5e-5)
    assert drawn(chart, "Fill")[1].points[-1][0] == 5


def test_a_forecast_that_is_sure_of_one_score_names_it_once(
    session: Callable[..., Session], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A range of one score is that score, shown by a point."""
    pmf = (*([0.0] * 10), 1.0)
    monkeypatch.setattr(
        "kb.charts.forecast.exam_outlook", lambda base, history: Outlook(pmf=pmf, past=())
    )
    chart = session(full()).chart("forecast")
    assert "at 10 with a chance of 50%, at 10 with a chance of 80%" in chart.alternative
    assert [dots.points for dots in drawn(chart, "Dots", 1)] == [((10.0, at),) for at in range(3)]


def test_items_are_counted_in_whole_numbers() -> None:
    """An axis of one item has no half of it; other axes may have halves."""
    assert [word for _, word in count_axis("Item", 0, 1, whole=True).ticks] == ["0", "1"]
    assert [word for _, word in count_axis("Minutes", 0, 1, 2).ticks] == ["0", "0.5", "1"]


def test_an_axis_on_which_all_is_alike_still_has_a_length() -> None:
    """Every item took exactly its time: there is nothing to see, and nothing breaks."""
    axis = count_axis("Minutes behind", 0.0, 0.0)
    assert (axis.low, axis.high) == (0, 1)


def test_the_pace_is_that_of_the_report(session: Callable[..., Session]) -> None:
    """Thirty-nine items of 150 s put the first part 27 minutes behind after item 39.

    Source: arithmetic: 39 items, each 42 s over the pace of 108 s, are 27.3 minutes.
    """
    chart = session(full()).chart("pace")
    rows = numbers(chart)
    worst = max(rows, key=lambda row: row["behind_minutes"])
    assert (worst["part"], worst["item"]) == (1, 39)
    assert worst["behind_minutes"] == pytest.approx(39 * 42 / 60, abs=0.005)
    assert "at worst 27 minutes behind, after question 39" in chart.alternative
    text = " ".join(reported(session(full()), "sitting", name="paper-1")["texts"])
    assert "27 minutes behind after question 39" in text
    assert len(rows) == 200
    assert "4 left blank" in chart.alternative


def test_the_pace_draws_every_item(session: Callable[..., Session]) -> None:
    """The line of each part goes through every item of the table, from nothing spent."""
    chart = session(full()).chart("pace", {"sitting": "Paper-1"})
    rows = numbers(chart)
    for part, panel in enumerate(chart.panels, start=1):
        (path,) = [mark for mark in panel.elements if type(mark).__name__ == "Line"]
        own = [row for row in rows if row["part"] == part]
        assert path.points[0] == (0.0, 0.0)
        assert [x for x, _ in path.points[1:]] == [row["item"] for row in own]
        assert [y for _, y in path.points[1:]] == pytest.approx(
            [row["behind_minutes"] for row in own], abs=0.006
        )


def test_a_sitting_without_its_answers_or_times_has_no_pace(
    session: Callable[..., Session],
) -> None:
    """A paper known by its score, or one without a clock, is named in a sentence."""
    untimed = HEAD + "".join(
        line(n, "2027-02-10", f"paper-1:{n}", "right", round="paper", sitting="paper-1")
        for n in range(1, 21)
    )
    opened = session({"log/attempts-test.csv": untimed})
    log_scores(
        opened,
        "course-1",
        [AreaScore(area=AreaId("cardiology"), right_count=30, item_count=50)],
        opened.now,
        official=False,
    )
    assert "Too few questions of paper-1 were timed" in opened.chart("pace").alternative
    assert "answers of course-1 are not in the log" in (
        opened.chart("pace", {"sitting": "course-1"}).alternative
    )
    with pytest.raises(NotFoundError, match="no paper called 'paper-9'"):
        opened.chart("pace", {"sitting": "paper-9"})


def test_the_plan_says_the_week_as_the_progress_line_does(
    session: Callable[..., Session],
) -> None:
    """Done and planned of the last seven days are those at the head of the weekly reports."""
    opened = session(full())
    chart = opened.chart("plan")
    last = [row for row in numbers(chart) if row["done_count"] is not None][-1]
    line_said = reported(opened, "plan")["texts"][0]
    done, planned = last["done_count"], last["planned_count"]
    assert f"{done} questions answered of {planned} planned" in line_said
    assert chart.says[0].startswith(
        f"{done} of {planned} planned questions done in the last 7 days"
    )


def test_the_plan_ahead_is_the_plan_of_the_report(session: Callable[..., Session]) -> None:
    """The weeks ahead hold every question that the days of the plan hold."""
    opened = session(full())
    days = reported(opened, "plan", days=200)["days"]
    kinds = ("missed_count", "new_count", "mixed_count")
    planned = sum(row.get(kind, 0) for row in days for kind in kinds)
    ahead = [row for row in numbers(opened.chart("plan")) if row["done_count"] is None]
    assert sum(row["planned_count"] for row in ahead) == planned


def test_days_of_the_plan_add_up_to_its_weeks(session: Callable[..., Session]) -> None:
    """By day or by week, the past holds the same questions."""

    def past(rows: Iterable[dict[str, Any]]) -> list[int]:
        own = [row for row in rows if row["done_count"] is not None]
        return [sum(row[key] for row in own) for key in ("planned_count", "done_count")]

    opened = session(full())
    by_day = numbers(opened.chart("plan", {"by": "day", "weeks": 2}))
    by_week = numbers(opened.chart("plan", {"weeks": 2}))
    assert past(by_day) == past(by_week)
    assert len([row for row in by_day if row["done_count"] is not None]) == 14


@pytest.mark.parametrize(
    ("given", "said"),
    [({"by": "month"}, "not known"), ({"weeks": 60}, "from 0 to 52"), ({"x": 1}, "x")],
)
def test_an_option_that_cannot_be_is_refused(
    session: Callable[..., Session], given: dict[str, Any], said: str
) -> None:
    """A value out of range and an option that there is not are named."""
    with pytest.raises(QueryError, match=said):
        session().chart("plan", given)


def test_there_is_no_chart_of_that_name(session: Callable[..., Session]) -> None:
    """The nearest name is offered."""
    with pytest.raises(NotFoundError, match=r"no chart called 'standng'\n  hint: .*standing"):
        session().chart("standng")


def test_reliability_is_that_of_the_report(session: Callable[..., Session]) -> None:
    """Right, tried and range of each certainty are the report's, all answers or the first only."""
    opened = session(full())
    for given in ({}, {"new_only": True}):
        rows = reported(opened, "certainty", **given)["certainty"]
        keys = ("certainty", "right_count", "tried_count", "low", "high")
        drawn_rows = numbers(opened.chart("reliability", given))
        assert [[row[key] for key in keys] for row in drawn_rows] == [
            [row[key] for key in keys] for row in rows
        ]


def test_reliability_of_a_published_share(session: Callable[..., Session]) -> None:
    """81 right of 263 when sure: 31%, likely .2728 to .3456, over the range where it pays best.

    Source: the score interval of wilson1927 by hand, with z = 1.28155.
    """
    log = HEAD + "".join(
        line(n, "2027-02-10", f"north:{n}", "right" if n < 81 else "wrong", certainty=3)
        for n in range(263)
    )
    chart = session({"log/attempts-test.csv": log}).chart("reliability")
    best, likely = drawn(chart, "Spans")
    assert best.spans == ((0.0, 0.8, 1.0),)
    assert likely.spans[0] == pytest.approx((0.0, 0.2728, 0.3456), abs=5e-5)
    assert drawn(chart, "Dots")[0].points == ((81 / 263, 0.0),)
    assert chart.says[0] == "When sure, a lower certainty would have scored better."


def test_a_blank_answer_has_no_part_in_reliability(session: Callable[..., Session]) -> None:
    """Two answers when sure, one of them left blank, are one."""
    log = HEAD + line(1, "2027-02-10", "north:1", "right", certainty=3)
    log += line(2, "2027-02-10", "north:2", "blank", certainty=3)
    (row,) = numbers(session({"log/attempts-test.csv": log}).chart("reliability"))
    assert (row["right_count"], row["tried_count"]) == (1, 1)


def test_a_chart_is_a_frozen_record(session: Callable[..., Session]) -> None:
    """It can be kept and compared: two builds of one base are equal, and hash alike."""
    opened = session(full())
    one, two = opened.chart("pace"), opened.chart("pace")
    assert one == two
    assert hash(one) == hash(two)
    assert hash(replace(one, title="Other")) != hash(one)
