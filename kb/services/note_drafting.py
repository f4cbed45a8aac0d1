"""A miss and its note: which notes may cover it already, and a draft of a new one.

Command line and page propose the same.
"""

import re

from kb.core.errors import KBError, QueryError
from kb.core.ids import AreaId, QuestionId
from kb.core.model import Note
from kb.core.search_result import Hit
from kb.knowledge.suggestions import Suggestions, suggest
from kb.language.normalise import key, words
from kb.language.patient_identifiers import find_identifiers
from kb.language.snippets import best_passage
from kb.services.note_editing import blank_note
from kb.services.session import Session
from kb.storage import note_draft

COVER_LIMIT = 5
NEAR_FRACTION = 0.5
"""Notes less near than this share of the nearest are not shown."""
SURE_FRACTION = 0.5
"""The nearest notes decide the area when at least this share of them agrees."""
TITLE_WORDS = 9


def cover(session: Session, question: QuestionId) -> tuple[Hit, ...]:
    """Notes that may already cover a missed question, nearest first, each with the matching line.

    They are searched for by the remarks and concepts of its misses, in all areas.
    """
    remarks = [
        f"{attempt.remark} {attempt.concept}"
        for attempt in session.base.attempts
        if attempt.question == question and not attempt.right
    ]
    text = " ".join(" ".join(remarks).split())
    hits = session.similar(text, limit=COVER_LIMIT) if text else ()
    hits = tuple(hit for hit in hits if hit.weight >= hits[0].weight * NEAR_FRACTION)
    worth = {found: 1.0 for word in words(text) if (found := key(word))}
    passages = (best_passage(session.body(session.note(hit.note)), worth) for hit in hits)
    return tuple(
        hit._replace(passage=passage, line=line)
        for hit, (passage, line) in zip(hits, passages, strict=True)
    )


def suggestions(session: Session, question: QuestionId, body: str) -> Suggestions:
    """Suggestions for a note about to be written: its area, its concepts, notes like it."""
    remarks = [a.remark for a in session.base.attempts if a.question == question and not a.right]
    text = "\n".join(dict.fromkeys((body, *(remark for remark in remarks if remark))))
    return suggest(text, session.similar(text), session.base.notes)


def area_of(session: Session, question: QuestionId) -> AreaId:
    """The area of a question, from the log or the source's numbering; empty if neither has it."""
    known = [a.area for a in session.base.attempts if a.question == question and a.area]
    return known[-1] if known else session.study.area_of(question)


def first_clause(body: str) -> str:
    """A title for a text: its first clause, at most nine words; empty for an empty text."""
    lines = [line.strip("# ").strip() for line in body.splitlines() if line.strip("# ").strip()]
    if not lines:
        return ""
    clause = re.split(r"[.;:](?:\s|$)", lines[0])[0]
    return " ".join(clause.split()[:TITLE_WORDS]).rstrip(",")


def draft(
    session: Session,
    question: QuestionId,
    body: str,
    title: str,
    area: str,
    concepts: tuple[str, ...],
    basis: str,
) -> tuple[Note, bool]:
    """A new note for `add_note`. Title and area are as given, or its first clause and its
    question's area, or the area of the notes nearest to it: then it is a guess, which is returned.

    Raises:
        KBError: There is no text to make a note of.
        QueryError: The area cannot be determined.
    """
    title = title or first_clause(body)
    if not title:
        raise KBError("an empty note was not written", hint="give it a line of your own")
    known = area or area_of(session, question)
    if known:
        return blank_note(title, known, concepts, (question,), basis), False
    offered = suggestions(session, question, body)
    if offered.area and offered.area_fraction >= SURE_FRACTION:
        return blank_note(title, offered.area, concepts, (question,), basis), True
    near = f"; perhaps {offered.area}" if offered.area else ""
    hint = f"name it with --area{near}"
    raise QueryError(f"the area of {question} is not known", hint=hint)


def keep_draft(session: Session, question: str = "", body: str = "") -> None:
    """Keep the text of a note until it is written; without a text, keep none.

    Raises:
        KBError: The disk refused.
    """
    text = f"{question}\n{body}\n" if body else ""
    note_draft.keep_draft(session.root, session.device, text)


def kept_draft(session: Session) -> tuple[QuestionId, str]:
    """The question and text of a note that was begun and not written; empty if there is none."""
    question, _, body = note_draft.kept_draft(session.root, session.device).partition("\n")
    return QuestionId(question), body.strip()


def written_already(session: Session, question: QuestionId, title: str, body: str) -> Note | None:
    """The note for a question that already has this very title and text, if there is one.

    A connection may be lost after the note was written and before the answer arrived.
    """
    same = (
        note
        for note in session.base.notes
        if note.title == title.strip()
        and question in note.questions
        and _lines(session.body(note)) == _lines(body)
    )
    return next(same, None)


def _lines(text: str) -> list[str]:
    return [line.rstrip() for line in text.strip().splitlines()]


def check_name(name: str) -> None:
    """A name that is about to be recorded says nothing of a patient.

    Raises:
        QueryError: It may identify one.
    """
    found = identifiers(name)
    if found:
        hint = "choose another name: none needs to say who a patient was"
        raise QueryError(f"'{name}' looks like {' and '.join(found)}; nothing written", hint=hint)


def identifiers(*texts: str) -> tuple[str, ...]:
    """Whatever in these texts could identify a patient, each kind once."""
    found = (what for text in texts for _, what in find_identifiers(text))
    return tuple(dict.fromkeys(found))
