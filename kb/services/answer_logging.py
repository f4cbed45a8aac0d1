"""Taking answers in as one import, the same way from both doors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.formats import attempt_log
from kb.presentation.import_result import taken_report
from kb.stats.import_batches import items_beyond

if TYPE_CHECKING:
    from kb.core.ids import AttemptId
    from kb.core.model import Attempt
    from kb.presentation.report_model import Report
    from kb.services.session import Session
    from kb.storage.attempt_store import Added


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What an import came to: its report, what cannot be, and whether it was the first ever."""

    added: Added
    report: Report
    beyond: tuple[str, ...]
    first_ever: bool


def take(
    session: Session,
    drafts: tuple[Attempt, ...],
    *,
    title: str,
    other_counts: tuple[int, int] = (0, 0),
    again: bool = False,
    day_only: bool = True,
    replaced: tuple[AttemptId, ...] = (),
    outcomes: bool = True,
) -> Taken:
    """Record the drafts as one import.

    Args:
        session: The open base.
        drafts: Attempts without ids.
        title: Names the import.
        other_counts: Answers left out before because the log has them, and lines not understood.
        again: They were truly given twice.
        day_only: They have no time of day.
        replaced: Answers in the log that these replace.
        outcomes: Whether to say how many were right and wrong; not where it was just typed.
    """
    first_ever = not session.whole.attempts
    added = session.record(drafts, title=title, day_only=day_only, again=again, replaced=replaced)
    questions = frozenset(draft.question for draft in drafts)
    known, left = other_counts
    counts = (added.new_count, added.known_count + known, left)
    report = taken_report(
        session.base, session.today, questions, counts, added.batch, outcomes=outcomes
    )
    return Taken(
        added=added,
        report=report,
        beyond=tuple(items_beyond(session.study, drafts)),
        first_ever=first_ever and added.new_count > 0,
    )


def known_count(session: Session, drafts: tuple[Attempt, ...]) -> int:
    """How many of these answers, which have no time of day, the log has already."""
    known = {attempt.id for attempt in session.whole.attempts}
    return sum(draft.id in known for draft in attempt_log.with_ids(drafts, "", day_only=True))
