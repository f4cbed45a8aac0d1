"""What an act keeps of each write, and that undoing it brings back exactly what was there."""

from __future__ import annotations

import json
import os
import re
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from kb.core.errors import ConflictError, NotFoundError
from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Dismissal, Drawn, Reading, Renamed, Score
from kb.formats.attempt_log import Void, format_dismissal, format_void, parse_log
from kb.formats.side_logs import DRAWS, READINGS, RENAMES, SCORES
from kb.storage import acts, atomic_files
from kb.storage.acts import Act, FileChange, Recorder
from kb.storage.attempt_store import append_attempts
from kb.storage.scan import scan

if TYPE_CHECKING:
    from pathlib import Path

AT = datetime(2027, 2, 14, 12, tzinfo=UTC)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A base with one note and no log yet."""
    (tmp_path / "log").mkdir()
    (tmp_path / "a.md").write_bytes(b"one\ntwo\nthree\n")
    return tmp_path


def change(root: Path, name: str, raw: bytes, at: datetime = AT, *, title: str = "") -> Act:
    """One act that writes one file."""
    recorder = Recorder(root, "here", at, title=title).start()
    atomic_files.replace_file(root / name, raw, shown=name)
    act = recorder.stop()
    assert act is not None
    return act


def answer(number: int, outcome: str = "wrong") -> Attempt:
    """A draft of one answer."""
    return Attempt(
        id=AttemptId(f"id{number}"),
        at=AT,
        question=QuestionId(f"north:{number}"),
        outcome=outcome,  # type: ignore[arg-type]
        batch="b-0123456789",
    )


@pytest.mark.parametrize(("before", "known"), [(0, True), (48, True), (49, False)])
def test_a_log_was_begun_on_the_day_of_the_act_that_wrote_its_first_answer(
    root: Path, before: int, known: bool
) -> None:
    """Whatever day that answer is of; it is looked for among the first 49 acts alone."""
    for number in range(before):
        change(root, "a.md", f"{number}".encode())
    recorder = Recorder(root, "here", AT).start()
    append_attempts(root, "here", (answer(1), answer(2)))
    recorder.stop()
    day = acts.began_on(root, scan(root))
    assert day == (AT.date() if known else None)
    (root / "log" / "attempts-there.csv").write_bytes((root / "log/attempts-here.csv").read_bytes())
    assert acts.began_on(root, scan(root)) is None


def test_a_log_begun_before_its_acts_has_no_known_day(root: Path) -> None:
    """Its first answer is none of those that an act wrote."""
    append_attempts(root, "here", (answer(1),))
    recorder = Recorder(root, "here", AT).start()
    append_attempts(root, "here", (answer(2),))
    recorder.stop()
    assert acts.began_on(root, scan(root)) is None


def test_the_earliest_of_two_logs_counts(root: Path) -> None:
    """Each device has its own acts."""
    for device, day in (("here", 14), ("there", 9)):
        recorder = Recorder(root, device, AT.replace(day=day)).start()
        append_attempts(root, device, (answer(day),))
        recorder.stop()
    assert acts.began_on(root, scan(root)) == AT.replace(day=9).date()
    assert acts.began_on(root, ()) is None


def kept(root: Path, **cells: object) -> None:
    """An act as a synchronised folder may bring it, in the name of this device."""
    usual: dict[str, object] = {"id": "a-1", "at": "2027-01-14", "told": "x", "lines": []}
    files = [{"path": "a.md", "start": 0, "old": "o", "new": "", "before": "b", "after": ""}]
    record = {**usual, "undoes": "", "files": files, **cells}
    text = '{"acts": 1}\n' + json.dumps(record) + "\n"
    (root / "log" / "acts-here.jsonl").write_text(text, encoding="utf-8")


@pytest.mark.parametrize(
    "path",
    ["../out", "/tmp/out", "a/../../out", ".hidden", "a/.ssh/x", "c:/x", "a\\x", "", "a//b", "./a"],
)
def test_an_act_on_a_file_outside_the_base_is_none_of_ours(root: Path, path: str) -> None:
    """Undoing it would write wherever the record says."""
    change = {"path": path, "start": 0, "old": "evil", "new": "", "before": "b", "after": ""}
    kept(root, files=[change])
    assert acts.acts(root, "here") == ()
    inside = {**change, "path": "a/b.md"}
    for files in ([inside, change], [change, inside]):
        kept(root, files=files)
        assert acts.acts(root, "here") == ()
    kept(root, files=[inside])
    assert len(acts.acts(root, "here")) == 1


@pytest.mark.parametrize(
    "cells",
    [
        {"at": 5},
        {"told": None},
        {"id": 7},
        {"undoes": []},
        {"lines": [1]},
        {"files": [{"path": 5, "start": 0, "old": "", "new": "", "before": "", "after": ""}]},
        {"files": [{"path": "a", "start": "0", "old": "", "new": "", "before": "", "after": ""}]},
        {"files": [{"path": "a"}]},
        {"files": 5},
    ],
)
def test_a_record_of_another_kind_is_left_out(root: Path, cells: dict[str, object]) -> None:
    """It stops nothing, and neither do a hundred thousand brackets."""
    kept(root, **cells)
    with (root / "log" / "acts-here.jsonl").open("a", encoding="utf-8") as stream:
        stream.write("[" * 100_000 + "\n")
    assert acts.acts(root, "here") == ()


def test_who_a_patient_is_stays_in_no_record(root: Path) -> None:
    """Neither where it was written nor where it was taken out again; other acts can be undone."""
    whole = "Mr Smith, 943 476 5870, was dehydrated.\n"
    made = change(root, "new.md", whole.encode(), AT)
    named = change(root, "a.md", whole.encode(), AT.replace(hour=13))
    clean = change(root, "a.md", b"He was dehydrated.\n", AT.replace(hour=14))
    after = change(root, "a.md", b"She was dehydrated.\n", AT.replace(hour=15))
    text = (root / "log" / "acts-here.jsonl").read_text(encoding="utf-8")
    assert not [word for word in ("Smith", "943", "476") if word in text]
    acts.undo(root, "here", after, AT)
    assert (root / "a.md").read_bytes() == b"He was dehydrated.\n"
    with pytest.raises(ConflictError, match="may identify a patient; nothing was undone"):
        acts.undo(root, "here", clean, AT)
    assert (root / "a.md").read_bytes() == b"He was dehydrated.\n"
    acts.undo(root, "here", made, AT)
    assert not (root / "new.md").exists()
    assert named.files[0].new == ""


@pytest.mark.skipif(os.name != "posix", reason="links need a right of their own on Windows")
def test_undo_writes_through_no_link(root: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Neither to a file nor into a folder elsewhere."""
    outside = tmp_path_factory.mktemp("outside")
    (root / "far").symlink_to(outside, target_is_directory=True)
    whole = atomic_files.digest(b"evil")
    change = {
        "path": "far/x.md",
        "start": 0,
        "old": "evil",
        "new": "",
        "before": whole,
        "after": "",
    }
    kept(root, files=[change])
    (act,) = acts.acts(root, "here")
    with pytest.raises(ConflictError, match="a link is in the way"):
        acts.undo(root, "here", act, AT)
    assert list(outside.iterdir()) == []


