"""What a batch would add, what it added, and which of its misses have no note."""

from collections import Counter
from datetime import date
from typing import NamedTuple

from kb.core.errors import likely_slip
from kb.core.ids import QuestionId
from kb.core.model import Attempt, Base
from kb.core.settings import Exam
from kb.core.wording import counted
from kb.presentation.report_model import Block, Entries, Fact, Facts, Report, Text, paragraphs
from kb.presentation.table_preview import as_logged
from kb.presentation.terms import in_marks
from kb.stats.note_state import open_misses

MOST_AREAS = 6
MOST_ITEMS = 20
WORDS = {"right": "right", "wrong": "wrong", "blank": "not answered"}


class ImportCounts(NamedTuple):
    """What became of a batch: answers added, known already, and lines not understood."""

    added: int = 0
    known: int = 0
    left: int = 0


def import_report(
    base: Base, today: date, questions: frozenset[QuestionId], counts: ImportCounts, batch: str
) -> Report:
    """One screen on a batch that is in the base: how many of its answers to these questions were
    added, how many were known, and misses without a note. Its id is empty when nothing was added.
    """
    added, known, left = counts
    right = "nothing new" if not added else f"{counted(added, 'answer')} added"
    new = [attempt for attempt in base.attempts if batch and attempt.batch == batch]
    sentences = [_logged(new)] if new and added else []
    if known:
        old = sorted(questions - {attempt.question for attempt in new})
        shown = f" ({_items(old)})" if 0 < len(old) <= MOST_ITEMS else ""
        sentences.append(
            f"{counted(known, 'answer')} there already{shown}, not logged again:"
            " --repeat logs what you really did twice that day"
        )
    if left:
        sentences.append(f"{counted(left, 'line')} not understood and kept aside")
    blocks = paragraphs(f"{'; '.join(sentences)}." if sentences else "")
    blocks += paragraphs(_undeclared(base, questions))
    misses = open_misses(base, today)
    mine = [row for row in misses if row.question in questions]
    missed = [attempt for attempt in new if not attempt.right]
    if mine:
        by_area = Counter(base.exam.area_name(row.area) or "no area" for row in mine)
        named = ", ".join(f"{area} {n}" for area, n in by_area.most_common(MOST_AREAS))
        shown = f" ({named})" if len(by_area) > 1 else ""
        text = f"{_without_note(len(mine), len(missed), shown)}: missbook note --next"
        blocks.append(Text(text))
    if mine and len(misses) > len(mine):
        worth = in_marks(sum(row.marks for row in misses))
        said_open = f"In all, {len(misses)} misses have no note"
        blocks.append(Text(said_open + (f", worth {worth}." if worth else ".")))
    undo = f"To undo this: missbook log undo {batch}" if batch else ""
    facts: tuple[Fact, ...] = (
        ("added_count", "Added", added, "count"),
        ("known_count", "Known", known, "count"),
        ("left_count", "Not understood", left, "count"),
        ("batch", "Batch", batch or None, "text"),
        ("open_miss_count", "Misses without a note", len(misses), "count"),
    )
    blocks += [*paragraphs(undo, quiet=True), Facts("import", facts, quiet=True)]
    return Report("Logged", tuple(blocks), name="log", right=right)


def _undeclared(base: Base, questions: frozenset[QuestionId]) -> str:
    """Sources of the answers that study.yaml does not declare, each with the one it may be."""
    declared = {source.id for source in base.study.sources}
    names = sorted({question.partition(":")[0] for question in questions} - declared)
    near = {name: likely_slip(name, declared) for name in names}
    shown = ", ".join(f"{n} (did you mean {near[n]}?)" if near[n] else n for n in names)
    return f"Not declared in study.yaml yet: {shown}." if names else ""


def _without_note(count: int, missed: int, areas: str) -> str:
    """How many were missed, and how many of these have no note; `areas` are where."""
    note = "its note" if count == 1 else "their notes"
    if count == missed:
        return f"{missed} missed{areas}. Write {note} now"
    have = "has" if count == 1 else "have"
    of = f"{count} of the {missed} misses" if count < missed else f"{count} of these misses"
    of = "1 miss" if count == 1 and count >= missed else of
    return f"{of} {have} no note yet{areas}. Write {'it' if count == 1 else 'them'} now"


def _logged(new: list[Attempt]) -> str:
    """`north:2750 wrong: chose C, key B`, or `40 logged: 38 right, 2 wrong: 2043, 2050`."""
    if len(new) == 1:
        options = f": chose {new[0].chosen}, key {new[0].key}" if new[0].key else ""
        guess = ", by a guess" if new[0].right and new[0].certainty == 1 else ""
        return f"{new[0].question} {WORDS[new[0].outcome]}{options}{guess}"
    parts = []
    for outcome, word in WORDS.items():
        items = [attempt.question for attempt in new if attempt.outcome == outcome]
        named = f": {_items(items)}" if items and outcome != "right" else ""
        parts += [f"{len(items)} {word}{named}"] if items else []
    return f"{len(new)} logged: {', '.join(parts)}"


def _items(questions: list[QuestionId]) -> str:
    """Numbers of questions; whole references where they are of several sources."""
    one = len({question.partition(":")[0] for question in questions}) == 1
    named = [question.partition(":")[2] if one else question for question in questions]
    more = f" and {len(named) - MOST_ITEMS} more" if len(named) > MOST_ITEMS else ""
    return ", ".join(named[:MOST_ITEMS]) + more


def dry_report(
    exam: Exam, drafts: tuple[Attempt, ...], left_count: int, limit: int | None
) -> Report:
    """What a sheet would add, the first rows of it."""
    entries = tuple(as_logged(draft) for draft in drafts[:limit])
    blocks: list[Block] = [Entries("answers", entries, numbered=False)]
    if limit is not None and len(drafts) > limit:
        blocks.append(Text(f"... and {len(drafts) - limit} more.", quiet=True))
    left = f"; {counted(left_count, 'line')} not understood" if left_count else ""
    blocks.append(Text(f"{counted(len(drafts), 'answer')} would be logged{left}."))
    areas = exam.short_names
    return Report("Nothing was logged yet", tuple(blocks), name="log", areas=areas)
