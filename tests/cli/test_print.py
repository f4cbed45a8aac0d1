"""`missbook print`: which notes are printed, and how it is said."""

from __future__ import annotations

import json
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from PIL import Image
from pypdf import PdfReader

from kb.cli import main
from kb.stats.note_state import judge

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path

    from click.testing import Result

    from kb.services.session import Session

DAY = "2027-02-14"
NOTE = "---\ntitle: {}\narea: {}\nquestions: [{}]\nbasis: a text\nwritten: 2027-02-01\n---\n{}\n"
HEADER = "id,at,question,outcome\n"
ANSWERS = HEADER + "".join(
    f"{i:04},2027-02-{day:02}T10:00:00+00:00,{question},{outcome}\n"
    for i, (day, question, outcome) in enumerate(
        [
            (3, "north:1", "wrong"),
            (4, "north:101", "wrong"),
            (5, "north:102", "right"),
            (6, "north:201", "right"),
        ]
    )
)
FILES = {
    "cardiology/valves.md": NOTE.format("Valves", "cardiology", "north:1", "One valve fact."),
    "nephrology/tubes.md": NOTE.format("Tubes", "nephrology", "north:101", "One tube fact."),
    "nephrology/salt.md": NOTE.format("Salt", "nephrology", "north:102", "One salt fact."),
    "neurology/palsy.md": NOTE.format("Palsy", "neurology", "north:201", "One palsy fact."),
    "log/attempts-laptop.csv": ANSWERS,
}


class Printer:
    """A base, and the print of it."""

    def __init__(self, root: Path, out: Path) -> None:
        self.root, self.out = root, out

    def run(self, *arguments: str) -> Result:
        """Run `print` on the fixed day."""
        given = ["print", *arguments, "--base", str(self.root), "--as-of", DAY]
        return CliRunner().invoke(main, given)

    def titles(self, *arguments: str) -> list[str]:
        """Titles of the notes printed, in order."""
        result = self.run(*arguments, "--out", str(self.out), "--replace")
        assert result.exit_code == 0, result.stderr
        reader = PdfReader(BytesIO(self.out.read_bytes()))
        text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
        found = [(text.index(f" {name} "), name) for name in NAMES if f"One {FACT[name]}" in text]
        return [name for _, name in sorted(found)]


FACT = {"Valves": "valve", "Tubes": "tube", "Salt": "salt", "Palsy": "palsy"}
NAMES = tuple(FACT)


@pytest.fixture
def printer(base: Callable[..., Path], tmp_path: Path) -> Printer:
    """A base of four notes, two of which failed since they were written."""
    return Printer(base(FILES), tmp_path / "out.pdf")


def listed(printer: Printer, *arguments: str) -> list[str]:
    """Titles that a report lists, from its JSON."""
    given = [*arguments, "--base", str(printer.root), "--as-of", DAY, "--json"]
    content = json.loads(CliRunner().invoke(main, given).stdout)
    found: list[tuple[int, str]] = []
    text = json.dumps(content)
    found = [(text.index(f'"{name}"'), name) for name in NAMES if f'"{name}"' in text]
    return [name for _, name in sorted(found)]


def test_the_queue_is_printed_as_it_is_shown(printer: Printer) -> None:
    """Paper holds the notes of the queue, in its order."""
    assert printer.titles("queue") == listed(printer, "queue") != []


def test_a_brief_is_printed_as_it_is_shown(printer: Printer) -> None:
    """Paper holds the notes of the brief, in its order."""
    shown = listed(printer, "brief", "nephrology", "--minutes", "5")
    assert printer.titles("brief", "nephrology", "--minutes", "5") == shown != []


def test_the_reading_list_of_a_day_is_printed(printer: Printer) -> None:
    """With nothing said it is today's; --day names another."""
    (printer.root / "study.yaml").write_text(
        (printer.root / "study.yaml").read_text(encoding="utf-8")
        + "rota:\n  starts: 2027-01-04\n  shifts:\n    off: {study_minutes: 240}\n"
        + "  weeks:\n    - [off, off, off, off, off, off, off]\n",
        encoding="utf-8",
    )
    lists = {
        day: printer.run("reread", "--day", day, "--out", str(printer.out), "--replace")
        for day in DAYS
    }
    full = [day for day, result in lists.items() if result.exit_code == 0]
    assert full
    titles = printer.titles("reread", "--day", full[0])
    content = CliRunner().invoke(
        main, ["reread", "--base", str(printer.root), "--as-of", DAY, "--json"]
    )
    day_key = f"day_{full[0].replace('-', '_')}"
    rows = json.loads(content.stdout)[day_key]
    assert sorted(titles) == sorted(row["head"] for row in rows)


DAYS = tuple(f"2027-02-{day}" for day in range(14, 21))


def test_an_area_is_printed_worst_first(
    printer: Printer, session: Callable[..., Session], today: date
) -> None:
    """--area alone means every note of that area, the most marks at risk first."""
    judged = [row.title for row in judge(session(FILES).base, today) if row.area == "nephrology"]
    assert printer.titles("--area", "nephrology") == judged
    assert len(judged) == 2


