"""Two diagnoses side by side, and the one note that compares them.

Shared by both doors, so that command line and page begin the note alike.
"""

import re
from dataclasses import dataclass

from kb.core.errors import KBError, QueryError
from kb.core.ids import QuestionId
from kb.core.model import Note
from kb.core.wording import capital
from kb.formats.note_merging import move_links
from kb.knowledge.mixups import Mixup, comparing_note, rank_mixups
from kb.language.name_matching import Naming, naming_of
from kb.services.note_editing import add_note, blank_note
from kb.services.session import Session

NOTES_OF_EACH = 3
"""More would not be read side by side."""
FOUND_COUNT = 2
"""How many notes are looked up by words when no note names one of the two."""
ANY_FOLDER = "area/note.md"
"""Every note is in the folder of its area, so a link out of one such folder works from any."""
EMPTY_SECTION = re.compile(r"^## [^\n]*\n\s*(?=## |\Z)", re.M)
APART = "What tells them apart in a stem:"


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What the base has on two diagnoses.

    `mixup` is how often they were mixed up, `note` the one that compares them already; either may
    be missing. `first` and `second` are notes on one of them, `both` notes on both. `area` is that
    of most answers, empty if none has one.
    """

    one: str
    other: str
    mixup: Mixup | None
    note: Note | None
    first: tuple[Note, ...]
    second: tuple[Note, ...]
    both: tuple[Note, ...]
    area: str

    @property
    def title(self) -> str:
        """The title of the note that compares them."""
        return f"{capital(self.one)} or {self.other}?"

    @property
    def questions(self) -> tuple[QuestionId, ...]:
        """The questions in which one was taken for the other: the note answers them."""
        return self.mixup.questions if self.mixup else ()


def compare(session: Session, one: str, other: str) -> Comparison:
    """What the base has on each of the two.

    Raises:
        QueryError: A name is empty, or both are names of one thing.
    """
    one, other = " ".join(one.split()), " ".join(other.split())
    if not one or not other:
        raise QueryError("name two diagnoses to compare", hint='such as "gout" and "pseudogout"')
    naming = naming_of(session.base)
    wanted = {naming.key(one), naming.key(other)}
    if len(wanted) == 1:
        raise QueryError(f"'{one}' and '{other}' are the same", hint="name two diagnoses")
    rows = rank_mixups(session.base, {})
    mixup = next((r for r in rows if {naming.key(r.one), naming.key(r.other)} == wanted), None)
    questions = mixup.questions if mixup else ()
    areas = [a.area for a in session.base.attempts if a.question in questions and a.area]
    first, second = (_about(session, naming, name) for name in (one, other))
    shared = {note.id for note in first} & {note.id for note in second}
    return Comparison(
        one=one,
        other=other,
        mixup=mixup,
        note=comparing_note(naming, (one, other), questions),
        first=tuple(note for note in first if note.id not in shared),
        second=tuple(note for note in second if note.id not in shared),
        both=tuple(note for note in first if note.id in shared),
        area=max(areas, key=areas.count) if areas else "",
    )


def _about(session: Session, naming: Naming, name: str) -> tuple[Note, ...]:
    found = naming.about(name)
    if not found:
        answer = session.search(name, limit=FOUND_COUNT)
        # A note on a word that was searched instead is no note on what was named.
        hits = () if answer.searched else answer.hits
        found = tuple(session.note(hit.note) for hit in hits)
    return found[:NOTES_OF_EACH]


def sides(session: Session, found: Comparison) -> str:
    """What existing notes say about each, and about both, as Markdown."""
    both = [(f"{found.one} and {found.other}", found.both)] if found.both else []
    parts = []
    for name, notes in (*both, (found.one, found.first), (found.other, found.second)):
        bodies = (move_links(session.body(n), n.path, ANY_FOLDER, "", "") for n in notes)
        parts += [f"## {name}\n", *(f"{body.strip()}\n" for body in bodies), "\n"]
    return "".join(parts)


def without_empty(text: str) -> str:
    """A note's text without headings under which nothing was written."""
    return EMPTY_SECTION.sub("", text).strip()


def begin(session: Session, found: Comparison) -> str:
    """The beginning of the note; what tells the two apart is left to the person."""
    return f"{sides(session, found)}{APART} \n"


def write(session: Session, found: Comparison, body: str, area: str = "", basis: str = "") -> Note:
    """Write the note that compares the two; it answers every question in which they were mixed up.

    Raises:
        KBError: Nothing was added to its beginning.
        QueryError: Its area is neither given nor known from the questions.
        NotFoundError: There is no such area.
    """
    if not body or body.strip() == begin(session, found).strip():
        raise KBError("nothing was written, so there is no note")
    place = area or found.area
    if not place:
        raise QueryError("the area of this note is not known", hint="name it with --area")
    concepts = (found.one, found.other)
    return add_note(session, blank_note(found.title, place, concepts, found.questions, basis), body)
