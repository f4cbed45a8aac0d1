"""A pack brings the whole base back, byte for byte, or nothing at all."""

from __future__ import annotations

import json
import os
import zipfile
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.core.errors import ConflictError, FormatError, KBError
from kb.storage import pack as packing
from kb.storage.pack import MANIFEST, pack, unpack

if TYPE_CHECKING:
    from collections.abc import Callable

MADE = datetime(2027, 2, 14, 12, tzinfo=UTC)
FILES: dict[str, str | bytes] = {
    "nephrology/aki.md": "---\r\narea: nephrology\r\n---\r\nCRLF and \u00e9\r\n",
    "log/attempts-phone.csv": "id,at,question,outcome\r\n",
    "pictures/ecg.png": b"\x89PNG\0\xff",
    ".missbook/catalogue": "derived",
}


def contents(root: Path) -> dict[str, bytes]:
    """Every file that is not hidden."""
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in sorted(root.rglob("*"))
        if path.is_file() and not any(p.startswith(".") for p in path.relative_to(root).parts)
    }


def test_everything_comes_back(base: Callable[..., Path], tmp_path: Path) -> None:
    """Bytes and file times are the same; what is derived stays out."""
    root = base(FILES)
    packed = pack(root, tmp_path / "p.zip", MADE)
    unpack(tmp_path / "p.zip", tmp_path / "new")
    assert contents(tmp_path / "new") == contents(root)
    assert packed.file_count == len(contents(root)) == 5
    assert not (tmp_path / "new" / ".missbook").exists()
    one = "nephrology/aki.md"
    assert (tmp_path / "new" / one).stat().st_mtime_ns == (root / one).stat().st_mtime_ns


