"""No command that writes a file overwrites the base, or anything else without being told to."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING
from zipfile import ZipFile

import pytest
from chart_bases import full

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.testing import Result

    Run = Callable[..., Result]

COMMANDS: dict[str, tuple[list[str], str]] = {
    "graph": (["graph", "--out"], ".graphml"),
    "carry": (["carry", "all", "--out"], ".html"),
    "print": (["print", "all", "--out"], ".pdf"),
    "calendar": (["calendar", "--out"], ".ics"),
    "chart": (["chart", "standing", "--out"], ".svg"),
    "pack": (["pack", "--out"], ".zip"),
}
"""Every command that writes a file: its words before the file, and a suffix of its own."""
every = pytest.mark.parametrize("name", COMMANDS)


@pytest.fixture
def run(beside: Callable[..., Run]) -> Run:
    """Run any command on a base with something to write, from the folder beside it."""
    return beside(
        {**full(), "cardiology/valve.md": "---\nareas: [cardiology]\n---\n# Valve\n\nA.\n"}
    )


def base_of(tmp_path: Path) -> Path:
    """The base that `run` works on."""
    return next(path.parent for path in tmp_path.rglob("exam.yaml"))


def write(run: Run, name: str, file: object, *more: str) -> Result:
    """Let a command write this file."""
    return run(*COMMANDS[name][0], str(file), *more)


def refused(result: Result, message: str, hint: str) -> None:
    """One line and a hint, exit 2."""
    assert result.exit_code == 2, result.output
    first, second = result.stderr.splitlines()
    assert message in first
    assert first.endswith("nothing was written")
    assert hint in second


@every
def test_a_file_is_written(run: Run, tmp_path: Path, name: str) -> None:
    """In whatever letters its suffix is, in a folder that is made for it."""
    file = tmp_path / "new folder" / f"mine{COMMANDS[name][1].upper()}"
    assert write(run, name, file).exit_code == 0
    assert [path.name for path in file.parent.iterdir()] == [file.name]


@every
@pytest.mark.parametrize(
    "target", ["log/attempts-test.csv", "exam.yaml", "x{}", "cardiology/x{}", "Exports/../x{}"]
)
def test_nothing_in_the_base_is_overwritten(
    run: Run, tmp_path: Path, name: str, target: str
) -> None:
    """Neither a file that is there nor a new one; --replace makes no difference."""
    base = base_of(tmp_path)
    before = {path: path.read_bytes() for path in base.rglob("*") if path.is_file()}
    file = base / target.format(COMMANDS[name][1])
    result = write(run, name, file, "--replace")
    message = "lies inside the base" if "{}" in target else "does not end in"
    refused(result, message, "exports" if "{}" in target else "such as")
    assert {path: path.read_bytes() for path in base.rglob("*") if path.is_file()} == before


@every
def test_a_link_into_the_base_is_followed_first(run: Run, tmp_path: Path, name: str) -> None:
    """Of the file itself, and of a folder above it."""
    base, suffix = base_of(tmp_path), COMMANDS[name][1]
    folder, file = tmp_path / "way", tmp_path / f"link{suffix}"
    try:
        folder.symlink_to(base, target_is_directory=True)
        file.symlink_to(base / f"x{suffix}")
    except OSError:
        pytest.skip("this system makes no links")
    for path in (folder / f"x{suffix}", file):
        refused(write(run, name, path), "lies inside the base", "exports")
    assert not (base / f"x{suffix}").exists()


@every
def test_a_file_that_is_there_stays_without_replace(run: Run, tmp_path: Path, name: str) -> None:
    """With --replace it is replaced."""
    file = tmp_path / f"mine{COMMANDS[name][1]}"
    file.write_bytes(b"old")
    refused(write(run, name, file), "is there already", "--replace")
    assert file.read_bytes() == b"old"
    assert write(run, name, file, "--replace").exit_code == 0
    assert file.read_bytes() != b"old"


@every
def test_another_suffix_is_refused(run: Run, tmp_path: Path, name: str) -> None:
    """The hint gives the same name with the right one."""
    refused(write(run, name, tmp_path / "mine.md"), "does not end in", f"mine{COMMANDS[name][1]}")
    refused(write(run, name, tmp_path / "mine"), "does not end in", f"mine{COMMANDS[name][1]}")


@pytest.mark.parametrize("name", [name for name in COMMANDS if name != "pack"])
def test_the_base_has_a_folder_for_exports(run: Run, tmp_path: Path, name: str) -> None:
    """A file may be written there; a pack would be lost with the base, so it goes elsewhere."""
    file = base_of(tmp_path) / "exports" / f"mine{COMMANDS[name][1]}"
    assert write(run, name, file).exit_code == 0
    assert file.exists()


def test_a_pack_leaves_exports_out(run: Run, tmp_path: Path) -> None:
    """They can be made again; a note that someone keeps there goes in."""
    base = base_of(tmp_path)
    write(run, "print", base / "exports/mine.pdf")
    (base / "exports/own.md").write_text("Own.\n", encoding="utf-8")
    assert write(run, "pack", tmp_path / "b.zip").exit_code == 0
    packed = ZipFile(tmp_path / "b.zip").namelist()
    assert [name for name in packed if name.startswith("exports/")] == ["exports/own.md"]


@pytest.mark.parametrize(
    ("words", "file"),
    [
        (["print", "all"], "notes.pdf"),
        (["carry"], "notes.html"),
        (["calendar"], "plan.ics"),
    ],
)
def test_inside_the_base_an_unnamed_file_goes_to_the_exports(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], file: str
) -> None:
    """Whichever folder of the base one is in."""
    base = base_of(tmp_path)
    monkeypatch.chdir(base)
    result = run(*words)
    assert result.exit_code == 0, result.output
    assert str(Path("exports", file)) in result.stdout
    assert (base / "exports" / file).exists()
    deeper = next(path for path in base.iterdir() if path.is_dir() and path.name != "log")
    monkeypatch.chdir(deeper)
    refused(run(*words), "is there already", "--replace")


def test_another_base_is_as_safe(run: Run, tmp_path: Path) -> None:
    """It need not be the base that the command works on."""
    (tmp_path / "other").mkdir()
    (tmp_path / "other/exam.yaml").write_bytes(b"")
    refused(write(run, "print", tmp_path / "other/x.pdf"), "lies inside the base", "exports")
    assert [path.name for path in (tmp_path / "other").iterdir()] == ["exam.yaml"]