@pytest.mark.parametrize(
    ("new", "start", "old_part", "new_part"),
    [
        (b"one\nTWO\nthree\n", 4, "two", "TWO"),
        (b"one\ntwo\nthree\nfour\n", 14, "", "four\n"),
        (b"one\nthree\n", 5, "wo\nt", ""),
        (b"", 0, "one\ntwo\nthree\n", ""),
        (b"zero\none\ntwo\nthree\n", 0, "", "zero\n"),
    ],
)
def test_an_act_keeps_the_part_that_differs(
    root: Path, new: bytes, start: int, old_part: str, new_part: str
) -> None:
    """Between the equal beginning and the equal end; worked by hand."""
    (kept,) = change(root, "a.md", new).files
    assert (kept.start, kept.old, kept.new) == (start, old_part, new_part)
    assert kept.before == atomic_files.digest(b"one\ntwo\nthree\n")
    assert kept.after == atomic_files.digest(new)


@pytest.mark.parametrize("new", [b"one\nTWO\nthree\n", b"", b"\xff\xfe odd", b"x" * 5000])
def test_undoing_brings_back_every_byte_and_undoing_that_does_it_again(
    root: Path, new: bytes
) -> None:
    """Whatever the bytes are."""
    change(root, "a.md", new)
    first = acts.find(root, "here", "")
    back = acts.undo(root, "here", first, AT)
    assert (root / "a.md").read_bytes() == b"one\ntwo\nthree\n"
    assert (back.undoes, back.told) == (first.id, "undone: a.md changed")
    again = acts.undo(root, "here", acts.find(root, "here", ""), AT)
    assert (root / "a.md").read_bytes() == new
    assert again.told == "redone: a.md changed"
    third = acts.undo(root, "here", acts.find(root, "here", ""), AT)
    assert third.told == "undone: a.md changed"