@pytest.mark.skipif(os.name != "posix", reason="other systems cannot write out all files at once")
def test_all_is_on_the_disk_before_a_base_is_there(
    base: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every file is written out before the new folder gets its name."""
    root, target = base(), tmp_path / "restored"
    pack(root, tmp_path / "b.zip", MADE)
    there: list[bool] = []
    monkeypatch.setattr(os, "sync", lambda: there.append(target.exists()))
    unpack(tmp_path / "b.zip", target)
    assert there == [False]
    assert target.exists()


def test_a_pack_is_restored_into_folders_that_are_not_there_yet(
    base: Callable[..., Path], tmp_path: Path
) -> None:
    """All of them are made."""
    root = base(FILES)
    pack(root, tmp_path / "p.zip", MADE)
    unpack(tmp_path / "p.zip", tmp_path / "new" / "deeper" / "base")
    assert contents(tmp_path / "new" / "deeper" / "base") == contents(root)


@pytest.mark.parametrize(("number", "said"), [(13, "permission denied"), (None, "odd trouble")])
def test_a_disk_that_refuses_says_why(
    base: Callable[..., Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    number: int | None,
    said: str,
) -> None:
    """In the words of the system, or of the error where it has none; nothing is left behind."""
    pack(base(FILES), tmp_path / "p.zip", MADE)
    error = OSError(number, "Permission denied") if number else OSError("Odd trouble")

    def refuse(*_: object) -> None:
        raise error

    with monkeypatch.context() as patch:
        patch.setattr(Path, "rename", refuse)
        with pytest.raises(KBError, match=f"cannot be written: {said}"):
            unpack(tmp_path / "p.zip", tmp_path / "new")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["base", "p.zip"]


def test_an_empty_folder_is_taken(base: Callable[..., Path], tmp_path: Path) -> None:
    """A folder made beforehand will do."""
    root = base(FILES)
    pack(root, tmp_path / "p.zip", MADE)
    (tmp_path / "new").mkdir()
    unpack(tmp_path / "p.zip", tmp_path / "new")
    assert contents(tmp_path / "new") == contents(root)


def test_a_full_folder_is_refused(base: Callable[..., Path], tmp_path: Path) -> None:
    """Nothing is mixed into files that are there."""
    root = base(FILES)
    pack(root, tmp_path / "p.zip", MADE)
    before = contents(root)
    with pytest.raises(ConflictError, match="not empty"):
        unpack(tmp_path / "p.zip", root)
    assert contents(root) == before


def test_a_pack_is_not_replaced_unasked(base: Callable[..., Path], tmp_path: Path) -> None:
    """An older pack stays unless --replace says otherwise."""
    root = base(FILES)
    (tmp_path / "p.zip").write_bytes(b"older")
    with pytest.raises(ConflictError):
        pack(root, tmp_path / "p.zip", MADE)
    assert (tmp_path / "p.zip").read_bytes() == b"older"
    pack(root, tmp_path / "p.zip", MADE, replace=True)
    assert zipfile.is_zipfile(tmp_path / "p.zip")


def test_a_pack_inside_the_base_is_refused(base: Callable[..., Path]) -> None:
    """It would be lost with the base, and packed into the next one."""
    root = base(FILES)
    with pytest.raises(KBError, match="inside the base"):
        pack(root, root / "p.zip", MADE)


def rewritten(path: Path, change: Callable[[str, bytes], bytes]) -> None:
    """Write a zip again with the contents of its members changed."""
    with zipfile.ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w") as archive:
        for name, raw in members.items():
            archive.writestr(name, change(name, raw))


def test_a_file_that_was_changed_is_refused(base: Callable[..., Path], tmp_path: Path) -> None:
    """A wrong digest names the file, and no folder is made."""
    pack(base(FILES), tmp_path / "p.zip", MADE)
    rewritten(tmp_path / "p.zip", lambda name, raw: raw + b"x" if name.endswith("aki.md") else raw)
    with pytest.raises(FormatError, match=r"aki\.md' is not what was packed"):
        unpack(tmp_path / "p.zip", tmp_path / "new")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["base", "p.zip"]


def test_a_pack_cut_short_is_refused(base: Callable[..., Path], tmp_path: Path) -> None:
    """Wherever a download broke off, nothing is restored."""
    pack(base(FILES), tmp_path / "p.zip", MADE)
    raw = (tmp_path / "p.zip").read_bytes()
    for length in range(0, len(raw), 97):
        (tmp_path / "p.zip").write_bytes(raw[:length])
        with pytest.raises(FormatError):
            unpack(tmp_path / "p.zip", tmp_path / "new")
        assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("number", range(0, 400, 7))
def test_a_flipped_bit_never_restores_a_false_file(
    base: Callable[..., Path], tmp_path: Path, number: int
) -> None:
    """A damaged pack is refused, or the damage lies where no file has it."""
    root = base(FILES)
    pack(root, tmp_path / "p.zip", MADE)
    raw = bytearray((tmp_path / "p.zip").read_bytes())
    raw[number * len(raw) // 400] ^= 0x10
    (tmp_path / "p.zip").write_bytes(bytes(raw))
    try:
        unpack(tmp_path / "p.zip", tmp_path / "new")
    except KBError:
        assert not (tmp_path / "new").exists()
    else:
        restored, wanted = contents(tmp_path / "new"), contents(root)
        assert sorted(restored.values()) == sorted(wanted.values())


@pytest.mark.parametrize("path", ["../evil.md", "/evil.md", "a/../../evil.md", "C:evil", "a\\b"])
def test_no_path_leads_out_of_the_folder(
    base: Callable[..., Path], tmp_path: Path, path: str
) -> None:
    """A pack from elsewhere cannot write beside the base."""
    pack(base(FILES), tmp_path / "p.zip", MADE)

    def change(name: str, raw: bytes) -> bytes:
        if name != MANIFEST:
            return raw
        content = json.loads(raw)
        content["files"][0]["path"] = path
        return json.dumps(content).encode()

    rewritten(tmp_path / "p.zip", change)
    with pytest.raises(FormatError, match="outside the base"):
        unpack(tmp_path / "p.zip", tmp_path / "new")
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("path", ".git/hooks/post-commit", "hidden"),
        ("path", "a/.x.md", "hidden"),
        ("path", MANIFEST, "hidden"),
        ("path", "a\0b", "outside the base"),
        ("path", "a" * 5000, "outside the base"),
        ("path", "EXAM.yaml", "twice"),
        ("bytes", -1, "size"),
        ("bytes", 10**30, "size"),
        ("bytes", "many", "not a pack"),
        ("sha256", "../../x", "digest"),
        ("mtime_ns", 10**40, "time"),
        ("mtime_ns", -1, "time"),
        ("mtime_ns", 1e400, "time"),
        ("path", 7, "not a pack"),
    ],
)
def test_only_what_pack_writes_is_restored(
    base: Callable[..., Path], tmp_path: Path, key: str, value: object, said: str
) -> None:
    """Hidden files, and numbers that no file has, are refused in one line."""
    pack(base(FILES), tmp_path / "p.zip", MADE)

    def change(name: str, raw: bytes) -> bytes:
        if name != MANIFEST:
            return raw
        content = json.loads(raw)
        row = next(row for row in content["files"] if row["path"] == "pictures/ecg.png")
        row[key] = value
        return json.dumps(content).encode()

    rewritten(tmp_path / "p.zip", change)
    with pytest.raises(FormatError, match=said):
        unpack(tmp_path / "p.zip", tmp_path / "new")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["base", "p.zip"]


def test_files_that_the_list_does_not_name_stay_in_the_zip(
    base: Callable[..., Path], tmp_path: Path
) -> None:
    """Whatever was put into it later."""
    root = base(FILES)
    pack(root, tmp_path / "p.zip", MADE)
    with zipfile.ZipFile(tmp_path / "p.zip", "a") as archive:
        archive.writestr("planted.md", "planted")
        archive.writestr(".hidden", "planted")
    unpack(tmp_path / "p.zip", tmp_path / "new")
    assert contents(tmp_path / "new") == contents(root)
    assert not (tmp_path / "new" / ".hidden").exists()


def test_a_small_pack_of_huge_files_is_refused(
    base: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Zeros shrink to a thousandth; the size unpacked is known beforehand."""
    monkeypatch.setattr(packing, "LEAST_TOTAL", 1000)
    pack(base({**FILES, "zeros.bin": bytes(2_000_000)}), tmp_path / "p.zip", MADE)
    with pytest.raises(FormatError, match="would take more than"):
        unpack(tmp_path / "p.zip", tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_a_file_larger_than_its_list_says_is_not_read_to_its_end(
    base: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The list says one byte: a second one is read, to see that it is there."""
    read, pieces = zipfile.ZipExtFile.read, []

    def counted(file: zipfile.ZipExtFile, size: int = -1) -> bytes:
        piece = read(file, size)
        pieces.extend([piece] if file.name == "zeros.bin" else [])
        return piece

    pack(base({**FILES, "zeros.bin": bytes(2_000_000)}), tmp_path / "p.zip", MADE)

    def change(name: str, raw: bytes) -> bytes:
        return raw.replace(b'"bytes": 2000000', b'"bytes": 1') if name == MANIFEST else raw

    rewritten(tmp_path / "p.zip", change)
    monkeypatch.setattr(zipfile.ZipExtFile, "read", counted)
    with pytest.raises(FormatError, match="not what was packed"):
        unpack(tmp_path / "p.zip", tmp_path / "new")
    assert b"".join(pieces) == bytes(2)


def test_a_full_disk_leaves_no_half_base(
    base: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When a write fails, the folder is not there and nothing stays beside it."""
    pack(base(FILES), tmp_path / "p.zip", MADE)
    calls = [0]

    def refuse(*args: object, **kwargs: object) -> None:
        calls[0] += 1
        if calls[0] == 3:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(packing.os, "utime", refuse)
    with pytest.raises(KBError, match="no space left"):
        unpack(tmp_path / "p.zip", tmp_path / "new")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["base", "p.zip"]


def test_a_pack_made_inside_the_base_lies_beside_it(
    base: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Named after the base and the day: no name need be given, and it is not lost with the base."""
    root = base(FILES)
    monkeypatch.chdir(root)
    result = CliRunner().invoke(main, ["pack"])
    assert result.exit_code == 0, result.stderr
    (zipped,) = root.parent.glob(f"{root.name}-*.zip")
    assert result.stdout == f"Written: {zipped.resolve()}, 5 files\n"


def test_the_commands_say_what_they_did(base: Callable[..., Path], tmp_path: Path) -> None:
    """Pack and unpack answer in one line each."""
    root, zipped = base(FILES), str(tmp_path / "p.zip")
    result = CliRunner().invoke(main, ["pack", "--out", zipped, "--base", str(root)])
    assert result.stdout == f"Written: {zipped}, 5 files\n"
    result = CliRunner().invoke(main, ["unpack", zipped, str(tmp_path / "new")])
    assert result.stdout == f"Restored: {tmp_path / 'new'}, 5 files; every digest agrees\n"
    again = CliRunner().invoke(main, ["unpack", zipped, str(tmp_path / "new")])
    assert again.exit_code == 2
    assert "is not empty" in again.stderr


def with_list(path: Path, change: Callable[[dict[str, Any]], None]) -> None:
    """Change the list inside a pack."""

    def whole(name: str, raw: bytes) -> bytes:
        if name != MANIFEST:
            return raw
        content = json.loads(raw)
        change(content)
        return json.dumps(content).encode()

    rewritten(path, whole)


def test_the_list_inside_says_what_was_packed(base: Callable[..., Path], tmp_path: Path) -> None:
    """Its kind, when it was made, and each file with digest, size and time."""
    root = base({"a.md": "A.\n"})
    packed = pack(root, tmp_path / "p.zip", MADE)
    with zipfile.ZipFile(tmp_path / "p.zip") as archive:
        content = json.loads(archive.read(MANIFEST))
    rows = {row.pop("path"): row for row in content.pop("files")}
    assert content == {"schema": 1, "made": "2027-02-14T12:00:00+00:00"}
    assert rows["a.md"] == {
        "sha256": sha256(b"A.\n").hexdigest(),
        "bytes": 3,
        "mtime_ns": (root / "a.md").stat().st_mtime_ns,
    }
    assert packed.byte_count == sum(row["bytes"] for row in rows.values())
    assert unpack(tmp_path / "p.zip", tmp_path / "new") == packed


@pytest.mark.parametrize("schema", [0, 2, None])
def test_a_list_of_another_kind_is_refused(
    base: Callable[..., Path], tmp_path: Path, schema: int | None
) -> None:
    """A later version may mean other things by it."""
    pack(base(FILES), tmp_path / "p.zip", MADE)
    with_list(tmp_path / "p.zip", lambda content: content.update(schema=schema))
    with pytest.raises(FormatError, match="not of a kind this version knows"):
        unpack(tmp_path / "p.zip", tmp_path / "new")


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("bytes", 2**26, "unpacked it would take more than 64 MB"),
        ("bytes", 2**28, "unpacked it would take more than 64 MB"),
        ("bytes", 2**28 + 1, "a digest or a size"),
        ("bytes", 0, "is not what was packed"),
        ("sha256", "0" * 64, "is not what was packed"),
        ("sha256", "A" * 64, "a digest or a size"),
        ("sha256", "0" * 65, "a digest or a size"),
        ("mtime_ns", 4_102_444_800 * 10**9 + 1, "a time that no file has"),
        ("path", "a" * 1001, "would lie outside the base"),
        ("path", "a" * 1000, "not a pack"),
        ("path", "a//b", "would lie outside the base"),
        ("path", "./a", "would lie outside the base"),
        ("path", "", "would lie outside the base"),
    ],
)
def test_numbers_and_paths_up_to_their_limits(
    base: Callable[..., Path], tmp_path: Path, key: str, value: object, said: str
) -> None:
    """256 MiB a file, 64 MiB in all for a small pack, the year 2100, a thousand characters."""
    pack(base(FILES), tmp_path / "p.zip", MADE)

    def change(content: dict[str, Any]) -> None:
        next(row for row in content["files"] if row["path"] == "pictures/ecg.png")[key] = value

    with_list(tmp_path / "p.zip", change)
    with pytest.raises(FormatError, match=said):
        unpack(tmp_path / "p.zip", tmp_path / "new")


@pytest.mark.parametrize("moment", [0, 4_102_444_800 * 10**9])
def test_the_earliest_and_the_latest_time_are_restored(
    base: Callable[..., Path], tmp_path: Path, moment: int
) -> None:
    """1970 and 2100."""
    pack(base(FILES), tmp_path / "p.zip", MADE)
    with_list(
        tmp_path / "p.zip",
        lambda content: [row.update(mtime_ns=moment) for row in content["files"]] and None,
    )
    unpack(tmp_path / "p.zip", tmp_path / "new")
    assert (tmp_path / "new" / "exam.yaml").stat().st_mtime_ns == moment


def test_a_pack_has_as_many_files_as_are_allowed(
    base: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And no more; a hundred times its own size when unpacked, and no more."""
    pack(base(FILES), tmp_path / "p.zip", MADE)
    monkeypatch.setattr(packing, "MOST_FILES", 4)
    with pytest.raises(FormatError, match="more than 4 files"):
        unpack(tmp_path / "p.zip", tmp_path / "new")
    monkeypatch.setattr(packing, "MOST_FILES", 5)
    monkeypatch.setattr(packing, "LEAST_TOTAL", 0)
    before: list[int] = []

    def grown(content: dict[str, Any]) -> None:
        rows = content["files"]
        total = before[0] if before else 190_000
        rows[0]["bytes"] = total - sum(row["bytes"] for row in rows[1:])

    with_list(tmp_path / "p.zip", grown)
    size = (tmp_path / "p.zip").stat().st_size  # stored without compression, so it stays so
    assert 100_000 < 100 * size < 1_000_000
    for total, said in ((100 * size, "not what was packed"), (100 * size + 1, "would take more")):
        before[:] = [total]
        with_list(tmp_path / "p.zip", grown)
        assert (tmp_path / "p.zip").stat().st_size == size
        with pytest.raises(FormatError, match=said):
            unpack(tmp_path / "p.zip", tmp_path / "new")


def test_what_is_made_again_and_what_has_no_name_stay_out(
    base: Callable[..., Path], tmp_path: Path
) -> None:
    """Exports are left out, but a note among them is a note."""
    root = base({"exports/a.pdf": b"%PDF", "exports/own.md": "Mine.\n"})
    pack(root, tmp_path / "p.zip", MADE)
    unpack(tmp_path / "p.zip", tmp_path / "deep" / "new")
    assert "exports/own.md" in contents(tmp_path / "deep" / "new")
    assert "exports/a.pdf" not in contents(tmp_path / "deep" / "new")


def test_a_pack_needs_an_exam(base: Callable[..., Path], tmp_path: Path) -> None:
    """Another zip with a list is no base; a file where the folder should be is in the way."""
    pack(base(FILES), tmp_path / "p.zip", MADE)

    def without(content: dict[str, Any]) -> None:
        content["files"] = [row for row in content["files"] if row["path"] != "exam.yaml"]

    (tmp_path / "new").write_bytes(b"in the way")
    with pytest.raises(ConflictError, match="is not empty"):
        unpack(tmp_path / "p.zip", tmp_path / "new")
    assert (tmp_path / "new").read_bytes() == b"in the way"
    with_list(tmp_path / "p.zip", without)
    with pytest.raises(FormatError, match=r"the pack has no exam\.yaml"):
        unpack(tmp_path / "p.zip", tmp_path / "other")
    with pytest.raises(KBError, match="cannot be read"):
        unpack(tmp_path / "none.zip", tmp_path / "other")
