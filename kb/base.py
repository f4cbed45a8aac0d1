"""Folder <-> `Base`: find it, load it, and write to it."""

from __future__ import annotations

import platform
import re
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from kb import files
from kb.catalogue import Catalogue, FileStat, Listed, decode, scan
from kb.errors import ConflictError, FormatError, KBError, NoBaseError, Place, Problem
from kb.model import Aside, Attempt, AttemptId, Base, Drawn, Exam, Note, NoteId, Reading, Study
from kb.text import draws, log, readings, scores, taken_sheets
from kb.text.exam import parse_exam
from kb.text.frontmatter import add_to_list
from kb.text.study import parse_study
from kb.text.twins import find_twins, twin_problem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from datetime import date

    from kb.model import AreaId, QuestionId, Score
    from kb.text.log import Void
    from kb.text.taken_sheets import TakenSheet

EXAM, STUDY, LOG = "exam.yaml", "study.yaml", "log"
ATTEMPTS = re.compile(r"log/attempts[^/]*\.csv", re.I)
SCORES = re.compile(r"log/scores[^/]*\.csv", re.I)
READINGS = re.compile(r"log/readings[^/]*\.csv", re.I)
DRAWS = re.compile(r"log/draws[^/]*\.csv", re.I)
SHEETS = re.compile(r"log/sheets[^/]*\.csv", re.I)


def find_root(start: Path, named: str | None) -> Path:
    """The folder of the base: `named` if given, else the nearest parent with an exam.yaml.

    Raises:
        NoBaseError: There is none.
    """
    hint = "make one with: missbook new FOLDER, or name it with --base FOLDER"
    if named:
        root = Path(named).expanduser()
        if not (root / EXAM).is_file():
            raise NoBaseError(f"{root} is not a base: it has no {EXAM}", hint=hint)
        return root
    for folder in (start, *start.parents):
        if (folder / EXAM).is_file():
            return folder
    raise NoBaseError(f"no base here: no {EXAM} in {start} or above it", hint=hint)


def device_name(environment: Mapping[str, str]) -> str:
    """The name of this device in log file names: MISSBOOK_DEVICE, else the computer's name."""
    name = environment.get("MISSBOOK_DEVICE") or platform.node() or "device"
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:40] or "device"


@dataclass(frozen=True, slots=True)
class LogStamp:
    """What a look at the log files tells: equal stamps mean that the log did not change."""

    entries: tuple[FileStat, ...]

    def __str__(self) -> str:
        return ";".join(f"{entry.path} {entry.size} {entry.mtime_ns}" for entry in self.entries)


def log_stamp(found: tuple[FileStat, ...]) -> LogStamp:
    """The stamp of the log among the files of a base."""
    return LogStamp(tuple(entry for entry in found if entry.path.startswith("log/")))


def load(root: Path, catalogue: Catalogue) -> Base:
    """Read the whole base; what is wrong with it goes into `Base.problems`.

    Raises:
        FormatError: exam.yaml cannot be understood, so that nothing can be computed.
        NoBaseError: The folder cannot be read.
    """
    try:
        return _load(root, catalogue)
    except OSError as error:
        why = error.strerror or str(error)
        raise NoBaseError(f"{root} cannot be read: {why.lower()}") from error


def _load(root: Path, catalogue: Catalogue) -> Base:
    found = scan(root)
    exam, problems = _exam(root)
    study, more = _study(root)
    problems += more
    catalogue.refresh(found)
    listed = catalogue.listed()
    notes, more = assign_ids(listed)
    problems += more
    problems += _twins(root, [row.note.path for row in listed])
    attempts, asides, more = _log(root, found, study)
    problems += more
    seen, more = _readings(root, found)
    problems += more
    drawn, more = _draws(root, found)
    problems += more
    bare, more = _scores(root, found)
    problems += more
    return Base(
        exam=exam,
        study=study,
        notes=notes,
        attempts=with_areas(attempts, notes),
        asides=asides,
        readings=seen,
        draws=drawn,
        scores=bare,
        files=frozenset(entry.path for entry in found),
        problems=tuple(sorted(problems, key=lambda problem: problem.sort_key)),
    )


def _twins(root: Path, paths: list[str]) -> list[Problem]:
    found = [
        twin_problem(original, copy, read_note(root, original)[0], read_note(root, copy)[0])
        for original, copy in find_twins(paths)
    ]
    return [problem for problem in found if problem is not None]


def _exam(root: Path) -> tuple[Exam, list[Problem]]:
    text, problems = decode(files.read_bytes(root / EXAM, EXAM), EXAM)
    exam, more = parse_exam(text, EXAM)
    if exam is None:
        first = (*problems, *more)[0]
        raise FormatError(first.message, place=first.place, hint=first.hint)
    return exam, [*problems, *more]


