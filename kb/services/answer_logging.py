"""Log answers, readings and scores, and take them back; shared by command line and page."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import NamedTuple

from kb.core.errors import NotFoundError, QueryError, nearest
from kb.core.ids import AreaId, AttemptId, QuestionId, digest, parse_question
from kb.core.lookup import source_to_log
from kb.core.model import Attempt, Dismissal, Note, Reading, Score
from kb.core.renames import named_now
from kb.formats import attempt_log
from kb.formats.attempt_ids import with_ids
from kb.formats.attempt_log import format_dismissal, format_void
from kb.formats.side_logs import READINGS, SHEETS, LoggedSheet, sheet_digest
from kb.planning.held_back import kept_unseen, protected
from kb.presentation.import_result import ImportCounts, import_report
from kb.presentation.report_model import Report
from kb.services.note_drafting import check_name
from kb.services.session import Session
from kb.stats.import_batches import items_beyond, latest_of
from kb.storage import attempt_store
from kb.storage.attempt_store import Added
from kb.storage.scan import scan


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportResult:
    """An import: what it added, its report, answers to items that a source does not have, and
    whether it was the first ever.
    """

    added: Added
    report: Report
    beyond: tuple[str, ...]
    first_ever: bool


def import_answers(
    session: Session,
    drafts: tuple[Attempt, ...],
    *,
    title: str,
    known_count: int = 0,
    left_count: int = 0,
    again: bool = False,
    day_only: bool = True,
    replaced: tuple[AttemptId, ...] = (),
) -> ImportResult:
    """Log the drafts as `log_answers` does, and report on it, with the answers left out before
    because the log has them (`known_count`) and the lines that were not understood (`left_count`).
    """
    first_ever = not session.whole.attempts
    held = protected(session.base, kept_unseen(session.base), session.today)
    added = log_answers(
        session, drafts, title=title, day_only=day_only, again=again, replaced=replaced
    )
    questions = frozenset(one.question for one in named_now(drafts, session.whole))
    counts = ImportCounts(
        added=added.new_count, known=added.known_count + known_count, left=left_count
    )
    report = import_report(session.base, session.today, questions, counts, added.batch)
    return ImportResult(
        added=added,
        report=report,
        beyond=(*items_beyond(session.study, drafts), *_used(sorted(questions & held))),
        first_ever=first_ever and added.new_count > 0,
    )


def _used(held: Sequence[QuestionId]) -> tuple[str, ...]:
    """Which of the answers were to questions held back, in one line; nothing if none was."""
    if not held:
        return ()
    named = ", ".join(held[:5]) + (f" and {len(held) - 5} more" if len(held) > 5 else "")
    return (f"{len(held)} of these {'was' if len(held) == 1 else 'were'} held back: {named}",)


def count_known(session: Session, drafts: tuple[Attempt, ...]) -> int:
    """How many of these answers, which have no time of day, are in the log already."""
    known = {attempt.id for attempt in session.whole.attempts}
    return sum(draft.id in known for draft in with_ids(drafts, "", day_only=True))


def log_answers(
    session: Session,
    drafts: Iterable[Attempt],
    *,
    title: str,
    day_only: bool,
    again: bool = False,
    replaced: Iterable[AttemptId] = (),
) -> Added:
    """Add answers to the log as one import; those it has already are counted, not added.

    Args:
        session: The open base.
        drafts: Attempts without ids.
        title: Names the import, and goes into its id.
        day_only: The clock time was not given, so that the same answers on the same day are
            the same attempts.
        again: They were answered twice; add them even so.
        replaced: Answers in the log that these replace, taken back in the same write.

    Raises:
        QueryError: An answer is dated before any log began, and would not be read back.
    """
    drafts = tuple(drafts)
    first = min((draft.day for draft in drafts), default=session.today)
    if first.year < attempt_log.EARLIEST_YEAR:
        raise QueryError(f"{first.isoformat()} is too long ago", hint="correct the day")
    batch = "b-" + digest(title, session.now.isoformat(), session.device)[:10]
    attempts = with_ids(drafts, batch, day_only=day_only)
    voids = tuple(
        attempt_log.Void(
            id=digest("void", old, batch), at=session.now, voids=old, remark=f"see {title}"
        )
        for old in replaced
    )
    added = attempt_store.append_attempts(
        session.root, session.device, attempts, again=again, voids=voids
    )
    session.reload()
    return added


def log_entries(session: Session, entries: Iterable[Attempt]) -> frozenset[AttemptId]:
    """Add answers given one by one, with ids; returns the ids that were new.

    An id that was ever used adds nothing. Answers of one day and source are one import.
    """
    drafts = []
    for entry in entries:
        key = (session.device, entry.day.isoformat(), entry.source, entry.round)
        drafts.append(replace(entry, batch=f"b-{digest('entries', *key)[:10]}"))
    new = attempt_store.append_entries(session.root, session.device, drafts)
    session.reload()
    return new


def void(session: Session, what: str, remark: str = "") -> int:
    """Take back one answer or a whole import by its id, or reopen the dismissed miss of a question
    by its reference; returns how many lines it was.

    Raises:
        NotFoundError: Nothing of that id counts now.
    """
    hit = [a for a in session.whole.attempts if what and what in (a.id, a.batch)]
    question = parse_question(what)
    dismissed = (
        attempt_store.dismissal_ids_of(session.root, question) if question and not hit else ()
    )
    targets = (what,) if hit else dismissed
    if not targets:
        known = {a.batch for a in session.whole.attempts} | {a.id for a in session.whole.attempts}
        hint = nearest(what, known) if len(what) > 3 else ""
        hint = hint or "missbook log list shows the ids"
        raise NotFoundError(f"nothing in the log has the id '{what}'", hint=hint)
    at, device = session.now, session.device
    voids = [
        attempt_log.Void(
            id=digest("void", target, at.isoformat(), device), at=at, voids=target, remark=remark
        )
        for target in targets
    ]
    attempt_store.append_record(session.root, device, "".join(map(format_void, voids)))
    session.reload()
    return len(hit) or len(targets)


def scrub(session: Session, own: str) -> int:
    """Blank the remark of a line of the log for good; returns in how many files it was.

    Raises:
        NotFoundError: No line with a remark has that id.
    """
    from kb.storage.derived_store import DerivedStore
    from kb.storage.log_scrub import scrub_line

    count = scrub_line(session.root, own)
    DerivedStore.of(session.root).throw_away()
    session.reload()
    return count


class AreaScore(NamedTuple):
    """Items right of those asked in one area; an empty area is the whole paper."""

    area: AreaId
    right_count: int
    item_count: int


def paper_to_log(session: Session, name: str) -> str:
    """The name under which a paper is logged.

    Raises:
        QueryError: It is not a name, may identify a patient, or is a slip of a known one.
    """
    if parse_question(f"{name}:1") is None:
        hint = f"use letters, digits and hyphens, such as {'-'.join(name.split())}"
        raise QueryError(f"'{name}' is not a name for a paper", hint=hint)
    check_name(name)
    return source_to_log(session.base, name)


def log_scores(
    session: Session, sitting: str, scores: Iterable[AreaScore], at: datetime, *, official: bool
) -> int:
    """Log the scores of a sitting whose single answers are not known; returns how many were new."""
    drafts = [
        Score(
            id=digest("score", sitting, *map(str, score), str(at.date())),
            at=at,
            sitting=sitting,
            official=official,
            **score._asdict(),
        )
        for score in scores
    ]
    count = attempt_store.append_scores(session.root, session.device, drafts)
    session.reload()
    return count


def latest_answers(session: Session, limit: int) -> tuple[Attempt, ...]:
    """Answers that this device logged last and that count, the latest first."""
    return latest_of(session.whole.attempts, session.device)[:limit]


def last_import(session: Session) -> str:
    """Id of the last import from this device that still counts, else empty."""
    mine = latest_of(session.base.attempts, session.device)
    return next((attempt.batch for attempt in mine if attempt.batch), "")


def keep_rejected(session: Session, text: str) -> str:
    """Keep lines of standard input that were not understood; returns the file's path."""
    return attempt_store.append_aside(session.root, session.device, text)


