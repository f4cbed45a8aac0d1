"""Run a coverage-guided fuzzer on the parsers, which must answer any input.

    python scripts/fuzz.py [--seconds 120] [--corpus DIR] [PARSER ...]

Each parser runs in its own process, fed from tests/corpus, the demo and inputs kept from earlier
runs. A finding is an exception that is not one of ours, more than 10 s or 1,500 MB, or a record
that does not read back as written. The input's file is named; reduce it and add it to
tests/corpus. Needs `pip install .[fuzz]`.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import re
import subprocess
import sys
import tempfile
import warnings
import zipfile
from contextlib import suppress
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

TODAY = date(2027, 2, 14)
NOW = datetime(2027, 2, 14, tzinfo=UTC)
LONGEST_BYTES = 4096
SLOWEST_SECONDS = 10
MOST_MEGABYTES = 1500
CORPORA = {
    "note": ("tests/corpus/note/*", "notes/haematology/*.md"),
    "exam": ("tests/corpus/settings/*", "notes/exam.yaml"),
    "study": ("tests/corpus/settings/*", "notes/study.yaml"),
    "glossary": ("tests/corpus/settings/*", "notes/glossary.yaml"),
    "log": ("tests/corpus/log/*",),
    "side-logs": ("tests/corpus/log/*", "notes/log/readings-*.csv"),
    "sheet": ("tests/corpus/sheet/*",),
    "table": ("tests/corpus/table/*",),
    "workbook": ("tests/corpus/table/*.xlsx",),
    "paper": ("tests/corpus/table/*.csv",),
    "matrix": ("tests/corpus/table/*.csv",),
    "calendar": (),
    "entry": (),
    "query": (),
    "identifiers": ("tests/corpus/note/*",),
    "pack": (),
}
"""Each parser, and where its first inputs come from."""


def parsers() -> dict[str, Callable[[bytes], None]]:  # noqa: PLR0915
    """A function of raw bytes for each parser; our own errors count as answers."""
    from kb.core.ids import AreaId
    from kb.core.settings import Area, Exam, Study
    from kb.formats import attempt_ids, attempt_log, side_logs
    from kb.formats.answer_sheet.parser import parse_sheet
    from kb.formats.exam import parse_exam
    from kb.formats.glossary_file import parse_glossary
    from kb.formats.note import parse_note
    from kb.formats.study import parse_study
    from kb.importers.answers import parse_answers
    from kb.importers.block import parse_items
    from kb.importers.column_mapping import guess_columns
    from kb.importers.rota_calendar import read_events
    from kb.importers.score_matrix import parse_matrix
    from kb.importers.sheets import known_words
    from kb.importers.single_answer import parse_entry
    from kb.importers.table_reader import read_table
    from kb.importers.table_rows import TableRows
    from kb.language.patient_identifiers import find_identifiers
    from kb.language.query import parse_query
    from kb.storage.pack import unpack

    area = Area(id=AreaId("cardiology"), name="Cardiology", item_count=200)
    exam = Exam(name="The Quill Examination", date=date(2027, 5, 11), areas=(area,))
    study = Study()
    known = known_words(exam, study, TODAY, TODAY)

    def text(raw: bytes) -> str:
        return raw.decode("utf-8", "replace")

    def log(raw: bytes) -> None:
        parsed = attempt_log.parse_log(raw, "x.csv")
        attempt_ids.merge([parsed, parsed])
        written = [attempt_log.format_attempt(attempt) for attempt in parsed.attempts]
        again = (attempt_log.HEADER + "".join(written)).encode()
        back = attempt_log.parse_log(again, "x.csv").attempts
        if [attempt_log.format_attempt(attempt) for attempt in back] != written:
            raise AssertionError("an attempt is not read back as it was written")

    def side(raw: bytes) -> None:
        for kind in (side_logs.READINGS, side_logs.DRAWS, side_logs.SCORES, side_logs.SHEETS):
            records, _ = kind.parse(raw, "x.csv")
            written = kind.format(*records)
            back, _ = kind.parse((kind.header + written).encode(), "x.csv")
            if kind.format(*back) != written:
                raise AssertionError(f"{kind.what} is not read back as it was written")

    def sheet(raw: bytes) -> None:
        parse_sheet(text(raw), "x.txt", known)

    def table(raw: bytes) -> None:
        grid = read_table(raw, "x.csv")
        columns = {"item": 0, "outcome": min(1, len(grid.header) - 1)}
        columns |= guess_columns(grid.header)
        taken = TableRows(
            grid=grid,
            columns=columns,
            exam=exam,
            study=study,
            source="north",
            today=TODAY,
            day=TODAY,
        ).answers()
        if len(taken.drafts) + len(taken.left) != len(grid.rows):
            raise AssertionError("a row is neither taken nor left with a reason")

    def entry(raw: bytes) -> None:
        names = ("entry", "source", "item", "outcome", "at", "round", "area", "reason", "remark")
        parse_entry(dict(zip(names, text(raw).split("\n"), strict=False)), exam, study, NOW)

    def pack(raw: bytes) -> None:
        with tempfile.TemporaryDirectory() as folder:
            source = Path(folder) / "x.zip"
            source.write_bytes(raw if raw.startswith(b"PK") else zipped_list(raw))
            unpack(source, Path(folder) / "base")

    def workbook(raw: bytes) -> None:
        table(raw if raw.startswith(b"PK") else zipped_sheet(raw))

    def query(raw: bytes) -> None:
        parse_query(text(raw))
        parse_items(text(raw), "--items")

    def calendar(raw: bytes) -> None:
        read_events(raw, "x.ics", zone="Europe/London", first=TODAY, last=date(2027, 6, 1))

    def paper(raw: bytes) -> None:
        parse_answers(read_table(raw, "x.csv"), exam, study, "paper-1", NOW)

    return {
        "note": lambda raw: void(parse_note(text(raw), "x.md", NOW)),
        "exam": lambda raw: void(parse_exam(text(raw), "exam.yaml")),
        "study": lambda raw: void(parse_study(text(raw), "study.yaml")),
        "glossary": lambda raw: void(parse_glossary(text(raw), "glossary.yaml")),
        "log": log,
        "side-logs": side,
        "sheet": sheet,
        "table": table,
        "workbook": workbook,
        "paper": paper,
        "matrix": lambda raw: void(parse_matrix(text(raw), "x.csv")),
        "calendar": calendar,
        "entry": entry,
        "query": query,
        "identifiers": lambda raw: void(find_identifiers(text(raw))),
        "pack": pack,
    }


def zipped_list(raw: bytes) -> bytes:
    """A pack whose list is `raw`, holding what that list names: a checksum stops most changed zips
    before anything of ours is reached.
    """
    from kb.storage.pack import MANIFEST

    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        archive.writestr(MANIFEST, raw)
        with suppress(ValueError, TypeError, LookupError, AttributeError, RecursionError):
            for row in json.loads(raw)["files"]:
                archive.writestr(row["path"], b"a\n")
    return made.getvalue()


def zipped_sheet(raw: bytes) -> bytes:
    """A workbook whose one sheet is `raw`."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for name, part in plain_parts().items():
            archive.writestr(name, raw if name.endswith("sheet1.xml") else part)
    return made.getvalue()


