"""Write settings into study.yaml; everything else in the file stays as it is."""

import re
from collections.abc import Mapping
from datetime import date

from kb.formats.study import with_columns
from kb.formats.study_edits import CalendarDays, set_calendar_days, set_entries
from kb.formats.yaml_fields import plain
from kb.services.session import Session
from kb.storage.base_folder import edit_file
from kb.storage.base_location import STUDY

COPY_NUMBER = re.compile(r"[\s_-]*\(\d\)$|[\s_-]\d$")
"""What a browser adds to the name of a file that it has downloaded before: `rota (1).ics`; without
brackets it may as well be that of a ward or a week, so it counts only where `rota.ics` came first.
"""


def remember_columns(session: Session, source: str, columns: Mapping[str, str]) -> bool:
    """Write which column of a source's tables holds what; returns whether that was news."""
    known = next((table for table in session.study.tables if table.source == source), None)
    if known is not None and columns.items() <= dict(known.columns).items():
        return False
    entries = tuple(columns.items())
    edit_file(session.root, STUDY, lambda text: with_columns(text, STUDY, source, entries))
    session.reload()
    return True


def set_rota_days(
    session: Session,
    days: Mapping[date, str],
    words: Mapping[str, str],
    *,
    file: str,
    first: date,
    dry_run: bool = False,
) -> CalendarDays:
    """Write the days of a calendar `file` that differ from the rota, and which words of an event
    mean which shift. What that file brought before and has no longer, from the day `first` on, is
    removed. Returns what was set, removed and kept.
    """
    name = file.removesuffix(".ics").strip()
    plain_name = COPY_NUMBER.sub("", name)
    calendar_words = tuple((plain(event), shift) for event, shift in sorted(words.items()))
    done = CalendarDays("", (), (), ())

    def edit(text: str) -> str:
        nonlocal done
        copy = name.endswith(")") or f"# from {plain_name}.ics" in text
        done = set_calendar_days(text, days, f"{plain_name if copy else name}.ics", first)
        new = set_entries(done.text, ("rota", "calendar_words"), calendar_words)
        return text if dry_run or not (days or done.removed) else new

    edit_file(session.root, STUDY, edit)
    session.reload()
    return done
