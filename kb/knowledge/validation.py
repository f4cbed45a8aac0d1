"""What is wrong across files: each check is a named function from a base to its Problems.

What one file shows by itself is found while it is read; these checks need the whole base.
"""

import posixpath
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import date
from difflib import get_close_matches
from functools import partial

from kb.core.answers import Answers
from kb.core.errors import Place, Problem, Severity, nearest
from kb.core.ids import QuestionId, whole_number
from kb.core.model import Base
from kb.core.settings import Source
from kb.language.patient_identifiers import find_identifiers

STALE_DAYS = 365


def _problem(
    place: Place, code: str, message: str, hint: str = "", severity: Severity = "error"
) -> Problem:
    return Problem(place=place, code=code, message=message, hint=hint, severity=severity)


def find_problems(base: Base, today: date) -> tuple[Problem, ...]:
    """Everything that is wrong with the base, in order of path and line."""
    found = list(base.problems)
    for _, check in CHECKS:
        found.extend(check(base, today))
    return tuple(sorted(found, key=lambda problem: problem.sort_key))


def _not_read(base: Base) -> frozenset[str]:
    """Files of which a part could not be read. What they seem to lack may be in that part, and
    reporting it would be a second finding for one cause.
    """
    return frozenset(p.place.path for p in base.problems if p.severity == "error")


def unknown_areas(base: Base, today: date) -> Iterator[Problem]:
    """Areas of notes and sources that the blueprint does not have."""
    known = [area.id for area in base.exam.areas]
    off = _not_read(base)
    for note in base.notes:
        for area in note.areas:
            if area not in known:
                message = f"area '{area}' is not in the blueprint"
                parts = [part.strip() for part in area.split(",")]
                hint = f"write a list: areas: [{', '.join(parts)}]" if len(parts) > 1 else ""
                yield _problem(note.place, "unknown-area", message, hint or nearest(area, known))
        if not note.areas and note.path not in off:
            hint = "add a line such as 'area: cardiology'"
            yield _problem(note.place, "no-area", "the note has no area", hint, "caution")
    for source in base.study.sources:
        for area in sorted({span.area for span in source.ranges} - set(known)):
            message = f"area '{area}' of source '{source.id}' is not in the blueprint"
            yield _problem(source.place, "unknown-area", message, nearest(area, known))


def unknown_areas_in_log(base: Base, today: date) -> Iterator[Problem]:
    """Areas of the log that the blueprint does not have, each once."""
    known = {area.id for area in base.exam.areas}
    seen: set[str] = set()
    answers = Answers.of(base.attempts)
    for attempt in answers.only(answers.where("area", lambda area: area and area not in known)):
        if attempt.area not in seen:
            seen.add(attempt.area)
            message = f"area '{attempt.area}' is not in the blueprint"
            yield _problem(attempt.place, "unknown-area", message, nearest(attempt.area, known))


def broken_links(base: Base, today: date) -> Iterator[Problem]:
    """Links to files that are not there, or not in the base."""
    from dataclasses import replace

    by_name: dict[str, str] = {posixpath.basename(path): path for path in sorted(base.files)}
    for note in base.notes:
        for link in note.links:
            place = replace(note.place, line=link.line)
            if not link.path:
                hint = "copy the file into the base"
                message = f"the link '{link.target}' leads out of the base"
                yield _problem(place, "link-outside", message, hint)
            elif link.path not in base.files:
                name = posixpath.basename(link.path)
                close = get_close_matches(name, by_name, n=1, cutoff=0.7)
                there = by_name[close[0]] if close else ""
                folder = posixpath.dirname(note.path) or "."
                hint = f"did you mean {posixpath.relpath(there, folder)}?" if there else ""
                message = f"the link '{link.target}' leads nowhere"
                yield _problem(place, "broken-link", message, hint)


def unlogged_questions(base: Base, today: date) -> Iterator[Problem]:
    """Linked questions that the log has never seen, which may be a slip of the pen."""
    logged = Answers.of(base.attempts).distinct("question")
    for note in base.notes:
        missing = [question for question in note.questions if question not in logged]
        if missing:
            shown = ", ".join(missing[:3]) + (" ..." if len(missing) > 3 else "")
            hint = "a typing slip, or answers not logged yet"
            message = f"linked to {shown}, never logged"
            yield _problem(note.place, "unlogged-question", message, hint, "caution")


