"""The worker of kill_test.py: writes to a base as commands and the page do, until it is killed."""

from __future__ import annotations

import io
import os
import random
import sys
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from kb.core.model import Attempt, Note
    from kb.services.session import Session

OS_CALLS = ("open", "fsync", "truncate", "replace", "mkdir", "unlink", "chmod", "stat", "scandir")
STREAM_CALLS = ("write", "flush", "seek", "truncate", "read", "readline")
NOTE_LINES = 200
KINDS = (
    *("log", "log", "void", "scrub", "undo", "undo_edit", "reading", "score", "dismiss", "draw"),
    *("write", "rewrite", "link", "merge", "rename", "columns", "rota", "page", "page"),
)
NOW = datetime(2027, 2, 14, 12, tzinfo=UTC)
DAYS_FROM, DAYS = date(2030, 1, 1), 50_000
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
    send: Callable[[str, dict[str, str]], None] | None = None

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
        from kb.services.answer_logging import log_answers

        drafts = [self._missed() for _ in range(self.rng.randint(1, 40))]
        added = log_answers(session, drafts, title=f"turn {self.turn}", day_only=True)
        self.tell("logged", added.batch, added.new_count)

    def _missed(self, remark: str = "") -> Attempt:
        from kb.core.ids import AttemptId, QuestionId
        from kb.core.model import Attempt

        return Attempt(
            id=AttemptId(""),
            at=NOW,
            question=QuestionId(f"north:{self.rng.randint(1, 10**9)}"),
            outcome="wrong",
            remark=remark or f"turn {self.turn}",
        )

    def _one(self, session: Session, remark: str) -> list[Attempt]:
        """One answer, logged and told; none if another worker has taken it back already."""
        from kb.services.answer_logging import log_answers

        added = log_answers(session, [self._missed(remark)], title=remark, day_only=True)
        self.tell("logged", added.batch, added.new_count)
        return [a for a in session.whole.attempts if a.batch == added.batch]

    def scrub(self, session: Session, own: str) -> None:
        """The remark of one answer blanked for good."""
        from kb.services.answer_logging import scrub

        for one in self._one(session, f"name {own}"):
            scrub(session, one.id)
            self.tell("gone", own)

    def undo(self, session: Session, own: str) -> None:
        """One answer logged as a command does, and undone by the id of that act."""
        from kb.services.undoing import undo

        recorder = session.record_acts(session.now)
        logged = self._one(session, own)
        act = recorder.stop()
        for one in logged:
            self.tell("voids", one.id)
            undo(session, act.id if act else "")
            self.tell("voided", one.id)

    def undo_edit(self, session: Session, _: str) -> None:
        """A note rewritten, and that undone: its text is what it was."""
        from kb.services.note_editing import rewrite_note
        from kb.services.undoing import undo

        for note in self._note(session):
            version = self.versions[note.path]
            recorder = session.record_acts(session.now)
            rewrite_note(session, note, note_body(version + 1), session.text(note)[1])
            act = recorder.stop()
            undo(session, act.id if act else "")
            self.tell("note", note.path, version)

    def draw(self, session: Session, own: str) -> None:
        """Questions drawn at random."""
        from kb.services.drawing import Wish, draw_questions

        draw_questions(session, Wish(count=5, seed=own), record=True)
        self.tell("has", f"log/draws-{self.device}.csv", own, 5)

    def merge(self, session: Session, _: str) -> None:
        """Two new notes made one."""
        from kb.services.note_editing import add_note, blank_note, merge_notes

        notes = []
        for name in ("Pair one", "Pair two"):
            version = self.rng.randint(10**11, 10**12 - 1)
            blank = blank_note(f"{name} {version}", "nephrology", (), (), "a textbook")
            notes.append(add_note(session, blank, note_body(version)))
            self.tell("text", notes[-1].path, version)
        keep, other = notes
        self.tell("merges", other.path, keep.path)
        merge_notes(session, keep, other, session.text(keep)[1], session.text(other)[1])
        self.tell("merged", other.path, keep.path)

    def rename(self, session: Session, own: str) -> None:
        """The concept of one of its notes under another name."""
        from kb.services.renaming import rename

        for note in self._note(session):
            new = own.replace(":", " ")
            self.tell("no_longer", note.path, f"concepts: [{note.concepts[0]}]")
            rename(session, "concept", note.concepts[0], new, dry_run=False)
            self.tell("has", note.path, f"concepts: [{new}]", 1)

    def columns(self, session: Session, own: str) -> None:
        """Which columns the tables of a source have."""
        from kb.services.settings_editing import remember_columns

        source = own.replace(":", "-")
        remember_columns(session, source, {"item": "Q"})
        self.tell("has", "study.yaml", source, 1)

    def rota(self, session: Session, own: str) -> None:
        """A day of the rota, from a calendar file."""
        from kb.services.settings_editing import set_rota_days

        day = DAYS_FROM + timedelta(days=self.rng.randrange(DAYS))
        set_rota_days(session, {day: "night"}, {}, file=f"{own}.ics", first=day)
        self.tell("has", "study.yaml", f"{day.isoformat()}: night", 1)

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
        draft = blank_note(title, "cardiology", (f"of {self.seed} {self.turn}",), (), "a textbook")
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
            self.tell("has", note.path, own, 1)

    def reading(self, session: Session, _: str) -> None:
        """A note read."""
        from kb.services.answer_logging import log_reading

        for note in session.whole.notes[:1]:
            reading = log_reading(session, note, self.rng.randint(1, 9999))
            self.tell("has", f"log/readings-{self.device}.csv", reading.id, 1)

    def score(self, session: Session, own: str) -> None:
        """A paper of which only the score is known."""
        from kb.core.ids import AreaId
        from kb.services.answer_logging import AreaScore, log_scores

        name, score = (
            own.replace(":", "-"),
            AreaScore(area=AreaId(""), right_count=60, item_count=100),
        )
        log_scores(session, name, [score], session.now, official=False)
        self.tell("has", f"log/scores-{self.device}.csv", name, 1)

    def dismiss(self, session: Session, own: str) -> None:
        """A miss that needs no note."""
        from kb.core.ids import QuestionId
        from kb.services.answer_logging import dismiss_miss

        dismiss_miss(session, QuestionId(own), "nothing")
        self.tell("has", f"log/attempts-{self.device}.csv", own, 1)

    def page(self, _: Session, own: str) -> None:
        """One answer, and every second time a note on it, by the forms of the page."""
        self.send = self.send or page(self.root, self.device)
        source, item = own.split(":")
        entry = {"entry": f"entry-{item}", "source": source, "item": item, "outcome": "wrong"}
        self.send("/log", entry)
        self.tell("has", f"log/attempts-{self.device}.csv", own, 1)
        miss = {"body": f"Point {item} holds.", "title": f"Page {item}", "area": "cardiology"}
        if self.rng.random() < 0.5:
            self.send(f"/log/miss/{own}", {**miss, "basis": "a textbook"})
            self.tell("has", f"cardiology/page-{item}.md", f"Point {item} holds.", 1)

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


def page(root: Path, device: str) -> Callable[[str, dict[str, str]], None]:
    """What sends a form to the page, and fails unless the page took it."""
    from kb.web.app import create_app

    app = create_app(root, clock=lambda: NOW, device=device, port=PORT, key="k" * 43)
    browser, address = app.test_client(), f"http://127.0.0.1:{PORT}"
    browser.set_cookie(f"missbook-{PORT}-key", "k" * 43, domain="127.0.0.1")

    def send(where: str, form: dict[str, str]) -> None:
        token = (browser.get("/token", base_url=address).json or {})["token"]
        headers = {"Origin": address, "Sec-Fetch-Site": "same-origin"}
        data = {"token": token, **form}
        answer = browser.post(where, base_url=address, data=data, headers=headers)
        if answer.status_code != 303:
            raise RuntimeError(f"{where}: the page answered {answer.status_code}")

    return send
