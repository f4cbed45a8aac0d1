"""From a query to what the index is searched for: groups of forms, and what to say about them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from kb.language.abbreviations import parts
from kb.language.normalise import key, other_forms, words
from kb.language.query import compared
from kb.language.related import related
from kb.search.bm25f import Form, Group
from kb.search.document import exact

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from kb.language.abbreviations import Expansion
    from kb.language.query import Query
    from kb.search.index_reader import IndexReader

PREFIX_WORDS = 400
"""Words of the base looked at for a beginning; a single letter begins thousands."""
PREFIX_KEYS = 40
"""Of these, the keys in most notes are looked for."""
PREFIX_LETTERS = 2
SHOUTED_LETTERS = 4
"""Letters of a beginning; in capitals, where a short word is rather an abbreviation."""
SEARCHED_COUNT = 3
"""Words named as searched in the place of one that no note has."""
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
RELATED_LENGTH = 6
"""In a longer query only words that no note has are helped by related names."""
RELATED_WEIGHT = 0.3
"""Weight of a related name where notes have the word itself, in units of that word."""


class Weaker(NamedTuple):
    """A name related to what was typed.

    `group` is looked for beside `typed`, which counts more in every note; `alone` if nothing else
    was typed.
    """

    group: Group
    typed: Group
    alone: bool


class Wanted(NamedTuple):
    """What to look for.

    `groups` are the words as typed, `weaker` what they are related to. `names` are the keys of the
    words as typed, `typed` those in order; `lacking` are words that no note has in any form, and
    `searched` the words searched instead of one. `things` are all words with their forms, `sides`
    the two names of `X or Y`. `worth` and `sequences` say what to mark in a
    passage.
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
    things: tuple[tuple[Form, ...], ...]
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
    corrected = _corrected(reader, typed)
    typed = [corrected.get(word, word) for word in typed]
    names = [key(word) for word in typed]
    forms: list[list[Form]] = [[((name, 0),)] if name else [] for name in names]
    expansions = reader.glossary.expand(typed)
    also = _add_meanings(reader, expansions, names, forms, allowed)
    if len(typed) <= JOINED_LENGTH:
        _add_joined(reader, typed, names, forms)
    searched: list[tuple[str, tuple[str, ...]]] = [(w, (meant,)) for w, meant in corrected.items()]
    if query.plain[-1:].isalnum() and (begun := _add_beginnings(reader, typed, forms)):
        searched.append((typed[-1], begun))
    weaker, told = _add_related(reader, typed, forms)
    split = any(_split(reader, one, typed, forms) for one in expansions)
    also = [*also, *_spelt_otherwise(reader, typed), *told]
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
    looked_for = (*found, *required, *(one.group for one in weaker))
    every = [form for group in looked_for for form in group.forms]
    in_order = [name for name in names if name]
    in_order += [name for form in phrases for name, _ in form]
    lost = [
        word
        for word, name, held in zip(typed, names, forms, strict=True)
        if held and name[:1] != "=" and not any(map(reader.holds, held))
    ]
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
        lacking=(query.plain,) if split else tuple(dict.fromkeys(map(_bare, lost))),
        things=() if split else tuple(tuple(held) for held in forms if held),
        sides=_sides(typed, forms),
        worth=_worth(reader, every),
        sequences=tuple(form for form in every if len(form) > 1),
    )


def _sides(typed: Sequence[str], forms: Sequence[Sequence[Form]]) -> tuple[tuple[Group, ...], ...]:
    """The two sides of a query that compares two names; empty for any other query."""
    between = compared(typed)
    halves = (forms[:between], forms[between + 1 :]) if between else ()
    sides = tuple(tuple(Group(forms=tuple(held)) for held in half if held) for half in halves)
    return sides if all(sides) else ()


def _bare(word: str) -> str:
    return word.removesuffix("'s")


def _form(text: str) -> Form:
    """Keys of a phrase with their distance from its first word; stop words leave a gap."""
    return _spaced([key(word) for word in words(text)])


def _spaced(names: Sequence[str]) -> Form:
    found = [(name, at) for at, name in enumerate(names) if name]
    return tuple((name, at - found[0][1]) for name, at in found)