def _study(root: Path) -> tuple[Study, list[Problem]]:
    if not (root / STUDY).is_file():
        return Study(), []
    text, problems = decode(files.read_bytes(root / STUDY, STUDY), STUDY)
    study, more = parse_study(text, STUDY)
    return study, [*problems, *more]


def _log(
    root: Path, found: tuple[FileStat, ...], study: Study
) -> tuple[tuple[Attempt, ...], tuple[Aside, ...], list[Problem]]:
    parsed = [
        log.parse_log(files.read_bytes(root / entry.path, entry.path), entry.path, study.area_of)
        for entry in found
        if ATTEMPTS.fullmatch(entry.path)
    ]
    return log.merge(parsed)


def _readings(root: Path, found: tuple[FileStat, ...]) -> tuple[tuple[Reading, ...], list[Problem]]:
    union: dict[str, Reading] = {}
    problems: list[Problem] = []
    for entry in found:
        if READINGS.fullmatch(entry.path):
            raw = files.read_bytes(root / entry.path, entry.path)
            read, more = readings.parse_readings(raw, entry.path)
            problems.extend(more)
            for reading in read:
                union.setdefault(reading.id, reading)
    return tuple(sorted(union.values(), key=lambda r: (r.at, r.id))), problems


def _draws(root: Path, found: tuple[FileStat, ...]) -> tuple[tuple[Drawn, ...], list[Problem]]:
    union: dict[tuple[str, int], Drawn] = {}
    problems: list[Problem] = []
    for entry in found:
        if DRAWS.fullmatch(entry.path):
            raw = files.read_bytes(root / entry.path, entry.path)
            drawn, more = draws.parse_draws(raw, entry.path)
            problems.extend(more)
            for row in drawn:
                union.setdefault((row.draw, row.position), row)
    return tuple(sorted(union.values(), key=lambda d: (d.at, d.draw, d.position))), problems


def _scores(root: Path, found: tuple[FileStat, ...]) -> tuple[tuple[Score, ...], list[Problem]]:
    union: dict[str, Score] = {}
    problems: list[Problem] = []
    for entry in found:
        if SCORES.fullmatch(entry.path):
            raw = files.read_bytes(root / entry.path, entry.path)
            read, more = scores.parse_scores(raw, entry.path)
            problems.extend(more)
            for row in read:
                union.setdefault(row.id, row)
    return tuple(sorted(union.values(), key=lambda row: (row.at, row.id))), problems


def assign_ids(listed: Iterable[Listed]) -> tuple[tuple[Note, ...], list[Problem]]:
    """Give every note an id of its own.

    The id is the one in its front matter, else its file name. Two files of one name get their
    path as id; two notes that both claim one id are a Problem, and the first keeps it.
    """
    rows = list(listed)
    problems = [problem for row in rows for problem in row.problems]
    named: dict[str, list[Note]] = {}
    for row in rows:
        named.setdefault(row.note.id, []).append(row.note)
    notes: list[Note] = []
    for row in rows:
        note = row.note
        twins = named[note.id]
        if len(twins) > 1:
            claims = [twin for twin in twins if twin.id != Path(twin.path).stem]
            if note in claims[1:]:
                hint = f"{claims[0].path} has it; give this note another 'id:'"
                problems.append(
                    Problem(
                        place=note.place,
                        code="duplicate-note-id",
                        message=f"the id '{note.id}' belongs to another note",
                        hint=hint,
                    )
                )
            if note not in claims[:1]:
                note = replace(note, id=NoteId(note.path.removesuffix(".md")))
        notes.append(note)
    return tuple(notes), problems


def with_areas(attempts: tuple[Attempt, ...], notes: tuple[Note, ...]) -> tuple[Attempt, ...]:
    """Give each attempt without an area that of another attempt at the same question, else that
    of a note linked to it. The log's own area and the source's numbering came before.
    """
    known: dict[QuestionId, AreaId] = {}
    for note in notes:
        for question in note.questions:
            if note.areas:
                known.setdefault(question, note.areas[0])
    for attempt in attempts:
        if attempt.area:
            known[attempt.question] = attempt.area
    return tuple(
        replace(attempt, area=known[attempt.question])
        if not attempt.area and attempt.question in known
        else attempt
        for attempt in attempts
    )


