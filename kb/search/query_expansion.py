"""From a query to what the index is searched for: groups of forms, and what to say about them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from kb.language.abbreviations import names_in
from kb.language.normalise import CAPITALS, key, other_forms, words
from kb.language.query import compared
from kb.search.bm25f import Form, Group
from kb.search.other_names import (
    add_meanings,
    add_related,
    add_related_meanings,
    form_of,
    is_absent,
    spaced,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from kb.language.query import Query
    from kb.search.index_reader import IndexReader
    from kb.search.other_names import Weaker

PREFIX_WORDS = 400
"""Words of the base looked at for a beginning; a single letter begins thousands."""
PREFIX_KEYS = 40
"""Of these, the keys in most notes are looked for."""
PREFIX_LETTERS = 2
SHOUTED_LETTERS = 4
"""Letters of a beginning; in capitals, where a short word is rather an abbreviation."""
SEARCHED_COUNT = 3
"""Words named as searched in the place of one that no note has."""
GREEK_INITIALS = frozenset(("alpha", "beta", "gamma", "delta"))
BARE_WEIGHT = 0.5
"""Weight of a bare figure or a single letter, in units of a word."""
FIGURE = re.compile(r"[0-9]+|[^0-9]+")
HELPED_WORDS = 3
HELP_LENGTH = 30
"""Slips are looked up for this many words of a query no longer than this."""
JOINED_LENGTH = 5
"""In longer queries two words that could be one are neighbours by chance."""
JOINED_PIECES = 4
ALSO_COUNT = 6
SPLIT_LETTERS = 3
"""Letters of the shorter half when a word is read as two written together."""
KIND_LETTERS = 3
"""Letters of an abbreviation that a figure may follow: CD4 is no kind of CD."""
NAMED_LENGTH = 8
"""In a longer query words of a name may stand together by chance."""


class Wanted(NamedTuple):
    """What to look for.

    `groups` are the words as typed, `weaker` what they are related to. `names` are the keys of the
    words as typed, `typed` those in order; `lacking` are words and names that no note has in any
    form, and `searched` the words searched instead of one. `things` are the other words but
    letters and figures, each with its forms and as typed, `sides` the two names of `X or Y`.
    `worth` and `sequences` say what to mark in a passage.
    """

    groups: tuple[Group, ...]
    weaker: tuple[Weaker, ...]
    required: tuple[Group, ...]
    excluded: tuple[Group, ...]
    names: set[str]
    typed: tuple[str, ...]
    also: tuple[str, ...]
    nearest: tuple[str, ...]
    searched: tuple[tuple[str, tuple[str, ...]], ...]
    lacking: tuple[str, ...]
    things: tuple[tuple[tuple[Form, ...], str], ...]
    sides: tuple[tuple[Group, ...], ...]
    worth: dict[str, float]
    sequences: tuple[Form, ...]


def look_for(reader: IndexReader, query: Query, allowed: set[int] | None) -> Wanted:
    """What a parsed query looks for in this index.

    Args:
        reader: The index.
        query: As parsed.
        allowed: The only notes to be found; they decide which meaning comes first. None for all.
    """
    typed = words(query.plain)
    one = {word for start, stop, _ in _joined(reader, typed) for word in typed[start:stop]}
    typed = [part for w in typed for part in ([w] if w in one else _parted(reader, w))]
    corrected = _corrected(reader, [word for word in typed if word not in one])
    typed = [corrected.get(word, word) for word in typed]
    names = [key(word) for word in typed]
    forms: list[list[Form]] = [[((name, 0),)] if name else [] for name in names]
    expansions = reader.glossary.expand(typed)
    also = add_meanings(reader, expansions, names, forms, allowed)
    for start, stop, name in _joined(reader, typed):
        for at in filter(names.__getitem__, range(start, stop)):
            forms[at].append(((name, 0),))
    if len(typed) <= JOINED_LENGTH:
        _add_parted(reader, typed, names, forms)
    searched: list[tuple[str, tuple[str, ...]]] = [(w, (meant,)) for w, meant in corrected.items()]
    if query.plain[-1:].isalnum() and (begun := _add_beginnings(reader, typed, forms)):
        searched.append((typed[-1], begun))
    also += add_related_meanings(reader, expansions, forms)
    weaker, told = add_related(reader, typed, forms)
    absent = [
        (start, stop)
        for start, stop in (names_in(typed) if len(typed) <= NAMED_LENGTH else ())
        if is_absent(reader, start, stop, typed, expansions, forms)
    ]
    apart = {at for start, stop in absent for at in range(start, stop)}
    also = [*also, *_spelt_otherwise(reader, typed), *told]
    groups: dict[tuple[Form, ...], float] = {}
    for word, held in zip(typed, forms, strict=True):
        if held:
            whole = tuple(dict.fromkeys(held))
            groups[whole] = groups.get(whole, 0.0) + _weight(word)
    most = max(groups.values(), default=1.0)
    found = [Group(forms=held, weight=weight / most) for held, weight in groups.items()]
    phrases = [form for text in query.phrases if (form := form_of(text))]
    required = tuple(Group(forms=(form,), weight=float(len(form))) for form in phrases)
    excluded = tuple(Group(forms=(form,)) for text in query.excluded if (form := form_of(text)))
    looked_for = (*found, *required, *(one.group for one in weaker))
    every = [form for group in looked_for for form in group.forms]
    in_order = [name for name in names if name]
    in_order += [name for form in phrases for name, _ in form]
    lost = [
        word
        for at, (word, name, held) in enumerate(zip(typed, names, forms, strict=True))
        if held
        and word not in CAPITALS
        and at not in apart
        and not any(map(reader.collection.holds, held))
    ]
    lacking = [" ".join(typed[start:stop]).replace("=a", "A") for start, stop in absent]
    lacking += [word.removesuffix("'s") for word in lost]
    return Wanted(
        groups=(*found, *required),
        weaker=weaker,
        required=required,
        excluded=excluded,
        names={name for form in every if len(form) == 1 for name, _ in form},
        typed=tuple(in_order),
        also=tuple(dict.fromkeys(also))[:ALSO_COUNT],
        nearest=() if len(typed) > HELP_LENGTH else _nearest(reader, lost),
        searched=tuple(searched),
        lacking=tuple(dict.fromkeys(lacking)),
        things=tuple(
            (tuple(held), typed[at])
            for at, held in enumerate(forms)
            if at not in apart and any(map(_says_something, held))
        ),
        sides=_sides(typed, forms),
        worth=_worth(reader, every),
        sequences=tuple(form for form in every if len(form) > 1),
    )


def _parted(reader: IndexReader, word: str) -> list[str]:
    """A word, or an abbreviation and the figure that a kind of it has: `RTA4`."""
    pieces = FIGURE.findall(word)
    long = len(pieces) == 2 and len(pieces[0]) >= KIND_LETTERS and word.isupper()
    if not long or reader.frequency(key(word))[0] or reader.glossary.meanings(word):
        return [word]
    return pieces if reader.glossary.meanings(pieces[0]) else [word]


def _weight(word: str) -> float:
    """What a typed word counts: less if it is a bare figure or a single letter."""
    return BARE_WEIGHT if len(word) == 1 or word.replace(".", "").isdigit() else 1.0


def _sides(typed: Sequence[str], forms: Sequence[Sequence[Form]]) -> tuple[tuple[Group, ...], ...]:
    """The two sides of a query that compares two names; empty for any other query."""
    between = compared(typed)
    halves = (forms[:between], forms[between + 1 :]) if between else ()
    sides = tuple(tuple(Group(forms=tuple(held)) for held in half if held) for half in halves)
    return sides if all(sides) else ()


def _says_something(form: Form) -> bool:
    """Whether a form is more than a letter or a figure."""
    return len(form) > 1 or (len(form[0][0]) > 1 and not form[0][0].replace(".", "").isdigit())


def _joined(reader: IndexReader, typed: Sequence[str]) -> Iterator[tuple[int, int, str]]:
    """Where words are apart that the notes write as one, and its key.

    Two words of letters may be one, and up to four pieces one name with a figure: G-6-PD.
    """
    names = [key(word) for word in typed]
    for count in range(2, JOINED_PIECES + 1):
        for at in range(len(typed) - count + 1 if len(typed) <= JOINED_LENGTH else 0):
            pieces = typed[at : at + count]
            letters = all(map(str.isalpha, pieces))
            if (count > 2 and letters) or all(map(str.isdigit, pieces)):
                continue
            name = key("".join(pieces))
            if pieces[-1].lower() in GREEK_INITIALS:  # HNF1-alpha is HNF1A
                name = key("".join(pieces[:-1]) + pieces[-1][0])
            lead = names[at] or typed[at].lower() == "anti"
            if lead and all(names[at + 1 : at + count]) and name and reader.frequency(name)[0]:
                yield at, at + count, name


def _add_parted(
    reader: IndexReader, typed: Sequence[str], names: Sequence[str], forms: list[list[Form]]
) -> None:
    """What the notes write as words of their own and the query as one."""
    for at, word in enumerate(typed):
        if not names[at] or not word.isalnum() or word.isdigit() or reader.frequency(names[at])[0]:
            continue
        least = SPLIT_LETTERS if word.isalpha() else 1
        cuts = range(least, len(word) - least + 1)
        parts = [(word[:cut], word[cut:]) for cut in cuts]
        for part in (*parts, tuple(FIGURE.findall(word))):
            form = spaced([key(piece) for piece in part])
            if len(form) == len(part) > 1 and reader.collection.phrase(form):
                forms[at].append(form)


def _corrected(reader: IndexReader, typed: Sequence[str]) -> dict[str, str]:
    """Slips in a query, each with the word of the base, or else of the stock, that was meant."""
    lost = [
        word
        for word in (typed if len(typed) <= HELP_LENGTH else ())
        if word.isalpha() and (name := key(word)) and not reader.frequency(name)[0]
    ]
    if not lost:
        return {}
    from kb.language.spelling import meant, spelt_right, stock_words, sure

    found: dict[str, str] = {}
    for word in lost:
        if len(found) == HELPED_WORDS or not sure(word) or spelt_right(word):
            continue
        if word == typed[-1] and _beginning_words(reader, word):
            continue
        near = meant(word, reader.vocabulary, reader.live) or meant(word, stock_words())
        if near:
            found[word] = near
    return found


def _add_beginnings(
    reader: IndexReader, typed: Sequence[str], forms: list[list[Form]]
) -> tuple[str, ...]:
    """Words of the base that the last word begins, unless it is one of them."""
    if not typed or not forms[-1]:
        return ()
    found = _beginning_words(reader, typed[-1])
    if typed[-1].lower() in found:
        return ()
    known = any(map(reader.collection.holds, forms[-1]))
    forms[-1].extend(((name, 0),) for name in dict.fromkeys(map(key, found)))
    return () if known else tuple(found[:SEARCHED_COUNT])


def _beginning_words(reader: IndexReader, word: str) -> list[str]:
    """Words of the base that begin so, in either spelling; those in most notes first."""
    if len(word) < (SHOUTED_LETTERS if word.isupper() else PREFIX_LETTERS):
        return []
    lower = word.lower().removesuffix("'s")
    found = reader.written.beginning(_spellings(lower), PREFIX_WORDS)
    held = {word: reader.frequency(key(word))[0] for word in found}
    ranked = sorted((word for word in held if held[word]), key=lambda word: (-held[word], word))
    return ranked[:PREFIX_KEYS]


def _spellings(beginning: str) -> list[str]:
    """A beginning of a word as it is, and with one ae or oe written the other way."""
    found = [beginning]
    for at, letter in enumerate(beginning):
        if letter == "e" and beginning[at - 1 : at] not in ("a", "o"):
            found += [f"{beginning[:at]}{lead}{beginning[at:]}" for lead in "ao"]
        elif beginning[at : at + 2] in ("ae", "oe"):
            found.append(beginning[:at] + beginning[at + 1 :])
    return found


def _spelt_otherwise(reader: IndexReader, typed: Sequence[str]) -> list[str]:
    """Other spellings and names of single words that the base uses."""
    others = [other for word in typed for other in other_forms(word.lower())]
    written = set(reader.written.beginning(others, 1)) if others else ()
    return [other for other in others if other in written and reader.frequency(key(other))[0]]


def _nearest(reader: IndexReader, lost: Sequence[str]) -> tuple[str, ...]:
    """Words of the base nearest to those that find nothing, unless those are spelt right."""
    if not lost:
        return ()
    from kb.language.spelling import nearest_words, spelt_right

    wrong = [word for word in lost[:HELPED_WORDS] if word.isalpha() and not spelt_right(word)]
    near = [nearest_words(word, reader.vocabulary, reader.live) for word in wrong]
    return tuple(dict.fromkeys(one for words_near in near for one in words_near))


def _worth(reader: IndexReader, forms: Sequence[Form]) -> dict[str, float]:
    collection = reader.collection
    return {
        form[0][0]: 0.1 + collection.idf(reader.frequency(form[0][0])[0])
        for form in forms
        if len(form) == 1
    }
