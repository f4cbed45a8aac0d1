"""What a doctor may type, and what became of it before and now.

    git worktree add ../before 63c8b5b && python scripts/try_typing.py ../before

Every way to write an outcome that the tests know is logged on a sheet by both versions of the code,
and each of the calls below is made with both in a new base. Printed are the two tables in
scripts/README.md: ways grouped by what was meant and what was logged, and the calls with the last
line that each version said.
"""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests" / "formats"))

from test_outcome_words import ASKED, WORDS  # type: ignore[import-not-found]

from kb.formats.answer_sheet.outcome_words import table

ROOT = Path(__file__).resolve().parent.parent
FIRST = 1001
DAY = "2027-02-14"
EXAM = "exam: Quill\ndate: 2027-05-11\nblueprint:\n  - {area: cardiology, items: 200}\n"
STUDY = "sources:\n  - {source: north, kind: bank, items: 3000}\n"
NOTE = "---\ntitle: Gout\narea: cardiology\nquestions: [north:7]\n---\nNeedles.\n"
CALLS = (
    ("log one north:2750 missed",),
    ("log one north:2750 C<B",),
    ("log one north:2750 x2",),
    ("log one north:2750 wrogn",),
    ("log one north:2750 x", "log one north:2750 x"),
    ("log one north:2750 x --day 2027-02-10",),
    ("log sheet patient.txt",),
    ("log table patient.csv --source north",),
    ("log table pick.csv --source north --day 2027-02-01 --dry-run",),
    ("log table wrong.csv --source north --day 2027-02-01 --dry-run",),
    ("log table done.csv --source north --dry-run",),
    ("log table option.csv --source north --day 2027-02-01",),
    ("graph --out base/exam.yaml",),
    ("calendar --out base/log/attempts-test.csv",),
    ("log one north:8 x", "note north:8 --dismiss nothing", "undo"),
    ("log block north 1-40 --wrong 3", "log one north:50 x", "undo"),
    ("rename area cardiology heart",),
    ("rename source north polar",),
    ("new other --date 2027-05-11 --blueprint sciences --source north=2800",),
)
FILES = {
    "patient.txt": "14 Feb north\n1 x Mr John Smith 12/03/1954, hospital number 1234567\n",
    "patient.csv": "Q,Result,Date,Comment\n1,wrong,2027-02-01,John Smith dob 12/03/1954\n",
    "pick.csv": "Q;Your pick;Answer;Result\n7;C;B;wrong\n",
    "wrong.csv": "Q,Wrong\n7,1\n",
    "done.csv": "Q,Result,Date done\n7,wrong,2027-02-01\n",
    "option.csv": "Q,Chosen,Key\n7,G,B\n",
    "base/exam.yaml": EXAM,
    "base/study.yaml": STUDY,
    "base/heart/gout.md": NOTE,
}


def run(code: Path, folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """One call of a version of the code, in a folder beside the base."""
    surroundings = {
        **os.environ,
        "PYTHONPATH": str(code),
        "PYTHONUTF8": "1",
        "MISSBOOK_DEVICE": "test",
        "MISSBOOK_CACHE": str(folder / "cache"),
        "MISSBOOK_BASE": str(folder / "base"),
    }
    command = [sys.executable, "-m", "kb", *words]
    return subprocess.run(
        command, cwd=folder, env=surroundings, capture_output=True, text=True, check=False
    )


def fill(folder: Path) -> None:
    """A new base, and the files that the calls name."""
    for name, text in FILES.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8", newline="\n")


def logged(code: Path, ways: list[str]) -> dict[str, str]:
    """What each way to write an outcome is logged as; `asked` if the person has to say."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fill(folder)
        lines = (f"north:{number} {way}" for number, way in enumerate(ways, start=FIRST))
        (folder / "ways.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
        words = ("log", "sheet", "ways.txt", "--as-of", DAY, "--dry-run", "--json")
        answers = json.loads(run(code, folder, *words).stdout)["answers"]
    found = {row["question"]: row["outcome"] for row in answers}
    return {w: found.get(f"north:{n}", "asked") for n, w in enumerate(ways, start=FIRST)}


def said(code: Path, calls: tuple[str, ...]) -> str:
    """How the last of some calls ended: its exit status, and what it logged or first said."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fill(folder)
        for call in calls:
            more = ("--json",) if "--dry-run" in call else ()
            done = run(code, folder, *call.split(), "--as-of", DAY, *more)
        logs = list((folder / "base" / "log").glob("attempts-*.csv"))
        rows = list(csv.DictReader(logs[0].open(encoding="utf-8"))) if logs else []
        everything = (done.stdout + "\n" + done.stderr).replace(f"{folder}/", "")
    if not done.returncode and "--dry-run" in calls[-1]:
        texts = " ".join(json.loads(done.stdout).get("texts", ()))
        row = json.loads(done.stdout)["added"][0]
        shown = [texts.partition("line 2: ")[2] or f"{row['outcome']} on {row['at']}"]
    elif not done.returncode and calls[-1].startswith("log "):
        held = (
            f"{name} {rows[-1][name]}"
            for name in ("outcome", "chosen", "key", "remark")
            if rows[-1][name]
        )
        shown = [f"{len(rows)} logged, the last: {', '.join(held)}"]
    else:
        shown = [line.strip() for line in everything.splitlines() if line.strip()]
    return f"{done.returncode}: {shown[0][:110]}".replace("|", "\\|")


def main() -> int:
    """Print both tables."""
    if len(sys.argv) != 2:
        print(__doc__)
        return 2
    before = Path(sys.argv[1]).resolve()
    meant = {way: table()[way].said for way in WORDS} | dict.fromkeys(ASKED, "ask")
    ways = list(meant)
    old, new = logged(before, ways), logged(ROOT, ways)
    groups: dict[tuple[str, str, str], list[str]] = {}
    for way in ways:
        groups.setdefault((meant[way], old[way], new[way]), []).append(way)
    print("| meant | before | now | ways | which |\n| --- | --- | --- | --- | --- |")
    for key, own in sorted(groups.items()):
        shown = " · ".join(f"`{way}`" for way in own).replace("|", "\\|")
        print(f"| {' | '.join(key)} | {len(own)} | {shown} |")
    print("\n| call | before | now |\n| --- | --- | --- |")
    for calls in CALLS:
        print(f"| `{'`, `'.join(calls)}` | {said(before, calls)} | {said(ROOT, calls)} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
