"""Search your notes in plain words.

"Quoted words" stay together and a leading minus leaves a word out; a whole sentence or a pasted
stem works. Spelling, plurals, old drug names and abbreviations are recognised.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from kb.core.wording import capital, counted, dated, listed
from kb.presentation.paging import first_of, next_page, no_page, paged, typed
from kb.presentation.report_model import Block, Entries, Entry, Option, Report, Text

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from kb.core.ids import NoteId
    from kb.core.model import Base
    from kb.core.search_result import Hit, SearchResult

SEARCHES = "words"
FILTERS = ("area", "state", "concept", "source", "since", "minutes")
"""Options that leave notes out; what they ask for stands in the base, not in the index."""
SHARING_COUNT = 3
"""Notes named that only share the other words of a query."""
SHORT_QUERY = 6
"""Of a longer query some words are in no note as a rule, which need not be said."""
OPTIONS = (
    Option("words", "words", default="", unit="words...", required=True),
    Option("area", "area", help="Only notes of this area."),
    Option(
        "state",
        "text",
        default="",
        choices=("", "failing", "untested", "holding"),
        help="Only notes in this state.",
    ),
    Option("concept", "text", default="", unit="text", help="Only notes on this concept."),
    Option(
        "source", "text", default="", unit="source", help="Only notes on questions of this source."
    ),
    Option("since", "date", help="Only notes written on or after this day."),
    Option(
        "minutes",
        "float",
        least=0,
        unit="minutes",
        help="Only notes that can be read in this time at your reading speed.",
    ),
    *paged(),
)


class Card(NamedTuple):
    """What is told of a note that was found."""

    title: str
    path: str
    areas: tuple[str, ...]
    state: str
    evidence: str


def paths(
    base: Base,
    today: date,
    *,
    area: str | None,
    state: str,
    concept: str,
    source: str,
    since: date | None,
    minutes: float | None,
    **_: object,
) -> frozenset[str]:
    """The notes that the filters leave."""
    from kb.core.lookup import named_concept, named_source, spelt
    from kb.planning.pace import reading_seconds
    from kb.stats.note_state import judge

    states = {row.note: row.state for row in judge(base, today)} if state else {}
    seconds = reading_seconds(base)
    wanted = named_concept(base.notes, concept) if concept.strip() else ""
    source = named_source(base, source) if source.strip() else ""
    return frozenset(
        note.path
        for note in base.notes
        if (not area or area in note.areas)
        and (not state or states[note.id] == state)
        and (not wanted or wanted in map(spelt, note.concepts))
        and (not source or any(q.startswith(f"{source}:") for q in note.questions))
        and (since is None or (note.written_on is not None and note.written_on >= since))
        and (minutes is None or seconds(note) / 60 <= minutes)
    )


def cards(base: Base, today: date) -> dict[NoteId, Card]:
    """What is told of every note, were it found."""
    from kb.knowledge import companions
    from kb.presentation.companion_lines import MOST, along_lines
    from kb.stats.note_state import evidence_of

    known = evidence_of(base, today)
    failing = {note for note, (state, _) in known.items() if state == "failing"}
    along = companions(base, failing, failing, MOST)
    titles = {note.id: note.title for note in base.notes}
    found = {}
    for note in base.notes:
        state, evidence = known[note.id]
        sentence = " ".join((f"{capital(evidence)}.", *along_lines(along.get(note.id, ()), titles)))
        found[note.id] = Card(note.title, note.path, note.areas, state, sentence)
    return found


def build(
    cards: Mapping[str, Card],
    *,
    answer: SearchResult | None,
    words: str,
    limit: int,
    page: int,
    filters: Mapping[str, object],
) -> Report:
    """Notes in pages, best first, each with its state and the best passage. `cards` are those of
    the notes found, by path; a hit without one is left out. There is no `answer` where nothing was
    typed. The line that leads to the next page repeats the `filters`.
    """
    hits = [hit for hit in answer.hits if hit.path in cards] if answer else []
    count = answer.total_count if answer else 0
    blocks: list[Block] = []
    if answer:
        blocks += searched_instead(answer)
        also = [other for other in answer.also if other.casefold() not in words.casefold()]
        if also:
            blocks.append(Text(f"Also searched: {', '.join(also)}.", quiet=True))
        if hits and answer.lacking and len(words.split()) <= SHORT_QUERY:
            blocks.append(Text(f"No note has: {', '.join(answer.lacking)}", quiet=True))
    entries = tuple(_entry(cards[hit.path], hit) for hit in hits)
    first = first_of(limit, page)
    blocks.append(Entries("notes", entries, first=first, empty=_nothing(words, page, answer)))
    if answer:
        blocks += _instead(answer, cards)
    if hits:
        blocks += next_page(typed("find", words, **filters), count, limit, page)
    return Report(
        f"Search: {_short(words)}",
        tuple(blocks),
        right=counted(count, "note"),
        cites=("robertson2009", "amati2003", "diaz2007"),
    )


def searched_instead(answer: SearchResult | None) -> list[Block]:
    """A line for each word that no note has, with those searched in its place."""
    swapped = answer.searched if answer else ()
    return [Text(f"No note has '{typed}': searched {', '.join(w)}.") for typed, w in swapped]


def _instead(answer: SearchResult, cards: Mapping[str, Card]) -> list[Block]:
    """What there is beside an answer, or where there is none."""
    blocks: list[Block] = []
    if answer.nearest:
        blocks.append(Text(f"Did you mean {listed(answer.nearest, 'or')}?"))
    sharing = [hit for hit in answer.sharing if hit.path in cards][:SHARING_COUNT]
    if sharing:
        rest = tuple(_entry(cards[hit.path], hit) for hit in sharing)
        blocks.append(Entries("sharing", rest, title="Only share the other words"))
    return blocks


def _entry(card: Card, hit: Hit) -> Entry:
    areas = ", ".join(card.areas)
    return Entry(
        head=card.title,
        right=(areas, card.state),
        lines=(card.evidence,) if card.evidence else (),
        passage=hit.passage,
        fields=(
            ("path", card.path),
            ("line", hit.line),
            ("areas", card.areas),
            ("state", card.state),
            ("evidence", card.evidence),
            ("weight", round(hit.weight, 4)),
        ),
        note=hit.note,
    )


def _nothing(words: str, page: int, answer: SearchResult | None) -> str:
    if answer and answer.total_count:
        return no_page(answer.total_count, page)
    if answer and answer.later:
        text = listed([f"{title} ({dated(day)})" for title, day in answer.later])
        return f"Dated later, so not shown: {text}."
    if answer and answer.lacking:
        return f"No note has: {', '.join(answer.lacking)}. To write one: missbook note"
    return f"No note mentions '{_short(words)}'. To write one: missbook note"


def _short(words: str) -> str:
    """The words as typed, at most some sixty characters of them, whole words."""
    text = " ".join(words.split())
    return text if len(text) <= 60 else text[:60].rsplit(" ", 1)[0] + " \u2026"
