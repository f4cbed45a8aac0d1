"""What the index sees of a base: a page for each note, with the remarks of its missed questions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.core.ids import digest
from kb.formats.frontmatter import split
from kb.formats.outline import head_mark
from kb.storage import base_folder as store

if TYPE_CHECKING:
    from pathlib import Path

    from kb.core.ids import QuestionId
    from kb.core.model import Base, Note
    from kb.search import Page
    from kb.storage.note_catalogue import Catalogue


class Pages:
    """The pages of one load of a base; a file is only read when its page is asked for.

    Args:
        root: The base's folder.
        catalogue: Up to date with `base`.
        base: As loaded, not cut to any day.
    """

    def __init__(self, root: Path, catalogue: Catalogue, base: Base) -> None:
        self._root = root
        self._notes = {note.path: note for note in base.notes}
        self._marks = catalogue.digests()
        remarks: dict[QuestionId, dict[str, None]] = {}
        for attempt in base.attempts:
            if attempt.remark and not attempt.right:
                remarks.setdefault(attempt.question, {})[attempt.remark] = None
        self._remarks = {question: tuple(found) for question, found in remarks.items()}

    def digests(self) -> dict[str, str]:
        """What stands for the content of each page, by path."""
        return {path: self._digest(path, note) for path, note in self._notes.items()}

    def _digest(self, path: str, note: Note) -> str:
        return digest(self._marks.get(path, ""), note.id, *self._remarks_of(note))

    def _remarks_of(self, note: Note) -> tuple[str, ...]:
        return tuple(r for question in note.questions for r in self._remarks.get(question, ()))

    def page(self, path: str) -> Page:
        """One page, its text read from the disk."""
        from kb.search import Page

        note = self._notes[path]
        parts = split(store.read_note(self._root, path)[0], path)[0]
        return Page(
            id=note.id,
            path=path,
            digest=self._digest(path, note),
            title=note.title,
            areas=note.areas,
            concepts=note.concepts,
            headings=tuple(heading.text for heading in note.headings),
            body=parts.body,
            remarks=self._remarks_of(note),
            line=parts.body_line,
            head=head_mark(parts.head) if note.dated else "",
        )
