"""What is not read is told, and what would not be read again is not written."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from kb.core.errors import KBError
from kb.formats import attempt_log, side_logs
from kb.storage import note_catalogue
from kb.storage import unread_files as unread
from kb.storage.attempt_store import append_record
from kb.storage.scan import FileStat, scan
from kb.storage.unread_files import KINDS, unread_files

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

LINE = "a1,2027-01-14T19:42:00+00:00,north:1,,,wrong,,,,,,,,,,,\r\n"
LOG = attempt_log.HEADER + LINE


def told(root: Path) -> list[str]:
    """Paths of the files that are said not to be read."""
    return [problem.place.path for problem in unread_files(root, scan(root))]


@pytest.mark.parametrize(
    "name",
    [
        "Copy of attempts-phone.csv",
        "Kopie von attempts-phone.csv",
        "old/attempts-phone.csv",
        "attempts-phone.csv.bak",
        "attempts-phone.txt",
        "phone.CSV",
        "export.csv",
        "2027/attempts.csv",
        "old/readings-phone.csv.bak",
        "attempts-phone.tsv",
        "attempts-phone",
    ],
)
def test_a_log_under_another_name_is_told(base: Callable[..., Path], name: str) -> None:
    """As when a synchroniser leaves the only copy under a name of its own."""
    root = base({f"log/{name}": LOG})
    assert told(root) == [f"log/{name}"]


@pytest.mark.parametrize("sign", ["\t", ";", '","'])
@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_log_saved_by_another_program_is_told(
    base: Callable[..., Path], sign: str, encoding: str
) -> None:
    """With signs of its own between the cells, quoted, in another encoding."""
    root = base({"log/a": ('"id","at","question"\n'.replace(",", sign)).encode(encoding)})
    assert told(root) == ["log/a"]


@pytest.mark.parametrize("name", ["attempts-phone.csv", "old/attempts.csv.txt", "log 2/draws.csv"])
def test_a_log_outside_its_folder_is_told(base: Callable[..., Path], name: str) -> None:
    """As in a copy of the whole folder; a table of another kind is nobody's business."""
    rota = "date,id,at\n2027-01-14,1,ward\n"
    assert told(base({name: LOG, "rota.csv": rota, "rotas/log.csv": rota})) == [name]


@pytest.mark.parametrize(
    "name", [".attempts-phone.csv.part", ".~attempts-phone.csv", ".attempts-phone.csv.swp"]
)
def test_a_hidden_log_is_told(base: Callable[..., Path], name: str) -> None:
    """Its lines do not count, and a file manager does not show it."""
    assert told(base({f"log/{name}": b"\0"})) == [f"log/{name}"]


def test_a_write_that_was_cut_off_is_no_log(base: Callable[..., Path]) -> None:
    """What is left of it goes with a later write."""
    assert told(base({"log/.attempts-phone.csv.0123abcd.new": LOG})) == []


@pytest.mark.parametrize("folder", ["log", "Log"])
def test_a_packed_log_is_told(base: Callable[..., Path], folder: str) -> None:
    """Whatever is in it: its name says that it was a log, however its folder is spelt."""
    name = f"{folder}/attempts-phone.csv.gz"
    assert told(base({name: b"\x1f\x8b\x08"})) == [name]


def test_the_new_name_that_is_offered_is_read(base: Callable[..., Path]) -> None:
    """The file counts once it has the name that the hint gives."""
    root = base({"log/Copy of attempts-phone.csv": LOG})
    hint = unread_files(root, scan(root))[0].hint
    name = hint.split()[2].rstrip(":")
    (root / "log" / "Copy of attempts-phone.csv").rename(root / name)
    assert told(root) == []


@pytest.mark.parametrize(
    "name",
    [
        "attempts-phone.csv",
        "attempts-phone (conflicted copy).csv",
        "Readings-phone.csv",
        "set-aside-attempts-phone.txt",
        "bank-not-understood-2.csv",
        "remarks.txt",
    ],
)
def test_what_is_read_or_is_no_log_is_not_told(base: Callable[..., Path], name: str) -> None:
    """Every log by its own name, and what missbook itself set aside."""
    assert told(base({f"log/{name}": "text\n"})) == []


