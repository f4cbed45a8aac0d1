"""What the index sees of a base: a page for each note, with the remarks of its missed questions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.core.errors import NotFoundError
from kb.core.ids import NoteId
from kb.formats.outline import halves
from kb.search.document import Page
from kb.storage.base_facts import NoteFact, note_facts

if TYPE_CHECKING:
    from pathlib import Path

    from kb.core.ids import QuestionId
    from kb.core.model import Base
    from kb.storage.note_catalogue import Catalogue


def facts_of(base: Base) -> dict[str, NoteFact]:
    """What the index must know of every note, by path, besides the note itself.

    Args:
        base: As loaded, not cut to any day.
    """
    remarks: dict[QuestionId, dict[str, None]] = {}
    for attempt in base.attempts:
        if attempt.remark and not attempt.right:
            remarks.setdefault(attempt.question, {})[attempt.remark] = None
    return {
        note.path: NoteFact(
            note.id, tuple(r for question in note.questions for r in remarks.get(question, ()))
        )
        for note in base.notes
    }


class Pages:
    """The pages of a base; a file is only read when its page is asked for.

    Args:
        root: The base's folder.
        catalogue: Up to date, with the facts of its notes.
    """

    def __init__(self, root: Path, catalogue: Catalogue) -> None:
        self._root, self._catalogue = root, catalogue
        self._facts: dict[str, NoteFact] = {}

    def digests(self) -> dict[str, str]:
        """What stands for the content of each page, by path."""
        self._facts = note_facts(self._catalogue)
        marks = self._catalogue.digests()
        return {
            path: "\0".join((marks[path], fact.note, *fact.remarks))
            for path, fact in self._facts.items()
            if path in marks
        }

    def page(self, path: str) -> Page:
        """One page, its text read from the disk.

        Raises:
            NotFoundError: The note went while the others were read.
        """
        from kb.storage.base_folder import read_note

        listed = self._catalogue.note(path)
        if listed is None:
            raise NotFoundError(f"the note {path} is gone")
        note, fact = listed.note, self._facts[path]
        _, body, line, _ = halves(read_note(self._root, path)[0])
        return Page(
            id=NoteId(fact.note),
            path=path,
            title=note.title,
            concepts=note.concepts,
            headings=tuple(heading.text for heading in note.headings),
            body=body,
            remarks=fact.remarks,
            line=line,
        )
