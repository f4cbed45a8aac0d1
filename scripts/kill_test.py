"""Kill missbook while it writes, a few hundred times: nothing acknowledged may be lost.

    python scripts/kill_test.py --kills 300 [--writers 8]

A worker logs answers, as a command and as the page does, takes some back, logs readings, scores and
dismissed misses, writes, rewrites and links notes, and prints what it has acknowledged. It is
killed at a random moment, or in the middle of a random system call. Then the base is read:
everything acknowledged must be there once, and every note wholly old or wholly new. The worker's
clock jumps back and forth, and two devices take turns. With several writers, that many workers
write to the base at once, and all of them are killed within half a second.
"""

from __future__ import annotations

import argparse
import io
import os
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from kb.core.model import Note
    from kb.services.session import Session

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

OS_CALLS = ("open", "fsync", "truncate", "replace", "mkdir", "unlink", "chmod", "stat", "scandir")
STREAM_CALLS = ("write", "flush", "seek", "truncate", "read", "readline")
KILLS_A_BASE = 25
EXAM = (
    "exam: The Quill Examination\ndate: 2027-05-11\nblueprint: [{area: cardiology, items: 200}]\n"
)
NOTE_LINES = 200
KINDS = ("log", "log", "void", "write", "rewrite", "link", "reading", "score", "dismiss", "page")
NOW = datetime(2027, 2, 14, 12, tzinfo=UTC)
PORT = 8017


class _Stream:
    """A file whose calls are announced; a write is announced halfway through."""

    def __init__(self, stream: Any, announce: Callable[[str], None]) -> None:  # noqa: ANN401
        self._stream, self._announce = stream, announce

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401
        value = getattr(self._stream, name)
        if name not in STREAM_CALLS:
            return value

        def call(*arguments: Any) -> Any:  # noqa: ANN401
            if name == "write" and isinstance(arguments[0], bytes):
                half = len(arguments[0]) // 2
                self._stream.write(arguments[0][:half])
                self._stream.flush()
                self._announce(name)
                self._stream.write(arguments[0][half:])
                return len(arguments[0])
            self._announce(name)
            return value(*arguments)

        return call

    def __iter__(self) -> Iterator[Any]:
        return iter(self._stream)

    def __enter__(self) -> _Stream:
        return self

    def __exit__(self, *details: object) -> None:
        self._stream.close()


@contextmanager
def announced(announce: Callable[[str], None]) -> Iterator[None]:
    """Announce every system call before it is made.

    An exception from `announce` comes out of the call.
    """
    kept: list[tuple[Any, str, Any]] = []

    def wrap(module: Any, name: str, make: Callable[[Any], Any]) -> None:  # noqa: ANN401
        kept.append((module, name, getattr(module, name)))
        setattr(module, name, make(getattr(module, name)))

    def before(name: str) -> Callable[[Any], Any]:
        def make(real: Any) -> Any:  # noqa: ANN401
            def call(*arguments: Any, **named: Any) -> Any:  # noqa: ANN401
                announce(name)
                return real(*arguments, **named)

            return call

        return make

    def opening(real: Any) -> Any:  # noqa: ANN401
        def call(*arguments: Any, **named: Any) -> Any:  # noqa: ANN401
            announce("open")
            return _Stream(real(*arguments, **named), announce)

        return call

    for name in OS_CALLS:
        wrap(os, name, before(name))
    wrap(io, "open", opening)
    try:
        yield
    finally:
        for module, name, real in kept:
            setattr(module, name, real)


# The worker


def note_body(version: int) -> str:
    """Text of a note that shows whether it is complete."""
    return "".join(
        f"version {version}, line {line} of {NOTE_LINES}\n" for line in range(NOTE_LINES)
    )


