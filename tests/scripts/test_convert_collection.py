"""Converting a collection of texts and answers into a base."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from kb.formats.attempt_log import parse_log
from kb.formats.note import parse_note
from kb.formats.study import parse_study

SCRIPT = Path(__file__).parent.parent.parent / "scripts" / "convert_collection.py"
DOCS = """\
{"id": "1", "title": "", "text": "Renal tubules waste potassium . The rest follows."}
{"id": "2", "title": "Murmurs of the heart", "text": "A cardiac murmur gets louder."}
{"id": "3", "title": "", "text": "Renal tubules waste magnesium and potassium too."}
"""
ATTEMPTS = """\
date,question,area,correct,seconds,confidence,phase
2025-01-07,Q003183,a,0,132,1,pass1
2025-01-08,Q003184,b,0,66,4,pass1
2025-04-03,Q187000,a,1,46,3,paper1
"""
BLUEPRINT = "area,blueprint_weight,questions_per_paper\na,0.6,6\nb,0.4,4\n"


def convert(
    folder: Path, docs: str = DOCS, attempts: str = ATTEMPTS, encoding: str = "utf-8"
) -> subprocess.CompletedProcess[str]:
    """Run the script on the three small files, into `folder`/out."""
    names = ("docs.jsonl", "attempts.csv", "blueprint.csv")
    for name, text in zip(names, (docs, attempts, BLUEPRINT), strict=True):
        (folder / name).write_text(text, encoding=encoding)
    paths = [str(folder / name) for name in (*names, "out")]
    return subprocess.run(
        [sys.executable, str(SCRIPT), *paths], capture_output=True, text=True, check=False
    )


def test_each_document_becomes_a_note_dated_after_its_first_miss(tmp_path: Path) -> None:
    """A note links questions its area's log has missed and is written the day after."""
    assert convert(tmp_path).returncode == 0
    paths = sorted((tmp_path / "out").rglob("*.md"))
    notes = [parse_note(path.read_text(encoding="utf-8"), path.name)[0] for path in paths]
    assert len(notes) == 3
    dates = {",".join(note.questions): str(note.written_on) for note in notes if note.questions}
    assert dates["bank:3183"] == "2025-01-08"


def test_answers_become_log_lines_with_paper_references(tmp_path: Path) -> None:
    """A paper's answers count from 1, and certainty 1-4 becomes 1-3."""
    convert(tmp_path)
    log = parse_log((tmp_path / "out" / "log" / "attempts-collection.csv").read_bytes(), "log")
    assert [a.question for a in log.attempts] == ["bank:3183", "bank:3184", "paper-1:1"]
    assert [a.certainty for a in log.attempts] == [1, 3, 2]


def test_a_line_that_is_no_document_is_named(tmp_path: Path) -> None:
    """Bad input ends with the file and line, exit 2 and no traceback."""
    done = convert(tmp_path, docs=DOCS + "nonsense\n")
    assert done.returncode == 2
    assert "docs.jsonl:4: not a document" in done.stderr
    assert "Traceback" not in done.stderr


def test_sources_have_the_size_that_the_answers_show(tmp_path: Path) -> None:
    """study.yaml declares each source with its highest item, so that a plan can be made."""
    convert(tmp_path)
    text = (tmp_path / "out" / "study.yaml").read_text(encoding="utf-8")
    study, problems = parse_study(text, "study.yaml")
    assert problems == ()
    assert [(s.id, s.kind, s.item_count) for s in study.sources] == [
        ("bank", "bank", 3184),
        ("paper-1", "paper", 1),
    ]


def test_a_leading_number_is_no_title(tmp_path: Path) -> None:
    """A document that begins with its own number is named by its first sentence."""
    numbered = '{"id": "4", "title": "", "text": "1384. Fields and vessels. More."}\n'
    convert(tmp_path, docs=DOCS + numbered)
    texts = [path.read_text(encoding="utf-8") for path in (tmp_path / "out").rglob("*-4.md")]
    assert ["title: Fields and vessels\n" in text for text in texts] == [True]


def test_answers_of_an_unknown_area_are_named(tmp_path: Path) -> None:
    """An answer whose area the blueprint lacks ends with its file and line."""
    done = convert(tmp_path, attempts=ATTEMPTS.replace(",b,", ",z,"))
    assert done.returncode == 2
    assert "attempts.csv:3: " in done.stderr
    assert not (tmp_path / "out").exists()


def test_documents_in_another_encoding_are_named(tmp_path: Path) -> None:
    """As an older program may save them; one line, exit 2."""
    done = convert(tmp_path, docs=DOCS.replace("cardiac", "c\xe4rdiac"), encoding="latin-1")
    assert done.returncode == 2
    assert done.stderr.splitlines()[0].endswith("docs.jsonl: not UTF-8")


def test_a_time_that_cannot_be_is_named(tmp_path: Path) -> None:
    """Longer than a day, for one question."""
    done = convert(tmp_path, attempts=ATTEMPTS.replace(",66,", ",1e300,"))
    assert done.returncode == 2
    assert "attempts.csv:3: " in done.stderr
