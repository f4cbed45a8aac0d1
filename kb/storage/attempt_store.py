"""The logs of a base on disk: read their files, and append to them under the lock.

A line is never edited: what was wrong is voided by a later one.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import NamedTuple, TypeVar

from kb.core.answers import Answers
from kb.core.errors import KBError, Place, Problem, why
from kb.core.ids import AttemptId, NoteId, QuestionId, digest
from kb.core.model import Attempt, Dismissal, Reading, Remark, Score
from kb.core.settings import Study
from kb.formats import attempt_log, side_logs
from kb.formats.attempt_ids import merge, voided_ids
from kb.formats.attempt_log import Void, format_attempt, format_void
from kb.formats.log_state import state_of, take_up
from kb.formats.side_logs import SideLog
from kb.storage import atomic_files
from kb.storage.derived_store import DerivedStore, put_parts, read_parts
from kb.storage.report_cache import code_mark
from kb.storage.scan import FileStat, scan
from kb.storage.unread_files import check_read_back

Row = TypeVar("Row")

LOG = "log"
ATTEMPTS = re.compile(r"log/attempts[^/\ufffd]*\.csv", re.I)
LEAST_KEPT = 1_000_000
"""Bytes of the smallest log file that is kept as it was read: a smaller one is read as fast."""
NEW_FRACTION = 0.05
"""It is kept again once so much of it is new."""
BATCH = re.compile(rb"\bb-[0-9a-f]{10}\b")


class LogMemory:
    """What was read of the log, so that reopening a base reads only the new lines.

    Args:
        store: Where a large log is kept as it was read, for the next process.
    """

    def __init__(self, store: DerivedStore | None = None) -> None:
        self._store = store
        self._study: Study | None = None
        self._readers: dict[str, attempt_log.LogReader] = {}
        self.voided: frozenset[str] = frozenset()
        self.other_remarks: tuple[Remark, ...] = ()

    def read(self, raw: bytes, path: str, study: Study) -> attempt_log.LogFile:
        """Read a log file: from its first line if the settings, which give questions their areas,
        are others than last time.
        """
        if study != self._study:
            self._study, self._readers = study, {}
        store = self._store if len(raw) >= LEAST_KEPT else None
        mark = digest(code_mark(), repr(study)) if store else ""
        reader = self._readers.get(path)
        if reader is None:
            reader = self._readers[path] = attempt_log.LogReader(path, study.area_of)
            if store:
                take_up(reader, store.run(lambda db: read_parts(db, path, mark)))
        found = reader.read(raw)
        if store and reader.taken[0] - reader.known_size > len(raw) * NEW_FRACTION:
            store.write(lambda db: put_parts(db, path, mark, state_of(reader)))
        return found


def read_log(
    root: Path, found: tuple[FileStat, ...], study: Study, memory: LogMemory
) -> tuple[Answers, tuple[Dismissal, ...], list[Problem]]:
    """Answers and dismissed misses, from the log files of every device."""
    parsed = [memory.read(raw, path, study) for path, raw in _log_files(root, found)]
    memory.voided = frozenset(voided_ids(_voids(parsed)))
    memory.other_remarks = other_remarks(parsed, memory.voided)
    return merge(parsed)


def other_remarks(
    parsed: Iterable[attempt_log.LogFile], voided: frozenset[str]
) -> tuple[Remark, ...]:
    """Words of dismissals, of voids, and of answers taken back, each once."""
    found: dict[tuple[str, str], Remark] = {}
    for file in parsed:
        lines = [(row.id, row.remark, row.place) for row in file.not_answers]
        for answer in file.attempts.only(file.attempts.named(voided)):
            words = (answer.remark, answer.concept, answer.sitting)
            lines += [(answer.id, text, answer.place) for text in words]
        for own, text, place in lines:
            if text:
                found.setdefault((own, text), Remark(id=own, text=text, place=place))
    return tuple(found.values())


def read_side_log(
    root: Path, found: tuple[FileStat, ...], log: SideLog[Row]
) -> tuple[tuple[Row, ...], list[Problem]]:
    """Every record of one log once, from the files of all devices, in order of time."""
    pattern = re.compile(rf"{LOG}/{log.stem}[^/\ufffd]*\.csv", re.I)
    rows: list[Row] = []
    problems: list[Problem] = []
    for entry in found:
        if pattern.fullmatch(entry.path):
            raw = atomic_files.read_bytes(root / entry.path, entry.path)
            read, more = log.parse(raw, entry.path)
            rows.extend(read)
            problems.extend(more)
    return log.union(rows), problems


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What an append did: how many lines were new, and how many the log had already."""

    new_count: int
    known_count: int
    batch: str = ""


