"""Write settings into study.yaml; everything else in the file stays as it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.formats.rota import set_entries
from kb.formats.study import with_columns
from kb.formats.yaml_fields import plain
from kb.storage.base_folder import edit_file
from kb.storage.base_location import STUDY

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from kb.services.session import Session


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
    session: Session, days: Sequence[tuple[date, str]], words: Mapping[str, str]
) -> None:
    """Write days that differ from the rota, and which words of an event mean which shift."""
    exceptions = tuple((day.isoformat(), shift) for day, shift in days)
    calendar_words = tuple((plain(event), shift) for event, shift in sorted(words.items()))

    def edit(text: str) -> str:
        text = set_entries(text, ("rota", "exceptions"), exceptions)
        return set_entries(text, ("rota", "calendar_words"), calendar_words)

    edit_file(session.root, STUDY, edit)
    session.reload()
