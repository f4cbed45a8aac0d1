"""A sheet as parsed becomes attempts: each on its day, in the order of the sheet."""

from __future__ import annotations

from datetime import UTC, date, datetime

from kb.core.ids import AreaId
from kb.core.settings import Area, Exam, Source, Study
from kb.formats.answer_sheet.parser import parse_sheet
from kb.formats.attempt_ids import with_ids
from kb.importers.sheets import known_words, sheet_drafts

NOW = datetime(2027, 2, 14, 21, tzinfo=UTC)
TODAY = NOW.date()
EXAM = Exam(
    name="Quill",
    date=date(2027, 5, 11),
    areas=(Area(id=AreaId("infectious-diseases"), name="Infection", item_count=10),),
)
STUDY = Study(
    sources=(Source(id="north", name="North"), Source(id="paper-1", name="Paper", kind="paper"))
)
KNOWN = known_words(EXAM, STUDY, TODAY, TODAY)


def test_areas_are_known_by_id_name_and_with_spaces() -> None:
    """However the area is typed, it is the blueprint's."""
    for spelling in ("infectious-diseases", "Infection", "infectious diseases"):
        sheet = parse_sheet(f"north {spelling}\n1\n", "s", KNOWN)
        assert sheet.answers[0].heading.area == "infectious-diseases"


def test_answers_of_today_end_now_and_earlier_ones_at_noon() -> None:
    """A sheet knows no hours, but its order is kept."""
    sheet = parse_sheet("north\n1\n2\n13 Feb\n3\n4\n", "s", KNOWN)
    moments = [draft.at.isoformat() for draft in sheet_drafts(sheet.answers, STUDY, NOW)]
    assert moments == [
        "2027-02-14T20:59:59+00:00",
        "2027-02-14T21:00:00+00:00",
        "2027-02-13T11:59:59+00:00",
        "2027-02-13T12:00:00+00:00",
    ]


def test_undated_answers_take_the_day_of_the_file() -> None:
    """Where no heading names one."""
    sheet = parse_sheet("north\n1\n", "s", KNOWN)
    (draft,) = sheet_drafts(sheet.answers, STUDY, NOW, date(2027, 2, 1))
    assert draft.day == date(2027, 2, 1)


def test_a_second_try_is_another_attempt() -> None:
    """The same question under a new heading of the same day is answered twice."""
    sheet = parse_sheet("north\n1\nnorth\n1\n", "s", KNOWN)
    drafts = with_ids(sheet_drafts(sheet.answers, STUDY, NOW), "b", day_only=True)
    assert len({draft.id for draft in drafts}) == 2


def test_a_paper_needs_no_round() -> None:
    """A source of the kind paper is a sitting."""
    sheet = parse_sheet("paper-1\n1\n", "s", KNOWN)
    (draft,) = sheet_drafts(sheet.answers, STUDY, NOW)
    assert (draft.round, draft.sitting) == ("paper", "paper-1")