def items_out_of_range(base: Base, today: date) -> Iterator[Problem]:
    """Items beyond the declared size of their source, one Problem for each source."""
    for source in base.study.sources:
        if not source.item_count:
            continue
        answers = Answers.of(base.attempts)
        beyond = answers.only(answers.where("question", partial(_is_beyond, source)))
        if beyond:
            first = beyond[0]
            message = (
                f"{first.question} was logged, but {source.id} has only"
                f" {source.item_count:,} questions"
            )
            more = f" ({len(beyond)} answers)" if len(beyond) > 1 else ""
            hint = "correct 'items' in study.yaml, or take the answer back: missbook log undo ID"
            yield _problem(first.place, "item-out-of-range", message + more, hint, "caution")


def _is_beyond(source: Source, question: QuestionId) -> bool:
    own, _, item = question.partition(":")
    number = whole_number(item) if own == source.id else None
    return number is not None and not 1 <= number <= source.item_count


def patients_in_log(base: Base, today: date) -> Iterator[Problem]:
    """Remarks of the log in which somebody may be named."""
    answers = Answers.of(base.attempts)
    words = [answers.where(name, bool) for name in ("remark", "concept", "sitting")]
    texts: list[tuple[str, str, Place]] = [
        (attempt.id, part, attempt.place)
        for attempt in answers.only(words[0] | words[1] | words[2])
        for part in {attempt.remark, attempt.concept, attempt.sitting} - {""}
    ]
    texts += [(remark.id, remark.text, remark.place) for remark in base.other_remarks]
    for own, text, place in texts:
        for _, what in find_identifiers(text):
            message = f"the log contains what looks like {what}"
            hint = f"blank its remark for good: missbook log scrub {own}"
            yield _problem(place, "patient-identifier", message, hint, "caution")


def patients_in_names(base: Base, today: date) -> Iterator[Problem]:
    """Files other than notes, which see to it themselves, that may be called after somebody."""
    paths = sorted(path for path in base.files if not path.lower().endswith(".md"))
    names = (re.sub(r"[/-]", " ", path.rpartition(".")[0]).strip() for path in paths)
    for line, what in find_identifiers("\n".join(names)):
        message = f"the file's name seems to contain {what}"
        hint = "give it a name that does not say who a patient was"
        yield _problem(Place(paths[line - 1]), "patient-identifier", message, hint, "caution")


def no_basis(base: Base, today: date) -> Iterator[Problem]:
    """Notes that do not say where their fact was checked."""
    off = _not_read(base)
    for note in base.notes:
        if note.questions and not note.basis and note.path not in off:
            hint = "say where you checked it, and what: 'basis: physiology text 2024, refeeding'"
            yield _problem(note.place, "no-basis", "the note has no basis", hint, "caution")


def not_checked_lately(base: Base, today: date) -> Iterator[Problem]:
    """Facts not checked for a year, or checked in the future."""
    for note in base.notes:
        if note.checked is None:
            continue
        age_days = (today - note.checked).days
        if age_days > STALE_DAYS:
            message = f"last checked {note.checked.isoformat()}, more than a year ago"
            hint = "look it up again and update 'checked:'"
            yield _problem(note.place, "not-checked-lately", message, hint, "caution")
        elif age_days < 0:
            message = f"checked on {note.checked.isoformat()}, which is in the future"
            yield _problem(note.place, "checked-in-future", message, severity="caution")


def empty_notes(base: Base, today: date) -> Iterator[Problem]:
    """Notes without a text."""
    for note in base.notes:
        if not note.word_count:
            hint = "write its point or delete the file"
            yield _problem(note.place, "empty-note", "the note has no text", hint, "caution")


CHECKS: tuple[tuple[str, Callable[[Base, date], Iterable[Problem]]], ...] = (
    ("unknown areas", unknown_areas),
    ("unknown areas in the log", unknown_areas_in_log),
    ("broken links", broken_links),
    ("questions never logged", unlogged_questions),
    ("items out of range", items_out_of_range),
    ("patients in the log", patients_in_log),
    ("patients in names of files", patients_in_names),
    ("no basis", no_basis),
    ("not checked lately", not_checked_lately),
    ("empty notes", empty_notes),
)
