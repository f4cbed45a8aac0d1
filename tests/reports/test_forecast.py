"""The forecast says too little when there is too little, and both rounds side by side."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

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