@dataclass
class Worker:
    """Writes to a base as commands and the page do, and tells what was acknowledged."""

    root: Path
    seed: int
    rng: random.Random
    tell: Callable[..., None]
    device: str
    turn: int = 0
    versions: dict[str, int] = field(default_factory=dict)
    send: Callable[[str], None] | None = None

    def act(self) -> None:
        """One act of a random kind, at a random time."""
        from kb.services.session import Session

        self.turn += 1
        now = NOW + timedelta(hours=self.rng.randint(-900, 900))
        session = Session(self.root, now=now, device=self.device)
        own = f"north:{self.rng.randint(10**11, 10**12 - 1)}"
        getattr(self, self.rng.choice(KINDS))(session, own)

    def log(self, session: Session, _: str) -> None:
        """Answers of a sheet or a table."""
        from kb.core.ids import AttemptId, QuestionId
        from kb.core.model import Attempt
        from kb.services.answer_logging import log_answers

        drafts = [
            Attempt(
                id=AttemptId(""),
                at=session.now,
                question=QuestionId(f"north:{self.rng.randint(1, 10**9)}"),
                outcome="wrong",
                remark=f"turn {self.turn}",
            )
            for _ in range(self.rng.randint(1, 40))
        ]
        added = log_answers(session, drafts, title=f"turn {self.turn}", day_only=True)
        self.tell("logged", added.batch, added.new_count)

    def void(self, session: Session, _: str) -> None:
        """One answer taken back."""
        from kb.services.answer_logging import void

        if session.whole.attempts:
            what = self.rng.choice(session.whole.attempts).id
            self.tell("voids", what)
            void(session, what)
            self.tell("voided", what)

    def write(self, session: Session, _: str) -> None:
        """A new note."""
        from kb.services.note_editing import add_note, blank_note

        title = f"Note {self.seed} {self.turn}"
        draft = blank_note(title, "cardiology", (), (), "a textbook")
        path = add_note(session, draft, note_body(0)).path
        self.versions[path] = 0
        self.tell("note", path, 0)

    def rewrite(self, session: Session, _: str) -> None:
        """Another text for one of its notes."""
        from kb.services.note_editing import rewrite_note

        for note in self._note(session):
            version = self.versions[note.path] + 1
            rewrite_note(session, note, note_body(version), session.text(note)[1])
            self.versions[note.path] = version
            self.tell("note", note.path, version)

    def link(self, session: Session, own: str) -> None:
        """One more question of one of its notes."""
        from kb.core.ids import QuestionId
        from kb.services.note_editing import link_note

        for note in self._note(session):
            link_note(session, note, QuestionId(own))
            self.tell("has", note.path, own)

    def reading(self, session: Session, _: str) -> None:
        """A note read."""
        from kb.services.answer_logging import log_reading

        for note in session.whole.notes[:1]:
            reading = log_reading(session, note, self.rng.randint(1, 9999))
            self.tell("has", f"log/readings-{self.device}.csv", reading.id)

    def score(self, session: Session, own: str) -> None:
        """A paper of which only the score is known."""
        from kb.core.ids import AreaId
        from kb.services.answer_logging import AreaScore, log_scores

        name, score = (
            own.replace(":", "-"),
            AreaScore(area=AreaId(""), right_count=60, item_count=100),
        )
        log_scores(session, name, [score], session.now, official=False)
        self.tell("has", f"log/scores-{self.device}.csv", name)

    def dismiss(self, session: Session, own: str) -> None:
        """A miss that needs no note."""
        from kb.core.ids import QuestionId
        from kb.services.answer_logging import dismiss_miss

        dismiss_miss(session, QuestionId(own), "nothing")
        self.tell("has", f"log/attempts-{self.device}.csv", own)

    def page(self, _: Session, own: str) -> None:
        """One answer, by the form of the page."""
        self.send = self.send or page(self.root, self.device)
        self.send(own)
        self.tell("has", f"log/attempts-{self.device}.csv", own)

    def _note(self, session: Session) -> list[Note]:
        """One of the notes it wrote, if there is any."""
        path = self.rng.choice([*sorted(self.versions), ""])
        return [note for note in session.whole.notes if note.path == path]