@pytest.mark.parametrize(
    "name",
    [
        "exam (conflicted copy 2027-02-01).yaml",
        "Copy of exam.yaml",
        "study-LAPTOP7.yaml",
        "study.sync-conflict-20270201-101010.yaml",
        "glossary 2.yml",
        "exam.yaml.bak",
        "study.yaml_1",
        "study.yaml~",
        "study.yaml~1~",
        "study.yaml.1",
        "study.yaml (1)",
        "study.yaml-old",
        "study.yamlold",
        "study.yaml.txt",
        "study.yaml.part",
        "#study.yaml#",
        "study - Kopie.yaml",
        "study_2027-01-14.yaml",
        "study2.yaml",
        "studycopy.yaml",
        "oldstudy.yaml",
        "STUDY.YAML.OLD",
        "study.bak",
        "study.orig",
        "\uff53\uff54\uff55\uff44\uff59.yaml",
        "st\u200budy.yaml",
        "backup/study.yaml",
        "log/Copy of exam.yaml",
        "cardiology/old/glossary.yaml",
        ".study.yaml.swp",
        ".#study.yaml",
    ],
)
def test_a_copy_of_a_setting_is_told(base: Callable[..., Path], name: str) -> None:
    """Its setting may be the one that was meant."""
    assert told(base({name: "x: 1\n"})) == [name]


@pytest.mark.parametrize(
    "name",
    [
        "example.yaml",
        "study.md",
        "travel.yaml",
        "study.md.bak",
        "case studies.yaml",
        "exam.pdf",
        "study.ics",
        "glossary.csv",
        "cardiology/exam (1).md",
        "examination.yaml",
        ".study.yaml.0123abcd.new",
        ".trash/study.yaml",
    ],
)
def test_another_file_is_no_copy_of_a_setting(base: Callable[..., Path], name: str) -> None:
    """Nor is the archive of a synchroniser, which it hides."""
    assert told(base({name: "x: 1\n"})) == []


def test_a_setting_under_its_own_name_in_capitals(base: Callable[..., Path]) -> None:
    """A disk that does not tell capitals apart reads it; any other needs it renamed."""
    root = base()
    (root / "study.yaml").rename(root / "Study.yaml")
    problems = unread_files(root, scan(root))
    hints = (
        [] if (root / "study.yaml").exists() else ["make it study.yaml in the base's own folder"]
    )
    assert [problem.hint for problem in problems] == hints


