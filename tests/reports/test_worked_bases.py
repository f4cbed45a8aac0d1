"""Reports on bases of a dozen answers, with every figure worked out by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from kb.presentation.terms import in_marks
from kb.stats.proportions import newcombe_change

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.presentation.report_model import Report
    from kb.services.session import Session

HEAD = "id,at,question,area,outcome,certainty,reason,sitting,remark\n"


def log(*rows: tuple[str, ...]) -> dict[str, str]:
    """A log of rows of these columns, the day first, in order of time."""
    lines = []
    for number, (day, *cells) in enumerate(rows):
        at = f"{day}T{8 + number // 60:02}:{number % 60:02}:00+00:00"
        lines.append(",".join([f"{number:016x}", at, *cells, *[""] * (7 - len(cells))]) + "\n")
    return {"log/attempts-test.csv": HEAD + "".join(lines)}


def facts(report: Report, key: str) -> dict[str, Any]:
    """The values of a block of facts by their keys."""
    block = next(block for block in report.blocks if getattr(block, "key", "") == key)
    return {name: value for name, _, value, _ in block.facts}  # type: ignore[union-attr]


def rows(report: Report, key: str) -> list[tuple[Any, ...]]:
    """The rows of a table."""
    block = next(block for block in report.blocks if getattr(block, "key", "") == key)
    return list(block.rows)  # type: ignore[union-attr]


def texts(report: Report) -> list[str]:
    """The plain sentences of a report."""
    return [block.text for block in report.blocks if hasattr(block, "text")]


def test_certainty_of_ten_answers(session: Callable[..., Session]) -> None:
    """Sure 4 of 5 right, fairly sure 2 of 3, unsure 1 of 2; others do not count.

    Marks: 4 x 3 + 2 x 2 + 1 = 17 for the right ones, 6 + 2 + 0 = 8 lost. The levels are .9, .75 and
    .5: Brier (4 x .01 + .81 + 2 x .0625 + .5625 + 2 x .25) / 10 = .20375. Reliability (5 x .1^2 +
    3 x .08333^2 + 0) / 10 = .00708, resolution (5 x .1^2 + 3 x .03333^2 + 2 x .2^2) / 10 = .01333,
    uncertainty .7 x .3. Wilson's 80% range of 4 in 5 is .514 to .938.
    """
    given = [("3", 4, 1), ("2", 2, 1), ("1", 1, 1)]
    answers = [
        ("2027-02-01", f"north:{certainty}{n}", "", "right" if n < right else "wrong", certainty)
        for certainty, right, wrong in given
        for n in range(right + wrong)
    ]
    answers += [
        ("2027-02-01", "north:98", "", "blank", "3"),
        ("2027-02-01", "north:99", "", "right"),
    ]
    report = session(log(*answers)).report("certainty")
    found = facts(report, "calibration")
    assert (found["answer_count"], found["marks"], found["right_marks"]) == (10, 9, 17)
    parts = [found[name] for name in ("brier", "reliability", "resolution", "uncertainty")]
    assert parts == pytest.approx([0.20375, 0.00708, 0.01333, 0.21], abs=1e-4)
    block = next(block for block in report.blocks if getattr(block, "key", "") == "certainty")
    sure = dict(block.entries[-1].fields)  # type: ignore[union-attr]
    assert (sure["right_count"], sure["tried_count"]) == (4, 5)
    assert (sure["low"], sure["high"]) == pytest.approx((0.5136, 0.9381), abs=1e-4)


def test_reasons_of_twelve_misses_over_the_turn_of_the_year(
    session: Callable[..., Session],
) -> None:
    """One miss in the week of 21 December, ten in that of the 28th (ISO week 53, five of them in
    January), one in that of 4 January; technique is 4 of the ten.

    Wilson's 80% range of 4 in 10 is .2296 to .5987, of 4 in 12 .1893 to .5182; fewer than ten are
    not judged, and `weeks` counts from the last.
    """
    week = ["misread", "misread", "rushed", "unknown", "unknown", "forgotten", "forgotten"]
    week += ["two-left", "unknown", "switched"]
    days = ["2026-12-21", *["2026-12-31"] * 5, *["2027-01-02"] * 5, "2027-01-04"]
    misses = [
        (day, f"north:{n}", "", "wrong", "", reason)
        for n, (day, reason) in enumerate(zip(days, ["unknown", *week, "unknown"], strict=True))
    ]
    opened = session(log(*misses))
    report = opened.report("reasons", {"weeks": 2})
    assert [(str(row[0]), *row[1:]) for row in rows(report, "by_week")] == [
        ("2026-12-28", 10, 0.4, "23-60%"),
        ("2027-01-04", 1, None, "too few to say"),
    ]
    assert [str(row[0]) for row in rows(opened.report("reasons", {"weeks": 1}), "by_week")] == [
        "2027-01-04"
    ]
    assert texts(report)[0].startswith(
        "33% of the 12 misses with a reason were exam technique (likely 19-52%)"
    )
    reasons = {row[0]: row[1:4] for row in rows(report, "reasons")}
    assert reasons["unknown"] == ("knowledge", 5, pytest.approx(5 / 12))
    assert reasons["misread"] == ("technique", 2, pytest.approx(2 / 12))


def papers(*right_counts: int) -> list[tuple[str, ...]]:
    """Papers of ten cardiology questions, a week apart."""
    return [
        (f"2027-01-{7 * number + 1:02}", f"paper-{number}:{n}", "cardiology", outcome, "", "", name)
        for number, right in enumerate(right_counts, start=1)
        for n in range(10)
        for outcome, name in [("right" if n < right else "wrong", f"paper-{number}")]
    ]


def test_a_paper_is_compared_with_the_one_before_it(session: Callable[..., Session]) -> None:
    """2, 8 and 8 of 10: no change since the second, not +60 points since the first.

    Newcombe's method 10 on two times 8 of 10: Wilson's bounds .4902 and .9433 lie .3098 and .1433
    away, so both bounds of the change are (.3098^2 + .1433^2)^.5 = .3413 from 0.
    """
    opened = session(log(*papers(2, 8, 8)))
    score = facts(opened.report("sitting", {"name": "paper-3"}), "score")
    assert score["change"] == "+0 points (may be chance)"
    bounds = newcombe_change(8, 10, 8, 10)
    assert (bounds.low, bounds.high) == pytest.approx((-0.3413, 0.3413), abs=1e-4)
    assert score["score"].startswith("8 of 10, 80% (likely 60-91%)")
    assert score["blank_count"] == 0
    assert "change" not in facts(opened.report("sitting", {"name": "paper-1"}), "score")


def test_what_was_expected_of_a_paper_comes_from_before_it(session: Callable[..., Session]) -> None:
    """Two roads: the standing of a base that ends before the paper's first answer."""
    answers = papers(3, 8)
    opened = session(log(*answers))
    (row,) = rows(opened.report("sitting", {"name": "paper-2"}), "areas")
    assert row[:3] == ("cardiology", 8, 10)
    before = session(log(*answers[:10])).report("standing", {"area": "cardiology"})
    stood = rows(before, "areas")[0][1]
    assert row[4] == pytest.approx(stood, abs=1e-9)
    assert row[5] == f"{8 - 10 * stood:+.1f}"


