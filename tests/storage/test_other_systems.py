"""What other systems do differently, simulated: names, open files, line ends, capitals.

Windows keeps some names for devices, replaces no file that a program has open, cannot sync a
folder, and takes A.md for a.md (Microsoft, Naming files, paths, and namespaces).
"""

from __future__ import annotations

import errno
import os
import re
from datetime import UTC, datetime
from pathlib import Path, PureWindowsPath
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.errors import KBError
from kb.core.ids import QuestionId
from kb.formats.note import slug
from kb.services.note_editing import add_note, blank_note
from kb.services.which_base import device_name
from kb.storage import atomic_files
from kb.storage.derived_store import FILE, DerivedStore
from kb.storage.pack import pack, unpack

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from kb.services.session import Session

NOW = datetime(2027, 2, 14, 12, tzinfo=UTC)
OLD, NEW = b"old\n", b"new text\n"
RESERVED = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9])(?:\..*)?", re.I)


class OtherSystem:
    """`os` of a system that is not POSIX; a call that needs one fails."""

    name = "nt"

    def __getattr__(self, name: str) -> Any:
        assert name not in {"O_RDONLY", "geteuid", "fork"}, name
        return getattr(os, name)


def fits_windows(name: str) -> bool:
    """Whether a file may be called so."""
    plain = not set(name) & set('<>:"/\\|?*') and name.isprintable() and name == name.strip(" .")
    return plain and not RESERVED.fullmatch(name) and PureWindowsPath(name).name == name != ""


@given(st.text() | st.sampled_from(["con", "NUL", "aux.", "COM1 ", "lpt9: x", "a. ", "..", "C:x"]))
def test_a_note_of_any_title_has_a_name_for_every_system(title: str) -> None:
    """Also with a number behind it."""
    assert fits_windows(f"{slug(title)}.md")
    assert fits_windows(f"{slug(title)}-2.md")


@given(st.text())
def test_logs_of_any_device_have_names_for_every_system(device: str) -> None:
    """As those who name their computers like it."""
    name = device_name({"MISSBOOK_DEVICE": device})
    assert fits_windows(f"attempts-{name}.csv")


def test_a_file_is_replaced_and_added_to_without_syncing_a_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the system has no such call."""
    monkeypatch.setattr(atomic_files, "os", OtherSystem())
    path = tmp_path / "log" / "attempts-a.csv"
    atomic_files.append_lines(path, "1\r\n", header="id\r\n", shown="log")
    atomic_files.append_lines(path, "2\r\n", header="id\r\n", shown="log")
    assert path.read_bytes() == b"id\r\n1\r\n2\r\n"
    digest = atomic_files.digest(path.read_bytes())
    atomic_files.replace_file(path, NEW, shown="x", expected=digest)
    assert path.read_bytes() == NEW
    atomic_files.remove_file(path, shown="x", expected=atomic_files.digest(NEW))
    assert list(path.parent.iterdir()) == []


@pytest.mark.parametrize("number", [5, 32, 33])
def test_a_file_that_a_program_has_open_stays_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """Access denied, a sharing violation, a locked part: the person is told to close it."""
    path = tmp_path / "note.md"
    path.write_bytes(OLD)

    def refuse(*_: object) -> None:
        error = PermissionError(errno.EACCES, "Access is denied")
        error.winerror = number  # type: ignore[attr-defined]
        raise error

    with monkeypatch.context() as patch:
        patch.setattr(atomic_files.Path, "replace", refuse)
        patch.setattr(atomic_files.Path, "unlink", lambda *_, **__: refuse())
        with pytest.raises(KBError, match="access is denied") as caught:
            atomic_files.replace_file(path, NEW, shown="note.md")
        assert caught.value.hint.startswith("close it in other programs")
        with pytest.raises(KBError, match="cannot be removed: access is denied"):
            atomic_files.remove_file(path, shown="note.md", expected=atomic_files.digest(OLD))
    assert path.read_bytes() == OLD


def test_damaged_derived_data_that_a_program_has_open_is_made_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It cannot be deleted; a temporary file takes its place."""
    (tmp_path / FILE).write_bytes(b"no database" * 500)
    store = DerivedStore(tmp_path)

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Access is denied")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "unlink", refuse)
        assert store.run(lambda db: db.execute("SELECT count(*) FROM note").fetchone()) == (0,)
    assert store.folder != tmp_path


def test_a_note_never_takes_a_name_that_differs_in_capitals_only(
    session: Callable[..., Session],
) -> None:
    """On a system that does not keep them apart, it would replace the other."""
    start = session({"cardiology/Heat.md": "---\ntitle: Heat\n---\nMine.\n"})
    note = add_note(start, blank_note("Heat", "cardiology", (), (QuestionId("north:1"),), "x"), "T")
    assert note.path == "cardiology/heat-2.md"


def test_a_pack_is_not_made_of_files_that_another_system_takes_for_one(
    base: Callable[..., Path], tmp_path: Path
) -> None:
    """It could not be unpacked again."""
    root = base({"a/heat.md": "1", "a/Heat.md": "2"})
    if len(list((root / "a").iterdir())) < 2:
        pytest.skip("this system does not keep them apart")
    with pytest.raises(KBError, match=r"a/Heat\.md and a/heat\.md differ in capitals only"):
        pack(root, tmp_path / "p.zip", NOW)
    assert not (tmp_path / "p.zip").exists()


FILES: Mapping[str, str] = {
    "exam.yaml": "exam: E\ndate: 2027-05-11\nblueprint:\n- {area: cardiology, items: 200}\n",
    "study.yaml": "sources:\n- source: north\n  areas: {1-9: cardiology}\n",
    "glossary.yaml": "HT: [heat]\n",
    "cardiology/heat.md": "---\nquestions:\n- north:1\n---\n# Heat\n\nOne [two](cold.md).\n",
    "cardiology/cold.md": "Cold.\n",
    "log/attempts-a.csv": "id,at,question,outcome\na,2027-01-14T19:42:00+00:00,north:1,wrong\n",
    "log/readings-a.csv": "id,at,note,seconds\nr,2027-01-15T19:42:00+00:00,heat,60\n",
}


def test_a_base_saved_with_the_line_ends_of_windows_means_the_same(
    session: Callable[..., Session],
) -> None:
    """Settings, notes and logs."""

    def read(line_end: str) -> tuple[object, ...]:
        own = session({path: text.replace("\n", line_end) for path, text in FILES.items()}).base
        notes = [(n.id, n.title, n.areas, n.questions, n.headings, n.links) for n in own.notes]
        return own.exam, own.study, own.attempts, own.readings, own.glossary, own.problems, notes

    assert read("\r\n") == read("\n")


def test_a_pack_is_restored_where_no_folder_can_take_the_place_of_another(
    base: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Windows renames to a name that is free only, so the empty folder goes first."""
    pack(base(), tmp_path / "p.zip", datetime(2027, 2, 14, tzinfo=UTC))
    (tmp_path / "new").mkdir()
    rename = Path.rename

    def to_a_free_name(self: Path, target: Path) -> Path:
        if target.exists():
            raise FileExistsError(errno.EEXIST, "Cannot create a file that already exists")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", to_a_free_name)
    unpack(tmp_path / "p.zip", tmp_path / "new")
    assert (tmp_path / "new" / "exam.yaml").is_file()
