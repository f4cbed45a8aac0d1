"""A pipe, device, folder or link in place of a file is named in one line; nothing waits for it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from kb.core.errors import FormatError, KBError, NoBaseError
from kb.formats.attempt_log import HEADER, Void, format_void
from kb.services.session import Session
from kb.services.user_files import read_file
from kb.storage import atomic_files
from kb.storage import pack as packing
from kb.storage.acts import Recorder, acts, began_on
from kb.storage.attempt_store import append_aside, append_record
from kb.storage.pack import MANIFEST, pack, unpack
from kb.storage.scan import scan

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.core.model import Base

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pipes and links as POSIX has them")
AT = datetime(2027, 2, 14, 12, tzinfo=UTC)
LINE = format_void(Void(id="v-1", at=AT, voids="x", remark="slip"))


def in_place(root: Path, path: str, kind: str) -> Path:
    """Put a pipe, a folder or a link out of the base in place of a file; returns the link's end."""
    target, outside = root / path, root.parent / "outside.txt"
    target.parent.mkdir(exist_ok=True)
    target.unlink(missing_ok=True)
    outside.write_text("precious\n", encoding="utf-8")
    if kind == "pipe":
        os.mkfifo(target)
    elif kind == "folder":
        target.mkdir()
    else:
        target.symlink_to(outside)
    return outside


def opened(root: Path) -> Base:
    """The whole base as a command reads it."""
    return Session(root, now=AT, device="x").base


@pytest.mark.parametrize("kind", ["pipe", "folder", "link"])
@pytest.mark.parametrize("path", ["study.yaml", "glossary.yaml"])
def test_settings_that_are_no_file_stop_with_their_name(
    base: Callable[..., Path], path: str, kind: str
) -> None:
    """A link too: a change behind it would not be seen, and the first edit would cut it."""
    root = base({})
    in_place(root, path, kind)
    with pytest.raises(NoBaseError, match=rf"{path}: this is a (device|folder|link), not a file"):
        opened(root)


def test_an_exam_behind_a_link_stops_with_its_name(
    base: Callable[..., Path],
) -> None:
    """A pack of the base would lack it and could not be restored."""
    root = base({})
    (root / "exam.yaml").rename(root.parent / "exam.yaml")
    (root / "exam.yaml").symlink_to(root.parent / "exam.yaml")
    with pytest.raises(NoBaseError, match=r"exam\.yaml: this is a link, not a file"):
        opened(root)


@pytest.mark.parametrize("kind", ["pipe", "folder", "link"])
def test_no_line_is_appended_to_what_is_no_log(base: Callable[..., Path], kind: str) -> None:
    """It is refused at once, and what a link leads to is untouched."""
    root = base({})
    outside = in_place(root, "log/attempts-x.csv", kind)
    with pytest.raises(
        KBError, match=r"log/attempts-x\.csv: .*(not a file|nothing was added|is a)"
    ):
        append_record(root, "x", LINE)
    outside_too = in_place(root, "log/set-aside-sheets-x.txt", kind)
    with pytest.raises(KBError, match=r"log/set-aside-sheets-x\.txt"):
        append_aside(root, "x", "41 what?\n")
    assert outside.read_text(encoding="utf-8") == "precious\n"
    assert outside_too.read_text(encoding="utf-8") == "precious\n"


@pytest.mark.parametrize("kind", ["pipe", "folder", "link"])
def test_a_torn_line_is_not_moved_out_of_the_base(base: Callable[..., Path], kind: str) -> None:
    """It stays where it is, and nothing is added after it."""
    root = base({"log/attempts-x.csv": f"{HEADER}half a li"})
    outside = in_place(root, "log/set-aside-attempts-x.txt", kind)
    before = (root / "log/attempts-x.csv").read_bytes()
    with pytest.raises(KBError, match=r"log/set-aside-attempts-x\.txt: this is a"):
        append_record(root, "x", LINE)
    assert (root / "log/attempts-x.csv").read_bytes() == before
    assert outside.read_text(encoding="utf-8") == "precious\n"


