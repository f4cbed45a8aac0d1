"""Which questions the banks hold, and which of them are kept unseen. Small banks worked by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from kb.core.ids import AreaId, AttemptId, QuestionId, digest
from kb.core.model import Attempt, Base
from kb.core.settings import Area, Exam, ItemRange, Source, Study
from kb.planning.held_back import (
    bank_questions,
    choose_held_back,
    kept_unseen,
    protected,
    release_day,
)

EXAM_DAY = date(2027, 5, 11)


def source(name: str = "north", items: int = 0, spans: str = "", **more: str) -> Source:
    """A source with ranges written `1-9 area`."""
    rows = [span.replace("-", " ").split() for span in spans.split(",") if span]
    ranges = tuple(ItemRange(first=int(a), last=int(b), area=AreaId(area)) for a, b, area in rows)
    return Source(id=name, name=name, item_count=items, ranges=ranges, **more)  # type: ignore[arg-type]


def base(*sources: Source, areas: str = "a b", held_back: int = 500, met: str = "") -> Base:
    """A base of these sources; areas have an item each, and questions `met` one right answer."""
    exam = Exam(
        name="Quill",
        date=EXAM_DAY,
        areas=tuple(Area(id=AreaId(area), name=area, item_count=1) for area in areas.split()),
    )
    at = datetime(2027, 1, 4, 12, tzinfo=UTC)
    attempts = tuple(
        Attempt(id=AttemptId(item), at=at, question=QuestionId(item), outcome="right")
        for item in met.split()
    )
    study = Study(sources=sources, held_back_count=held_back)
    return Base(exam=exam, study=study, attempts=attempts)


def items(found: object) -> list[str]:
    """References without their source."""
    return [str(one).partition(":")[2] for one in found]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("items_declared", "spans", "areas"),
    [
        (6, "1-2 a,3-4 b", ["a", "a", "b", "b", "", ""]),
        (4, "1-2 a,3-9 b", ["a", "a", "b", "b"]),
        (4, "1-3 a,3-4 b", ["a", "a", "a", "b"]),  # the first range counts
        (0, "1-2 a,3-3 b", ["a", "a", "b"]),
        (0, "", []),
        (2, "", ["", ""]),
    ],
)
def test_a_bank_has_its_declared_questions_with_their_areas(
    items_declared: int, spans: str, areas: list[str]
) -> None:
    """By its number of items, or where that is not declared by its ranges alone."""
    study = Study(sources=(source(items=items_declared, spans=spans),))
    bank = bank_questions(study)
    assert items(bank) == [str(n) for n in range(1, len(areas) + 1)]
    assert list(bank.values()) == areas


def test_papers_are_no_bank_but_may_be_named() -> None:
    """Then they alone are taken."""
    study = Study(sources=(source(items=1), source("paper-1", 2, kind="paper")))
    assert list(bank_questions(study)) == ["north:1"]
    assert list(bank_questions(study, ["paper-1"])) == ["paper-1:1", "paper-1:2"]


def test_those_kept_are_chosen_by_a_digest_so_that_every_device_has_the_same() -> None:
    """The two least digests of one area, whatever the order of the bank."""
    bank = [f"north:{n}" for n in range(1, 11)]
    least = sorted(bank, key=lambda question: digest("reserve", question))[:2]
    assert choose_held_back(base(source(items=10, spans="1-10 a"))) == tuple(sorted(least))


def test_of_two_areas_alike_the_first_by_name_gives_the_odd_question() -> None:
    """Whichever comes first in the bank; one without items in the blueprint gives none."""
    spans = "1-5 b,6-10 a,11-20 c"
    (kept,) = choose_held_back(base(source(items=20, spans=spans), held_back=1))
    assert int(kept.partition(":")[2]) in range(6, 11)


@pytest.mark.parametrize(
    ("bank", "wanted", "count"), [(10, 500, 2), (14, 500, 2), (15, 500, 3), (15, 2, 2), (4, 9, 0)]
)
def test_at_most_a_fifth_of_the_banks_is_kept(bank: int, wanted: int, count: int) -> None:
    """Rounded down."""
    found = base(source(items=bank, spans=f"1-{bank} a"), held_back=wanted)
    assert len(choose_held_back(found)) == count


def test_what_was_met_is_not_kept() -> None:
    """Neither chosen, nor any longer if it was written down before."""
    met = " ".join(f"north:{n}" for n in range(1, 9))
    found = base(source(items=10, spans="1-10 a"), met=met)
    assert items(kept_unseen(found)) in (["9", "10"], ["10", "9"])
    written = Base(
        exam=found.exam,
        study=found.study,
        attempts=found.attempts,
        held_back=(QuestionId("north:8"), QuestionId("north:9")),
    )
    assert items(kept_unseen(written)) == ["9"]


@pytest.mark.parametrize(
    ("days_before", "count"), [(99, 130), (18, 130), (17, 100), (6, 100), (5, 0), (0, 0)]
)
def test_what_is_kept_is_used_in_the_two_checks_and_then_released(
    days_before: int, count: int
) -> None:
    """All up to the last day of the check three weeks before the exam, then as many as one check
    needs, up to the last day of the one a week before.
    """
    found = base(source(items=700, spans="1-350 a,351-700 b"), held_back=130)
    kept = kept_unseen(found)
    day = EXAM_DAY - timedelta(days=days_before)
    left = protected(found, kept, day)
    assert (len(left), left <= kept) == (count, True)
    assert release_day(EXAM_DAY) == date(2027, 4, 24)
