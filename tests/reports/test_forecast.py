"""The forecast says too little when there is too little, and both rounds side by side."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

import pytest

from kb.presentation.render import render_json

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

HEAD = "id,at,question,area,outcome,round,sitting\n"


def answers(first: int, second: int = 0, paper: int = 0) -> dict[str, str]:
    """Two in three right at first, five in six on the second round, then a paper."""
    rows = []
    for n in range(first):
        right = "right" if n % 3 else "wrong"
        rows.append(f"2027-01-05T12:00:00+00:00,north:{n + 1},,{right},first,")
    for n in range(second):
        right = "right" if n % 6 else "wrong"
        rows.append(f"2027-01-25T12:00:00+00:00,north:{n + 1},,{right},second,")
    for n in range(paper):
        right = "right" if n % 3 else "wrong"
        rows.append(f"2027-02-05T12:00:00+00:00,paper-1:{n + 1},nephrology,{right},paper,p1")
    lines = (f"{number:016x},{row}\n" for number, row in enumerate(rows))
    return {"log/attempts-test.csv": HEAD + "".join(lines)}


def shown(session: Session, **given: object) -> dict[str, Any]:
    """The report as JSON readers see it."""
    report = session.report("forecast", given)
    content: dict[str, Any] = json.loads(render_json(report, session.today))
    return content


def test_few_answers_say_nothing(session: Callable[..., Session]) -> None:
    """Ninety-nine answers are too few, and the report says how many are needed."""
    content = shown(session(answers(99)))
    assert "Too little to say: 99 answers so far, 100 are needed." in content["texts"]
    assert "score" not in content


def test_both_rounds_are_shown(session: Callable[..., Session]) -> None:
    """Repeats are never shown alone: new questions are beside them, and why they differ."""
    texts = " ".join(shown(session(answers(150, 150)))["texts"])
    assert "new to you: 67% of 150" in texts
    assert "met before: 83% of 150" in texts
    assert "having met them before" in texts


def test_a_past_paper_is_set_against_its_forecast(session: Callable[..., Session]) -> None:
    """Each paper sat is shown with its forecast and its score."""
    (paper,) = shown(session(answers(150, 0, 30)))["papers"]
    assert (paper["paper"], paper["item_count"], paper["score_count"]) == ("p1", 30, 20)


def test_a_higher_pass_mark_is_harder_to_reach(session: Callable[..., Session]) -> None:
    """The chance of passing falls as the mark rises."""
    opened = session(answers(150))
    chances = [shown(opened, pass_mark=mark)["score"]["pass_fraction"] for mark in (0.5, 0.65, 0.8)]
    assert chances == sorted(chances, reverse=True)


def test_areas_add_up_to_the_blueprint(session: Callable[..., Session]) -> None:
    """What an area adds and what is at risk there are all its items."""
    for row in shown(session(answers(150)))["areas"]:
        assert abs(row["right_marks"] + row["marks"] - row["item_count"]) < 1e-9


def test_areas_stand_as_in_the_report_on_standing(session: Callable[..., Session]) -> None:
    """One function serves both, so that no area has two figures on one day."""
    start = session(answers(150, 150, 30))
    table: dict[str, Any] = json.loads(render_json(start.report("standing"), start.today))
    expected = {row["area"]: row["marks"] for row in table["areas"] if row["item_count"]}
    assert {row["area"]: row["marks"] for row in shown(start)["areas"]} == expected


def rows_of(*given: tuple[str, str, int, int, str, str]) -> dict[str, str]:
    """Answers of (day, source, how many, right in ten, area, sitting), at noon, a minute apart."""
    rows = []
    for day, source, count, right, area, sitting in given:
        start = sum(row.count(f",{source}:") for row in rows)
        for n in range(count):
            at = f"{day}T{12 + n // 60:02}:{n % 60:02}:00+00:00"
            outcome = "right" if n * 7 % 10 < right else "wrong"
            kind = "paper" if sitting else "first"
            rows.append(f"{at},{source}:{start + n + 1},{area},{outcome},{kind},{sitting}\n")
    rows.sort()
    lines = (f"{number:016x},{row}" for number, row in enumerate(rows))
    return {"log/attempts-test.csv": HEAD + "".join(lines)}


def scored(*rows: str) -> dict[str, str]:
    """Scores of papers whose answers are not known: day, sitting, area, right, of."""
    lines = (
        f"{n:016x},{day}T09:00:00+00:00,{rest},\n"
        for n, (day, _, rest) in enumerate(row.partition(",") for row in rows)
    )
    return {"log/scores-test.csv": "id,at,sitting,area,right,of,official\n" + "".join(lines)}


def said(session: Session, name: str = "forecast") -> str:
    """All sentences of a report."""
    return " ".join(json.loads(render_json(session.report(name), session.today))["texts"])


BANK = ("2027-01-05", "north", 120, 6, "cardiology", "")
PAPER = ("2027-01-20", "paper-1", 100, 7, "nephrology", "p1")
BARE = "2027-01-20,p1,,130,200"
NO_PAPER = "No paper or mock is logged"


@pytest.mark.parametrize(
    ("files", "bare"),
    [
        (rows_of(BANK), True),
        (rows_of(BANK, PAPER, ("2027-01-20", "north", 100, 6, "neurology", "")), False),
        (rows_of(BANK) | scored(BARE), False),
    ],
    ids=["none", "mixed with a bank's answers", "its score alone"],
)
def test_only_without_any_paper_one_is_asked_for(
    session: Callable[..., Session], files: dict[str, str], bare: bool
) -> None:
    """A paper counts however it was logged, and is set against its forecast."""
    start = session(files)
    assert (NO_PAPER in said(start)) == bare
    assert ("papers" in shown(start)) != bare


def test_a_paper_with_few_answers_before_it_has_no_forecast(
    session: Callable[..., Session],
) -> None:
    """It is used, and the report says that nothing shows how well the forecast fits."""
    start = session(rows_of(("2027-01-25", *BANK[1:]), PAPER))
    text = said(start)
    assert "1 paper sat, with fewer than 100 answers before: the forecast uses it" in text
    assert "papers" not in shown(start)


def test_a_harder_bank_is_named_against_papers_only(session: Callable[..., Session]) -> None:
    """Papers at 80%, north at 80%, harbour at 50%: some 30 points, and north is not named."""
    banks = [
        (f"2027-01-{day:02}", name, 40, right, "cardiology", "")
        for day in range(5, 13)
        for name, right in (("north", 8), ("harbour", 5))
    ]
    papers = [(f"2027-01-{day}", f"paper-{day}", 100, 8, "", f"p{day}") for day in (14, 15)]
    papers = [(*paper[:4], "cardiology", paper[5]) for paper in papers]
    text = said(session(rows_of(*banks, *papers)))
    (found,) = re.findall(r"(\S+) is (harder|easier) than your papers by about (\d+) points", text)
    assert found[:2] == ("Harbour", "harder")
    assert 24 <= int(found[2]) <= 34
    assert "harder than" not in said(session(rows_of(*banks))).replace("is harder than your q", "")


def test_an_area_without_an_answer_is_named_with_what_is_assumed(
    session: Callable[..., Session],
) -> None:
    """At the chance that its row in standing shows; one scored in a paper is not among them."""
    start = session(rows_of(BANK) | scored("2027-01-20,p1,neurology,40,50"))
    table: dict[str, Any] = json.loads(render_json(start.report("standing"), start.today))
    chance = {row["area"]: row["standing_fraction"] for row in table["areas"]}["nephrology"]
    text = f"No answer logged yet in Nephrology: taken at {100 * chance:.0f}%, the level of your"
    assert text in said(start)
    assert text in said(start, "standing")


@pytest.mark.parametrize(
    ("files", "fault"),
    [
        (rows_of(("2027-01-05", "north", 60, 0, "cardiology", "")), "60 wrong answers and no"),
        (rows_of(BANK, ("2027-01-09", "north", 20, 0, "cardiology", "")), "20 of 140 questions"),
    ],
    ids=["wrong answers only", "a block without right answers"],
)
def test_a_log_without_its_right_answers_is_judged_nowhere(
    session: Callable[..., Session], files: dict[str, str], fault: str
) -> None:
    """Neither forecast nor standing gives a figure, and no miss is worth marks."""
    start = session(files)
    for name in ("forecast", "standing"):
        assert fault in said(start, name)
        assert "Log the right ones too (missbook log block" in said(start, name)
        assert "areas" not in json.loads(render_json(start.report(name), start.today))
    assert "marks" not in said(start, "queue")


@pytest.mark.parametrize("right", range(3, 10))
def test_standing_and_forecast_give_one_expected_score(
    session: Callable[..., Session], right: int
) -> None:
    """The same words in both, one area far above the other and one untouched."""
    low = ("2027-01-09", "north", 60, right - 2, "nephrology", "")
    start = session(rows_of(("2027-01-05", "north", 150, right, "cardiology", ""), low))
    expected = shown(start)["score"]["mean_count"]
    assert f"Over the whole exam: about {expected} on questions" in said(start, "standing")
