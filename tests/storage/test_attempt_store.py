"""What is added to the logs: each line once, under an id and an import of its own."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from kb.core.errors import KBError
from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId, digest
from kb.core.model import Attempt, Dismissal, Score
from kb.core.settings import ItemRange, Source, Study
from kb.formats.attempt_ids import with_ids
from kb.formats.attempt_log import HEADER, Void, format_dismissal, format_void, parse_log
from kb.formats.side_logs import READINGS
from kb.storage.attempt_store import (
    Added,
    LogMemory,
    append_aside,
    append_attempts,
    append_entries,
    append_record,
    append_scores,
    append_side_log,
    dismissal_ids_of,
    new_reading,
    other_remarks,
    read_side_log,
)
from kb.storage.scan import scan

if TYPE_CHECKING:
    from collections.abc import Callable

AT = datetime(2027, 1, 14, 12, tzinfo=UTC)
LOG = "log/attempts-here.csv"


def drafts(*items: int, batch: str = "b-0000000001") -> tuple[Attempt, ...]:
    """Answers with ids, as an import makes them."""
    rows = [
        Attempt(id=AttemptId(""), at=AT, question=QuestionId(f"north:{n}"), outcome="wrong")
        for n in items
    ]
    return with_ids(rows, batch, day_only=True)


def logged(root: Path, name: str = LOG) -> list[tuple[str, str]]:
    """Question and import of every answer in a file."""
    return [(a.question, a.batch) for a in parse_log((root / name).read_bytes(), name).attempts]


def void(root: Path, what: str, own: str = "v1") -> None:
    """Take back an answer or an import."""
    append_record(root, "here", format_void(Void(id=own, at=AT, voids=what)))


def test_lines_that_the_log_has_are_not_added_again(base: Callable[..., Path]) -> None:
    """Nor when another device logged them; how many were new and known is said."""
    root = base()
    first = append_attempts(root, "here", drafts(1, 2))
    assert (first.new_count, first.known_count, first.batch) == (2, 0, "b-0000000001")
    again = append_attempts(root, "there", drafts(1, 2, 3, batch="b-0000000002"))
    assert (again.new_count, again.known_count, again.batch) == (1, 2, "b-0000000002")
    none = append_attempts(root, "here", drafts(1))
    assert (none.new_count, none.known_count, none.batch) == (0, 1, "")
    assert append_attempts(root, "here", ()).batch == ""
    assert logged(root) == [("north:1", "b-0000000001"), ("north:2", "b-0000000001")]
    assert logged(root, "log/attempts-there.csv") == [("north:3", "b-0000000002")]


def test_lines_told_to_be_given_twice_are_added_under_new_ids(base: Callable[..., Path]) -> None:
    """Each with an id that was never used."""
    root = base()
    append_attempts(root, "here", drafts(1))
    added = append_attempts(root, "here", drafts(1, batch="b-0000000002"), again=True)
    assert added.new_count == 1
    ids = [a.id for a in parse_log((root / LOG).read_bytes(), LOG).attempts]
    assert len(set(ids)) == 2


def test_an_import_never_has_the_id_of_an_earlier_one(base: Callable[..., Path]) -> None:
    """A clock may stop; an import that was taken back keeps its id too."""
    root = base()
    append_attempts(root, "here", drafts(1))
    second = append_attempts(root, "here", drafts(2))
    assert second.batch != "b-0000000001"
    assert len(second.batch) == 12
    assert second.batch.startswith("b-")
    void(root, "b-0000000001")
    third = append_attempts(root, "here", drafts(3))
    assert len({third.batch, second.batch, "b-0000000001"}) == 3
    # Another device, or an earlier version, gives the same ids to the same imports.
    assert second.batch == f"b-{digest('b-0000000001', '1')[:10]}"
    assert third.batch == f"b-{digest('b-0000000001', '2')[:10]}"


def test_an_answer_taken_back_can_be_logged_again(base: Callable[..., Path]) -> None:
    """Under another id, since the void keeps the first."""
    root = base()
    (one,) = drafts(1)
    append_attempts(root, "here", (one,))
    void(root, one.id)
    assert append_attempts(root, "here", (one,)).new_count == 1
    assert append_attempts(root, "here", (one,)).new_count == 0
    ids = [a.id for a in parse_log((root / LOG).read_bytes(), LOG).attempts]
    assert ids == [one.id, digest(one.id, "1")]
    void(root, ids[1], "v2")
    append_attempts(root, "here", (one,))
    ids = [a.id for a in parse_log((root / LOG).read_bytes(), LOG).attempts]
    assert ids[2] == digest(one.id, "2")


def import_in_place_of_one(root: Path, *items: int) -> tuple[Attempt, Added]:
    """An answer that was logged, and what an import that takes it back added."""
    (one,) = drafts(1)
    append_attempts(root, "here", (one,))
    voids = (Void(id="v1", at=AT, voids=one.id),)
    return one, append_attempts(root, "here", drafts(*items, batch="b-0000000002"), voids=voids)


def test_what_is_replaced_is_taken_back_in_the_same_write(base: Callable[..., Path]) -> None:
    """Voids alone are an import too."""
    root = base()
    one, added = import_in_place_of_one(root, 2)
    assert (added.new_count, added.batch) == (1, "b-0000000002")
    parsed = parse_log((root / LOG).read_bytes(), LOG)
    assert [(v.voids, v.batch) for v in parsed.voids] == [(one.id, "b-0000000002")]


def test_an_import_that_only_takes_back_has_a_name_of_its_own(base: Callable[..., Path]) -> None:
    """The next one is not called the same, so that undoing it leaves what was taken back."""
    root = base()
    _, added = import_in_place_of_one(root, 1)
    assert (added.new_count, added.batch) == (0, "b-0000000002")
    later = append_attempts(root, "here", drafts(2, batch="b-0000000002"))
    assert later.batch not in ("", "b-0000000002")


def test_an_entry_sent_twice_is_added_once(base: Callable[..., Path]) -> None:
    """Not even after it was taken back; those of one import go on in it until that is voided."""
    root = base()
    one, two, three = (replace(d, id=AttemptId(f"entry{n}")) for n, d in enumerate(drafts(1, 2, 3)))
    assert append_entries(root, "here", [one, one, two]) == {"entry0", "entry1"}
    assert append_entries(root, "here", [one]) == frozenset()
    void(root, "entry1")
    assert append_entries(root, "here", [two]) == frozenset()
    assert append_entries(root, "here", [three]) == {"entry2"}
    assert {batch for _, batch in logged(root)} == {"b-0000000001"}
    void(root, "b-0000000001", "v2")
    four = replace(one, id=AttemptId("entry3"))
    append_entries(root, "here", [four])
    assert logged(root)[-1][1] != "b-0000000001"


def test_a_torn_line_does_not_count_as_sent(base: Callable[..., Path]) -> None:
    """It was never acknowledged, so the entry is added when it comes again."""
    root = base({LOG: HEADER + "entry0,2027-01-14T12:00:00+00:00,nor"})
    (one,) = (replace(d, id=AttemptId("entry0")) for d in drafts(1))
    assert append_entries(root, "here", [one]) == {"entry0"}
    assert logged(root) == [("north:1", "b-0000000001")]


def test_scores_are_added_once_and_again_after_they_were_taken_back(
    base: Callable[..., Path],
) -> None:
    """Under the next free id."""
    root = base()
    score = Score(
        id="s1", at=AT, sitting="p", area=AreaId(""), right_count=60, item_count=100, official=True
    )
    assert append_scores(root, "here", [score]) == 1
    assert append_scores(root, "here", [score]) == 0
    void(root, "s1")
    assert append_scores(root, "here", [score]) == 1
    assert append_scores(root, "here", [score]) == 0
    text = (root / "log" / "scores-here.csv").read_text(encoding="utf-8")
    assert text.count(",p,") == 2


def test_records_of_all_devices_are_read_once(base: Callable[..., Path]) -> None:
    """In order of time, with the problems of each file."""
    root = base()
    late = new_reading(AT, NoteId("a"), 60.25)
    early = new_reading(AT.replace(hour=9), NoteId("b"), None)
    append_side_log(root, "here", READINGS, late)
    append_side_log(root, "there", READINGS, early, late)
    file = root / "log" / "readings-there.csv"
    file.write_bytes(file.read_bytes() + b"x\r\n")
    found, problems = read_side_log(root, scan(root), READINGS)
    assert found == (early, late)
    assert [str(p.place) for p in problems] == ["log/readings-there.csv:4"]
    assert len({late.id, early.id, new_reading(AT, NoteId("a"), 60.0).id}) == 3


@pytest.mark.parametrize(
    ("first", "name"),
    [
        ("", "attempts-here.csv"),
        (HEADER, "attempts-here.csv"),
        ("\ufeff" + HEADER, "attempts-here.csv"),
        ("id,at,question", "attempts-here.csv"),
        ("id,at,question,outcome\r\n", "attempts-here-2.csv"),
    ],
)
def test_a_file_of_other_columns_is_left_and_another_begun(
    base: Callable[..., Path], first: str, name: str
) -> None:
    """An empty or torn one is ours, and gets a whole header before anything is added."""
    root = base({LOG: first})
    append_attempts(root, "here", drafts(1))
    assert logged(root, f"log/{name}") == [("north:1", "b-0000000001")]
    aside = root / "log" / "set-aside-attempts-here.txt"
    assert aside.exists() == (first == "id,at,question")


def test_a_device_has_at_most_ninety_nine_files(base: Callable[..., Path]) -> None:
    """All of them with other columns: nothing is added."""
    other = "id,at,question,outcome\r\n"
    names = ["", *(f"-{number}" for number in range(2, 100))]
    root = base({f"log/attempts-here{name}.csv": other for name in names})
    with pytest.raises(KBError, match="too many log files"):
        append_attempts(root, "here", drafts(1))
    (root / "log" / "attempts-here-99.csv").unlink()
    append_attempts(root, "here", drafts(1))
    assert logged(root, "log/attempts-here-99.csv") == [("north:1", "b-0000000001")]


def test_words_of_what_was_taken_back_are_kept_once(base: Callable[..., Path]) -> None:
    """Of an answer, of an import and of the line that took it back; never of one that counts."""
    root = base()
    one, two, three = (
        replace(draft, remark=f"remark {n}", concept="AIN" if n == 0 else "")
        for n, draft in enumerate(drafts(1, 2, 3))
    )
    append_attempts(root, "here", (one,))
    append_attempts(root, "here", (two,))
    append_attempts(root, "here", (three,))
    append_record(root, "here", format_void(Void(id="v", at=AT, voids=one.id, remark="twice")))
    file = parse_log((root / LOG).read_bytes(), LOG)
    batch = file.attempts[1].batch
    found = other_remarks([file, file], frozenset({one.id, batch}))
    assert [(row.id, row.text) for row in found] == [
        ("v", "twice"),
        (one.id, "remark 0"),
        (one.id, "AIN"),
        (two.id, "remark 1"),
    ]


def test_a_torn_line_in_a_file_of_nothing_else_does_not_count_as_sent(
    base: Callable[..., Path],
) -> None:
    """Without one whole line in the file, nothing in it was acknowledged."""
    root = base({LOG: "entry0,2027-01-14T12:00:00+00:00,nor"})
    (one,) = (replace(d, id=AttemptId("entry0")) for d in drafts(1))
    assert append_entries(root, "here", [one]) == {"entry0"}


def test_lines_not_understood_are_kept_beside_the_log(base: Callable[..., Path]) -> None:
    """One after the other, below a line that says what they are; where they are is returned."""
    root = base()
    for text in ("north 41 ?\n", "north 42 ??\n"):
        assert append_aside(root, "here", text) == "log/set-aside-sheets-here.txt"
    kept = (root / "log" / "set-aside-sheets-here.txt").read_text(encoding="utf-8")
    assert kept == "# lines not understood\nnorth 41 ?\nnorth 42 ??\n"


def test_a_log_read_before_is_read_again_when_the_settings_give_other_areas() -> None:
    """With the same settings only new lines are read; with others each answer gets its area."""
    line = "a{0},2027-01-14T12:00:00+00:00,north:{0},,,wrong,,,,,,,,,,,\r\n"
    raw, memory = (HEADER + line.format(1)).encode(), LogMemory()
    one, two = (
        Study(
            sources=(
                Source(
                    id="north", name="N", ranges=(ItemRange(first=1, last=9, area=AreaId(area)),)
                ),
            )
        )
        for area in ("cardiology", "neurology")
    )
    areas = [
        [answer.area for answer in memory.read(raw + more, LOG, study).attempts]
        for study, more in ((one, b""), (one, line.format(2).encode()), (two, b""))
    ]
    assert areas == [["cardiology"], ["cardiology"] * 2, ["neurology"]]


def test_lines_that_dismiss_a_question_are_found(base: Callable[..., Path]) -> None:
    """Each once, without those taken back and those of another question."""
    root = base()
    for own, question in (("d1", "north:1"), ("d2", "north:1"), ("d3", "north:2")):
        row = Dismissal(id=own, at=AT, question=QuestionId(question), reason="misread")
        append_record(root, "here", format_dismissal(row))
        append_record(root, "there", format_dismissal(row))
    void(root, "d1")
    assert dismissal_ids_of(root, QuestionId("north:1")) == ("d2",)


def test_equal_lines_of_one_import_are_told_apart(base: Callable[..., Path]) -> None:
    """Two drafts under one id, given twice on purpose, become four lines with ids of their own."""
    root = base()
    (one,) = drafts(1)
    append_attempts(root, "here", (one, one), again=True)
    append_attempts(root, "here", (one, one), again=True)
    ids = [a.id for a in parse_log((root / LOG).read_bytes(), LOG).attempts]
    assert len(set(ids)) == len(ids) == 4
