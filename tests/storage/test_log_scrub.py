"""Scrubbing blanks the words of one line and leaves every other byte of the log as it was."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kb.core.errors import NotFoundError
from kb.formats.attempt_log import HEADER, parse_log
from kb.storage.log_scrub import scrub_line
from kb.storage.note_draft import keep_draft, kept_draft

if TYPE_CHECKING:
    from pathlib import Path

AT = "2027-01-14T19:42:00+00:00"


def line(own: str, number: int, remark: str, concept: str = "gout") -> str:
    """A line of the log without its end."""
    return f"{own},{AT},north:{number},cardiology,{concept},wrong,,C,B,,62,,,,b-1,,{remark}"


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A base with an empty log."""
    (tmp_path / "log").mkdir()
    return tmp_path


@pytest.mark.parametrize("end", ["\r\n", "\n"])
def test_the_words_of_one_line_are_blanked(root: Path, end: str) -> None:
    """Its other cells, its neighbours and all line ends stay."""
    head = HEADER.removesuffix("\r\n")
    rows = [head, line("a1", 1, "Mr Smith"), line("a2", 2, "Mr Smith"), line("a3", 3, "=1+1")]
    path = root / "log/attempts-here.csv"
    path.write_bytes("".join(row + end for row in rows).encode())
    assert scrub_line(root, "a2") == 1
    wanted = [*rows[:2], line("a2", 2, "scrubbed", concept=""), rows[3]]
    assert path.read_bytes() == "".join(row + end for row in wanted).encode()


def test_every_copy_of_the_line_is_blanked(root: Path) -> None:
    """A synchroniser may have left it in several files; other logs are not touched."""
    raw = (HEADER + line("a1", 1, "Mr Smith") + "\r\n").encode()
    for name in ("attempts-here.csv", "attempts-phone.csv", "other.csv"):
        (root / "log" / name).write_bytes(raw)
    assert scrub_line(root, "a1") == 2
    assert b"Smith" not in (root / "log/attempts-phone.csv").read_bytes()
    assert (root / "log/other.csv").read_bytes() == raw


@pytest.mark.parametrize(
    "head", ["remark,id,question,outcome,at", " REMARK, Id , question ,outcome,at"]
)
def test_a_log_with_its_columns_in_another_order_is_scrubbed_by_name(root: Path, head: str) -> None:
    """The header decides where the remark is, whatever its case."""
    path = root / "log/attempts-here.csv"
    path.write_bytes(
        f"\ufeff{head}\nMr Smith,a1,north:1,wrong,2027-01-14T19:42:00+00:00\n".encode()
    )
    assert scrub_line(root, "a1") == 1
    (answer,) = parse_log(path.read_bytes(), "x").attempts
    assert (answer.remark, answer.question) == ("scrubbed", "north:1")


def test_a_formula_in_another_cell_is_still_quoted_once(root: Path) -> None:
    """Cells are read and written as everywhere else."""
    path = root / "log/attempts-here.csv"
    row = line("a1", 1, "Mr Smith").replace(",b-1,", ",'=x,")
    path.write_bytes((HEADER + row + "\r\n").encode())
    scrub_line(root, "a1")
    assert b",'=x," in path.read_bytes()


@pytest.mark.parametrize("own", ["a", "a11", "", "north:1", "Mr Smith"])
def test_what_is_no_whole_id_scrubs_nothing(root: Path, own: str) -> None:
    """A part of an id, or a word of a line, is none."""
    raw = (HEADER + line("a1", 1, "Mr Smith") + "\r\n").encode()
    (root / "log/attempts-here.csv").write_bytes(raw)
    with pytest.raises(NotFoundError, match="no line of the log has the id"):
        scrub_line(root, own)
    assert (root / "log/attempts-here.csv").read_bytes() == raw


def test_a_damaged_line_is_left_alone(root: Path) -> None:
    """It holds the id, and cannot be read as a line."""
    bad = b'a1,"cut off\r\n' + b"a1,\xff\r\n" + b"a1,too,few\r\n"
    whole = (line("a1", 1, "Mr Smith") + "\r\n").encode()
    path = root / "log/attempts-here.csv"
    path.write_bytes(HEADER.encode() + bad + whole)
    assert scrub_line(root, "a1") == 1
    assert path.read_bytes().startswith(HEADER.encode() + bad)
    assert b"Smith" not in path.read_bytes()


def test_a_draft_is_kept_and_cleared(root: Path) -> None:
    """What was typed for a note that is not written yet; each device has its own."""
    assert kept_draft(root, "here") == ""
    assert keep_draft(root, "here", "") == "log/draft-here.txt"
    assert not (root / "log/draft-here.txt").exists()
    keep_draft(root, "here", "north:1\nGout hurts.\n")
    assert kept_draft(root, "here") == "north:1\nGout hurts.\n"
    assert kept_draft(root, "phone") == ""
    keep_draft(root, "here", "")
    assert kept_draft(root, "here") == ""
