"""From a query to what is looked for in the index: groups of forms, and what to tell of them."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from kb.language.normalise import key, other_forms, words
from kb.search.bm25f import Form, Group

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kb.language.query import Query
    from kb.search.searcher import Searcher

PREFIX_WORDS = 400
"""Words of the base looked at for a beginning; a single letter begins thousands."""
PREFIX_KEYS = 40
"""Of these, the keys in most notes are looked for."""
HELPED_WORDS = 3
HELP_LENGTH = 12
"""Spelling help is for at most so many words of a query of at most so many words."""
JOINED_LENGTH = 5
"""In longer queries two words that could be written as one stand side by side by chance."""
ALSO_COUNT = 6
SPLIT_LETTERS = 3
"""Letters of the shorter half when a word is read as two written together."""


class Wanted(NamedTuple):
    """What to look for.

    `names` are the keys of the words as typed, `typed` those in order; `worth` and `sequences`
    say what to mark in a passage.
    """

    groups: tuple[Group, ...]
    required: tuple[Group, ...]
    excluded: tuple[Group, ...]
    names: set[str]
    typed: tuple[str, ...]
    also: tuple[str, ...]
    nearest: tuple[str, ...]
    feedback: bool
    worth: dict[str, float]
    sequences: tuple[Form, ...]


def look_for(reader: Searcher, query: Query, prefix: bool, allowed: set[int] | None) -> Wanted:
    """What a parsed query looks for in this index.

    Args:
        reader: Tells which words there are.
        query: As parsed.
        prefix: The last word is still being typed.
        allowed: Notes the answer is restricted to; they decide which meaning comes first.
    """
    typed = words(query.plain)
    names = [key(word) for word in typed]
    unfinished = bool(prefix and typed and query.plain[-1:].isalnum())
    forms: list[list[Form]] = [[((name, 0),)] if name else [] for name in names]
    also = _add_meanings(reader, typed, names, forms, allowed)
    if len(typed) <= JOINED_LENGTH:
        _add_joined(reader, typed, names, forms)
    if unfinished:
        forms[-1].extend(_beginnings(reader, typed[-1].lower()))
    also.extend(_spelt_otherwise(reader, typed))
    groups: dict[tuple[Form, ...], float] = {}
    for held in forms:
        if held:
            whole = tuple(dict.fromkeys(held))
            groups[whole] = groups.get(whole, 0.0) + 1.0
    most = max(groups.values(), default=1.0)
    found = [Group(forms=held, weight=weight / most) for held, weight in groups.items()]
    phrases = [form for text in query.phrases if (form := _form(text))]
    required = tuple(Group(forms=(form,), weight=float(len(form))) for form in phrases)
    excluded = tuple(Group(forms=(form,)) for text in query.excluded if (form := _form(text)))
    every = [form for group in (*found, *required) for form in group.forms]
    in_order = [name for name in names if name]
    in_order += [name for form in phrases for name, _ in form]
    return Wanted(
        groups=(*found, *required),
        required=required,
        excluded=excluded,
        names={name for form in every if len(form) == 1 for name, _ in form},
        typed=tuple(in_order),
        also=tuple(dict.fromkeys(also))[:ALSO_COUNT],
        nearest=() if unfinished else _nearest(reader, typed, forms),
        feedback=not prefix,
        worth=_worth(reader, every),
        sequences=tuple(form for form in every if len(form) > 1),
    )


def _form(text: str) -> Form:
    """Keys of a phrase with their distance from its first word; stop words leave a gap."""
    return _spaced([key(word) for word in words(text)])


def _spaced(names: Sequence[str]) -> Form:
    found = [(name, at) for at, name in enumerate(names) if name]
    return tuple((name, at - found[0][1]) for name, at in found)


def _add_meanings(
    reader: Searcher,
    typed: Sequence[str],
    names: Sequence[str],
    forms: list[list[Form]],
    allowed: set[int] | None,
) -> list[str]:
    """Other names of what is typed, those that most notes hold first.

    A name for several words stands in for each of them, so that a note that says it the other
    way counts as much.
    """
    also: list[str] = []
    for expansion in reader.glossary.expand(typed):
        counted = []
        for text, spelt in expansion.forms:
            form = _spaced(spelt)
            docs = reader.collection.occurrences(Group(forms=(form,)))[0]
            count = len(docs) if allowed is None else len(allowed.intersection(docs))
            if count:
                counted.append((count, text, form))
        counted.sort(key=lambda entry: -entry[0])
        also.extend(text for _, text, _ in counted)
        places = [at for at in range(expansion.start, expansion.stop) if names[at]]
        for at in places or [expansion.start]:
            forms[at].extend(form for _, _, form in counted)
    return also


def _add_joined(
    reader: Searcher, typed: Sequence[str], names: Sequence[str], forms: list[list[Form]]
) -> None:
    """Words written together in the notes and apart in the query, and the other way round."""
    for at, (first, second) in enumerate(pairwise(typed)):
        if not (names[at] and names[at + 1] and first.isalpha() and second.isalpha()):
            continue
        name = key(first + second)
        if reader.frequency(name)[0]:
            forms[at].append(((name, 0),))
            forms[at + 1].append(((name, 0),))
    for at, word in enumerate(typed):
        if not names[at] or len(word) < 2 * SPLIT_LETTERS or not word.isalpha():
            continue
        if reader.frequency(names[at])[0]:
            continue
        for cut in range(SPLIT_LETTERS, len(word) - SPLIT_LETTERS + 1):
            form = _spaced([key(word[:cut]), key(word[cut:])])
            if len(form) == 2 and reader.collection.phrase(form):
                forms[at].append(form)


def _beginnings(reader: Searcher, prefix: str) -> list[Form]:
    found = {key(word) for word in reader.known_words(prefix, PREFIX_WORDS)}
    counted = sorted((-reader.frequency(name)[0], name) for name in found if name)
    return [((name, 0),) for _, name in counted[:PREFIX_KEYS]]


def _spelt_otherwise(reader: Searcher, typed: Sequence[str]) -> list[str]:
    """Other spellings and names of single words that the base uses."""
    return [
        other
        for word in typed
        for other in other_forms(word.lower())
        if reader.known_words(other, 1) == [other] and reader.frequency(key(other))[0]
    ]


def _nearest(
    reader: Searcher, typed: Sequence[str], forms: Sequence[Sequence[Form]]
) -> tuple[str, ...]:
    """Known words nearest to those that find nothing, words of the base before others."""
    lost = [
        word
        for word, held in zip(typed, forms, strict=True)
        if held and word.isalpha() and not any(map(reader.holds, held))
    ]
    if not lost or len(typed) > HELP_LENGTH:
        return ()
    from kb.language.spelling import nearest_words, stock_words
    from kb.search.medical_word_list import dictionary, in_dictionary

    found: dict[str, None] = {}
    stock = stock_words()
    for word in lost[:HELPED_WORDS]:
        if word.lower() in stock or in_dictionary(word.lower()):
            continue  # spelt right, only not in the base
        near = [w for w in nearest_words(word, reader.vocabulary) if reader.frequency(key(w))[0]]
        near = near or list(nearest_words(word, stock) or nearest_words(word, dictionary()))
        found.update(dict.fromkeys(near))
    return tuple(found)


def _worth(reader: Searcher, forms: Sequence[Form]) -> dict[str, float]:
    collection = reader.collection
    return {
        form[0][0]: 0.1 + collection.idf(reader.frequency(form[0][0])[0])
        for form in forms
        if len(form) == 1
    }