@pytest.mark.parametrize("kind", ["pipe", "folder", "link"])
def test_acts_are_not_kept_outside_the_base(base: Callable[..., Path], kind: str) -> None:
    """The act itself is done all the same, as on a disk that refuses."""
    root = base({})
    outside = in_place(root, "log/acts-x.jsonl", kind)
    recorder = Recorder(root, "x", AT).start()
    try:
        append_record(root, "x", LINE)
    finally:
        recorder.stop()
    assert (root / "log/attempts-x.csv").read_text(encoding="utf-8").endswith(LINE.strip() + "\n")
    assert outside.read_text(encoding="utf-8") == "precious\n"
    assert began_on(root, scan(root)) is None
    if kind != "link":
        with pytest.raises(NoBaseError, match="not a file"):
            acts(root, "x")


def test_a_note_is_not_written_over_a_pipe(base: Callable[..., Path]) -> None:
    """While acts are watched, its old content would be read first."""
    root = base({})
    in_place(root, "cardiology/x.md", "pipe")
    with pytest.raises(KBError, match="this is a device, not a file"):
        atomic_files.replace_file(root / "cardiology/x.md", b"text", shown="x.md")


def test_a_note_behind_a_link_is_said_not_to_be_read(
    base: Callable[..., Path],
) -> None:
    """A folder of notes, one note, and a pipe."""
    root = base({"cardiology/a.md": "---\narea: cardiology\n---\nText.\n"})
    in_place(root, "cardiology/linked.md", "link")
    in_place(root, "cardiology/pipe.md", "pipe")
    (root / "shelf").symlink_to(root.parent)
    found = [p.place.path for p in opened(root).problems if p.code == "link"]
    assert found == ["cardiology/linked.md", "cardiology/pipe.md", "shelf"]


@pytest.mark.parametrize("path", ["shelf.md", "study.yaml"])
def test_a_pack_that_would_lack_what_a_link_leads_to_is_not_made(
    base: Callable[..., Path], tmp_path: Path, path: str
) -> None:
    """The link is named; a pack that lacks a note in silence would be found out too late."""
    root = base({})
    in_place(root, path, "link")
    with pytest.raises(KBError, match=rf"{path} is a link; nothing was packed"):
        pack(root, tmp_path / "p.zip", AT)
    assert not (tmp_path / "p.zip").exists()


def test_a_pack_is_not_read_from_a_pipe_or_device(tmp_path: Path) -> None:
    """A device may never end."""
    os.mkfifo(tmp_path / "p.zip")
    for source in (tmp_path / "p.zip", Path("/dev/zero"), tmp_path):
        with pytest.raises(NoBaseError, match=r"this is a (device|folder), not a file"):
            unpack(source, tmp_path / "new")


def test_a_list_of_too_many_files_is_not_taken_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A small zip can hold a list of millions: it is refused by its commas."""
    with zipfile.ZipFile(tmp_path / "p.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(MANIFEST, b'{"schema": 1, "files": [' + b"{}," * 2_000_000 + b"{}]}")
    monkeypatch.setattr(json, "loads", lambda _: pytest.fail("it was taken apart"))
    with pytest.raises(FormatError, match=f"more than {packing.MOST_FILES} files"):
        unpack(tmp_path / "p.zip", tmp_path / "new")


def test_what_another_command_prints_can_be_read(tmp_path: Path) -> None:
    """A shell hands it over as a pipe."""
    os.mkfifo(tmp_path / "pipe")
    write = f"open({str(tmp_path / 'pipe')!r}, 'w').write('14 Jan north\\n41 x\\n')"
    with subprocess.Popen([sys.executable, "-c", write]):
        assert read_file(tmp_path / "pipe") == b"14 Jan north\n41 x\n"