def test_a_note_of_twenty_megabytes_is_told_and_not_read(
    base: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """All others would wait for it; here the limit is 1,000 bytes."""
    for module in (unread, note_catalogue):
        monkeypatch.setattr(module, "LARGEST_NOTE", 1000)
    root = base({"cardiology/large.md": "# Large\n" + "word " * 200, "cardiology/one.md": "One.\n"})
    assert told(root) == ["cardiology/large.md"]
    catalogue = note_catalogue.Catalogue(root)
    catalogue.refresh()
    assert [row.note.path for row in catalogue.listed()] == ["cardiology/one.md"]


@pytest.mark.skipif(os.name != "posix", reason="links need a right of their own on Windows")
class TestLinks:
    """A link inside the base is followed; one that leads out of it is refused."""

    def test_a_log_folder_outside_the_base(self, base: Callable[..., Path], tmp_path: Path) -> None:
        """Nothing is written where nothing is read."""
        root = base()
        (tmp_path / "elsewhere").mkdir()
        (root / "log").symlink_to(tmp_path / "elsewhere")
        with pytest.raises(KBError, match="not followed: no answer in it counts"):
            append_record(root, "phone", LINE)
        assert not list((tmp_path / "elsewhere").glob("*.csv"))
        assert told(root) == ["log"]

    def test_a_log_file_outside_the_base(self, base: Callable[..., Path], tmp_path: Path) -> None:
        """Another file of the log beside it still counts."""
        root = base({"log/attempts-home.csv": LOG})
        (tmp_path / "phone.csv").write_bytes(LOG.encode())
        (root / "log" / "attempts-phone.csv").symlink_to(tmp_path / "phone.csv")
        with pytest.raises(KBError, match="nothing was added"):
            append_record(root, "phone", LINE)
        assert (tmp_path / "phone.csv").read_bytes() == LOG.encode()
        assert told(root) == ["log/attempts-phone.csv"]

    @pytest.mark.parametrize("what", ["folder", "file"])
    def test_a_link_that_stays_in_the_base(self, base: Callable[..., Path], what: str) -> None:
        """It is read and written like the file itself."""
        root = base({"data/attempts-phone.csv": LOG})
        if what == "folder":
            (root / "log").symlink_to("data")
        else:
            (root / "log").mkdir()
            (root / "log" / "attempts-phone.csv").symlink_to("../data/attempts-phone.csv")
        append_record(root, "phone", LINE)
        assert "log/attempts-phone.csv" in [entry.path for entry in scan(root)]
        assert (root / "data" / "attempts-phone.csv").read_text(encoding="utf-8").count("a1,") == 2
        assert told(root) == []

    def test_a_link_in_a_circle(self, base: Callable[..., Path]) -> None:
        """The base's own folder is not read again as its log."""
        root = base()
        (root / "log").symlink_to(".")
        assert [entry.path for entry in scan(root)] == ["exam.yaml", "study.yaml"]


def test_every_side_log_is_known_by_the_name_it_is_written_under() -> None:
    """Otherwise a log of missbook's own would be reported as one that is not read."""
    stems = {log.stem for log in vars(side_logs).values() if isinstance(log, side_logs.SideLog)}
    assert "held-back" in stems
    assert stems <= KINDS.keys()


@pytest.mark.parametrize(
    ("name", "text", "hint"),
    [
        ("Copy of attempts-phone.csv", LOG, "move it to log/attempts-phone-copy.csv: lines"),
        ("phone.csv", "\ufeff" + LOG, "move it to log/attempts-phone-copy.csv: lines"),
        ("my Phone.csv", LOG.upper(), "move it to log/attempts-my-phone-copy.csv: lines"),
        (
            "Readings (2).txt",
            "id,at,note,seconds\r\n",
            "move it to log/readings-2-txt-copy.csv: lines",
        ),
        ("a.csv", "note,at,id\n", "move it to log/readings-a-copy.csv: lines that the log has"),
        ("a.csv", "at,id\n", "it is not a log of missbook"),
        ("marks.csv", "mark\r\n", "it is not a log of missbook; move it out of log/, or log it"),
        ("x.csv", "x" * 400 + "," + LOG, "it is not a log of missbook"),
    ],
)
def test_what_to_do_with_it_is_told(
    base: Callable[..., Path], name: str, text: str, hint: str
) -> None:
    """A log gets the name under which it is read; its kind is that of its first line."""
    root = base({f"log/{name}": text})
    (problem,) = unread_files(root, scan(root))
    assert problem.hint.startswith(hint)
    assert (problem.code, problem.place.path) == ("unread-log", f"log/{name}")
    whole = hint.startswith("move it to")
    lines = "this log is not read: no line in it counts" if whole else "this file is not read"
    assert problem.message == lines


def test_a_copy_of_a_setting_says_which(base: Callable[..., Path]) -> None:
    """And where what it says belongs."""
    root = base({"Copy of EXAM.yaml": "x: 1\n"})
    (problem,) = unread_files(root, scan(root))
    assert (problem.code, problem.message) == (
        "settings-copy",
        "this copy of exam.yaml is not read",
    )
    assert problem.hint.startswith("copy what it should say into exam.yaml, then delete")


@pytest.mark.parametrize(("size", "told_"), [(19_999_999, False), (20_000_000, True)])
def test_a_note_is_read_up_to_twenty_megabytes(
    base: Callable[..., Path], size: int, told_: bool
) -> None:
    """Only notes: a picture may be larger."""
    root = base()
    found = [
        FileStat(path=path, size=size, mtime_ns=0) for path in ("a/x.md", "a/x.png", "a/x.txt")
    ]
    problems = unread_files(root, found)
    assert [(p.place.path, p.code) for p in problems] == (
        [("a/x.md", "large-note")] if told_ else []
    )
    if told_:
        assert problems[0].message.startswith("20 MB: too large")
