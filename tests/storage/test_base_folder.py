"""A base is found, loaded whole, cut to a day, and never lost to its derived files."""

from __future__ import annotations

import os
import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from kb.core.base_views import as_of
from kb.core.errors import (
    ConflictError,
    FormatError,
    KBError,
    NoBaseError,
    NotFoundError,
    QueryError,
)
from kb.core.ids import AreaId, AttemptId, QuestionId
from kb.core.model import Attempt, Score
from kb.formats import note as note_format
from kb.formats.attempt_log import HEADER, Void, format_void
from kb.services.answer_logging import log_answers, log_reading, void
from kb.services.note_editing import add_note, link_note, rewrite_note
from kb.services.which_base import find_root
from kb.storage import base_folder as store
from kb.storage.attempt_store import LogMemory, append_record, append_scores
from kb.storage.note_catalogue import Catalogue
from kb.storage.scan import scan

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

NOTE = "---\ntitle: {title}\narea: cardiology\nquestions: [north:1]\nwritten: {day}\n---\nText.\n"


def attempt(number: int, outcome: str = "wrong", day: date = date(2027, 1, 10)) -> Attempt:
    """An attempt at one question of the bank `north`."""
    at = datetime(day.year, day.month, day.day, 20, tzinfo=UTC)
    question = QuestionId(f"north:{number}")
    return Attempt(id=AttemptId(""), at=at, question=question, outcome=outcome)  # type: ignore[arg-type]


def test_the_nearest_parent_with_an_exam_is_the_base(base: Callable[..., Path]) -> None:
    """One can stand anywhere inside it."""
    root = base({"cardiology/deep/x.md": "x"})
    assert find_root(root / "cardiology/deep", None) == root


def test_no_base_is_one_clear_line(tmp_path: Path) -> None:
    """It says what is missing and how to make one."""
    with pytest.raises(NoBaseError) as caught:
        find_root(tmp_path, None)
    assert str(caught.value).startswith("no base here: no exam.yaml in")
    assert "missbook new" in caught.value.hint


@pytest.mark.parametrize(
    ("exam", "said"),
    [
        ("exam: X\ndate: 2027-05-32\nblueprint: [{area: a, items: 1}]\n", "exam.yaml:2: date:"),
        ("exam: X\nblueprint: [{area: a, items: 1}]\n", "exam.yaml:1: the exam has no date"),
        ("date: 9999-12-31\nblueprint: [{area: a, items: 1}]\n", "exam.yaml:1: date:"),
        ("date: 2027-05-11\n", "exam.yaml:1: the blueprint has no items"),
        ("date: [2027\n", "exam.yaml:1: this is not YAML"),
        ("- a\n", "exam.yaml:1: expected lines such as 'key: value'"),
    ],
)
def test_an_exam_that_cannot_be_read_names_its_line(
    session: Callable[..., Session], exam: str, said: str
) -> None:
    """Nothing can be computed without it, so the action fails, with the place."""
    with pytest.raises(FormatError) as caught:
        _ = session({"exam.yaml": exam}).base
    assert str(caught.value).startswith(said)
    assert caught.value.hint


def test_deleting_what_is_derived_changes_no_answer(session: Callable[..., Session]) -> None:
    """The catalogue is rebuilt from the notes and says the same."""
    start = session({"cardiology/x.md": NOTE.format(title="X", day="2027-01-11"), "y.md": "# Y\n"})
    before = start.base
    shutil.rmtree(start.catalogue.store.folder)
    start.reload()
    assert start.base == before


def test_a_change_of_the_same_size_and_time_is_seen(session: Callable[..., Session]) -> None:
    """A file changed just after it was looked at is hashed again."""
    start = session({"x.md": NOTE.format(title="Old", day="2027-01-11")})
    path = start.root / "x.md"
    stat = path.stat()
    assert start.base.notes[0].title == "Old"
    path.write_text(NOTE.format(title="New", day="2027-01-11"), encoding="utf-8", newline="")
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    start.reload()
    assert start.base.notes[0].title == "New"