def _add_meanings(
    reader: IndexReader,
    expansions: Sequence[Expansion],
    names: Sequence[str],
    forms: list[list[Form]],
    allowed: set[int] | None,
) -> list[str]:
    """Other names of what is typed, those in most notes first.

    A name for several words is a form of each of them, so that a note that uses it counts as much.
    """
    also: list[str] = []
    for expansion in expansions:
        counted: dict[Form, tuple[int, str]] = {}
        for text, spelt in expansion.forms:
            for named, form in _ways(reader, text, spelt):
                docs = reader.collection.occurrences(Group(forms=(form,)))[0]
                count = len(docs) if allowed is None else len(allowed.intersection(docs))
                if count:
                    counted.setdefault(form, (count, named))
                    break
        ranked = sorted(counted.items(), key=lambda entry: -entry[1][0])
        also.extend(text for _, (_, text) in ranked)
        places = [at for at in range(expansion.start, expansion.stop) if names[at]]
        for at in places or [expansion.start]:
            forms[at].extend(form for form, _ in ranked)
    return also


def _split(
    reader: IndexReader, name: Expansion, typed: Sequence[str], forms: Sequence[Sequence[Form]]
) -> bool:
    """Whether a whole query is a name of which notes have the words but not the name: basal cell
    carcinoma.

    A note has it if it has another name for it, or what an old and a new name share, or if its
    title or a concept is a part of the name.
    """
    places = [at for at, held in enumerate(forms) if held and len(typed[at]) > 1]
    if len(places) < 2 or places[0] < name.start or places[-1] >= name.stop:
        return False
    spelt = tuple(key(word) for word in typed[name.start : name.stop])
    shared = [tuple(one for one in other if one in spelt) for _, other in name.forms]
    others = [other for one in related(typed[name.start : name.stop]) for _, other in one.forms]
    known = set(forms[places[0]]).intersection(*(forms[at] for at in places))
    known |= {
        _spaced(one) for one in (spelt, *shared, *(o for o in others if len(o) > 1)) if any(one)
    }
    if any(map(reader.holds, known)):
        return False
    shorter = [[one for one in keys if one] for _, keys in parts(" ".join(typed))]
    shorter = [one for one in shorter if len(one) > 1 or one == [spelt[-1]]]
    return not any(reader.postings(exact(kind, one)).docs for one in shorter for kind in "tc")


def _ways(reader: IndexReader, text: str, spelt: tuple[str, ...]) -> Iterator[tuple[str, Form]]:
    """A name, then its other names, then its longest part that is a whole title or concept."""
    yield text, _spaced(spelt)
    typed = words(text)
    if len(typed) == 1:
        return
    for expansion in reader.glossary.expand(typed):
        if (expansion.start, expansion.stop) == (0, len(typed)):
            for other, keys in expansion.forms:
                if len(keys) > 1:  # no abbreviation: it may have other meanings
                    yield other, _spaced(keys)
    for part, keys in parts(text):
        said = [name for name in keys if name]
        if said and any(reader.postings(exact(kind, said)).docs for kind in "tc"):
            yield part, _spaced(keys)
            return


def _add_joined(
    reader: IndexReader, typed: Sequence[str], names: Sequence[str], forms: list[list[Form]]
) -> None:
    """Words written as one in the notes and apart in the query, and the other way round.

    Two words of letters may be one, and up to four pieces one name with a figure: G-6-PD.
    """
    for count in range(2, JOINED_PIECES + 1):
        for at in range(len(typed) - count + 1):
            pieces = typed[at : at + count]
            letters = all(map(str.isalpha, pieces))
            if (count > 2 and letters) or all(map(str.isdigit, pieces)):
                continue
            name = key("".join(pieces))
            if all(names[at : at + count]) and name and reader.frequency(name)[0]:
                for place in range(at, at + count):
                    forms[place].append(((name, 0),))
    for at, word in enumerate(typed):
        if not names[at] or not word.isalnum() or word.isdigit() or reader.frequency(names[at])[0]:
            continue
        least = SPLIT_LETTERS if word.isalpha() else 1
        cuts = range(least, len(word) - least + 1)
        parts = [(word[:cut], word[cut:]) for cut in cuts]
        for part in (*parts, tuple(FIGURE.findall(word))):
            form = _spaced([key(piece) for piece in part])
            if len(form) == len(part) > 1 and reader.collection.phrase(form):
                forms[at].append(form)


