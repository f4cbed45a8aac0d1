"""What the index sees of a base: a page for each note, with the remarks of its missed questions."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from kb.core.errors import NotFoundError
from kb.core.ids import NoteId
from kb.formats.outline import halves
from kb.search.document import Page
from kb.storage.base_facts import NoteFact, page_digests, read_note_facts
from kb.storage.note_catalogue import decode

if TYPE_CHECKING:
    from pathlib import Path

    from kb.core.ids import QuestionId
    from kb.core.model import Base, Note
    from kb.storage.note_catalogue import Catalogue


def facts_of(base: Base) -> dict[str, NoteFact]:
    """What the index must know about every note, by path, besides the note itself.

    Args:
        base: As loaded, not cut to any day.
    """
    from kb.core.answers import Answers  # NumPy, which a search does without

    remarks: dict[QuestionId, dict[str, None]] = {}
    answers = Answers.of(base.attempts)
    for attempt in answers.only(~answers.equals("remark", "") & ~answers.rights):
        remarks.setdefault(attempt.question, {})[attempt.remark] = None
    return {
        note.path: NoteFact(
            note.id, tuple(r for question in note.questions for r in remarks.get(question, ()))
        )
        for note in base.notes
    }


class Pages:
    """The pages of a base; a file is read only when its page is asked for.

    Args:
        root: The base's folder.
        catalogue: Up to date, with the facts of its notes.
        everything: Most pages will be asked for, so looking them all up at once is quicker.
    """

    def __init__(self, root: Path, catalogue: Catalogue, *, everything: bool) -> None:
        self._root, self._catalogue, self._everything = root, catalogue, everything

    def digests(self) -> dict[str, str]:
        """A digest of each page's content, by path."""
        return page_digests(self._catalogue)

    @cached_property
    def _all(self) -> dict[str, tuple[Note, NoteFact]]:
        """All notes with their facts, by path."""
        facts = read_note_facts(self._catalogue)
        notes = (row.note for row in self._catalogue.listed())
        return {note.path: (note, facts[note.path]) for note in notes if note.path in facts}

    def _look_up(self, path: str) -> tuple[Note, NoteFact] | None:
        if self._everything:
            return self._all.get(path)
        listed, facts = self._catalogue.note(path), read_note_facts(self._catalogue, path)
        return (listed.note, facts[path]) if listed and facts else None

    def page(self, path: str) -> Page:
        """One page, its text read from the disk.

        Raises:
            NotFoundError: The note went while the others were read.
        """
        from kb.storage.atomic_files import read_bytes

        found = self._look_up(path)
        if found is None:
            raise NotFoundError(f"the note {path} is gone")
        note, fact = found
        _, body, line, _ = halves(decode(read_bytes(self._root / path, path), path)[0])
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
