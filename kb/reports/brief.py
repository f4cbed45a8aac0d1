"""What to read before you try a topic again.

Lists the notes worth most within the minutes you have. Give an area of the blueprint, or words to
search for; without either, every note is considered.
"""

import math
from collections.abc import Callable
from datetime import date

from kb.core.errors import NotFoundError, QueryError, nearest
from kb.core.ids import NoteId
from kb.core.model import Base
from kb.core.search_result import SearchResult
from kb.core.wording import capital, counted
from kb.planning.knapsack import choose
from kb.planning.pace import reading_seconds
from kb.presentation.companion_lines import along_lines, find_along
from kb.presentation.report_model import (
    Block,
    Entries,
    Entry,
    Option,
    Report,
    fields_of,
    paragraphs,
)
from kb.presentation.terms import TERMS, at_risk, in_marks, marks_by_row, minutes, of_area
from kb.reports.find import searched_instead
from kb.stats.note_state import Judged, judge
from kb.stats.reading_effect import (
    LEAST_RETRY_COUNT,
    ReadingEffect,
    reading_effect,
    reading_trial,
)

SEARCHES = "words"
SEARCH_LIMIT = 200
OPTIONS = (
    Option("words", "words", default="", unit="area|words..."),
    Option("minutes", "float", default=20, unit="minutes", help="Minutes to read."),
)
MORE_MINUTES = 10
NEAR_SHARE = 0.5
"""A note is on the topic that weighs at least this share of what the best one does."""


def build(
    base: Base, today: date, *, words: str, minutes: float, search: Callable[[str], SearchResult]
) -> Report:
    """The notes to read in order, what was left out, and what ten more minutes would add. The
    `search` is made only for words that name no area.
    """
    if not minutes > 0:
        raise QueryError(f"{minutes:g} minutes leave no time to read", hint="try --minutes 20")
    title, wanted, answer = _wanted(base, words, search)
    sharing_count = answer.total_count - len(wanted) if answer else 0
    notes = {note.id: note for note in base.notes}
    judged = judge(base, today)
    along = find_along(base, judged, wanted)
    wanted |= {one.note for found in along.values() for one in found}
    rows = [row for row in judged if row.note in wanted and row.urgency > 0]
    seconds = reading_seconds(base)
    costs = [max(1, math.ceil(seconds(notes[row.note]))) for row in rows]
    values = [row.urgency for row in rows]
    shown = marks_by_row([row.marks for row in rows])
    limit = int(minutes * 60)
    taken = choose(costs, values, limit)
    more = choose(costs, values, limit + MORE_MINUTES * 60)
    order = sorted(taken, key=lambda i: (rows[i].state != "failing", i))
    titles = {row.note: row.title for row in judged}
    entries = tuple(
        _entry(rows[i], costs[i], shown[i], along_lines(along.get(rows[i].note, ()), titles))
        for i in order
    )
    empty = "No note here carries marks at risk." if wanted else "No note here yet."
    blocks: list[Block] = [*searched_instead(answer), Entries("notes", entries, empty=empty)]
    if sharing_count:
        sharing = counted(sharing_count, "more note only shares", "more notes only share")
        blocks += paragraphs(f"{sharing} a word with it.", quiet=True)
    blocks += paragraphs(_left_out(rows, taken, more))
    blocks += paragraphs(_effect(base), quiet=True)
    spent, risk = sum(costs[i] for i in taken), at_risk(sum(rows[i].marks for i in taken))
    return Report(
        f"{title}: {counted(len(taken), 'note')} in {_minutes(spent)}{risk}",
        tuple(blocks),
        cites=("nemhauser1969",),
        terms=TERMS,
    )


def _minutes(seconds: float) -> str:
    """`2 minutes`, `under a minute`."""
    return "under a minute" if 0 < seconds < 30 else counted(round(seconds / 60), "minute")


def _wanted(
    base: Base, words: str, search: Callable[[str], SearchResult]
) -> tuple[str, frozenset[NoteId], SearchResult | None]:
    """What the brief is of, its notes, and what the search found if there was one."""
    if not words.strip():
        return "All areas", frozenset(note.id for note in base.notes), None
    try:
        area = base.exam.area(words)
    except NotFoundError:
        answer = search(words)
        if not answer.hits:
            raise _nothing(base, words, answer) from None
        least = NEAR_SHARE * max(hit.weight for hit in answer.hits)
        near = frozenset(hit.note for hit in answer.hits if hit.weight >= least)
        return words, near, answer
    return area.name, frozenset(note.id for note in base.notes if area.id in note.areas), None


def _nothing(base: Base, words: str, answer: SearchResult) -> NotFoundError:
    """The error for words that name no area and are in no note, with the nearest of either."""
    areas = {area.name: area.id for area in base.exam.areas}
    hint = nearest(words, areas.values(), areas)
    if not hint.startswith("did") and answer.nearest:
        hint = f"did you mean {' or '.join(answer.nearest[:2])}?"
    return NotFoundError(f"no area called '{words}', and no note has these words", hint=hint)


def _entry(row: Judged, seconds: int, worth: str, along: tuple[str, ...]) -> Entry:
    return Entry(
        head=row.title,
        right=(of_area(row.area), minutes(seconds), worth),
        lines=(f"{capital(row.evidence)}.", *along),
        fields=(("id", row.note), *fields_of(row, "area", "state", "marks"), ("seconds", seconds)),
        note=row.note,
    )


def _left_out(rows: list[Judged], taken: tuple[int, ...], more: tuple[int, ...]) -> str:
    out = [i for i in range(len(rows)) if i not in set(taken)]
    if not out:
        return ""
    first = f"the first is {rows[out[0]].title}"
    risk = at_risk(sum(rows[i].marks for i in out))
    left = f"Left out: {counted(len(out), 'note')}{risk}; {first}."
    gain = in_marks(sum(rows[i].marks for i in more) - sum(rows[i].marks for i in taken))
    return f"{left} Another {MORE_MINUTES} minutes would cover {gain} more." if gain else left


def _effect(base: Base) -> str:
    """What reading has done so far, and on what ground."""
    effect, trial = reading_effect(base), reading_trial(base)
    if trial is not None:
        counts = f"{trial.read_count} retries of notes read early, {trial.unread_count} of others"
        return f"Where chance chose the order, {_verdict(trial)} ({counts})."
    if not effect.enough:
        return (
            f"Too few retries to say whether reading helps you: {effect.read_count} after reading,"
            f" {effect.unread_count} without ({LEAST_RETRY_COUNT} of each are needed)."
        )
    proof = (
        " Where chance chose the order, there are too few retries yet."
        if base.study.chance_order
        else " A fair trial: `chance_order: yes` under `reading:` in study.yaml."
    )
    counts = f"{effect.read_count} after reading, {effect.unread_count} without"
    return f"From your own retries, {_verdict(effect)} ({counts}).{proof}"


def _verdict(found: ReadingEffect) -> str:
    """What the 95% interval of the share of misses prevented allows one to say."""
    if found.low > 0:
        share = f"{100 * found.fraction:.0f}% of misses"
        span = f"95% range {100 * found.low:.0f}-{100 * found.high:.0f}%"
        return f"reading the note first prevents about {share} ({span})"
    if found.high < 0:
        return "reading the note first does not prevent misses"
    return "it is not clear yet whether reading the note first prevents misses"
