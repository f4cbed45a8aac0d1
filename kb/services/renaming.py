"""Give an area, a source, a concept or the questions of a bank other names, everywhere at once."""

import csv
import io
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from kb.core.errors import FormatError, NotFoundError, Place, QueryError, nearest
from kb.core.ids import RenameKind, digest, parse_question
from kb.core.lookup import concept_names, known_sources, spelt
from kb.core.model import Attempt, Renamed
from kb.core.wording import counted, listed
from kb.formats import frontmatter, side_logs
from kb.formats.yaml_edits import Change, change_words
from kb.services.session import Session
from kb.storage.attempt_store import append_side_log
from kb.storage.base_folder import edit_file
from kb.storage.base_location import EXAM, STUDY


@dataclass(frozen=True, slots=True, kw_only=True)
class Renaming:
    """What a change of names does: files it changes, and answers that count under a new name.

    `by_hand` are sources with ranges of numbers in study.yaml, which only the person can change.
    """

    kind: RenameKind
    names: Mapping[str, str]
    files: tuple[str, ...]
    answer_count: int
    by_hand: tuple[str, ...] = ()

    def told(self) -> tuple[str, ...]:
        """Which files it changes, how many answers have the old name, and what is left to do."""
        settings = [file for file in self.files if file.endswith(".yaml")]
        note_count = len(self.files) - len(settings)
        changed = listed([*settings, *([counted(note_count, "note")] if note_count else [])])
        answers = f"{counted(self.answer_count, 'answer')} in the log under the old name."
        left = (
            f"Ranges of {listed(self.by_hand)} in study.yaml (areas, shares): change them yourself."
        )
        return f"Changed: {changed or 'no file'}.", answers, *([left] if self.by_hand else [])


def rename(session: Session, kind: RenameKind, old: str, new: str, *, dry_run: bool) -> Renaming:
    """Rename an area, a source or a concept.

    An area or source that has both names in the settings is refused, since their numbers would
    have to be added up; a name that only the log has may become one that the settings have.

    Raises:
        NotFoundError: Nothing has the old name.
        QueryError: The new name is not one, or is taken.
    """
    old, new = spelt(old), spelt(new) if kind != "concept" else " ".join(new.split())
    known, declared = _known(session, kind)
    if old not in known:
        hint = nearest(old, known) or "missbook check lists what is not known"
        raise NotFoundError(f"nothing has the {kind} '{old}'", hint=hint)
    if not new or new == old:
        raise QueryError(f"'{new}' is not another name", hint="name the old one, then the new one")
    if kind != "concept" and not all(letter.isalnum() or letter in "-_." for letter in new):
        hint = "use letters, digits and hyphens, such as infectious-diseases"
        article = "an" if kind == "area" else "a"
        raise QueryError(f"'{new}' is not a name for {article} {kind}", hint=hint)
    if old in declared and new in declared:
        file = EXAM if kind == "area" else STUDY
        hint = f"add the one to the other in {file} and delete it there, then rename"
        raise QueryError(f"{file} has both '{old}' and '{new}'", hint=hint)
    return _rename(session, kind, {old: new}, dry_run=dry_run)


def rename_items(session: Session, text: str, path: str, source: str, *, dry_run: bool) -> Renaming:
    """Rename the questions of a bank that was renumbered: `text`, a CSV that messages call `path`,
    has the old and the new number in each line, of `source`, or two whole references.

    Raises:
        FormatError: A line is not two questions, or a number stands twice on one side.
    """
    moved: dict[str, str] = {}
    rows = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""))
    for number, row in enumerate(rows, start=1):
        cells = [cell.strip() for cell in row]
        header = number == 1 and [cell.casefold() for cell in cells] == ["old", "new"]
        if header or not any(cells):
            continue
        pair = [parse_question(cell if ":" in cell else f"{source}:{cell}") for cell in cells]
        place = Place(path, number)
        if len(pair) != 2 or None in pair:
            hint = "write the old and the new number, such as 1041,2041; and name the --source"
            raise FormatError("this line is not two questions", place=place, hint=hint)
        old, new = str(pair[0]), str(pair[1])
        if old in moved or new in moved.values():
            hint = "each old and each new number comes once"
            raise FormatError(f"{old if old in moved else new} comes twice", place=place, hint=hint)
        moved[old] = new
    if not moved:
        raise FormatError("there is no line in it; nothing was renamed", place=Place(path))
    return _rename(session, "item", moved, dry_run=dry_run)


