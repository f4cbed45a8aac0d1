"""One answer as a form or a phone sends it."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from kb.core.errors import KBError
from kb.formats.exam import parse_exam
from kb.formats.study import parse_study
from kb.importers.single_answer import LONGEST_REMARK, entry_id, next_item, parse_entry

NOW = datetime(2027, 2, 14, 12, tzinfo=UTC)
EXAM = parse_exam(
    "exam: X\ndate: 2027-05-11\nblueprint:\n  - {area: cardiology, name: Cardiology, items: 80}\n"
    "  - {area: nephrology, name: Nephrology, items: 120}\n",
    "exam.yaml",
)[0]
STUDY = parse_study(
    "sources:\n  - {source: north, kind: bank, items: 300, areas: {1-100: cardiology}}\n"
    "  - {source: paper-1, kind: paper, items: 200}\n",
    "study.yaml",
)[0]
FIELDS = {"entry": "0123456789abcdef", "source": "north", "item": "41", "outcome": "right"}


def parse(**fields: str):  # noqa: ANN201 - an attempt
    """An attempt of the usual fields and these."""
    assert EXAM is not None
    return parse_entry({**FIELDS, **fields}, EXAM, STUDY, NOW)


@pytest.mark.parametrize(
    ("item", "after"),
    [("1041", "1042"), ("9", "10"), ("007", "008"), ("B-9", "B-10"), ("mock", ""), ("", "")],
)
def test_the_number_counts_on(item: str, after: str) -> None:
    """The next number follows by itself, as wide as the one before; a name has no next."""
    assert next_item(item) == after


def test_a_remark_has_at_most_500_characters() -> None:
    """The limit itself is still taken."""
    assert len(parse(outcome="wrong", remark="x" * 500).remark) == 500
    with pytest.raises(KBError, match="the remark is too long"):
        parse(outcome="wrong", remark="x" * 501)


def test_an_entry_has_the_moment_of_the_sender() -> None:
    """An answer given on a train counts when it was given, not when it was sent."""
    found = parse(at="2027-02-13T19:42:07+01:00")
    assert found.at.isoformat() == "2027-02-13T19:42:07+01:00"


def test_a_clock_that_runs_ahead_is_held_at_now() -> None:
    """An answer from tomorrow would not count until then."""
    assert parse(at="2027-02-15T00:00:00+00:00").at == NOW
    same = parse(at="2027-02-14T13:00:00+01:00").at
    assert (same, same.isoformat()) == (NOW, "2027-02-14T13:00:00+01:00")


def test_the_id_depends_on_the_sender_alone() -> None:
    """The same entry has the same id whatever else it says, and another entry another id."""
    assert (
        parse().id
        == parse(item="42", at="2027-02-13T19:42:07+01:00").id
        == entry_id(FIELDS["entry"])
    )
    assert parse(entry="fedcba9876543210").id != parse().id


def test_the_numbering_tells_the_area_first() -> None:
    """An area left over from another source does not go to an item whose number tells it."""
    assert parse(area="nephrology").area == ""
    assert parse(item="141", area="Nephrology").area == "nephrology"


def test_a_paper_is_a_sitting_of_its_own() -> None:
    """Answers to a paper belong to its sitting and round, whatever round was chosen before."""
    found = parse(source="paper-1", round="first")
    assert (found.round, found.sitting) == ("paper", "paper-1")
    bank = parse(round="first")
    assert (bank.round, bank.sitting) == ("first", "")


def test_only_a_wrong_answer_has_options_and_reason() -> None:
    """A letter or reason left in the form does not go with a right answer."""
    told = {"chosen": "c", "key": "B", "reason": "misread"}
    right, wrong = parse(**told), parse(**told, outcome="wrong")
    assert (right.chosen, right.key, right.reason) == ("", "", "")
    assert (wrong.chosen, wrong.key, wrong.reason) == ("C", "B", "misread")


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"source": ""}, "source"),
        ({"item": " "}, "number"),
        ({"item": "4 1"}, "reference"),
        ({"item": "1" * 101}, "reference"),
        ({"outcome": "maybe"}, "outcome"),
        ({"outcome": "wrong", "reason": "tired"}, "reason"),
        ({"outcome": "wrong", "chosen": "F"}, "option"),
        ({"certainty": "4"}, "certainty"),
        ({"round": "third"}, "round"),
        ({"at": "yesterday"}, "moment"),
        ({"at": "2027-02-13T19:42:07"}, "moment"),
        ({"at": "2012-01-01T00:00:00+00:00"}, "more than a year ago"),
        ({"at": "1970-01-01T00:00:00+00:00"}, "clock"),
        ({"at": "0001-01-01T00:00:00+00:00"}, "moment"),
        ({"entry": "x"}, "id"),
        ({"entry": ""}, "id"),
        ({"item": "141", "area": "renla"}, "area"),
        ({"remark": "x" * (LONGEST_REMARK + 1)}, "remark"),
        ({"remark": "as in 401 023 2137"}, "NHS number"),
    ],
)
def test_what_cannot_be_is_refused_by_name(fields: dict[str, str], word: str) -> None:
    """Each refusal is one sentence that names the field."""
    with pytest.raises(KBError) as refused:
        parse(**fields)
    assert word in refused.value.message


def test_words_may_have_capitals() -> None:
    """A round and a reason as somebody typed them."""
    found = parse(round="Second", outcome="wrong", reason="Misread")
    assert (found.round, found.reason) == ("second", "misread")
