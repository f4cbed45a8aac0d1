"""Let chance choose which notes are read early, and write its choices down before they are used."""

from contextlib import suppress

from kb.core.errors import KBError
from kb.core.model import ReadingChoice
from kb.formats.side_logs import CHANCE_ORDER
from kb.planning.workload import plan_of
from kb.services.session import Session
from kb.stats.reading_effect import chance_says_early
from kb.storage.attempt_store import append_side_log


def record_choices(session: Session) -> None:
    """Choose for each note due after a miss, if more are due than today's minutes hold; called
    before the list of today's notes is shown.

    Nothing is chosen unless `chance_order` asks for it, nor for another day. A choice once made for
    a note and a miss holds. Where the disk refuses, none is made.
    """
    if session.as_of is not None or not session.study.chance_order:
        return
    base, today = session.base, session.today
    situation, plan = plan_of(base, today)
    due = [note for note in situation.work.notes if note.due <= today]
    first = plan.days[0] if plan.days and plan.days[0].day == today else None
    if len(first.notes.notes if first and first.notes else ()) >= len(due):
        return
    made = {(one.note, one.miss) for one in base.reading_choices}
    choices = [
        ReadingChoice(
            at=session.now, note=n.note, miss=n.miss, early=chance_says_early(n.note, n.miss)
        )
        for n in due
        if n.miss and (n.note, n.miss) not in made
    ]
    if choices:
        with suppress(KBError):
            append_side_log(session.root, session.device, CHANCE_ORDER, *choices)
            session.reload()
