"""Ids come from what an answer says, and never change from one version to the next."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from kb.core.ids import AreaId, AttemptId, QuestionId, digest
from kb.core.model import Attempt
from kb.formats.attempt_ids import with_ids

DRAFT = Attempt(
    id=AttemptId(""),
    at=datetime(2027, 1, 14, 12, tzinfo=UTC),
    question=QuestionId("north:1"),
    outcome="wrong",
    first="A",
    chosen="C",
    key="B",
    certainty=2,
    seconds=61.25,
    reason="misread",
    round="second",
    sitting="s",
    remark="gout",
)
PARTS = ("north:1", "wrong", "A", "C", "B", "2", "61.25", "misread", "second", "s", "gout")


@pytest.mark.parametrize(
    ("day_only", "when"), [(True, "2027-01-14"), (False, "2027-01-14T12:00:00+00:00")]
)
def test_an_id_is_the_digest_of_the_content(day_only: bool, when: str) -> None:
    """So that a sheet logged again, years later or on another device, adds nothing; the second and
    the third equal line of one import are told apart by their number.
    """
    found = with_ids([DRAFT, DRAFT, DRAFT], "b-1", day_only=day_only)
    assert [one.id for one in found] == [digest(when, *PARTS, str(n)) for n in range(3)]
    assert {one.batch for one in found} == {"b-1"}


def test_what_is_not_known_is_empty_in_an_id() -> None:
    """No certainty, no seconds; a line break in a remark is a space."""
    bare = replace(DRAFT, certainty=None, seconds=None, remark=" two\nlines ")
    (one,) = with_ids([bare], "b-1", day_only=True)
    parts = (*PARTS[:5], "", "", *PARTS[7:10], "two lines")
    assert one.id == digest("2027-01-14", *parts, "0")


@pytest.mark.parametrize(
    "more", [{"area": AreaId("a")}, {"batch": "b-2"}, {"id": AttemptId("x")}, {"concept": "gout"}]
)
def test_area_and_import_are_no_part_of_an_id(more: dict[str, str]) -> None:
    """They may be given later."""
    one, other = (
        with_ids([draft], "b", day_only=True)[0]
        for draft in (DRAFT, replace(DRAFT, **more))  # type: ignore[arg-type]
    )
    assert one.id == other.id
