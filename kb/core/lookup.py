"""Find what a person names: a note, a concept or a source. If there is none, offer the nearest."""

from collections.abc import Iterable

from kb.core.answers import Answers
from kb.core.errors import NotFoundError, QueryError, likely_slip, nearest
from kb.core.ids import parse_question
from kb.core.model import Base, Note


def named_note(
    notes: Iterable[Note], words: str, *, others: Iterable[str] = (), what: str = "note"
) -> Note:
    """The note with that id, path or title, or the only one whose file name or id begins with it.

    The hint offers `others`, names not of notes, as well; the message calls it `what`.

    Raises:
        NotFoundError: There is none, and the hint offers the nearest; or there are several, and the
            hint lists their paths.
    """
    known = tuple(notes)
    wanted = spelt(words.replace("\\", "/"))
    if not wanted:
        raise NotFoundError("which note?", "name it by its title, path or id")
    for key in ("id", "path", "title"):  # the most certain first
        found = [note for note in known if spelt(getattr(note, key)) == wanted]
        if len(found) > 1:
            paths = ", ".join(note.path for note in found[:3])
            raise NotFoundError(f"'{words}' names several notes", f"say which: {paths}")
        if found:
            return found[0]
    for alike in (_same_file, lambda note, begun: note.id.casefold().startswith(begun)):
        found = [note for note in known if alike(note, wanted)]
        if len(found) == 1:
            return found[0]
    names = [*others, *(note.id for note in known)]
    hint = nearest(wanted, names, {note.title: note.id for note in known})
    hint = hint or f"to search your notes: missbook find {wanted}"
    raise NotFoundError(f"no {what} called '{words}'", hint)


def _same_file(note: Note, wanted: str) -> bool:
    """Whether `wanted` is the file of the note, as seen from inside or outside the base."""
    path = f"/{spelt(note.path)}"
    return f"/{wanted}".endswith(path) or (wanted.endswith(".md") and path.endswith(f"/{wanted}"))


def spelt(words: str) -> str:
    """The spelling in which names are compared."""
    return " ".join(words.casefold().split())


def concept_names(notes: Iterable[Note]) -> set[str]:
    """Every concept of some notes, in the spelling in which they are compared."""
    return {spelt(concept) for note in notes for concept in note.concepts}


def named_concept(notes: Iterable[Note], words: str) -> str:
    """The concept with that name, in the spelling in which concepts are compared.

    Raises:
        NotFoundError: No note has it; the hint offers the nearest.
    """
    wanted = spelt(words)
    known = concept_names(notes)
    if wanted not in known:
        raise NotFoundError(f"no note has the concept '{words}'", nearest(wanted, known))
    return wanted


def named_source(base: Base, words: str) -> str:
    """The source with that name: declared, answered, or linked by a note.

    Raises:
        NotFoundError: There is none; the hint offers the nearest.
    """
    wanted = words.strip().casefold()
    linked = (question for note in base.notes for question in note.questions)
    known = known_sources(base) | {question.partition(":")[0] for question in linked}
    if wanted not in known:
        raise NotFoundError(f"no source called '{words}'", nearest(wanted, known))
    return wanted


def source_to_log(base: Base, words: str) -> str:
    """The source of answers to be logged: it may be new, but not a misspelling of a known one.

    Raises:
        QueryError: It looks like a misspelling of a known source.
    """
    wanted = words.strip().casefold()
    known = known_sources(base) | {old for old, _ in base.study.former}
    new = wanted not in known and parse_question(f"{wanted}:1") is not None
    meant = likely_slip(wanted, known) if new else ""
    if meant:
        hint = f"did you mean {meant}? If not, declare {wanted} in study.yaml, under 'sources:'"
        raise QueryError(f"'{words}' is not one of your sources", hint)
    return wanted


def known_sources(base: Base) -> set[str]:
    """Sources that study.yaml declares, and those of the log."""
    declared = {source.id for source in base.study.sources}
    return declared | Answers.of(base.attempts).distinct("source")