def test_a_written_file_is_removed_and_a_removed_one_written(root: Path) -> None:
    """The act says which of the two it was."""
    act = change(root, "b.md", b"new\n")
    assert (act.told, act.files[0].before) == ("b.md written", "")
    acts.undo(root, "here", act, AT)
    assert not (root / "b.md").exists()
    recorder = Recorder(root, "here", AT).start()
    shown = atomic_files.digest((root / "a.md").read_bytes())
    atomic_files.remove_file(root / "a.md", shown="a.md", expected=shown)
    gone = recorder.stop()
    assert gone is not None
    assert (gone.told, gone.files[0].after) == ("a.md removed", "")
    acts.undo(root, "here", gone, AT)
    assert (root / "a.md").read_bytes() == b"one\ntwo\nthree\n"


def test_a_file_changed_since_is_left_alone(root: Path) -> None:
    """Nothing is written, not even the other file of the act."""
    recorder = Recorder(root, "here", AT).start()
    for name in ("a.md", "b.md"):
        atomic_files.replace_file(root / name, b"by the act\n", shown=name)
    act = recorder.stop()
    assert act is not None
    (root / "b.md").write_bytes(b"typed later\n")
    with pytest.raises(ConflictError, match="the file changed since"):
        acts.undo(root, "here", act, AT)
    assert (root / "a.md").read_bytes() == b"by the act\n"
    assert (root / "b.md").read_bytes() == b"typed later\n"


def test_a_damaged_record_restores_nothing(root: Path) -> None:
    """The digest of what would come back has to fit."""
    act = change(root, "a.md", b"one\nTWO\nthree\n")
    (kept,) = act.files
    wrong = FileChange(
        path=kept.path,
        start=kept.start,
        old="2",
        new=kept.new,
        before=kept.before,
        after=kept.after,
    )
    damaged = Act(id=act.id, at=act.at, told=act.told, files=(wrong,))
    with pytest.raises(ConflictError, match="the record of this act is damaged"):
        acts.undo(root, "here", damaged, AT)


def test_an_act_is_undone_once(root: Path) -> None:
    """Bringing it back makes it undoable again."""
    act = change(root, "a.md", b"new\n")
    back = acts.undo(root, "here", act, AT)
    with pytest.raises(NotFoundError, match=f"{act.id} is undone already"):
        acts.undo(root, "here", act, AT)
    acts.undo(root, "here", back, AT)
    acts.undo(root, "here", act, AT)
    assert (root / "a.md").read_bytes() == b"one\ntwo\nthree\n"