def as_of(base: Base, day: date) -> Base:
    """The base as it stood at the end of `day`.

    A note dated later is gone; one that does not say when it was written stays, unproven.
    """
    notes: list[Note] = []
    for note in base.notes:
        if note.written_on is None or note.written_on <= day:
            notes.append(note)
        elif not note.dated:
            notes.append(replace(note, written_on=None, written_at=None))
    return replace(
        base,
        notes=tuple(notes),
        attempts=tuple(attempt for attempt in base.attempts if attempt.day <= day),
        asides=tuple(aside for aside in base.asides if aside.at.date() <= day),
        readings=tuple(reading for reading in base.readings if reading.at.date() <= day),
        scores=tuple(score for score in base.scores if score.at.date() <= day),
        draws=tuple(drawn for drawn in base.draws if drawn.at.date() <= day),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What an append did: how many lines were new and how many were there already."""

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
    """Add attempts to this device's log, but not those that it has already.

    What was voided may come back: it gets the next free id of its own. The log is read under the
    lock, so that two imports at once cannot both add the same line.

    Args:
        root: The base.
        device: Names the log file.
        drafts: Attempts with ids.
        again: Add all of them even if equal ones are there: they were truly answered twice.
        voids: Lines of the log that these answers replace, taken back in the same write.

    Raises:
        KBError: The disk refused; nothing was added.
    """
    with files.locked(root / LOG):
        taken, counting, batches = _ids(root)
        wanted = drafts[0].batch if drafts else ""
        batch = _free_batch(wanted, batches)
        new: list[Attempt] = []
        for draft in drafts:
            own = _free_id(draft.id, taken, frozenset() if again else counting)
            if own is not None:
                new.append(replace(draft, id=AttemptId(own), batch=batch))
                taken.add(own)
        if new or voids:
            lines = [log.format_attempt(draft) for draft in new]
            lines += [log.format_void(replace(void, batch=batch)) for void in voids]
            _append(root, f"attempts-{device}", log.HEADER, "".join(lines))
    return Added(
        new_count=len(new),
        known_count=len(drafts) - len(new),
        batch=batch if new or voids else "",
    )


def _free_batch(wanted: str, taken: frozenset[str]) -> str:
    """The id of an import, never one that was given before: a clock may stand still or go back."""
    own, step = wanted, 0
    while own in taken:
        step += 1
        own = f"b-{log.digest(wanted, str(step))[:10]}"
    return own


def _free_id(wanted: str, taken: set[str], counting: frozenset[str]) -> str | None:
    """An id for a line: `wanted`, or what follows it when voided lines hold it; None when an
    equal line counts already.
    """
    own, step = wanted, 0
    while own in taken:
        if own in counting:
            return None
        step += 1
        own = log.digest(wanted, str(step))
    return own


def append_record(root: Path, device: str, line: str) -> None:
    """Add one void or aside to this device's log.

    Raises:
        KBError: The disk refused; nothing was added.
    """
    with files.locked(root / LOG):
        _append(root, f"attempts-{device}", log.HEADER, line)


def append_scores(root: Path, device: str, rows: Iterable[Score]) -> int:
    """Add scores to this device's list, but not those that it has; returns how many were new.

    Raises:
        KBError: The disk refused; nothing was added.
    """
    with files.locked(root / LOG):
        present = {score.id for score in _scores(root, scan(root))[0]}
        new = [row for row in rows if row.id not in present]
        if new:
            text = "".join(scores.format_score(row) for row in new)
            _append(root, f"scores-{device}", scores.HEADER, text)
    return len(new)


def append_aside(root: Path, device: str, text: str) -> str:
    """Keep lines that were not understood in the log's own set-aside file; returns its path.

    Raises:
        KBError: The disk refused.
    """
    name = f"{LOG}/set-aside-sheets-{device}.txt"
    with files.locked(root / LOG):
        files.append_lines(root / name, text, header="# lines not understood\n", shown=name)
    return name


def append_sheet(root: Path, device: str, taken: TakenSheet) -> None:
    """Remember that a sheet was taken in.

    Raises:
        KBError: The disk refused.
    """
    with files.locked(root / LOG):
        _append(root, f"sheets-{device}", taken_sheets.HEADER, taken_sheets.format_taken(taken))


def sheets_taken(root: Path) -> tuple[TakenSheet, ...]:
    """Every sheet that was taken in on any device, the earliest first."""
    found: set[TakenSheet] = set()
    for entry in scan(root):
        if SHEETS.fullmatch(entry.path):
            raw = files.read_bytes(root / entry.path, entry.path)
            found.update(taken_sheets.parse_taken(raw))
    return tuple(sorted(found, key=lambda taken: (taken.at, taken.name, taken.digest)))


def append_reading(root: Path, device: str, reading: Reading) -> None:
    """Add one reading of a note to this device's list.

    Raises:
        KBError: The disk refused; nothing was added.
    """
    with files.locked(root / LOG):
        line = readings.format_reading(reading)
        _append(root, f"readings-{device}", readings.HEADER, line)


def append_draw(root: Path, device: str, drawn: tuple[Drawn, ...]) -> None:
    """Add the questions of one draw to this device's list.

    Raises:
        KBError: The disk refused; nothing was added.
    """
    with files.locked(root / LOG):
        _append(root, f"draws-{device}", draws.HEADER, draws.format_draws(drawn))


def _append(root: Path, stem: str, header: str, text: str) -> None:
    """Append to the first file of that stem whose header is ours; another gets a sibling."""
    for number in range(1, 100):
        name = f"{stem}.csv" if number == 1 else f"{stem}-{number}.csv"
        path, shown = root / LOG / name, f"{LOG}/{name}"
        try:
            ours = not path.exists() or not path.stat().st_size or _has_header(path, header)
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            message = f"cannot be read: {why}; nothing was added"
            raise KBError(message, place=Place(shown)) from error
        if ours:
            files.append_lines(path, text, header=header, shown=shown)
            return
    raise KBError("too many log files of this device", place=Place(f"{LOG}/{stem}.csv"))


def _has_header(path: Path, header: str) -> bool:
    wanted = header.strip().encode()
    with path.open("rb") as stream:
        first = stream.readline(4096).removeprefix(b"\xef\xbb\xbf")
    return first.strip() == wanted or not first.endswith(b"\n")


def known_ids(root: Path) -> frozenset[str]:
    """Ids of every line in every log file of the base, voided ones included."""
    return frozenset(_ids(root)[0])


def _ids(root: Path) -> tuple[set[str], frozenset[str], frozenset[str]]:
    """All ids that were ever given, those of the attempts that count, and those of imports."""
    parsed = [
        log.parse_log(files.read_bytes(root / entry.path, entry.path), entry.path)
        for entry in scan(root)
        if ATTEMPTS.fullmatch(entry.path)
    ]
    every: set[str] = set()
    for file in parsed:
        every.update(attempt.id for attempt in file.attempts)
        every.update(void.id for void in file.voids)
        every.update(file.aside_ids)
    counting = frozenset(attempt.id for attempt in log.merge(parsed)[0])
    batches = {attempt.batch for file in parsed for attempt in file.attempts}
    batches.update(void.batch for file in parsed for void in file.voids)
    return every, counting, frozenset(batches - {""})


def link_question(root: Path, note: Note, question: QuestionId) -> None:
    """Add a question to a note's front matter; nothing else in the file changes.

    Raises:
        ConflictError: The file changed while it was edited.
        KBError: Its front matter cannot be edited, or the disk refused.
    """
    edit_note(root, note.path, lambda text: add_to_list(text, note.path, "questions", question))


def edit_note(
    root: Path, path: str, edit: Callable[[str], str], expected: str | None = None
) -> None:
    """Apply `edit` to a note's text, under the lock.

    Args:
        root: The base.
        path: The note's path in it.
        edit: Old text -> new text.
        expected: Digest of the text that the edit was made for; None for what is there now.

    Raises:
        ConflictError: The file changed underneath; nothing was written.
        FormatError: It is not UTF-8 and must not be rewritten.
    """
    with files.locked(root / LOG):
        raw = files.read_bytes(root / path, path)
        found = files.digest(raw)
        if expected is not None and found != expected:
            hint = "nothing was written; look at it and do it again"
            raise ConflictError("the file changed since it was read", place=Place(path), hint=hint)
        text, problems = decode(raw, path)
        if problems:
            first = problems[0]
            raise FormatError(first.message, place=first.place, hint=first.hint)
        new = edit(text)
        if new != text:
            files.replace_file(root / path, new.encode(), shown=path, expected=found)


def create_note(root: Path, path: str, text: str) -> None:
    """Write a new note; a file of that name is never overwritten.

    Raises:
        ConflictError: There is one already.
    """
    with files.locked(root / LOG):
        files.replace_file(root / path, text.encode(), shown=path, expected="")


def create_base(root: Path, exam: str, study: str) -> None:
    """Write the two settings files of a new base.

    Raises:
        ConflictError: There is a base already.
    """
    for name, text in ((STUDY, study), (EXAM, exam)):
        if not (name == STUDY and (root / name).exists()):
            files.replace_file(root / name, text.encode(), shown=str(root / name), expected="")


def read_note(root: Path, path: str) -> tuple[str, str]:
    """Text and digest of a note's file."""
    raw = files.read_bytes(root / path, path)
    return decode(raw, path)[0], files.digest(raw)


def new_reading(at: datetime, note: NoteId, seconds: float | None) -> Reading:
    """A reading with its id."""
    shown = "" if seconds is None else f"{seconds:.6g}"
    reading_id = log.digest("reading", at.isoformat(), note, shown)
    return Reading(id=reading_id, at=at, note=note, seconds=seconds)