@cache
def plain_parts() -> dict[str, bytes]:
    """The parts of an empty workbook that has a style for dates."""
    import openpyxl

    book, made = openpyxl.Workbook(), io.BytesIO()
    book.active["A1"] = TODAY
    book.save(made)
    with zipfile.ZipFile(made) as whole:
        return {name: whole.read(name) for name in whole.namelist()}


def void(_found: object) -> None:
    """Discard a parser's result: only that it answers matters."""


def feed(name: str, options: Sequence[str]) -> None:
    """Fuzz one parser in this process; does not return."""
    import atheris

    with atheris.instrument_imports(include=["kb"]):
        parse = parsers()[name]
    from kb.core.errors import KBError

    def one(raw: bytes) -> None:
        try:
            parse(raw)
        except KBError:
            return

    atheris.Setup(["fuzz", *options], one)
    atheris.Fuzz()


def first_inputs(name: str, folder: Path) -> None:
    """Copy the repository's files of this kind into a corpus."""
    folder.mkdir(parents=True, exist_ok=True)
    for pattern in CORPORA[name]:
        for path in sorted(ROOT.glob(pattern)):
            (folder / f"seed-{path.name}").write_bytes(path.read_bytes()[:LONGEST_BYTES])
    digest = hashlib.sha256(b"a\n").hexdigest()
    listed = {"path": "exam.yaml", "sha256": digest, "bytes": 2, "mtime_ns": 10**18}
    made = {
        "calendar": b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nBEGIN:VEVENT\r\nSUMMARY:Night\r\n"
        b"DTSTART;TZID=Europe/London:20270301T200000\r\nDTEND:20270302T080000Z\r\n"
        b"RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=5\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n",
        "entry": b"entry-0001\nnorth\n1041\nwrong\n2027-02-13T10:00:00+00:00\nfirst\ncardiology\n",
        "query": b'"low sodium" -heart area:cardiology 1041-1050,1060',
        "pack": json.dumps({"schema": 1, "files": [listed]}).encode(),
        "workbook": b'<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>item</t></is>'
        b'</c><c r="B1" t="str"><v>outcome</v></c></row><row r="2"><c r="A2" s="1"><v>41</v></c>'
        b'<c r="B2" t="b"><v>0</v></c></row></sheetData></worksheet>',
        "log": (ROOT / "notes/log/attempts-phone.csv").read_bytes()[:1500],
    }
    if name in made:
        (folder / "seed-made").write_bytes(made[name])


