"""Hostile and odd files, each given to a command in a process of its own: seconds, memory, answer.

    python scripts/attacks.py [WORD ...]

Prints the table of scripts/README.md; with words, only attacks whose names hold one of them. Exits
1 if a command took more than 10 s or 500 MB, ended in a traceback, or said more than a few lines.
"""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
import zipfile
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
DAY = "2027-04-05"
DEVICE = "attacked"
SOURCE = ("--source", "north")
MOST_SECONDS, MOST_MB, MOST_LINES, LONGEST_WAIT = 10.0, 500.0, 12, 180.0
HEAD = b'<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
ROWS = "question,outcome,date\n" + "".join(f"{n},wrong,2027-01-14\n" for n in range(40, 60))


@dataclass(frozen=True)
class Outcome:
    """What a command did: its status, processor seconds, most memory in MB, and its words."""

    status: int
    seconds: float
    megabytes: float
    text: str


def run(arguments: list[str], folder: Path, stdin: str = "") -> Outcome:
    """Run a command and measure it; memory is the high-water mark of its process."""
    own = {**os.environ, "MISSBOOK_CACHE": str(folder / "cache"), "PYTHONPATH": str(ROOT)}
    own["MISSBOOK_DEVICE"] = DEVICE
    with tempfile.TemporaryFile() as output:
        process = subprocess.Popen(
            [sys.executable, "-m", "kb", *arguments],
            stdin=subprocess.PIPE,
            stdout=output,
            stderr=subprocess.STDOUT,
            cwd=folder,
            env=own,
        )
        peak, seconds = _watched(process, stdin)
        output.seek(0)
        text = output.read().decode("utf-8", "replace")
    return Outcome(process.returncode, seconds, peak, text)


def _watched(process: subprocess.Popen[bytes], stdin: str) -> tuple[float, float]:
    """Wait for a process: its most memory in MB and its seconds of processor time, where the system
    tells (Linux); elsewhere seconds by the clock. One that waits for `LONGEST_WAIT` is ended, and
    its seconds are those of the clock.
    """
    peak, start = 0.0, time.monotonic()
    if process.stdin:
        process.stdin.write(stdin.encode())
        process.stdin.close()
    while time.monotonic() - start < LONGEST_WAIT:
        with suppress(OSError):
            status = Path(f"/proc/{process.pid}/status").read_text(encoding="ascii")
            found = re.search(r"VmHWM:\s+(\d+) kB", status)
            peak = max(peak, int(found[1]) / 1000 if found else 0)
        if os.name == "posix":
            own, state, used = os.wait4(process.pid, os.WNOHANG)
            if own:
                process.returncode = os.waitstatus_to_exitcode(state)
                return peak, used.ru_utime + used.ru_stime
        elif process.poll() is not None:
            return peak, time.monotonic() - start
        time.sleep(0.02)
    process.kill()
    process.wait()
    return peak, time.monotonic() - start


def workbook(change: Callable[[dict[str, bytes]], None]) -> bytes:
    """A small workbook with its parts changed."""
    import openpyxl

    book = openpyxl.Workbook()
    for line in ROWS.splitlines():
        book.active.append(line.split(","))
    made = io.BytesIO()
    book.save(made)
    with zipfile.ZipFile(made) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    change(parts)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, raw in parts.items():
            archive.writestr(name, raw)
    return out.getvalue()


def _sheet(name: str, old: bytes, new: bytes) -> Callable[[dict[str, bytes]], None]:
    def change(parts: dict[str, bytes]) -> None:
        part = f"xl/{name}"
        assert re.search(old, parts[part])
        parts[part] = re.sub(old, lambda _: new, parts[part], count=1)

    return change


def _without_sheet(parts: dict[str, bytes]) -> None:
    del parts[f"xl/{SHEET}"]


SHEET = "worksheets/sheet1.xml"
DATA = rb"<sheetData>.*</sheetData>"