def test_the_lines_of_a_log_are_taken_back_by_voids(root: Path) -> None:
    """The log only grows: a void for each line, and voids of those to bring them back."""
    recorder = Recorder(root, "here", AT).start()
    append_attempts(root, "here", (answer(1), answer(2)))
    act = recorder.stop()
    assert act is not None
    assert (act.lines, act.told) == (("id1", "id2"), "2 answers logged")
    before = (root / "log/attempts-here.csv").read_bytes()
    back = acts.undo(root, "here", act, AT)
    after = (root / "log/attempts-here.csv").read_bytes()
    assert after.startswith(before)
    voids = parse_log(after, "x").voids
    assert [(void.voids, void.remark) for void in voids] == [
        ("id1", f"undo {act.id}"),
        ("id2", f"undo {act.id}"),
    ]
    acts.undo(root, "here", back, AT)
    again = parse_log((root / "log/attempts-here.csv").read_bytes(), "x").voids[2:]
    assert [void.voids for void in again] == [void.id for void in voids]


def test_one_answer_is_named(root: Path) -> None:
    """A list of acts is read by a person."""
    recorder = Recorder(root, "here", AT).start()
    append_attempts(root, "here", (answer(7),))
    act = recorder.stop()
    assert act is not None
    assert act.told == "north:7 logged"


def test_nothing_done_is_no_act(root: Path) -> None:
    """Nor is a file written with what it held, or one outside the base or hidden."""
    recorder = Recorder(root, "here", AT).start()
    atomic_files.replace_file(root / "a.md", b"one\ntwo\nthree\n", shown="a.md")
    atomic_files.replace_file(root / ".hidden", b"x", shown=".hidden")
    atomic_files.replace_file(root.parent / "outside.txt", b"x", shown="outside.txt")
    assert recorder.stop() is None
    assert acts.acts(root, "here") == ()
    with pytest.raises(NotFoundError, match="nothing was done on this device yet"):
        acts.find(root, "here", "")


def test_acts_are_listed_from_the_latest_each_by_its_device(root: Path) -> None:
    """A line that cannot be read, and a torn one, are passed over."""
    first = change(root, "a.md", b"1\n")
    second = change(root, "a.md", b"2\n", title="a title of its own")
    assert [act.id for act in acts.acts(root, "here")] == [second.id, first.id]
    assert second.told == "a title of its own"
    assert acts.acts(root, "phone") == ()
    path = root / "log/acts-here.jsonl"
    assert json.loads(path.read_bytes().splitlines()[0]) == {"acts": 1}
    with path.open("ab") as stream:
        stream.write(b"not JSON\n" + path.read_bytes().splitlines()[1][:40])
    assert [act.id for act in acts.acts(root, "here")] == [second.id, first.id]
    assert acts.find(root, "here", first.id) == first
    assert acts.find(root, "here", "") == second
    with pytest.raises(NotFoundError, match="this device has no act 'a-none'"):
        acts.find(root, "here", "a-none")


def test_two_writes_of_one_file_are_one_change(root: Path) -> None:
    """From what it held before the act to what it holds at its end."""
    recorder = Recorder(root, "here", AT).start()
    for raw in (b"first\n", b"second\n"):
        atomic_files.replace_file(root / "a.md", raw, shown="a.md")
    act = recorder.stop()
    assert act is not None
    (kept,) = act.files
    assert (kept.old, kept.new) == ("one\ntwo\nthree", "second")


VOID = Void(id="v1", at=AT, voids="id1")
DISMISSALS = [
    Dismissal(id=own, at=AT, question=QuestionId(f"north:{n}"), reason="nothing")
    for own, n in (("x1", 5), ("x2", 6))
]
READING = Reading(id="r1", at=AT, note=NoteId("a"), seconds=60)
DRAWN = [
    Drawn(
        at=AT, draw="d-1", round="second", seed="s", position=n, question=QuestionId(f"north:{n}")
    )
    for n in (1, 2)
]
SCORE = Score(id="s1", at=AT, sitting="p", area=AreaId(""), right_count=1, item_count=2)
RENAMED = Renamed(id="n1", at=AT, kind="concept", old="gout", new="urate arthritis")
RENUMBERED = Renamed(id="n2", at=AT, kind="item", old="north:1", new="north:2")


