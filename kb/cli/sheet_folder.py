"""Log every new answer sheet in the synchronised folder."""

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from kb.cli.call import Call
from kb.cli.logged import keep_lines
from kb.cli.params import say, say_caution
from kb.cli.read_sheet import read_sheet
from kb.core.errors import FormatError, NotFoundError, QueryError
from kb.core.model import Attempt
from kb.core.renames import named_now
from kb.core.wording import counted
from kb.formats.answer_sheet.parser import format_left
from kb.formats.side_logs import lines_logged, sheet_digest
from kb.importers.reconcile import compare
from kb.importers.sheets import sheet_drafts
from kb.presentation.import_result import ImportCounts, import_report
from kb.services.answer_logging import log_answers, logged_sheets, mark_sheet_logged
from kb.services.rejected_lines import KEPT, none_understood
from kb.services.session import Session
from kb.services.user_files import read_file
from kb.stats.import_batches import items_beyond

SUFFIXES = (".txt", ".md", ".text", "")


class Done(NamedTuple):
    """The outcome of logging one sheet."""

    drafts: tuple[Attempt, ...]
    counts: ImportCounts
    batch: str


def log_folder(call: Call, *, no_patient: bool) -> int:
    """Log every sheet of the folder that `sheets:` in study.yaml names, each once; returns how many
    lines were not understood, each kept beside its sheet.

    A sheet that has grown is read from where it ended last time. Where a line of a sheet was
    corrected, it replaces its earlier answer.
    """
    session = call.session
    first_ever = not session.whole.attempts
    folder = sheet_folder(session)
    done: list[Done] = []
    errors = []
    for file in sheets_in(folder):
        try:
            one = _log_sheet(session, folder, file, no_patient)
        except FormatError as error:
            errors.append(error)
        else:
            done += [one] if one else []
    if errors and not done:
        raise errors[0]
    for message in errors:
        say(str(message))
    drafts = tuple(draft for one in done for draft in one.drafts)
    counts = ImportCounts(*(sum(each) for each in zip(*(one.counts for one in done), strict=True)))
    batches = [one.batch for one in done if one.batch]
    batch = batches[0] if len(batches) == 1 else ""
    questions = frozenset(one.question for one in named_now(drafts, session.whole))
    report = import_report(session.base, session.today, questions, counts, batch)
    title = f"{counted(len(done), 'sheet')} logged" if done else "No new sheet"
    call.show(replace(report, title=title))
    for problem in items_beyond(session.study, drafts):
        say(problem)
    if first_ever and counts.added:
        say_caution()
    return counts.left


def sheet_folder(session: Session) -> Path:
    """The folder that study.yaml names, from the base's own folder on.

    Raises:
        QueryError: It names none.
        NotFoundError: It is not there.
    """
    named = session.study.sheet_folder
    if not named:
        hint = "add a line such as 'sheets: ../phone/sheets'"
        raise QueryError("study.yaml names no folder of sheets", hint=hint)
    folder = session.root / Path(named).expanduser()
    if not folder.is_dir():
        hint = "correct 'sheets:' in study.yaml, or wait until it is synchronised"
        raise NotFoundError(f"there is no folder {named}", hint=hint)
    return folder


def sheets_in(folder: Path) -> tuple[Path, ...]:
    """The sheets in a folder and its subfolders, by name; not hidden files or rejected lines."""
    return tuple(
        path
        for path in sorted(folder.rglob("*"))
        if path.is_file()
        and path.suffix.casefold() in SUFFIXES
        and not KEPT.search(path.stem)
        and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    )


def _log_sheet(session: Session, folder: Path, file: Path, no_patient: bool) -> Done | None:
    """Log one sheet, or None if it was logged before.

    Raises:
        FormatError: Nothing of it is understood. It is not remembered, so it is reported each time
            until it is corrected or moved away.
    """
    name = file.relative_to(folder).as_posix()
    logged_before = logged_sheets(session)
    if sheet_digest(read_file(file, name)) in {sheet.digest for sheet in logged_before}:
        return None
    earlier = [sheet for sheet in logged_before if sheet.name == name]
    read = read_sheet(session, str(file), None, ask=False, no_patient=no_patient)
    if read.sheet.left and not read.sheet.answers:
        raise none_understood(name, len(read.sheet.left), read.sheet.problems)
    top = lines_logged(read.raw, logged_before)
    answers = tuple(answer for answer in read.sheet.answers if answer.line > top)
    left = tuple(line for line in read.sheet.left if line.line > top)
    for problem in read.sheet.problems:
        if problem.place.line > top:
            say(str(problem))
    day = earlier[-1].day if earlier and not top else read.day
    if left:
        keep_lines(session, str(file), format_left(left, day), len(left))
    drafts = sheet_drafts(answers, session.study, session.now, day)
    batches = {sheet.batch for sheet in earlier if sheet.batch}
    logged = [attempt for attempt in session.whole.attempts if attempt.batch in batches]
    named = named_now(drafts, session.whole)
    changes = compare(drafts, logged, named, timed=False)
    wanted = (*changes.new, *(draft for _, draft in changes.changed))
    replaced = tuple(old.id for old, _ in changes.changed)
    added = log_answers(session, wanted, title=f"sheet {name}", day_only=True, replaced=replaced)
    mark_sheet_logged(session, name, read.raw, day, added.batch)
    known = added.known_count + len(changes.known)
    corrected = f", {len(replaced)} of them corrected" if replaced else ""
    say(f"{name}: {counted(added.new_count, 'answer')} added{corrected}; {known} there already")
    counts = ImportCounts(added=added.new_count, known=known, left=len(left))
    return Done(drafts, counts, added.batch)