def fuzz(name: str, seconds: int, corpus: Path) -> bool:
    """Fuzz one parser for `seconds`; True if something was found, which is printed."""
    folder = corpus / name
    first_inputs(name, folder)
    options = [
        f"-max_total_time={seconds}",
        f"-max_len={LONGEST_BYTES}",
        f"-timeout={SLOWEST_SECONDS}",
        f"-rss_limit_mb={MOST_MEGABYTES}",
        f"-artifact_prefix={corpus / name}-",
        "-print_final_stats=1",
    ]
    command = [sys.executable, __file__, "--feed", name, *options, str(folder)]
    done = subprocess.run(
        command, cwd=ROOT, capture_output=True, encoding="utf-8", errors="replace", check=False
    )
    output = done.stdout + done.stderr
    count = re.search(r"number_of_executed_units: (\d+)", output)
    print(f"{name:<12}{int(count[1]) if count else 0:>10} inputs", end="", flush=True)
    if not done.returncode:
        print("  nothing found")
        return False
    at = max(output.find("=== Uncaught"), 0) or max(output.find("ERROR: libFuzzer"), 0)
    print(f"  FOUND (status {done.returncode})\n{output[at : at + 3000]}")
    return True


def main(arguments: Sequence[str] | None = None) -> int:
    """Fuzz as the command line says; status 1 if something was found."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if given[:1] == ["--feed"]:
        feed(given[1], given[2:])
        return 0
    parser = argparse.ArgumentParser(description="Fuzz the parsers.")
    parser.add_argument("parsers", nargs="*", choices=[*CORPORA, []], help="default: all")
    parser.add_argument("--seconds", type=int, default=120, help="for each parser (default 120)")
    parser.add_argument("--corpus", type=Path, default=ROOT / ".cache" / "fuzz", metavar="DIR")
    chosen = parser.parse_args(given)
    names = chosen.parsers or list(CORPORA)
    found = [name for name in names if fuzz(name, chosen.seconds, chosen.corpus)]
    print(f"Findings in: {', '.join(found)}" if found else "Nothing found.")
    return int(bool(found))


if __name__ == "__main__":
    sys.exit(main())