def work(root: Path, seed: int, die_at: int) -> None:
    """Write to the base until killed; at call number `die_at` if that is not 0."""
    rng = random.Random(seed)
    said = sys.stdout
    calls = 0

    def announce(_: str) -> None:
        nonlocal calls
        calls += 1
        if calls == die_at:
            os._exit(9)

    def tell(*words: object) -> None:
        said.write(" ".join(map(str, words)) + "\n")
        said.flush()

    worker = Worker(root, seed, rng, tell, rng.choice(["laptop", "phone"]))
    tell("ready")
    with announced(announce if die_at else lambda _: None):
        for _ in range(10_000):
            worker.act()


def page(root: Path, device: str) -> Callable[[str], None]:
    """What sends the form of one right answer to the page, and fails unless the page took it."""
    from kb.web.app import create_app

    app = create_app(root, clock=lambda: NOW, device=device, port=PORT, key="k" * 43)
    browser, address = app.test_client(), f"http://127.0.0.1:{PORT}"
    browser.set_cookie(f"missbook-{PORT}-key", "k" * 43, domain="127.0.0.1")

    def send(question: str) -> None:
        source, _, item = question.partition(":")
        form = {
            "token": (browser.get("/token", base_url=address).json or {})["token"],
            "entry": f"entry-{item}",
            "source": source,
            "item": item,
            "outcome": "right",
        }
        headers = {"Origin": address, "Sec-Fetch-Site": "same-origin"}
        answer = browser.post("/log", base_url=address, data=form, headers=headers)
        if answer.status_code != 303:
            raise RuntimeError(f"the page answered {answer.status_code}")

    return send


# The judge


@dataclass
class Tally:
    """What was acknowledged and what was found."""

    kills: int = 0
    acknowledged: int = 0
    found: int = 0
    lost: list[str] = field(default_factory=list)
    batches: dict[str, int] = field(default_factory=dict)
    voided: set[str] = field(default_factory=set)
    maybe_voided: set[str] = field(default_factory=set)
    notes: dict[str, int] = field(default_factory=dict)
    holdings: set[tuple[str, str]] = field(default_factory=set)

    def hear(self, said: str) -> None:
        """Record what a worker acknowledged; a torn last line was not."""
        for line in said.splitlines(keepends=True):
            words = line.split()
            if not line.endswith("\n") or not words:
                continue
            if words[0] == "logged":
                self.batches[words[1]] = int(words[2])
            elif words[0] == "voids":
                self.maybe_voided.add(words[1])
            elif words[0] == "voided":
                self.voided.add(words[1])
            elif words[0] == "failed":
                self.lost.append(line.strip())
            elif words[0] == "has":
                path, own = line.removeprefix("has ").rstrip("\n").rsplit(" ", 1)
                self.holdings.add((path, own))
            elif words[0] == "note":
                self.notes[words[1]] = int(words[2])


def raw_lines(root: Path) -> list[list[str]]:
    """Cells of all whole lines of all logs."""
    import csv

    found: list[list[str]] = []
    for path in sorted((root / "log").glob("attempts*.csv")):
        text = path.read_bytes().decode()
        found.extend(csv.reader(io.StringIO(text[: text.rfind("\n") + 1], newline="")))
    return [row for row in found if row and row[0] != "id"]


