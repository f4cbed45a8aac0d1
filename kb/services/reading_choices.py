"""Let chance choose which notes are read early, and write its choices down before they are used."""

from contextlib import suppress
from datetime import datetime
from pathlib import Path

from kb.core.errors import KBError
from kb.core.model import Base, ReadingChoice
from kb.formats.side_logs import CHANCE_ORDER
from kb.planning.workload import plan_of
from kb.stats.reading_effect import chance_says_early
from kb.storage.attempt_store import append_side_log


def record_choices(root: Path, device: str, base: Base, now: datetime) -> bool:
    """Choose for each note due after a miss, if more are due than today's minutes hold.

    Nothing is chosen unless `chance_order` asks for it. A choice once made for a note and a miss
    holds.

    Returns:
        Whether anything was written; not where the disk refuses.
    """
    if not base.study.chance_order:
        return False
    today = now.date()
    situation, plan = plan_of(base, today)
    due = [note for note in situation.work.notes if note.due <= today]
    first = plan.days[0] if plan.days and plan.days[0].day == today else None
    if len(first.notes.notes if first and first.notes else ()) >= len(due):
        return False
    made = {(one.note, one.miss) for one in base.reading_choices}
    choices = [
        ReadingChoice(
            at=now, note=one.note, miss=one.miss, early=chance_says_early(one.note, one.miss)
        )
        for one in due
        if one.miss and (one.note, one.miss) not in made
    ]
    if choices:
        with suppress(KBError):
            append_side_log(root, device, CHANCE_ORDER, *choices)
            return True
    return False