def tables() -> Iterator[tuple[str, str, bytes]]:
    """Attack, name of the file, its bytes: tables to log."""
    dimension = rb'<dimension ref="[^"]*" ?/>'
    yield (
        "workbook: dimension A1 only",
        "a.xlsx",
        workbook(_sheet(SHEET, dimension, b'<dimension ref="A1"/>')),
    )
    yield (
        "workbook: dimension XFD1048576",
        "a.xlsx",
        workbook(_sheet(SHEET, dimension, b'<dimension ref="A1:XFD1048576"/>')),
    )
    yield (
        "workbook: 20 million empty rows",
        "a.xlsx",
        workbook(_sheet(SHEET, rb"</sheetData>", b"<row/>" * 20_000_000 + b"</sheetData>")),
    )
    yield (
        "workbook: 5 million empty rows",
        "a.xlsx",
        workbook(_sheet(SHEET, rb"</sheetData>", b"<row/>" * 5_000_000 + b"</sheetData>")),
    )
    yield (
        "workbook: row number 999,999,999",
        "a.xlsx",
        workbook(
            _sheet(SHEET, rb"</sheetData>", b'<row r="999999999"><c><v>1</v></c></row></sheetData>')
        ),
    )
    cell = b'<row><c t="inlineStr"><is><t>' + b"x" * 90_000_000 + b"</t></is></c></row>"
    yield (
        "workbook: one cell of 90 MB",
        "a.xlsx",
        workbook(_sheet(SHEET, DATA, b"<sheetData>" + cell + b"</sheetData>")),
    )
    wide = b"<sheetData>" + b'<row><c r="XFD1"><v>1</v></c></row>' * 2000 + b"</sheetData>"
    yield "workbook: 2,000 rows of 16,384 columns", "a.xlsx", workbook(_sheet(SHEET, DATA, wide))

    def bomb(parts: dict[str, bytes]) -> None:
        parts["xl/sharedStrings.xml"] = b"<sst><si><t>" + b"0" * 1_000_000_000 + b"</t></si></sst>"

    yield "workbook: a part of 1 GB in 1 MB", "a.xlsx", workbook(bomb)
    lines = b"".join(b'<!ENTITY %c "%s">' % (97 + n, b"&%c;" % (96 + n) * 10) for n in range(1, 9))
    laughs = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha">' + lines + b"]>"
    body = HEAD.partition(b"?>")[2] + b"<sheetData><row><c><v>&i;</v></c></row></sheetData>"
    yield (
        "workbook: entities within entities",
        "a.xlsx",
        workbook(lambda parts: parts.update({f"xl/{SHEET}": laughs + body + b"</worksheet>"})),
    )
    whole = workbook(lambda _: None)
    yield "workbook: cut in half", "a.xlsx", whole[: len(whole) // 2]
    yield (
        "workbook: its sheet is missing",
        "a.xlsx",
        workbook(_without_sheet),
    )
    yield (
        "workbook: its sheet ends halfway",
        "a.xlsx",
        workbook(lambda parts: parts.update({f"xl/{SHEET}": parts[f"xl/{SHEET}"][:700]})),
    )
    yield "CSV: one cell of 30 MB", "a.csv", ROWS.encode() + b"x" * 30_000_000
    yield "CSV: 30 million commas", "a.csv", ROWS.encode() + b"," * 30_000_000
    yield "CSV: 30 million line breaks", "a.csv", ROWS.encode() + b"\n" * 30_000_000
    yield "CSV: 900,000 columns", "a.csv", b"a," * 450_000 + b"\n" + b"b," * 450_000 + b"\n"
    yield "CSV: 20 MB in no known encoding", "a.csv", bytes(range(128, 256)) * 160_000
    yield "CSV: a file of 1 GB", "a.csv", b""


def sheets() -> Iterator[tuple[str, str, bytes]]:
    """Attack, name of the file, its bytes: answer sheets to log."""
    items = ", ".join(str(number) for number in range(100_000)).encode()
    yield "sheet: 100,000 items in one line", "a.txt", b"14 Jan north\n" + items + b"\n"
    yield "sheet: a remark of 5 MB", "a.txt", b"14 Jan north\n41 x " + b"gout, 5 " * 600_000
    yield "sheet: 30 MB of quotation marks", "a.txt", b"14 Jan north\n" + b'"' * 30_000_000


def notes() -> Iterator[tuple[str, bytes]]:
    """Attack, and the note."""
    yield "note: 25 MB", b"# Large\n" + b"word " * 5_000_000
    for name, text in (
        ("[a](", b"[a](" * 60_000),
        ("[", b"[" * 60_000),
        ("![a][", b"![a][" * 60_000),
        ("* and _", b"*a _" * 60_000),
        ("<a ", b"<a " * 60_000),
        ("backticks of growing length", b" ".join(b"`" * n for n in range(700))),
        ("quotations within quotations", b"> " * 20_000 + b"a"),
        ("lists within lists", b"".join(b" " * n + b"- a\n" for n in range(600))),
        ("a table of 3,000 columns", b"|a" * 3000 + b"\n" + b"|-" * 3000 + b"\n" + b"|b" * 3000),
        ("digits", b"1" * 300_000),
        ("doses", b"1,000.000 " * 30_000),
        ("headings", b"# a\n" * 100_000),
        ("digits apart", b"4 8 5 7 " * 60_000),
        ("parts of an address", b"a.b-c+d." * 60_000 + b"@"),
        ("capitals and dashes", b"A-" * 30_000 + b" mr 12345"),
    ):
        yield f"note: {name}, many times", b"# Odd\n\n" + text + b"\n"
    yield "note: a title of 5 MB", b"---\ntitle: " + b"x" * 5_000_000 + b"\n---\nA.\n"
    keys = b"".join(b"k%d: 1\n" % number for number in range(200_000))
    yield "note: 200,000 keys", b"---\n" + keys + b"---\nA.\n"
    number = b"9" * 6000
    yield "note: a number of 6,000 digits", b"---\nquestions: [" + number + b"]\n---\nA.\n"
    yield "note: brackets in its front matter", b"---\nconcepts: " + b"[" * 50_000 + b"\n---\nA.\n"
    anchors = b"a: &a [x]\n" + b"".join(
        b"%c: &%c [%s]\n" % (97 + n, 97 + n, b",".join([b"*%c" % (96 + n)] * 10))
        for n in range(1, 9)
    )
    yield "note: aliases of aliases", b"---\n" + anchors + b"concepts: *i\n---\nA.\n"


def calendars() -> Iterator[tuple[str, bytes]]:
    """Attack, and the calendar: events to take a rota from."""
    night = "DTSTART:20270410T200000\nDTEND:20270411T083000\n"
    stay = "DTSTART;VALUE=DATE:20270101\nDTEND;VALUE=DATE:20290101\n"
    often = "RRULE:FREQ=DAILY;BYMINUTE=" + ",".join(map(str, range(60))) + "\n"
    for name, events in (
        ("20,000 events", [f"{night}SUMMARY:Night {n}" for n in range(20_000)]),
        ("4,000 stays of two years", [f"{stay}SUMMARY:Night {n}" for n in range(4000)]),
        ("60,000 events of other years", [night.replace("2027", "2020")] * 60_000),
        ("repeated every minute", [f"{night}{often}SUMMARY:Night"] * 600),
        ("1,500 daily events", [f"{night}RRULE:FREQ=DAILY\nSUMMARY:Night"] * 1500),
        ("a title of 2 MB", [f"{night}SUMMARY:{'x' * 2_000_000}"]),
        ("20,000 days left out", [f"{night}EXDATE:{','.join(['20270411T200000'] * 20_000)}"]),
        ("a length below nothing", ["DTSTART:20270410T200000\nDURATION:-PT9H\nSUMMARY:Night"]),
    ):
        body = "".join(f"BEGIN:VEVENT\nUID:{n}\n{e}\nEND:VEVENT\n" for n, e in enumerate(events))
        yield f"calendar: {name}", f"BEGIN:VCALENDAR\n{body}END:VCALENDAR\n".encode()


def records(log: Path) -> Iterator[tuple[str, Path, str, str]]:
    """Attack, the file in the log folder, its text, and the command that reads it."""
    evil = '{"path": "../../evil", "start": 0, "old": "x", "new": "", "before": "b", "after": ""}'
    act = f'{{"id": "a-1", "at": "x", "told": "x", "lines": [], "undoes": "", "files": [{evil}]}}'
    acts = f'{{"acts": 1}}\n{act}\n{"[" * 100_000}\n'
    yield "undo: a record of a file outside the base", log / f"acts-{DEVICE}.jsonl", acts, "undo"
    line = "v{},2027-03-01T10:00:00+00:00,north:1,void,{}\n"
    voids = "".join(line.format(n, f"v{n - 1}") for n in range(1, 30_000))
    head = "id,at,question,outcome,voids\n"
    yield "log: 30,000 voids of voids", log / "attempts-odd.csv", head + voids, "check"


def packs(folder: Path) -> Iterator[tuple[str, Path]]:
    """Attack, and the pack: files that look like one, made here."""
    from kb.storage.pack import MANIFEST

    exam = (ROOT / "notes" / "exam.yaml").read_bytes()
    many = [("exam.yaml", exam), *((f"log/{n}.txt", b"") for n in range(50_000))]
    listed = [
        {"path": p, "sha256": sha256(raw).hexdigest(), "bytes": len(raw), "mtime_ns": 10**18}
        for p, raw in many
    ]
    whole = json.dumps({"schema": 1, "files": listed}).encode()
    for name, files, manifest in (
        ("50,000 files", many, whole),
        ("a list of 8 million files", [], b'{"files": [' + b'{"path": "a"},' * 8_000_000 + b"1]}"),
    ):
        path = folder / "a.zip"
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for inner, raw in (*files, (MANIFEST, manifest)):
                archive.writestr(inner, raw)
        yield f"pack: {name}", path
    if os.name == "posix":
        (folder / "pipe.zip").unlink(missing_ok=True)
        os.mkfifo(folder / "pipe.zip")
        yield "pack: a pipe", folder / "pipe.zip"


def commands(folder: Path) -> Iterator[tuple[str, list[str], str]]:
    """Attack, the command it is given to, and what is typed; files are made on the way."""
    base = folder / "notes"
    for name, file, raw in tables():
        path = folder / file
        path.write_bytes(raw)
        if name.endswith("1 GB"):
            with path.open("wb") as stream:
                stream.truncate(1_000_000_000)
        yield name, ["--base", str(base), "log", "table", str(path), "--dry-run", *SOURCE], ""
        path.unlink()
    for name, file, raw in sheets():
        (folder / file).write_bytes(raw)
        yield name, ["--base", str(base), "log", "sheet", str(folder / file), "--dry-run"], ""
    for name, raw in notes():
        note = base / "nephrology" / "odd-attack.md"
        note.write_bytes(raw)
        yield name, ["--base", str(base), "check"], ""
        note.unlink()
    for name, raw in calendars():
        (folder / "a.ics").write_bytes(raw)
        yield name, ["--base", str(base), "rota", str(folder / "a.ics"), "--dry-run"], ""
    for name, path, text, command in records(base / "log"):
        path.write_text(text, encoding="utf-8")
        yield name, ["--base", str(base), command], ""
        path.unlink()
    for number, (name, path) in enumerate(packs(folder)):
        yield name, ["unpack", str(path), str(folder / f"new-{number}")], ""
    if os.name == "posix":
        study = (base / "study.yaml").read_bytes()
        (base / "study.yaml").unlink()
        os.mkfifo(base / "study.yaml")
        yield "settings: a pipe", ["--base", str(base), "queue"], ""
        (base / "study.yaml").unlink()
        (base / "study.yaml").write_bytes(study)
    study = (base / "study.yaml").read_bytes()
    (base / "study.yaml").write_bytes(study + b"# x\n" * 7_000_000)
    yield "settings: 28 MB of comments", ["--base", str(base), "check"], ""
    (base / "study.yaml").write_bytes(study)
    short = folder / "group.csv"
    short.write_text("candidate,1,2\nkey,a\nx,a,b\ny,b,b\n", encoding="utf-8")
    yield "items: a key with too few cells", ["--base", str(base), "items", str(short)], ""


def slow_connections(count: int) -> tuple[float, int]:
    """Seconds until an ordinary page comes while `count` connections send a letter a second each,
    and its status. The waitress settings are those of `missbook serve`.
    """
    from flask import Flask

    from kb.web import server as serving

    app = Flask("attacked")
    app.add_url_rule("/", "start", lambda: "fine")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    server = serving.make_server(app, "127.0.0.1", port)
    threading.Thread(target=server.run, daemon=True).start()
    slow = [socket.create_connection(("127.0.0.1", port), 10) for _ in range(count)]
    done = threading.Event()

    def trickle() -> None:
        while not done.wait(1):
            for wire in slow:
                with suppress(OSError):
                    wire.sendall(b"x")

    for wire in slow:
        wire.sendall(b"GET / HTTP/1.1\r\nX: ")
    threading.Thread(target=trickle, daemon=True).start()
    time.sleep(3)
    start = time.monotonic()
    with socket.create_connection(("127.0.0.1", port), 120) as wire:
        wire.sendall(
            f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n".encode()
        )
        status = int(wire.makefile("rb").readline().split()[1])
    seconds = time.monotonic() - start
    done.set()
    for wire in slow:
        wire.close()
    return seconds, status


def main(words: list[str]) -> int:
    """Attack, and print the table; 1 if a limit was passed."""
    bad = 0
    print("| attack | answer | seconds | MB |\n| --- | --- | --- | --- |")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        folder = Path(name)
        shutil.copytree(ROOT / "notes", folder / "notes")
        run(["--base", str(folder / "notes"), "check"], folder)  # everything else is known
        for attack, arguments, typed in commands(folder):
            if words and not any(word in attack for word in words):
                continue
            dated = [] if "unpack" in arguments else ["--as-of", DAY]
            found = run([*arguments, *dated], folder, typed)
            lines = found.text.strip().splitlines()
            said = next((line for line in lines if "attack" in line), lines[0] if lines else "")
            said = said.replace(str(folder) + os.sep, "").replace("|", "\\|")[:110]
            wrong = "Traceback" in found.text or len(lines) > 3 * MOST_LINES
            wrong = wrong or found.seconds > MOST_SECONDS or found.megabytes > MOST_MB
            bad += wrong
            mark = " **too much**" if wrong else ""
            size = f"{found.megabytes:.0f}" if found.megabytes else "?"
            print(f"| {attack} | {found.status}: {said}{mark} | {found.seconds:.1f} | {size} |")
            sys.stdout.flush()
    for count in (90, 200) if not words or "connections" in words else ():
        seconds, status = slow_connections(count)
        print(f"| page: {count} slow connections | {status} | {seconds:.1f} | |")
        bad += seconds > MOST_SECONDS
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