@pytest.mark.parametrize("name", ["paper-1", "paper-9"])
def test_what_was_expected_of_a_paper_knows_no_score_of_that_day(
    session: Callable[..., Session], name: str
) -> None:
    """Two of ten right in paper-1; that paper-9, later, was at 100% leaves what was expected. Nor
    does it know its own score.
    """
    head = "id,at,sitting,area,right,of,official\n"
    files = log(*papers(2))
    later = head + "0,2027-01-20T09:00:00+00:00,paper-9,cardiology,200,200,\n"
    with_score = session(files | {"log/scores-test.csv": later})
    (row,) = rows(with_score.report("sitting", {"name": name}), "areas")
    alone = session(files | {"log/scores-test.csv": head})
    if name == "paper-1":
        (expected,) = (own[4] for own in rows(alone.report("sitting", {"name": name}), "areas"))
    else:
        expected = rows(alone.report("standing", {"area": "cardiology"}), "areas")[0][1]
    assert row[4] == pytest.approx(expected, abs=1e-9)


def test_mixups_of_four_answers(session: Callable[..., Session]) -> None:
    """Two of one pair, either way round, one of another; a right answer does not count."""
    remarks = ["gout vs pseudogout", "pseudogout vs gout", "PBC vs PSC"]
    misses = [
        ("2027-02-01", f"north:{n}", "cardiology", "wrong", "", "", "", remark)
        for n, remark in enumerate(remarks)
    ]
    misses.append(("2027-02-02", "north:0", "cardiology", "right", "", "", "", "a vs b"))
    report = session(log(*misses)).report("mixups")
    block = next(block for block in report.blocks if getattr(block, "key", "") == "mixups")
    found = [dict(entry.fields) for entry in block.entries]  # type: ignore[union-attr]
    assert [(row["one"], row["other"], row["count"]) for row in found] == [
        ("gout", "pseudogout", 2),
        ("PBC", "PSC", 1),
    ]
    assert [row["questions"] for row in found] == [("north:0", "north:1"), ("north:2",)]