def append_attempts(
    root: Path,
    device: str,
    drafts: tuple[Attempt, ...],
    *,
    again: bool = False,
    voids: tuple[Void, ...] = (),
) -> Added:
    """Add attempts to this device's log, but not those it has already.

    A voided answer may be logged again, under the next free id. The log is read under the lock, so
    that two imports at once cannot both add the same line.

    Args:
        root: The base.
        device: Names the log file.
        drafts: Attempts with ids.
        again: Add all of them, even those the log has: they were answered twice.
        voids: Lines of the log that these answers replace, taken back in the same write.

    Raises:
        KBError: The disk refused; nothing was added.
    """
    with atomic_files.locked(root / LOG):
        known = _ids(root)
        taken, counting = set(known.every), known.counting
        wanted = drafts[0].batch if drafts else ""
        batch = _free_batch(wanted, known.batches)
        new: list[Attempt] = []
        for draft in drafts:
            own = _free_id(draft.id, taken, frozenset() if again else counting)
            if own is not None:
                new.append(replace(draft, id=AttemptId(own), batch=batch))
                taken.add(own)
        if new or voids:
            lines = [format_attempt(draft) for draft in new]
            lines += [format_void(replace(void, batch=batch)) for void in voids]
            _append(root, f"attempts-{device}", attempt_log.HEADER, "".join(lines))
    return Added(
        new_count=len(new),
        known_count=len(drafts) - len(new),
        batch=batch if new or voids else "",
    )


def append_entries(root: Path, device: str, entries: Iterable[Attempt]) -> frozenset[AttemptId]:
    """Add answers that were given one by one; returns the ids that were new.

    An id is added once only: the same answer sent again adds nothing, not even after it was taken
    back. Answers of one batch are one import, however they arrived; if that import was taken back,
    a new one begins.

    Raises:
        KBError: The disk refused; nothing was added.
    """
    with atomic_files.locked(root / LOG):
        lines = _whole_lines(root)
        new: dict[AttemptId, Attempt] = {}
        for entry in entries:
            if not any(entry.id.encode() in raw for raw in lines):
                batch = _open_batch(entry.batch, lines)
                new.setdefault(entry.id, replace(entry, batch=batch))
        if new:
            text = "".join(format_attempt(entry) for entry in new.values())
            _append(root, f"attempts-{device}", attempt_log.HEADER, text)
    return frozenset(new)


def _whole_lines(root: Path) -> list[bytes]:
    """The log files without torn last lines: searching them for an id is far faster than parsing
    them.
    """
    files = _log_files(root, scan(root))
    return [raw[: raw.rfind(b"\n") + 1] for _, raw in files]


def _open_batch(wanted: str, lines: list[bytes]) -> str:
    """The id of an import that may go on: `wanted`, or the next one if that was voided."""
    voids = b"\n".join(
        line for raw in lines if b",void," in raw for line in raw.split(b"\n") if b",void," in line
    )
    taken = frozenset(own.decode() for own in BATCH.findall(voids))
    return _free_batch(wanted, taken)


def _free_batch(wanted: str, taken: frozenset[str]) -> str:
    """An id for a batch, never one already given, though a clock may stop or go back: a batch taken
    back and logged again would otherwise stay void.
    """
    own, step = wanted, 0
    while own in taken:
        step += 1
        own = f"b-{digest(wanted, str(step))[:10]}"
    return own


def _free_id(wanted: str, taken: set[str], counting: frozenset[str]) -> str | None:
    """An id for a line: `wanted`, or the next one if voided lines hold it; None if an equal line
    counts already.
    """
    own, step = wanted, 0
    while own in taken:
        if own in counting:
            return None
        step += 1
        own = digest(wanted, str(step))
    return own


def append_record(root: Path, device: str, line: str) -> None:
    """Add voids or dismissals, as lines, to this device's log.

    Raises:
        KBError: The disk refused; nothing was added.
    """
    with atomic_files.locked(root / LOG):
        _append(root, f"attempts-{device}", attempt_log.HEADER, line)


