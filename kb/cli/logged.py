"""What the ways of logging share: log the drafts and show what they left open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.cli.params import say, width
from kb.cli.report_command import show
from kb.core.wording import CAUTION
from kb.presentation.render import Shown
from kb.services.answer_logging import import_answers

if TYPE_CHECKING:
    from kb.core.ids import AttemptId
    from kb.core.model import Attempt
    from kb.services.session import Session
    from kb.storage.attempt_store import Added


def log_and_show(
    session: Session,
    drafts: tuple[Attempt, ...],
    *,
    title: str,
    as_json: bool,
    left_count: int = 0,
    again: bool = False,
    day_only: bool = True,
    known_count: int = 0,
    replaced: tuple[AttemptId, ...] = (),
) -> Added:
    """Log the drafts as one import and show the result; the first import shows the caution.

    Args:
        session: The open base.
        drafts: Attempts without ids.
        title: Names the import.
        as_json: Whether to print JSON.
        left_count: Lines that were not understood.
        again: They were given twice; add them even if the log has equal ones.
        day_only: They have no time of day.
        known_count: Answers left out before, because the log has them.
        replaced: Answers in the log that these replace.
    """
    imported = import_answers(
        session,
        drafts,
        title=title,
        other_counts=(known_count, left_count),
        again=again,
        day_only=day_only,
        replaced=replaced,
    )
    if replaced:
        say(f"{len(replaced)} of them replace what the log had; taking it back restores those.")
    show(imported.report, session.today, as_json=as_json, shown=Shown(width=width()))
    for problem in imported.beyond:
        say(problem)
    if imported.first_ever:
        say(CAUTION)
    return imported.added
