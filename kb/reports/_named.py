"""A note by the words a person names it with."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.errors import NotFoundError, nearest

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kb.model import Base, Note


def named_note(base: Base, words: str, *, others: Iterable[str] = (), what: str = "note") -> Note:
    """The note of that title, path or id, or the only one whose id begins so.

    Args:
        base: The base.
        words: As typed.
        others: Names the caller knows besides those of notes, for the hint.
        what: What there is none of, for the message.

    Raises:
        NotFoundError: There is none; the hint offers the nearest.
    """
    wanted = words.strip().replace("\\", "/").casefold()
    for note in base.notes:
        if wanted in (note.id.casefold(), note.path.casefold(), note.title.casefold()):
            return note
    begins = [note for note in base.notes if wanted and note.id.casefold().startswith(wanted)]
    if len(begins) == 1:
        return begins[0]
    hint = nearest(wanted, [*others, *(note.id for note in base.notes)])
    raise NotFoundError(f"no {what} called '{words}'", hint=hint)