@pytest.mark.parametrize(
    ("name", "text", "told", "lines"),
    [
        ("attempts", format_void(VOID), "1 line of the log taken back", ("v1",)),
        ("attempts", format_dismissal(DISMISSALS[0]), "north:5 dismissed", ("x1",)),
        (
            "attempts",
            format_dismissal(DISMISSALS[0]) + format_dismissal(DISMISSALS[1]),
            "2 misses dismissed",
            ("x1", "x2"),
        ),
        ("readings", READINGS.format(READING), "1 note read", ("r1",)),
        ("draws", DRAWS.format(*DRAWN), "questions drawn", ("d-1",)),
        ("scores", SCORES.format(SCORE), "scores of a paper logged", ("s1",)),
        ("renames", RENAMES.format(RENAMED), "concept gout renamed to urate arthritis", ("n1",)),
        ("renames", RENAMES.format(RENUMBERED), "questions renumbered", ("n2",)),
    ],
)
def test_what_is_added_to_a_log_is_told_in_words(
    root: Path, name: str, text: str, told: str, lines: tuple[str, ...]
) -> None:
    """Each line by the id with which it can be taken back."""
    recorder = Recorder(root, "here", AT).start()
    path = root / "log" / f"{name}-here.csv"
    atomic_files.append_lines(path, text, header="head\r\n", shown="log")
    act = recorder.stop()
    assert act is not None
    assert (act.told, act.lines) == (told, lines)


@pytest.mark.parametrize(
    ("count", "told"),
    [(4, "0.md written; 1.md written; 2.md written; 3.md written"), (5, "5 files changed")],
)
def test_many_files_are_counted(root: Path, count: int, told: str) -> None:
    """More than four names would fill the line."""
    recorder = Recorder(root, "here", AT).start()
    for number in range(count):
        atomic_files.replace_file(root / f"{number}.md", b"x", shown="x")
    act = recorder.stop()
    assert act is not None
    assert act.told == told


@pytest.mark.parametrize("name", ["undone.md", "redone.md"])
def test_the_name_of_a_file_is_not_taken_for_what_was_done(root: Path, name: str) -> None:
    """Undone, redone and undone again, whatever the file is called."""
    act = change(root, name, b"new\n")
    back = acts.undo(root, "here", act, AT)
    again = acts.undo(root, "here", back, AT)
    third = acts.undo(root, "here", again, AT)
    told = [one.told for one in (act, back, again, third)]
    assert told == [f"{word}{name} written" for word in ("", "undone: ", "redone: ", "undone: ")]


def test_what_is_derived_and_what_comes_after_is_no_part_of_an_act(root: Path) -> None:
    """Hidden folders, and writes after the end."""
    recorder = Recorder(root, "here", AT).start()
    atomic_files.replace_file(root / ".missbook" / "index", b"x", shown="index")
    assert recorder.stop() is None
    assert atomic_files.WATCHER.get() is None


def test_only_the_latest_thousand_acts_are_read(root: Path) -> None:
    """Latest first; each is called by eight digits of its digest."""
    act = change(root, "a.md", b"new\n")
    assert re.fullmatch(r"a-[0-9a-f]{8}", act.id)
    path = root / "log" / "acts-here.jsonl"
    header, line = path.read_text(encoding="utf-8").splitlines()
    lines = [line.replace(act.id, f"a-{number:08}") for number in range(1001)]
    path.write_text("\n".join([header, *lines, ""]), encoding="utf-8")
    found = acts.acts(root, "here")
    assert (len(found), found[0].id, found[-1].id) == (1000, "a-00001000", "a-00000001")
