"""The acts of one device: what each command or form changed in a base, so that it can be undone.

One JSON object a line in `log/acts-<device>.jsonl`: the ids of the log lines that the act appended
and, for each file it changed, the part that differs. It is written after the act; one that was
interrupted in between cannot be undone.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from datetime import date, datetime
from itertools import islice
from pathlib import Path

from kb.core.errors import ConflictError, KBError, NotFoundError, Place
from kb.core.ids import digest
from kb.core.wording import counted
from kb.formats import attempt_log
from kb.formats.attempt_log import format_void
from kb.storage import atomic_files
from kb.storage.attempt_store import ATTEMPTS, LOG, append_record
from kb.storage.scan import FileStat, is_inside
from kb.storage.unread_files import check_read_back

MOST_NAMED = 4
"""Files of one act that are named; where it changed more, how many it changed is shown."""
ACTS_OF = re.compile(r"attempts(.*)\.csv$", re.I)
BEGINNING = 50
"""The first act that wrote an answer is among so many, or not looked for."""
LISTED = 1000
"""How many acts are read, counted from the latest."""
KINDS = {
    "readings": ("1 note read", 0),
    "draws": ("questions drawn", 1),
    "scores": ("scores of a paper logged", 0),
    "renames": ("questions renumbered", 0),
}
"""Side logs: what a line of each is called, and the column of its id."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileChange:
    """What an act did to one file: at `start`, `old` became `new`. Digest `before` or `after` is
    empty where there was no file.
    """

    path: str
    start: int
    old: str
    new: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One act. `lines` are ids in the log, `undoes` is the id of the act that this one undid."""

    id: str
    at: str
    told: str
    files: tuple[FileChange, ...] = ()
    lines: tuple[str, ...] = ()
    undoes: str = ""


@dataclass(slots=True)
class Recorder:
    """Watches the writes of one command or form, and keeps them as one act when it ends."""

    root: Path
    device: str
    at: datetime
    undoes: str = ""
    title: str = ""
    _told: dict[str, list[str]] = field(default_factory=dict)
    _files: dict[str, tuple[bytes | None, bytes | None]] = field(default_factory=dict)
    _lines: list[str] = field(default_factory=list)

    def start(self) -> Recorder:
        """Begin watching."""
        atomic_files.WATCHER.set(self._see)
        return self

    def stop(self) -> Act | None:
        """Stop watching and keep the act; returns it, or None if nothing changed. Should the disk
        refuse to keep it, the act itself is done all the same.
        """
        atomic_files.WATCHER.set(None)
        changed = {path: pair for path, pair in self._files.items() if pair[0] != pair[1]}
        if not changed and not self._lines:
            return None
        at = self.at.isoformat(timespec="seconds")
        files = tuple(_change(path, *pair) for path, pair in changed.items())
        named = [_named(change) for change in files]
        named = named if len(named) <= MOST_NAMED else [f"{len(named)} files changed"]
        told = [_counted(*item) for item in self._told.items()]
        summary = self.title or "; ".join([*told, *named])
        own = digest(at, summary, self.device, str(self._lines), str(files))[:8]
        act = Act(
            id=f"a-{own}",
            at=at,
            told=summary,
            files=files,
            lines=tuple(self._lines),
            undoes=self.undoes,
        )
        with suppress(KBError), atomic_files.locked(self.root / LOG):
            line = json.dumps(asdict(act), ensure_ascii=True) + "\n"
            path, shown = _path(self.root, self.device)
            check_read_back(self.root, path.name)
            atomic_files.append_lines(path, line, header='{"acts": 1}\n', shown=shown)
        return act

    def _see(self, path: Path, old: bytes | None, new: bytes | None, appended: str) -> None:
        try:
            inner = path.resolve().relative_to(self.root.resolve()).as_posix()
        except ValueError:
            return
        if inner.startswith(f"{LOG}/"):
            if inner.endswith(".csv"):
                self._note_lines(inner.removeprefix(f"{LOG}/"), appended)
        elif not any(part.startswith(".") for part in inner.split("/")):
            first = self._files.get(inner, (old, None))[0]
            self._files[inner] = (first, new)

    def _note_lines(self, name: str, text: str) -> None:
        for row in csv.reader(text.splitlines()):
            if name.startswith("attempts"):
                cells = dict(zip(attempt_log.COLUMNS, row, strict=False))
                own, outcome = cells["id"], cells["outcome"]
                word = {"void": "taken back", "aside": "dismissed"}.get(outcome, "logged")
                self._told.setdefault(word, []).append(cells["question"])
            else:
                kind = next((kind for kind in KINDS if name.startswith(kind)), "")
                if not kind:
                    continue
                own = row[KINDS[kind][1]]
                label = KINDS[kind][0]
                if kind == "renames" and row[2] != "item":
                    label = f"{row[2]} {row[3]} renamed to {row[4]}"
                self._told.setdefault(label, []).append("")
            if own not in self._lines:
                self._lines.append(own)


def acts(root: Path, device: str) -> tuple[Act, ...]:
    """The acts of a device, latest first. A line that cannot be read is left out."""
    path, shown = _path(root, device)
    try:
        lines = atomic_files.read_bytes(path, shown).split(b"\n")[1:-1]
    except NotFoundError:
        return ()
    found: list[Act] = []
    for line in reversed(lines[-LISTED:]):
        with suppress(ValueError, TypeError, KeyError, RecursionError):
            cells = json.loads(line)
            files = tuple(FileChange(**change) for change in cells["files"])
            act = Act(**{**cells, "files": files, "lines": tuple(cells["lines"])})
            words = (act.id, act.at, act.told, act.undoes, *act.lines)
            if all(isinstance(word, str) for word in words) and all(map(_can_be, files)):
                found.append(act)
    return tuple(found)


def _can_be(change: FileChange) -> bool:
    """Whether missbook can have made a change: a synchronised folder may bring any record."""
    words = (change.path, change.old, change.new, change.before, change.after)
    whole = isinstance(change.start, int) and all(isinstance(word, str) for word in words)
    return whole and is_inside(change.path)


def began_on(root: Path, found: Iterable[FileStat]) -> date | None:
    """The day on which the log was begun, whatever days its answers are of; None where that is not
    known, since the acts of a device begin later than its answers.
    """
    logs = [entry.path for entry in found if ATTEMPTS.fullmatch(entry.path)]
    days = [_first_day(root / path, root / ACTS_OF.sub(r"acts\1.jsonl", path)) for path in logs]
    return min((day for day in days if day), default=None) if all(days) else None


def _first_day(log: Path, own_acts: Path) -> date | None:
    with suppress(KBError, OSError, ValueError, KeyError, TypeError, IndexError):
        with log.open("rb") as lines:
            first = [*islice(lines, 2)][1].split(b",")[0].decode()
        atomic_files.check_plain(own_acts, own_acts.name)
        with own_acts.open("rb") as lines:
            for line in islice(lines, 1, BEGINNING):
                act = json.loads(line)
                if act["lines"]:
                    day = datetime.fromisoformat(act["at"]).date()
                    return day if first in act["lines"] else None
    return None


def undo(root: Path, device: str, act: Act, at: datetime) -> Act:
    """Undo an act; this is an act of its own, which is returned.

    Raises:
        ConflictError: A file is no longer as the act left it; nothing was written.
        NotFoundError: The act was undone already.
    """
    done = acts(root, device)
    undone = {own.undoes for own in done if own.id not in {other.undoes for other in done}}
    if act.id in undone:
        raise NotFoundError(f"{act.id} is undone already", hint="missbook undo brings it back")
    wanted = {change.path: _restored(root, change) for change in act.files}
    title = f"undone: {act.told}"
    if act.undoes:
        title = {"un": "re", "re": "un"}[act.told[:2]] + act.told[2:]
    recorder = Recorder(root, device, at, act.id, title).start()
    try:
        with atomic_files.locked(root / LOG):
            for change in reversed(act.files):
                raw = wanted[change.path]
                if raw is None:
                    path = root / change.path
                    atomic_files.remove_file(path, shown=change.path, expected=change.after)
                else:
                    atomic_files.replace_file(
                        root / change.path, raw, shown=change.path, expected=change.after
                    )
        if act.lines:
            append_record(root, device, _voids(act, at, len(done)))
    finally:
        made = recorder.stop()
    return replace(made, undoes=act.id) if made else act


def _voids(act: Act, at: datetime, number: int) -> str:
    voids = (
        attempt_log.Void(
            id=digest("undo", line, act.id, str(number)),
            at=at,
            voids=line,
            remark=f"undo {act.id}",
        )
        for line in act.lines
    )
    return "".join(format_void(void) for void in voids)


def _restored(root: Path, change: FileChange) -> bytes | None:
    """What a file held before the act; None if it was not there.

    Raises:
        ConflictError: It is no longer as the act left it.
    """
    path = root / change.path
    if path.resolve() != root.resolve() / change.path:
        message = "a link is in the way; nothing was undone"
        raise ConflictError(message, place=Place(change.path))
    there = atomic_files.size_of(path) is not None
    raw = path.read_bytes() if there else b""
    found = atomic_files.digest(raw) if there else ""
    if found != change.after:
        hint = "undo what was done to it later first, or put it right by hand"
        message = "the file changed since; nothing was undone"
        raise ConflictError(message, place=Place(change.path), hint=hint)
    if not change.before:
        return None
    new, old = (text.encode("utf-8", "surrogateescape") for text in (change.new, change.old))
    whole = raw[: change.start] + old + raw[change.start + len(new) :]
    if atomic_files.digest(whole) != change.before:
        message = "the record of this act is damaged"
        if not change.old + change.new:
            message = "what it said is not kept, as it may identify a patient; nothing was undone"
        raise ConflictError(message, place=Place(change.path))
    return whole


def _change(path: str, old: bytes | None, new: bytes | None) -> FileChange:
    """The part of a file that differs, between the equal parts at its start and its end; none of
    its text if that may identify a patient, who would be named here after the note forgot it.
    """
    from kb.language.patient_identifiers import find_identifiers

    one, two = old or b"", new or b""
    if any(find_identifiers(raw.decode("utf-8", "replace")) for raw in (one, two)):
        one = two = b""
    least = min(len(one), len(two))
    start = next((at for at in range(least) if one[at] != two[at]), least)
    end = next((n for n in range(least - start) if one[-1 - n] != two[-1 - n]), least - start)
    return FileChange(
        path=path,
        start=start,
        old=one[start : len(one) - end].decode("utf-8", "surrogateescape"),
        new=two[start : len(two) - end].decode("utf-8", "surrogateescape"),
        before="" if old is None else atomic_files.digest(old),
        after="" if new is None else atomic_files.digest(new),
    )


def _counted(word: str, questions: list[str]) -> str:
    if word in ("logged", "dismissed"):
        one = f"{questions[0]} {word}"
        many = "answers logged" if word == "logged" else "misses dismissed"
        return one if len(questions) == 1 else f"{len(questions)} {many}"
    if word == "taken back":
        return f"{counted(len(questions), 'line')} of the log taken back"
    return word


def _named(change: FileChange) -> str:
    if not change.before:
        return f"{change.path} written"
    return f"{change.path} {'changed' if change.after else 'removed'}"


def _path(root: Path, device: str) -> tuple[Path, str]:
    name = f"acts-{device}.jsonl"
    return root / LOG / name, f"{LOG}/{name}"


def find(root: Path, device: str, own: str) -> Act:
    """The act with that id, or the device's last one if none is named.

    Raises:
        NotFoundError: There is none.
    """
    known: Iterable[Act] = acts(root, device)
    for act in known:
        if own in ("", act.id):
            return act
    if own:
        raise NotFoundError(f"this device has no act '{own}'", hint="missbook undo --list")
    hint = "missbook log list shows what was logged on others"
    raise NotFoundError("nothing was done on this device yet", hint=hint)