def test_named_notes_are_printed_in_the_order_named(printer: Printer) -> None:
    """By id, title or path, each once."""
    assert printer.titles("notes", "palsy", "Valves", "palsy") == ["Palsy", "Valves"]


def test_all_notes_stand_under_their_areas(printer: Printer) -> None:
    """Areas come in the blueprint's order."""
    found = printer.titles("all")
    assert [found[0], *sorted(found[1:3]), found[3]] == ["Valves", "Salt", "Tubes", "Palsy"]


def test_notes_of_one_state(printer: Printer) -> None:
    """--state alone means every note in that state."""
    assert printer.titles("--state", "failing") == ["Valves", "Tubes"]


def test_it_says_what_it_wrote(printer: Printer) -> None:
    """File, notes and pages, in one line; the size as well in JSON."""
    result = printer.run("all", "--out", str(printer.out))
    assert result.stdout == f"Written: {printer.out}, 4 notes, 1 page\n"
    content = json.loads(
        printer.run("all", "--out", str(printer.out), "--replace", "--json").stdout
    )
    assert content["page_count"] == 1
    assert content["note_count"] == 4
    assert content["byte_count"] == printer.out.stat().st_size


def test_without_a_name_the_file_is_named_after_the_list(
    printer: Printer, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It lies in the folder one is in."""
    monkeypatch.chdir(tmp_path)
    printer.run("brief", "nephrology")
    printer.run("--area", "nephrology")
    printer.run("queue")
    assert {path.name for path in tmp_path.glob("*.pdf")} == {
        "brief-nephrology.pdf",
        "nephrology.pdf",
        "queue-2027-02-14.pdf",
    }


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("palsy",), "for a note write: notes palsy"),
        (("queue", "--day", "2027-02-15"), "--day does not go with queue"),
        (("all", "--minutes", "5"), "--minutes does not go with all"),
        (("queue", "nephrology"), "queue takes no words"),
        (("notes",), "which notes?"),
        (("notes", "nobody"), "no note called 'nobody'"),
        (("--area", "nowhere"), "no area called 'nowhere'"),
        (("reread", "--day", "2027-02-01"), "2027-02-01 is past"),
        (("reread", "--day", "soon"), "'soon' is not a date"),
        (("brief", "zzzz"), "no area called 'zzzz', and no note has these words"),
        (("all", "--out", "."), "'.' is a folder"),
    ],
)
def test_bad_input_is_one_line_and_writes_nothing(
    printer: Printer,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    arguments: tuple[str, ...],
    message: str,
) -> None:
    """What is wrong and how to mend it; exit status 2."""
    monkeypatch.chdir(tmp_path)
    result = printer.run(*arguments)
    assert result.exit_code == 2
    assert message in result.stderr
    assert len(result.stderr.splitlines()) <= 2
    assert "Traceback" not in result.output
    assert list(tmp_path.glob("*.pdf")) == []


def test_a_picture_outside_the_base_is_not_printed(printer: Printer, tmp_path: Path) -> None:
    """Neither a path out of the base nor a link in it takes another file along."""
    picture = BytesIO()
    Image.new("L", (4, 4)).save(picture, "PNG")
    (tmp_path / "secret.png").write_bytes(picture.getvalue())
    note = printer.root / "nephrology" / "salt.md"
    note.write_text(
        NOTE.format("Salt", "nephrology", "north:102", "One salt fact. ![s](../../secret.png)"),
        encoding="utf-8",
    )
    assert printer.titles("notes", "salt") == ["Salt"]
    assert len(PdfReader(printer.out).pages[0].images) == 0


def test_a_picture_that_is_a_link_out_of_the_base_is_left_out(
    printer: Printer, tmp_path: Path
) -> None:
    """The note is printed, the file outside is not."""
    picture = BytesIO()
    Image.new("L", (4, 4)).save(picture, "PNG")
    (tmp_path / "secret.png").write_bytes(picture.getvalue())
    note = printer.root / "nephrology" / "salt.md"
    try:
        (printer.root / "nephrology" / "s.png").symlink_to(tmp_path / "secret.png")
    except OSError:
        pytest.skip("this system makes no symbolic links")
    note.write_text(
        NOTE.format("Salt", "nephrology", "north:102", "One salt fact. ![s](s.png)"),
        encoding="utf-8",
    )
    assert printer.titles("notes", "salt") == ["Salt"]
    assert len(PdfReader(printer.out).pages[0].images) == 0


def test_a_picture_in_the_base_is_printed(printer: Printer) -> None:
    """It lies beside its note."""
    picture = BytesIO()
    Image.new("L", (4, 4)).save(picture, "PNG")
    (printer.root / "nephrology" / "s.png").write_bytes(picture.getvalue())
    (printer.root / "nephrology" / "salt.md").write_text(
        NOTE.format("Salt", "nephrology", "north:102", "One salt fact. ![s](s.png)"),
        encoding="utf-8",
    )
    assert printer.titles("notes", "salt") == ["Salt"]
    assert len(PdfReader(printer.out).pages[0].images) == 1