def logged_sheets(session: Session) -> tuple[LoggedSheet, ...]:
    """Every answer sheet that was logged on any device, the earliest first.

    A line that cannot be read is passed over: its sheet is read once more, and answers that the log
    has already are not added again.
    """
    found, _ = attempt_store.read_side_log(session.root, scan(session.root), SHEETS)
    return found


def mark_sheet_logged(session: Session, name: str, raw: bytes, day: date, batch: str) -> None:
    """Remember that a sheet was logged, so that it is not logged twice."""
    sheet = LoggedSheet(
        at=session.now, name=name, size=len(raw), digest=sheet_digest(raw), day=day, batch=batch
    )
    attempt_store.append_side_log(session.root, session.device, SHEETS, sheet)


def dismiss_miss(session: Session, question: QuestionId, reason: str) -> None:
    """Dismiss a miss: there is nothing to learn from it."""
    own = digest("aside", question, session.now.isoformat(), session.device)
    row = Dismissal(id=own, at=session.now, question=question, reason=reason)
    attempt_store.append_record(session.root, session.device, format_dismissal(row))
    session.reload()


def log_reading(
    session: Session, note: Note, seconds: float | None, at: datetime | None = None
) -> Reading:
    """Log that a note was read, now unless `at` says when."""
    reading = attempt_store.new_reading(at or session.now, note.id, seconds)
    attempt_store.append_side_log(session.root, session.device, READINGS, reading)
    session.reload()
    return reading


def question_reference(session: Session, text: str) -> QuestionId:
    """The question that a text refers to.

    Raises:
        QueryError: It is not a reference, or its source is a slip of a known one.
    """
    question = parse_question(text)
    if question is None:
        hint = "write source:number, such as north:1041"
        raise QueryError(f"'{text}' is not a question reference", hint=hint)
    source_to_log(session.base, question.partition(":")[0])
    return question