def _corrected(reader: IndexReader, typed: Sequence[str]) -> dict[str, str]:
    """Slips in a query, each with the word of the base, or else of the stock, that was meant."""
    from kb.language.spelling import meant, spelt_right, stock_words
    from kb.search.medical_word_list import in_dictionary

    if len(typed) > HELP_LENGTH:
        return {}
    found: dict[str, str] = {}
    for word in typed:
        name = key(word)
        if not name or len(found) == HELPED_WORDS or reader.frequency(name)[0]:
            continue
        if not word.isalpha() or spelt_right(word) or in_dictionary(word.lower()):
            continue
        if word == typed[-1] and _beginning_words(reader, word):
            continue
        near = meant(word, reader.vocabulary)
        if not near or not reader.frequency(key(near))[0]:
            near = meant(word, stock_words())
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
    known = any(map(reader.holds, forms[-1]))
    forms[-1].extend(((name, 0),) for name in dict.fromkeys(map(key, found)))
    return () if known else tuple(found[:SEARCHED_COUNT])


def _beginning_words(reader: IndexReader, word: str) -> list[str]:
    """Words of the base that begin so, in either spelling; those in most notes first."""
    if len(word) < (SHOUTED_LETTERS if word.isupper() else PREFIX_LETTERS):
        return []
    lower = word.lower().removesuffix("'s")
    found = {w: None for one in _spellings(lower) for w in reader.known_words(one, PREFIX_WORDS)}
    held = {word: reader.frequency(key(word))[0] for word in found}
    ranked = sorted((word for word in found if held[word]), key=lambda word: (-held[word], word))
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


def _add_related(
    reader: IndexReader, typed: Sequence[str], forms: list[list[Form]]
) -> tuple[tuple[Weaker, ...], list[str]]:
    """Related names: instead of words that no note has, else as groups that count less."""
    weaker: list[Weaker] = []
    also: list[str] = []
    for one in related(typed):
        held = [(text, form) for text, spelt in one.forms if reader.holds(form := _spaced(spelt))]
        if not held:
            continue
        places = [at for at in range(one.start, one.stop) if forms[at]]
        lost = [at for at in places if not any(map(reader.holds, forms[at]))]
        if not lost and len(typed) > RELATED_LENGTH:
            continue
        also.extend(text for text, _ in held)
        for at in lost:
            forms[at].extend(form for _, form in held)
        if not lost:
            weight = RELATED_WEIGHT * len(places)
            group = Group(forms=tuple(form for _, form in held), weight=weight)
            own = (
                forms[places[0]]
                if len(places) == 1
                else [_form(" ".join(typed[one.start : one.stop]))]
            )
            alone = len(places) == sum(map(bool, forms))
            weaker.append(Weaker(group, Group(forms=tuple(own), weight=float(len(places))), alone))
    return tuple(weaker), also


def _spelt_otherwise(reader: IndexReader, typed: Sequence[str]) -> list[str]:
    """Other spellings and names of single words that the base uses."""
    return [
        other
        for word in typed
        for other in other_forms(word.lower())
        if reader.known_words(other, 1) == [other] and reader.frequency(key(other))[0]
    ]


def _nearest(reader: IndexReader, lost: Sequence[str]) -> tuple[str, ...]:
    """Words of the base nearest to those that find nothing, unless those are spelt right."""
    from kb.language.spelling import nearest_words, spelt_right
    from kb.search.medical_word_list import in_dictionary

    found: dict[str, None] = {}
    for word in lost[:HELPED_WORDS]:
        if not word.isalpha() or spelt_right(word) or in_dictionary(word.lower()):
            continue
        near = nearest_words(word, reader.vocabulary)
        found.update((one, None) for one in near if reader.frequency(key(one))[0])
    return tuple(found)


def _worth(reader: IndexReader, forms: Sequence[Form]) -> dict[str, float]:
    collection = reader.collection
    return {
        form[0][0]: 0.1 + collection.idf(reader.frequency(form[0][0])[0])
        for form in forms
        if len(form) == 1
    }