def append_scores(root: Path, device: str, rows: Iterable[Score]) -> int:
    """Add scores to this device's log, but not those it has; returns how many were new.

    A score that was taken back may be logged again, under the next free id.

    Raises:
        KBError: The disk refused; nothing was added.
    """
    with atomic_files.locked(root / LOG):
        present = {score.id for score in read_side_log(root, scan(root), side_logs.SCORES)[0]}
        counting = frozenset(present - voided_ids(_voids(_parsed(root))))
        own = [(row, _free_id(row.id, present, counting)) for row in rows]
        new = [replace(row, id=score_id) for row, score_id in own if score_id is not None]
        if new:
            log = side_logs.SCORES
            _append(root, f"{log.stem}-{device}", log.header, log.format(*new))
    return len(new)


def append_aside(root: Path, device: str, text: str) -> str:
    """Keep lines that were not understood in a file beside the log; returns its path.

    Raises:
        KBError: The disk refused.
    """
    name = f"{LOG}/set-aside-sheets-{device}.txt"
    with atomic_files.locked(root / LOG):
        check_read_back(root, name.removeprefix(f"{LOG}/"))
        atomic_files.append_lines(root / name, text, header="# lines not understood\n", shown=name)
    return name


def append_side_log(root: Path, device: str, log: SideLog[Row], *records: Row) -> None:
    """Add records to this device's file of a log.

    Raises:
        KBError: The disk refused; nothing was added.
    """
    with atomic_files.locked(root / LOG):
        _append(root, f"{log.stem}-{device}", log.header, log.format(*records))


def _append(root: Path, stem: str, header: str, text: str) -> None:
    """Append to the device's first file with our header; beside one with another header, a new
    file is made.
    """
    for number in range(1, 100):
        name = f"{stem}.csv" if number == 1 else f"{stem}-{number}.csv"
        path, shown = root / LOG / name, f"{LOG}/{name}"
        try:
            check_read_back(root, name)
            ours = not atomic_files.size_of(path) or _has_header(path, header)
        except OSError as error:
            message = f"cannot be read: {why(error)}; nothing was added"
            raise KBError(message, place=Place(shown)) from error
        if ours:
            atomic_files.append_lines(path, text, header=header, shown=shown)
            return
    raise KBError("too many log files of this device", place=Place(f"{LOG}/{stem}.csv"))


def _has_header(path: Path, header: str) -> bool:
    wanted = header.strip().encode()
    with path.open("rb") as stream:
        first = stream.readline(4096).removeprefix(b"\xef\xbb\xbf")
    return first.strip() == wanted or not first.endswith(b"\n")


class Ids(NamedTuple):
    """Ids in the log: those of all attempts, of the attempts that count, and of imports."""

    every: frozenset[str]
    counting: frozenset[str]
    batches: frozenset[str]


def dismissal_ids_of(root: Path, question: QuestionId) -> tuple[str, ...]:
    """Ids of the lines that dismiss the misses of a question, without those taken back."""
    found = _parsed(root)
    voided = voided_ids(_voids(found))
    ids = (row.id for file in found for row in file.dismissals if row.question == question)
    return tuple(own for own in dict.fromkeys(ids) if own not in voided)


def _voids(found: Iterable[attempt_log.LogFile]) -> list[Void]:
    return [void for file in found for void in file.voids]


def _parsed(root: Path) -> list[attempt_log.LogFile]:
    return [attempt_log.parse_log(raw, path) for path, raw in _log_files(root, scan(root))]


def _log_files(root: Path, found: tuple[FileStat, ...]) -> Iterator[tuple[str, bytes]]:
    """Path and bytes of every file of answers."""
    for entry in found:
        if ATTEMPTS.fullmatch(entry.path):
            yield entry.path, atomic_files.read_bytes(root / entry.path, entry.path)


def _ids(root: Path) -> Ids:
    parsed = _parsed(root)
    every = frozenset(own for file in parsed for own in file.attempts.ids)
    counting = frozenset(merge(parsed)[0].ids)
    batches = {name for file in parsed for name in file.attempts.column("batch")[1]}
    batches.update(void.batch for file in parsed for void in file.voids)
    return Ids(every, counting, frozenset(batches - {""}))


def new_reading(at: datetime, note: NoteId, seconds: float | None) -> Reading:
    """A reading, with its id."""
    shown = "" if seconds is None else f"{seconds:.6g}"
    reading_id = digest("reading", at.isoformat(), note, shown)
    return Reading(id=reading_id, at=at, note=note, seconds=seconds)