def test_standing_adds_its_areas_up(session: Callable[..., Session]) -> None:
    """Thirty answers: counts as logged, marks = items x the chance of a miss. With the last left
    out nothing is said in marks, and below a hundred nothing of the whole exam.
    """
    answers = [
        ("2027-02-01", f"north:{n + 1}", "cardiology", "right" if n < 14 else "wrong")
        for n in range(20)
    ]
    answers += [
        ("2027-02-01", f"north:{n + 101}", "nephrology", "right" if n < 4 else "wrong")
        for n in range(10)
    ]
    opened = session(log(*answers))
    report = opened.report("standing")
    found = {row[0]: row for row in rows(report, "areas")}
    assert found["cardiology"][5:7] == (20, 14)
    assert found["nephrology"][5:7] == (10, 4)
    assert found["neurology"][5:7] == (0, 0)
    for row in found.values():
        assert row[12] == pytest.approx(row[11] * (1 - row[1]))
    assert "whole exam" not in " ".join(texts(report))
    few = session(log(*answers[:-1]))
    assert {row[12] for row in rows(few.report("standing"), "areas")} == {None}
    assert "marks" not in " ".join(texts(few.report("queue")))
    assert found["nephrology"][1] < found["neurology"][1] < found["cardiology"][1]


def test_areas_are_told_apart_by_questions_new_to_you(session: Callable[..., Session]) -> None:
    """15, 18 and 21 right of 30 each: 30 (.1^2 + 0 + .1^2) / (.6 x .4) = 2.5, where chance alone
    makes 4.6 once in ten. That all repeats came right in one area and wrong in the others changes
    nothing.
    """
    places = {"cardiology": (1, 15), "nephrology": (101, 18), "neurology": (201, 21)}
    first = [
        ("2027-02-01", f"north:{start + n}", area, "right" if n < right else "wrong")
        for area, (start, right) in places.items()
        for n in range(30)
    ]
    again = [
        ("2027-02-03", f"north:{start + n}", area, "right" if area == "neurology" else "wrong")
        for area, (start, _) in places.items()
        for n in range(30)
    ]
    for answers in (first, first + again):
        said = " ".join(texts(session(log(*answers)).report("standing")))
        assert "chance alone could make your areas differ" in said
    apart = [*first[:15], *[(*row[:3], "wrong") for row in first[15:45]], *first[45:]]
    said = " ".join(texts(session(log(*apart)).report("standing")))
    assert "chance alone" not in said


def test_a_page_of_the_queue_says_what_all_notes_cost(session: Callable[..., Session]) -> None:
    """The total over one note a page is that over both on one page, and their sum."""
    answers = [
        ("2027-01-05", f"north:{101 + n}", "nephrology", "right" if n % 2 else "wrong")
        for n in range(40)
    ]
    front = (
        "---\ntitle: T\narea: nephrology\nwritten: 2027-01-10\nquestions:\n  - north:{}\n---\nx\n"
    )
    notes = {f"nephrology/{n}.md": front.format(n) for n in (101, 103)}
    opened = session(log(*answers) | notes)
    pages = [opened.report("queue", {"limit": limit, "page": 1}) for limit in (1, 2)]
    both = [block for block in pages[1].blocks if getattr(block, "key", "") == "notes"]
    marks = [dict(entry.fields)["marks"] for entry in both[0].entries]  # type: ignore[union-attr]
    assert len(marks) == 2
    for report in pages:
        assert texts(report)[0] == f"2 notes need work, {in_marks(sum(marks))} at risk in all."
    assert in_marks(sum(marks)) != in_marks(marks[0])