def _known(session: Session, kind: RenameKind) -> tuple[set[str], set[str]]:
    """Names in use, by notes of a later day too, and those that the settings declare."""
    base = session.whole
    if kind == "concept":
        logged = {spelt(a.concept) for a in base.attempts if a.concept}
        return concept_names(base.notes) | logged, set()
    if kind == "source":
        linked = {q.partition(":")[0] for note in base.notes for q in note.questions}
        return known_sources(base) | linked, {source.id for source in base.study.sources}
    declared: set[str] = {area.id for area in base.exam.areas}
    used = {area for note in base.notes for area in note.areas}
    logged_areas = {a.area for a in base.attempts if a.area} | {s.area for s in base.scores}
    return declared | used | (logged_areas - {""}), declared


def _rename(
    session: Session, kind: RenameKind, names: Mapping[str, str], *, dry_run: bool
) -> Renaming:
    changes: dict[str, Change] = {}
    if kind in ("area", "source"):
        changes[STUDY] = lambda keys, word: _in_study(kind, names, keys, word)
    if kind == "area":
        changes[EXAM] = lambda keys, word: (
            names.get(spelt(word)) if keys == ("blueprint", "area") else None
        )
    for note in session.whole.notes:
        words = (("areas", note.areas), ("concepts", note.concepts), ("questions", note.questions))
        if any(_in_note(kind, names, (key,), word) for key, own in words for word in own):
            changes[note.path] = lambda keys, word: _in_note(kind, names, keys, word)
    files = tuple(path for path, change in changes.items() if _changed(session, path, change))
    if not dry_run:
        for path in files:
            edit_file(session.root, path, partial(_edited, path, changes[path]))
        rows = (
            Renamed(
                id=digest("renamed", kind, old, new, session.now.isoformat(), session.device),
                at=session.now,
                kind=kind,
                old=old,
                new=new,
            )
            for old, new in names.items()
        )
        append_side_log(session.root, session.device, side_logs.RENAMES, *rows)
    answers = Counter(_name_in(attempt, kind) for attempt in session.whole.attempts)
    count = sum(answers[old] for old in names)
    if not dry_run:
        session.reload()
    by_hand = _with_ranges(session, names) if kind == "item" else ()
    return Renaming(kind=kind, names=names, files=files, answer_count=count, by_hand=by_hand)


def _with_ranges(session: Session, questions: Mapping[str, str]) -> tuple[str, ...]:
    """Sources whose numbers change, or that share questions with such a one, in study.yaml."""
    moved = {question.partition(":")[0] for question in questions}
    return tuple(
        source.id
        for source in session.study.sources
        if (source.id in moved and (source.ranges or source.shares))
        or moved & {share.source for share in source.shares}
    )


def _changed(session: Session, path: str, change: Change) -> bool:
    if not (session.root / path).is_file():
        return False
    text = (session.root / path).read_text(encoding="utf-8", errors="replace")
    return _edited(path, change, text) != text


def _edited(path: str, change: Change, text: str) -> str:
    if path in (EXAM, STUDY):
        return change_words(text, path, change)
    return frontmatter.change_words(text, path, change)


def _in_study(
    kind: RenameKind, names: Mapping[str, str], keys: tuple[str, ...], word: str
) -> str | None:
    new = names.get(spelt(word))
    if kind == "area":
        holds = keys[:2] == ("sources", "areas") or keys == ("plan", "area_order")
        return new if holds and keys[-1] != "?" else None
    if keys[:2] == ("sources", "shares") and keys[-1] != "?":
        source, _, items = word.partition(":")
        return f"{names[spelt(source)]}:{items}" if spelt(source) in names else None
    return new if keys in (("sources", "source"), ("tables", "?")) else None


def _in_note(
    kind: RenameKind, names: Mapping[str, str], keys: tuple[str, ...], word: str
) -> str | None:
    if kind == "area":
        return names.get(spelt(word)) if keys in (("area",), ("areas",)) else None
    if kind == "concept":
        return names.get(spelt(word)) if keys == ("concepts",) else None
    question = parse_question(word)
    if keys != ("questions",) or question is None:
        return None
    if kind == "item":
        return names.get(question)
    source, _, item = question.partition(":")
    return f"{names[source]}:{item}" if source in names else None


def _name_in(attempt: Attempt, kind: RenameKind) -> str:
    """The name of that kind in an answer."""
    if kind == "area":
        return attempt.area
    if kind == "concept":
        return spelt(attempt.concept)
    return attempt.source if kind == "source" else attempt.question
