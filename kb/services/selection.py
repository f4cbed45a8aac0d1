"""Choose notes for a print or a carried file, by the lists that reports show.

The file holds what the report of the same name lists, in its order.
"""

from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from typing import Literal, get_args

from kb.core.errors import NoBaseError, NotFoundError, QueryError
from kb.core.ids import ROUNDS, AreaId, digest
from kb.core.model import Note
from kb.export.handout import Handout, Leaf
from kb.export.html_bundle import AnswerForm
from kb.formats.note import slug
from kb.presentation.report_model import Entry, day_line
from kb.services.reading_choices import record_choices
from kb.services.session import Session
from kb.stats.note_state import Judged, judge

Kind = Literal["reread", "brief", "queue", "notes", "all"]
KINDS: tuple[str, ...] = get_args(Kind)
PICTURES = (".png", ".jpg", ".jpeg", ".gif", ".webp", ".bmp", ".tif", ".tiff")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Which notes.

    `words` are an area or words to search for with `brief`, and the notes with `notes`. `area`
    keeps those of one area. None means the default of the report.
    """

    kind: Kind
    words: tuple[str, ...] = ()
    area: str | None = None
    day: date | None = None
    minutes: float | None = None
    limit: int | None = None
    state: str | None = None


def gather(session: Session, choice: Choice) -> Handout:
    """The chosen notes with their texts.

    Raises:
        QueryError: Parts of the choice contradict each other.
        NotFoundError: The area, a note or the day does not exist, or no note is left.
    """
    _check(choice)
    area = session.exam.area(choice.area) if choice.area else None
    title, rows = _listed(session, choice)
    notes: dict[str, Note] = {note.id: note for note in session.base.notes}
    if area is not None:
        rows = [row for row in rows if area.id in notes[row.note].areas or choice.kind != "all"]
        if choice.kind == "all":
            title = area.name
    if not rows:
        hint = (
            "what there is: missbook queue, missbook standing"
            if session.base.notes
            else "write one first: missbook note"
        )
        hint = "try another --day, or the queue" if choice.kind == "reread" else hint
        raise NotFoundError(f"no note to read: {title.partition(':')[0]}", hint=hint)
    judged: dict[str, Judged] = {row.note: row for row in judge(session.base, session.today)}
    leaves = tuple(
        _leaf(session, notes[row.note], judged[row.note], row, area.id if area else None)
        for row in rows
    )
    by_area = choice.kind == "all"
    if by_area:  # in the blueprint's order, notes of no area last
        order = {area.id: place for place, area in enumerate(session.exam.areas)}
        leaves = tuple(sorted(leaves, key=lambda leaf: order.get(leaf.area, len(order))))
    return Handout(
        title=title,
        right=day_line(session.today, session.exam.date),
        day=session.today,
        leaves=leaves,
        by_area=by_area and area is None,
    )


def answer_form(session: Session) -> AnswerForm:
    """The choices in the form of a carried file: sources as declared or logged, and the areas.

    An area or round with the name of a source is left out: on a sheet it would be that source.
    """
    declared = {source.id: source.name for source in session.study.sources}
    logged = sorted({attempt.source for attempt in session.base.attempts} - set(declared))
    return AnswerForm(
        base=digest("carry", session.exam.name, session.exam.date.isoformat()),
        sources=(*declared.items(), *((source, source) for source in logged)),
        areas=tuple((a.id, a.name) for a in session.exam.areas if a.id not in declared),
        rounds=tuple(name for name in ROUNDS if name not in declared),
        letters=session.exam.letters,
    )


GOES_WITH = {
    "day": ("reread",),
    "minutes": ("brief",),
    "limit": ("queue",),
    "state": ("queue", "all"),
    "area": ("reread", "queue", "all"),
}
"""Option -> the lists that know it."""


def _check(choice: Choice) -> None:
    for name, kinds in GOES_WITH.items():
        if getattr(choice, name) is not None and choice.kind not in kinds:
            raise QueryError(
                f"--{name} does not go with {choice.kind}",
                hint=f"it goes with {' and '.join(kinds)}",
            )
    if choice.words and choice.kind not in ("brief", "notes"):
        hint = f"write: notes {' '.join(choice.words)}"
        raise QueryError(f"{choice.kind} takes no words", hint=hint)
    if choice.kind == "notes" and not choice.words:
        raise QueryError("which notes?", hint="write: notes, and then the id of each")


def _listed(session: Session, choice: Choice) -> tuple[str, list[Entry]]:
    """The title, and the notes in the order of their list; the first line is their evidence."""
    if choice.kind == "reread":
        return _reading(session, choice)
    if choice.kind in ("brief", "queue"):
        given: dict[str, object] = {"words": " ".join(choice.words), "minutes": choice.minutes}
        if choice.kind == "queue":
            given = {"limit": choice.limit, "area": choice.area, "state": choice.state}
        report = session.report(choice.kind, given)
        return report.title, report.entries("notes")
    if choice.kind == "notes":
        found = dict.fromkeys(session.note(handle).id for handle in choice.words)
        title = session.note(choice.words[0]).title if len(found) == 1 else "Chosen notes"
        return title, [Entry(head="", note=note) for note in found]
    judged = judge(session.base, session.today)
    rows = [row for row in judged if not choice.state or row.state == choice.state]
    title = f"Notes that are {choice.state}" if choice.state else "All notes"
    return title, [Entry(head="", note=row.note) for row in rows]


def _reading(session: Session, choice: Choice) -> tuple[str, list[Entry]]:
    """The list of one day of the reading report."""
    day = choice.day or session.today
    ahead = (day - session.today).days
    title = f"Notes to reread on {day:%A} {day.day} {day:%B}"
    if ahead < 0:
        raise NotFoundError(f"{day.isoformat()} is past", hint="a list is for today or later")
    record_choices(session)
    report = session.report("reread", {"days": ahead + 1, "area": choice.area})
    return title, report.entries(f"day_{day:%Y_%m_%d}")


def file_stem(choice: Choice, today: date) -> str:
    """The name of a file with this choice, without its suffix."""
    day = choice.day or today
    name = {
        "reread": f"reread {day.isoformat()}",
        "queue": f"queue {today.isoformat()}",
        "brief": " ".join(("brief", *choice.words)),
        "notes": choice.words[0] if len(choice.words) == 1 else "notes",
        "all": choice.area or "notes",
    }[choice.kind]
    more = [choice.area] if choice.area and choice.kind != "all" else []
    return slug(" ".join([name, *more, *([choice.state] if choice.state else [])]))


def _leaf(session: Session, note: Note, judged: Judged, row: Entry, wanted: AreaId | None) -> Leaf:
    area = wanted if wanted in note.areas else judged.area
    return Leaf(
        note=note.id,
        path=note.path,
        title=note.title,
        body=session.body(note),
        area=area or AreaId(""),
        area_name=session.exam.area_name(area) if area else "",
        state=judged.state if note.questions else "",
        evidence="".join(row.lines[:1]) or judged.evidence,
        lines=row.lines[1:],
        concepts=note.concepts,
        questions=note.questions,
        basis=note.basis,
        checked=note.checked,
        pictures=_pictures(session, note),
    )


def _pictures(session: Session, note: Note) -> dict[str, bytes]:
    """Image files of the base that the note's text points to, by path; one that cannot be read, or
    is too large, is left out.
    """
    paths = dict.fromkeys(
        link.path
        for link in note.links
        if link.path in session.base.files and link.path.casefold().endswith(PICTURES)
    )
    found = {}
    for path in paths:
        with suppress(NotFoundError, NoBaseError):
            found[path] = session.attachment(path)
    return found