def test_an_unchanged_note_is_not_parsed_again(
    session: Callable[..., Session], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Opening a base of thousands of notes reads only what changed."""
    start = session({f"{n}.md": NOTE.format(title=n, day="2027-01-11") for n in "abc"})
    for path in start.root.glob("*.md"):
        os.utime(path, (1_700_000_000, 1_700_000_000))
    _ = start.base
    parsed: list[str] = []
    real = note_format.parse_note

    def counting(text: str, path: str, modified: datetime | None) -> object:
        parsed.append(path)
        return real(text, path, modified)

    monkeypatch.setattr(note_format, "parse_note", counting)
    (start.root / "b.md").write_text("# B\n", encoding="utf-8")
    start.reload()
    _ = start.base
    assert parsed == ["b.md"]


def test_areas_come_from_the_log_the_numbering_or_a_note(session: Callable[..., Session]) -> None:
    """In that order."""
    note = "---\narea: neurology\nquestions: [loose:7]\n---\nx\n"
    start = session({"neurology/n.md": note})
    drafts = [
        attempt(150),
        Attempt(
            id=AttemptId(""),
            at=datetime(2027, 1, 10, tzinfo=UTC),
            question=QuestionId("loose:7"),
            outcome="right",
        ),
    ]
    log_answers(start, drafts, title="t", day_only=True)
    assert {a.question: a.area for a in start.base.attempts} == {
        "north:150": "nephrology",
        "loose:7": "neurology",
    }


def test_as_of_shows_the_base_as_it_stood(session: Callable[..., Session]) -> None:
    """Later answers and later notes are gone."""
    start = session({"x.md": NOTE.format(title="X", day="2027-02-01")})
    log_answers(start, [attempt(1), attempt(2, day=date(2027, 2, 3))], title="t", day_only=True)
    then = as_of(start.whole, date(2027, 1, 31))
    assert [a.question for a in then.attempts] == ["north:1"]
    assert then.notes == ()


def test_importing_twice_adds_nothing(session: Callable[..., Session]) -> None:
    """The second time every answer is known."""
    start = session()
    drafts = [attempt(n) for n in range(1, 41)]
    first = log_answers(start, drafts, title="t", day_only=True)
    again = log_answers(start, drafts, title="t", day_only=True)
    assert (first.new_count, first.known_count) == (40, 0)
    assert (again.new_count, again.known_count) == (0, 40)
    assert len(start.base.attempts) == 40


def test_a_file_with_other_columns_is_left_alone(session: Callable[..., Session]) -> None:
    """New lines go to a second file of the device; both are read."""
    old = "id,at,question,outcome\r\nx,2027-01-02T10:00:00+00:00,north:9,right\r\n"
    start = session({"log/attempts-test.csv": old})
    log_answers(start, [attempt(1)], title="t", day_only=True)
    assert (start.root / "log/attempts-test.csv").read_bytes() == old.encode()
    assert (start.root / "log/attempts-test-2.csv").exists()
    assert {a.question for a in start.base.attempts} == {"north:9", "north:1"}


def test_two_files_of_one_name_get_their_path_as_id(session: Callable[..., Session]) -> None:
    """Both notes are there and can be told apart."""
    base = session({"a/same.md": "# One\n", "b/same.md": "# Two\n"}).base
    assert [note.id for note in base.notes] == ["a/same", "b/same"]
    assert [p for p in base.problems if p.code == "duplicate-note-id"] == []


def test_the_same_id_in_two_notes_is_a_problem(session: Callable[..., Session]) -> None:
    """The first keeps it; the second is named, with the first in the hint."""
    files = {f"{n}.md": "---\nid: twin\n---\nx\n" for n in ("one", "two")}
    base = session(files).base
    found = [p for p in base.problems if p.code == "duplicate-note-id"]
    assert [str(p.place) for p in found] == ["two.md:1"]
    assert "one.md" in found[0].hint
    assert [note.id for note in base.notes] == ["twin", "two"]


def test_linking_adds_the_question_and_nothing_else(session: Callable[..., Session]) -> None:
    """The note's file differs by one item."""
    text = "---\n# mine\nquestions: [north:1]\nodd:  kept\n---\nText.\n"
    start = session({"x.md": text})
    link_note(start, start.note("x"), QuestionId("north:2"))
    expected = text.replace("[north:1]", "[north:1, north:2]")
    assert (start.root / "x.md").read_text(encoding="utf-8") == expected


def test_a_note_that_is_not_utf8_is_never_rewritten(session: Callable[..., Session]) -> None:
    """Its bytes stay as they are, and the message names the line."""
    raw = b"---\ntitle: x\n---\nOne.\nCaf\xe9.\n"
    start = session({"x.md": raw})
    with pytest.raises(FormatError, match=r"x\.md:5: the file is not UTF-8"):
        link_note(start, start.note("x"), QuestionId("north:2"))
    assert (start.root / "x.md").read_bytes() == raw


def test_a_new_note_is_written_into_its_area(session: Callable[..., Session]) -> None:
    """It comes back with its area, question and the moment of writing."""
    from kb.services.note_editing import blank_note

    start = session()
    draft = blank_note("Silent MI: who?", "Cardiology", ("MI",), (QuestionId("north:1"),), "own")
    note = add_note(start, draft, "Diabetes blunts it.")
    assert note.path == "cardiology/silent-mi-who.md"
    assert (note.title, note.areas, note.questions) == (
        "Silent MI: who?",
        ("cardiology",),
        ("north:1",),
    )
    assert note.written_at == start.now
    again = add_note(start, draft, "Another.")
    assert again.path == "cardiology/silent-mi-who-2.md"


def test_a_new_note_needs_a_known_area_and_a_text(session: Callable[..., Session]) -> None:
    """An unknown area offers the nearest; an empty note is refused."""
    from kb.services.note_editing import blank_note

    start = session()
    with pytest.raises(NotFoundError) as caught:
        add_note(start, blank_note("T", "nefrology", (), (), ""), "x")
    assert caught.value.hint == "did you mean neurology or nephrology?"
    with pytest.raises(KBError, match="empty note"):
        add_note(start, blank_note("T", "nephrology", (), (), ""), " \n")


def test_rewriting_stamps_the_moment(session: Callable[..., Session]) -> None:
    """The body is new, the rest of the front matter is as it was."""
    start = session({"x.md": NOTE.format(title="X", day="2027-01-11")})
    rewrite_note(start, start.note("x"), "Better.\n")
    text = (start.root / "x.md").read_text(encoding="utf-8")
    assert text.endswith("---\nBetter.\n")
    assert "written: 2027-02-14T12:00+00:00" in text.replace("'", "")
    assert "questions: [north:1]" in text


def test_a_rewrite_of_a_changed_note_is_refused(session: Callable[..., Session]) -> None:
    """What was changed meanwhile is not overwritten."""
    start = session({"x.md": "One.\n"})
    note = start.note("x")
    _, digest = start.text(note)
    (start.root / "x.md").write_text("Two.\n", encoding="utf-8")
    with pytest.raises(ConflictError, match="changed since it was read"):
        rewrite_note(start, note, "Three.\n", digest)
    assert (start.root / "x.md").read_text(encoding="utf-8") == "Two.\n"


def test_a_void_takes_an_import_back(session: Callable[..., Session]) -> None:
    """The answers no longer count, and a voided id is not found again."""
    start = session()
    added = log_answers(start, [attempt(1), attempt(2)], title="t", day_only=True)
    assert void(start, added.batch) == 2
    assert start.base.attempts == ()
    with pytest.raises(NotFoundError):
        void(start, added.batch)


def test_a_reading_is_recorded(session: Callable[..., Session]) -> None:
    """It comes back with its seconds."""
    start = session({"x.md": "One.\n"})
    log_reading(start, start.note("x"), 42.5)
    assert [(r.note, r.seconds) for r in start.base.readings] == [("x", 42.5)]


def test_a_note_without_a_date_counts_from_its_file(session: Callable[..., Session]) -> None:
    """The file's time stands in for `written`, and an earlier day leaves it untested."""
    start = session({"x.md": "One.\n"})
    os.utime(start.root / "x.md", (1_800_000_000, 1_800_000_000))
    note = start.base.notes[0]
    assert note.written_at == datetime.fromtimestamp(1_800_000_000, UTC)
    then = as_of(start.whole, note.written_at.date() - timedelta(days=1))
    assert then.notes[0].written_on is None


def test_an_answer_logged_again_after_it_was_voided_gets_a_new_id(
    session: Callable[..., Session],
) -> None:
    """An id is never given twice."""
    start = session()
    added = log_answers(start, [attempt(1)], title="t", day_only=True)
    mine = start.base.attempts[0].id
    void(start, added.batch)
    log_answers(start, [attempt(1)], title="t", day_only=True)
    assert [answer.id for answer in start.base.attempts] != [mine]
    assert len(start.base.attempts) == 1


def test_the_base_brings_its_own_abbreviations(session: Callable[..., Session]) -> None:
    """With the line of what is wrong in their file, as for every other file."""
    start = session({"glossary.yaml": "AIN: [interstitial nephritis]\nbroken: [\n"})
    (problem,) = [p for p in start.base.problems if p.place.path == "glossary.yaml"]
    assert problem.place.line
    start = session({"glossary.yaml": "AIN: [interstitial nephritis]\n"})
    assert start.base.glossary == (("AIN", ("interstitial nephritis",)),)


def test_a_name_that_is_not_utf8_is_left_out_and_said(
    session: Callable[..., Session],
) -> None:
    """Files from an old archive have such names: they stop no report, and are named."""
    good = NOTE.format(title="Good", day="2027-01-01")
    opened = session({"cardiology/good.md": good})
    folder = os.fsencode(opened.root)
    text = NOTE.format(title="Bad", day="2027-01-01").encode()
    try:
        for name in (b"cardiology/b\xe4d.md", b"log/attempts-\xe4.csv", b"cardiology/p\xe4.png"):
            Path(os.fsdecode(folder + b"/" + name)).parent.mkdir(exist_ok=True)
            Path(os.fsdecode(folder + b"/" + name)).write_bytes(text)
        Path(os.fsdecode(folder + b"/f\xe4lder")).mkdir()
    except OSError:
        pytest.skip("this disk has no such names")
    assert [note.title for note in opened.base.notes] == ["Good"]
    assert opened.search("Text").hits
    found = [str(p.place) for p in opened.base.problems if p.code == "bad-name"]
    assert found == [
        "cardiology/b\ufffdd.md",
        "cardiology/p\ufffd.png",
        "f\ufffdlder",
        "log/attempts-\ufffd.csv",
    ]


def test_a_picture_that_went_meanwhile_is_not_found(base: Callable[..., Path]) -> None:
    """Between the look at the base and the request it may be removed."""
    with pytest.raises(NotFoundError):
        store.read_attachment(base(), "cardiology/gone.png")
    with pytest.raises(NotFoundError, match="no file"):
        store.read_attachment(base(), "cardiology/a\0b.png")


def test_problems_are_listed_by_file_and_line(session: Callable[..., Session]) -> None:
    """Whatever was read first: settings, notes, logs, copies."""
    files = {
        "b.md": "---\nquestions: [x]\n---\nText of its own.\n",
        "b (conflicted copy).md": "---\nquestions: [x]\n---\nText of its own.\n",
        "study.yaml": "sourcs: 1\n",
        "log/attempts-a.csv": "id,at,question,outcome\r\nx\r\n",
        "a.md": "---\nquestions: [y]\n---\nOther.\n",
    }
    found = session(files).base.problems
    assert [(str(p.place), p.code) for p in found] == [
        ("a.md:2", "bad-question"),
        ("b (conflicted copy).md", "note-copy"),
        ("b (conflicted copy).md:2", "bad-question"),
        ("b.md:2", "bad-question"),
        ("log/attempts-a.csv:2", "few-fields"),
        ("study.yaml:1", "unknown-setting"),
    ]


def test_what_was_taken_back_does_not_count_in_any_log(base: Callable[..., Path]) -> None:
    """Readings, draws and names; of two choices of questions to hold back the first counts."""
    moment = "2027-01-0{}T12:00:00+00:00"
    held = "at,draw,round,seed,position,question\r\n" + "".join(
        f"{moment.format(day)},{draw},paper,s,1,north:{n}\r\n"
        for day, draw, n in ((2, "h2", 2), (1, "h1", 1), (3, "h3", 3))
    )
    void_lines = "".join(
        format_void(Void(id=f"v{what}", at=datetime(2027, 1, 9, tzinfo=UTC), voids=what))
        for what in ("r1", "d1", "n1")
    )
    root = base(
        {
            "log/attempts-a.csv": HEADER + void_lines,
            "log/readings-a.csv": "id,at,note,seconds\r\n"
            + "".join(f"r{n},{moment.format(n)},x,9\r\n" for n in (1, 2)),
            "log/draws-a.csv": "at,draw,round,seed,position,question\r\n"
            + "".join(f"{moment.format(n)},d{n},second,s,1,north:{n}\r\n" for n in (1, 2)),
            "log/renames-a.csv": "id,at,kind,old,new\r\n"
            + "".join(f"n{n},{moment.format(n)},concept,old{n},new{n}\r\n" for n in (1, 2)),
            "log/held-back-a.csv": held,
        }
    )
    catalogue, files = Catalogue(root), scan(root)
    catalogue.refresh(files)
    found = store.load(root, catalogue, LogMemory(), files)
    assert [row.id for row in found.readings] == ["r2"]
    assert [row.draw for row in found.draws] == ["d2"]
    assert [row.id for row in found.renamed] == ["n2"]
    assert found.held_back == ("north:1",)


def test_a_new_base_never_takes_the_place_of_another(tmp_path: Path) -> None:
    """A study.yaml that is there stays; an exam.yaml makes it a base already."""
    root = tmp_path / "new"
    store.create_base(root, "exam\n", "study\n")
    assert (root / "exam.yaml").read_text(encoding="utf-8") == "exam\n"
    assert (root / "study.yaml").read_text(encoding="utf-8") == "study\n"
    with pytest.raises(ConflictError):
        store.create_base(root, "other\n", "other\n")
    (root / "exam.yaml").unlink()
    store.create_base(root, "third\n", "third\n")
    assert (root / "exam.yaml").read_text(encoding="utf-8") == "third\n"
    assert (root / "study.yaml").read_text(encoding="utf-8") == "study\n"


def test_settings_are_made_where_there_are_none(base: Callable[..., Path]) -> None:
    """Those of the person alone: an absent note is not."""
    root = base()
    (root / "study.yaml").unlink()
    store.edit_file(root, "study.yaml", lambda text: text + "timezone: Europe/London\n")
    store.edit_file(root, "study.yaml", lambda text: text + "# more\n")
    text = (root / "study.yaml").read_text(encoding="utf-8")
    assert text == "timezone: Europe/London\n# more\n"
    with pytest.raises(KBError):
        store.edit_file(root, "cardiology/none.md", lambda text: text + "x")


def test_what_would_not_be_read_again_is_not_logged(session: Callable[..., Session]) -> None:
    """A day before any log began is refused in place of being left out of every report."""
    opened = session()
    with pytest.raises(QueryError, match="1989-12-31 is too long ago"):
        log_answers(opened, [attempt(1, day=date(1989, 12, 31))], title="t", day_only=True)
    assert opened.base.attempts == ()


def test_a_picture_is_read_up_to_twenty_megabytes(base: Callable[..., Path]) -> None:
    """A byte more is not, nor a file outside the base."""
    root = base({"large.png": b"", "larger.png": b"", "../out.png": b"1"})
    for name, size in (("large.png", 20_000_000), ("larger.png", 20_000_001)):
        with (root / name).open("r+b") as stream:
            stream.truncate(size)
    assert len(store.read_attachment(root, "large.png")) == 20_000_000
    for path in ("larger.png", "../out.png"):
        with pytest.raises(NotFoundError):
            store.read_attachment(root, path)


def test_a_score_taken_back_is_no_longer_read(session: Callable[..., Session]) -> None:
    """The other one is."""
    opened = session()
    rows = [
        Score(
            id=f"s{n}",
            at=datetime(2027, 1, n, 12, tzinfo=UTC),
            sitting="p",
            area=AreaId(""),
            right_count=60,
            item_count=100,
            official=True,
        )
        for n in (1, 2)
    ]
    append_scores(opened.root, "test", rows)
    assert [score.id for score in opened.base.scores] == ["s1", "s2"]
    line = format_void(Void(id="v1", at=datetime(2027, 1, 3, tzinfo=UTC), voids="s1"))
    append_record(opened.root, "test", line)
    assert [score.id for score in session().base.scores] == ["s2"]