def judge(root: Path, tally: Tally) -> None:
    """Read the base as a fresh process would, and compare it with what was acknowledged."""
    from kb.formats.attempt_log import COLUMNS
    from kb.services.session import Session

    rows = [dict(zip(COLUMNS, row, strict=True)) for row in raw_lines(root)]
    ids = Counter(row["id"] for row in rows)
    tally.lost += [f"line {id_} stands {n} times" for id_, n in ids.items() if n > 1]
    in_batch = Counter(row["batch"] for row in rows if row["outcome"] != "void")
    single = len(tally.voided) + len(tally.notes) + len(tally.holdings)
    tally.acknowledged = sum(tally.batches.values()) + single
    tally.found = 0
    for path, own in tally.holdings:
        file = root / path
        count = file.read_bytes().count(own.encode()) if file.is_file() else 0
        tally.found += count == 1
        if count != 1:
            tally.lost.append(f"{path} has {own} {count} times")
    for batch, count in tally.batches.items():
        tally.found += min(count, in_batch[batch])
        if in_batch[batch] != count:
            tally.lost.append(f"import {batch}: {in_batch[batch]} of {count}")
    session = Session(root, now=datetime(2027, 2, 14, tzinfo=UTC), device="judge")
    counting = {str(attempt.id) for attempt in session.whole.attempts}
    away = {row["voids"] for row in rows if row["outcome"] == "void"}
    tally.found += len(tally.voided & away)
    tally.lost += [f"{id_} voided and still counts" for id_ in tally.voided & counting]
    answers = {row["id"] for row in rows if row["outcome"] not in ("void", "aside")}
    tally.lost += [
        f"{id_} does not count" for id_ in answers - counting - tally.voided - tally.maybe_voided
    ]
    for path, version in tally.notes.items():
        whole = [note_body(version), note_body(version + 1)]
        text = (root / path).read_text(encoding="utf-8") if (root / path).is_file() else ""
        if text.split("---\n", 2)[-1] in whole:
            tally.found += 1
        else:
            tally.lost.append(f"{path} is not whole at version {version}")
    for file in root.glob("cardiology/*.md"):
        body = file.read_text(encoding="utf-8").split("---\n", 2)[-1]
        if body not in (note_body(int(body.split()[1].rstrip(","))),):
            tally.lost.append(f"{file.name} is half written")


def _start(root: Path, rng: random.Random, die_at: int) -> subprocess.Popen[str]:
    command = [sys.executable, __file__, "--work", str(root), str(rng.randint(0, 10**9))]
    return subprocess.Popen(
        [*command, str(die_at)], stdout=subprocess.PIPE, text=True, encoding="utf-8"
    )


def kill_once(root: Path, rng: random.Random, tally: Tally, writers: int = 1) -> None:
    """Start as many workers, kill them, and judge."""
    calls = [rng.randint(1, 400) if rng.random() < 0.5 else 0 for _ in range(writers)]
    workers = [_start(root, rng, die_at) for die_at in calls]
    said = [worker.stdout.readline() if worker.stdout else "" for worker in workers]
    for worker, die_at in zip(workers, calls, strict=True):
        if not die_at:
            time.sleep(rng.uniform(0.0, 0.5) / writers)
            worker.kill()
    for worker, first in zip(workers, said, strict=True):
        with worker:  # not communicate(): it would pass over what readline() has buffered
            tally.hear(first + (worker.stdout.read() if worker.stdout else ""))
    tally.kills += writers
    judge(root, tally)


def run(kills: int, seed: int, writers: int = 1) -> tuple[int, int, int, list[str]]:
    """Kill `kills` times; returns counts of kills, acknowledged, found, and the losses."""
    rng = random.Random(seed)
    totals = [0, 0, 0]
    lost: list[str] = []
    while totals[0] < kills:
        with tempfile.TemporaryDirectory() as folder:
            root = Path(folder)
            (root / "exam.yaml").write_text(EXAM, encoding="utf-8")
            tally = Tally()
            for _ in range(0, min(KILLS_A_BASE, kills - totals[0]), writers):
                kill_once(root, rng, tally, writers)
            totals = [
                totals[0] + tally.kills,
                totals[1] + tally.acknowledged,
                totals[2] + tally.found,
            ]
            lost += tally.lost
    return totals[0], totals[1], totals[2], lost


def main() -> int:
    """Run the test; exit status 1 if anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--writers", type=int, default=1, help="at the same time (default 1)")
    parser.add_argument("--work", nargs=3, metavar=("BASE", "SEED", "CALL"))
    given = parser.parse_args()
    if given.work:
        try:
            work(Path(given.work[0]), int(given.work[1]), int(given.work[2]))
        except Exception as error:
            print("failed", type(error).__name__, error, flush=True)
            raise
        return 0
    kills, acknowledged, found, lost = run(given.kills, given.seed, given.writers)
    print(f"kills {kills}, acknowledged {acknowledged}, found {found}, lost {len(lost)}")
    for line in lost[:20]:
        print(f"  {line}")
    return 1 if lost or found != acknowledged else 0


if __name__ == "__main__":
    sys.exit(main())
