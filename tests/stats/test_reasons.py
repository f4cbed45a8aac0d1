"""Reasons are counted with their honest ranges."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from kb.core.ids import AreaId, AttemptId, QuestionId
from kb.core.model import Attempt
from kb.stats.reasons import by_area, by_week, reason_shares, technique_share


def miss(reason: str, day: int = 1, area: str = "cardiology", outcome: str = "wrong") -> Attempt:
    """A miss with a reason, on a day of February 2027 (the first is a Monday)."""
    return Attempt(
        id=AttemptId("x"),
        at=datetime(2027, 2, day, 12, tzinfo=UTC),
        question=QuestionId("north:1"),
        outcome=outcome,  # type: ignore[arg-type]
        area=AreaId(area),
        reason=reason,  # type: ignore[arg-type]
    )


def test_shares_are_of_misses_with_a_reason() -> None:
    """Misses without one, and right answers, do not count; the most frequent comes first."""
    given = [
        miss("misread"),
        miss("unknown"),
        miss("unknown"),
        miss(""),
        miss("rushed", outcome="right"),
    ]
    shares = reason_shares(given)
    assert [(s.reason, s.count, s.total_count) for s in shares] == [
        ("unknown", 2, 3),
        ("misread", 1, 3),
    ]
    shares = reason_shares([miss("unknown"), miss("misread"), miss("misread"), miss("rushed")])
    assert shares[0].reason == "misread"
    assert [s.count for s in shares] == [2, 1, 1]


def test_a_share_has_the_range_of_its_numbers() -> None:
    """15 of 148 is likely (80%) between 7.4 and 13.8%.

    Source: the score interval of wilson1927 by hand, with z = 1.28155.
    """
    given = [miss("rushed")] * 15 + [miss("unknown")] * 133
    share = technique_share(given)
    assert share is not None
    assert (share.interval.low, share.interval.high) == pytest.approx((0.0738, 0.1376), abs=5e-5)


@pytest.mark.parametrize(
    ("reason", "technique"),
    [
        ("misread", 1),
        ("switched", 1),
        ("rushed", 1),
        ("unknown", 0),
        ("forgotten", 0),
        ("two-left", 0),
    ],
)
def test_each_reason_is_knowledge_or_technique(reason: str, technique: int) -> None:
    """Every word has its side."""
    share = technique_share([miss(reason)])
    assert share is not None
    assert share.count == technique


def test_no_reason_is_no_share() -> None:
    """Nothing given, nothing said."""
    assert technique_share([miss("")]) is None
    assert reason_shares([]) == ()


def test_groups_go_by_area_and_by_monday() -> None:
    """Areas with most misses first, weeks in order."""
    given = [miss("unknown", 9), miss("unknown", 1, "neurology"), miss("misread", 7)]
    assert list(by_area(given)) == ["cardiology", "neurology"]
    late = [miss("unknown", 15), *given, miss("rushed", 14), miss("rushed", 15), miss("rushed", 21)]
    assert [(week, len(found)) for week, found in by_week(late).items()] == [
        (date(2027, 2, 1), 2),
        (date(2027, 2, 8), 2),
        (date(2027, 2, 15), 3),
    ]


@pytest.mark.parametrize(
    ("day", "week", "monday"),
    [
        ("2003-12-29", "2004-W01-1", "2003-12-29"),
        ("2004-01-04", "2004-W01-7", "2003-12-29"),
        ("2005-01-01", "2004-W53-6", "2004-12-27"),
        ("2008-12-29", "2009-W01-1", "2008-12-29"),
        ("2010-01-03", "2009-W53-7", "2009-12-28"),
        ("2026-12-31", "2026-W53-4", "2026-12-28"),
    ],
)
def test_a_week_over_a_years_end_is_one(day: str, week: str, monday: str) -> None:
    """It is that of the standard. Source: ISO 8601, by Python's fromisoformat."""
    at = datetime.fromisoformat(f"{day}T12:00+00:00")
    (found,) = by_week([replace(miss("rushed"), at=at)])
    assert found.isoformat() == monday
    assert date.fromisoformat(week) == at.date()
    assert date.fromisoformat(f"{week[:-1]}1") == found
