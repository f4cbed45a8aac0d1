"""Other names of what was typed: as forms beside it, instead of it, or as weaker groups."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from kb.language.abbreviations import parts
from kb.language.normalise import key, words
from kb.language.related import broader, related
from kb.search.bm25f import Form, Group
from kb.search.document import exact

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from kb.language.abbreviations import Expansion
    from kb.search.in_memory import PageReader
    from kb.search.index_reader import IndexReader

    Reader = IndexReader | PageReader

RELATED_LENGTH = 6
"""In a longer query only words that no note has are helped by related names."""
ADJECTIVE = re.compile(r"(?i)(ic|al|ar|ary|ive|ous|iple)$")
"""Ends of a word that does not say alone which name it leads: aortic, multiple."""
PHRASE_WEIGHT = 0.6
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


def form_of(text: str) -> Form:
    """Keys of a phrase with their distance from its first word; stop words leave a gap."""
    return spaced([key(word) for word in words(text)])


def spaced(names: Sequence[str]) -> Form:
    """Keys with their distance from the first; empty ones leave a gap."""
    found = [(name, at) for at, name in enumerate(names) if name]
    return tuple((name, at - found[0][1]) for name, at in found)


def add_meanings(
    reader: Reader,
    expansions: Sequence[Expansion],
    names: Sequence[str],
    forms: list[list[Form]],
    allowed: set[int] | None,
) -> list[str]:
    """Other names of what is typed, those in most notes first.

    A name for several words is a form of each of them, so that a note that uses it counts as much.
    If no note has any meaning of an abbreviation in full, what is left of each is looked for.
    """
    also: list[str] = []
    for expansion in expansions:
        for ways in (_in_full, _in_part) if expansion.short else (_in_full,):
            counted: dict[Form, tuple[int, str]] = {}
            for text, spelt in expansion.forms:
                for named, form in ways(reader, text, spelt):
                    docs = reader.collection.occurrences(Group(forms=(form,)))[0]
                    count = len(docs) if allowed is None else len(allowed.intersection(docs))
                    if count:
                        counted.setdefault(form, (count, named))
                        break
            if counted:
                break
        ranked = sorted(counted.items(), key=lambda entry: -entry[1][0])
        also.extend(text for _, (_, text) in ranked)
        places = [at for at in range(expansion.start, expansion.stop) if names[at]]
        for at in places or [expansion.start]:
            forms[at].extend(form for form, _ in ranked)
    return also


def _in_full(reader: Reader, text: str, spelt: tuple[str, ...]) -> Iterator[tuple[str, Form]]:
    """A name, then its other names."""
    yield text, spaced(spelt)
    typed = words(text)
    if len(typed) == 1:
        return
    found = reader.glossary.expand(typed)
    if [(one.start, one.stop) for one in found] == [(0, len(typed))]:  # then a part of it as well
        found += reader.glossary.expand(typed[:-1])
    for expansion in found:
        for other, keys in expansion.forms:
            whole = (expansion.start, expansion.stop) == (0, len(typed))
            if len(reader.glossary.meanings(other)) == 1 or (whole and len(keys) > 1):
                changed = (*spelt[: expansion.start], *keys, *spelt[expansion.stop :])
                yield other if whole else text, spaced(changed)
    if near := reader.collection.nearby([name for name in spelt if name]):
        yield text, near


def _in_part(reader: Reader, text: str, spelt: tuple[str, ...]) -> Iterator[tuple[str, Form]]:
    """Parts of a name that are a whole title or concept, or its beginning; the longest first."""
    for part, keys in parts(text):
        if not (said := [name for name in keys if name]):
            continue
        whole = any(reader.postings(exact(kind, said)).docs for kind in "tc")
        begins = len(keys) > 1 and keys == spelt[: len(keys)] and keys[-1].isalpha()
        if whole or begins:
            yield part, spaced(keys)


def add_related_meanings(
    reader: Reader, expansions: Sequence[Expansion], forms: list[list[Form]]
) -> list[str]:
    """Instead of a name that no note has, what its other names are related to."""
    also: list[str] = []
    for expansion in expansions:
        places = [at for at in range(expansion.start, expansion.stop) if forms[at]]
        shared = set(forms[places[0]]).intersection(*(forms[at] for at in places)) if places else ()
        if any(map(reader.collection.holds, shared)):
            continue
        for text, spelt in expansion.forms:
            whole = [
                one for one in related(words(text)) if (one.start, one.stop) == (0, len(spelt))
            ]
            names = [name for one in whole for name, _ in one.forms]
            held = held_of(reader, names)
            also.extend(name for name, _ in held)
            for at in places:
                forms[at].extend(form for _, form in held)
    return also


def add_related(
    reader: Reader, typed: Sequence[str], forms: list[list[Form]]
) -> tuple[tuple[Weaker, ...], list[str]]:
    """Related names: instead of words that no note has, else as groups that count less."""
    weaker: list[Weaker] = []
    also: list[str] = []
    for one in related(typed):
        places = [at for at in range(one.start, one.stop) if forms[at]]
        lost = [at for at in places if not any(map(reader.collection.holds, forms[at]))]
        length = len(typed) if len(places) == 1 else sum(map(bool, forms))
        if not lost and length > RELATED_LENGTH:
            continue
        own_keys = {"", *(forms[at][0][0][0] for at in places)}
        said = [text for text, keys in one.forms if lost or not own_keys.issuperset(keys)]
        held = held_of(reader, said)
        if not held:
            continue
        also.extend(text for text, _ in held)
        for at in lost:
            forms[at].extend(form for _, form in held)
        if not lost:
            weight = (RELATED_WEIGHT if len(places) == 1 else PHRASE_WEIGHT) * len(places)
            group = Group(forms=tuple(form for _, form in held), weight=weight)
            own = (
                forms[places[0]]
                if len(places) == 1
                else [form_of(" ".join(typed[one.start : one.stop]))]
            )
            alone = len(places) == sum(map(bool, forms))
            weaker.append(Weaker(group, Group(forms=tuple(own), weight=float(len(places))), alone))
    return tuple(weaker), also


def held_of(reader: Reader, names: Sequence[str]) -> list[tuple[str, Form]]:
    """Those names that notes have, each with what they have of it, or else what they belong to."""
    for said in (names, [wider for name in names for wider in broader(name)]):
        held = [
            (name, form)
            for name in said
            if (form := _first_held(reader, name, tuple(map(key, words(name)))))
        ]
        if held:
            return held
    return []


def _first_held(reader: Reader, name: str, spelt: tuple[str, ...]) -> Form:
    return next(
        (form for _, form in _in_full(reader, name, spelt) if reader.collection.holds(form)), ()
    )


def is_absent(
    reader: Reader,
    start: int,
    stop: int,
    typed: Sequence[str],
    expansions: Sequence[Expansion],
    forms: Sequence[Sequence[Form]],
) -> bool:
    """Whether words `start` to `stop` are a name that no note has, though some may have its words.

    A note has it if it has another name for it, or the person's name that both begin with, or if
    its title or a concept is a part of the name: the last word alone only if the others are
    everyday words.
    """
    from kb.language.spelling import is_common

    wider = [one for one in related(typed) if one.start <= start and stop <= one.stop]
    if any(held_of(reader, [text for text, _ in one.forms]) for one in wider):
        return False
    spelt = tuple(key(word) for word in typed[start:stop])
    said = [(one.start, one.stop, one.forms) for one in expansions]
    named = [one for a, b, forms in said if a <= start and stop <= b for one in forms]
    others = [keys for _, keys in named]
    if not ADJECTIVE.search(typed[start]):  # Takayasu's arteritis and Takayasu's disease
        led = ([one for one in keys if one in spelt] for text, keys in named if text[0].isupper())
        others += [tuple(shared) for shared in led if shared == [spelt[0]]]
    tail = next((at for at in range(stop, start + 1, -1) if not is_common(typed[at - 1])), stop)
    held = [set(forms[at]) for at in range(start, stop) if forms[at]]
    if tail - start > 1 or not is_common(typed[start]):
        others.append(spelt[: tail - start])
    known = set.intersection(*held) | {spaced(one) for one in (spelt, *others) if any(one)}
    if any(map(reader.collection.holds, known)) or reader.collection.nearby(
        [one for one in spelt if one]
    ):
        return False
    shorter = [[one for one in keys if one] for _, keys in parts(" ".join(typed[start:stop]))]
    alone = [spelt[-1]] if all(map(is_common, typed[start : stop - 1])) else []
    shorter = [one for one in shorter if len(one) > 1 or one == alone]
    return not any(reader.postings(exact(kind, one)).docs for one in shorter for kind in "tc")
