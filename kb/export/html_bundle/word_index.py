"""The word index of a carried file: words are folded here, so that a phone only looks them up.

Words are put into groups under the keys of the search of the base (spelling, plurals, old and new
names of drugs), and abbreviations are written out in both directions. What a person types is
folded by `RULES`, which go into the file: the same rules fold the words of every group.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

import numpy as np

from kb.export.handout import Leaf
from kb.language.abbreviations import Entries, Glossary, other_names, parts, stock
from kb.language.data import lines, rows
from kb.language.normalise import (
    ENDS_OF_FORMS,
    GREEK,
    STOP,
    american,
    forms,
    key,
    keys,
    other_forms,
    words,
)
from kb.language.related import broader, related_names
from kb.language.snippets import readable

RULES = (
    ("z", "s"),
    ("ae|oe", "e"),
    ("ou", "o"),
    ("ll", "l"),
    ("sulph", "sulf"),
    ("leuc", "leuk"),
    ("([tb])re(s?)$", "$1er$2"),
)
"""British and American spellings folded into one: both sides of a comparison are folded alike, so a
rule may be coarse. The patterns mean the same in Python and in a browser.

Source: own, because it only has to fold both sides the same way.
"""
LETTERS = {
    **{letter: name.strip() for letter, name in GREEK.items()},
    **{"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ı": "i"},
}
"""Letters that do not decompose into a base letter and an accent, and what replaces each."""
CLEAR_FORMS = 2
"""An abbreviation with more meanings than this is left as it is; a name of several words is clear
however many synonyms it has."""

_COMPILED = tuple((re.compile(old), re.sub(r"\$(\d)", r"\\\1", new)) for old, new in RULES)


def folded(word: str) -> str:
    """One word, without accents, as it is compared.

    >>> folded("Haemolysed") == folded("hemolyzed"), folded("tumours"), folded("litre")
    (True, 'tumors', 'liter')
    """
    word = word.lower()
    word = (word[:-2] if word.endswith("'s") else word).replace("'", "")
    for pattern, new in _COMPILED:
        word = pattern.sub(new, word)
    return word


def index(leaves: Sequence[Leaf], glossary: Entries) -> dict[str, object]:
    """The index of a carried file.

    Args:
        leaves: The notes, in the order in which the file holds them.
        glossary: The base's own abbreviations.

    Returns:
        `words`: a line for each group with its folded words. `places`: a line for each group with
        the numbers of its notes, each as the step from the last one to base 36. `rules` and
        `letters` for folding what is typed. `stop` are words passed over, `common` those that
        carry no question. `values`: name, usual range, and what a value below or above it is
        called. `instead`: a line for each plain word, drug or stem of drug names with the name of
        its own under which `words` has the notes that say what it is related to. `absent`: a line
        for each name of several words that no note has, though one may have its words.
    """
    known = Glossary(glossary)
    written: dict[str, dict[str, None]] = {}
    places: dict[str, list[int]] = {}
    texts = [_text(leaf) for leaf in leaves]
    shorter = _shorter(leaves, texts, (*glossary, *stock()))
    for number, leaf in enumerate(leaves):
        for word in (*_said(leaf, known), *shorter.get(number, ())):
            name = key(word)
            if not name or word == "=a":
                continue
            if name not in written or folded(word) not in written[name]:
                spelt = (word, *_forms_of(word.lower()))
                written.setdefault(name, {}).update((folded(one), None) for one in spelt)
            found = places.setdefault(name, [])
            if not found or found[-1] != number:
                found.append(number)
    for form, noun in forms().items():
        if (name := key(noun)) in written:
            written[name][folded(form)] = None
    instead = []
    for name, narrow in related_names():
        for group in (narrow, *broader(narrow)):
            spelt = keys(group)
            shared = set.intersection(*(set(places.get(one, ())) for one in spelt))
            found = sorted(number for number in shared if _stands(spelt, texts[number]))
            if found:
                # A key that nobody can type, for the notes that contain the related name.
                mark = f"={group.replace(' ', '_')}"
                places[f"={group}"], written[f"={group}"] = found, {mark: None}
                typed = name if "-" in (name[0], name[-1]) else " ".join(map(folded, words(name)))
                instead.append(f"{typed}:{mark}")
                break
    names = sorted(written)
    return {
        "stop": " ".join(sorted(map(folded, STOP))),
        "common": " ".join(folded(word) for line in lines("common") for word in line.split()),
        "values": [[*row[:3], *map(folded, row[3:])] for row in rows("values")],
        "instead": "\n".join(instead),
        "absent": "\n".join(_absent(leaves, texts, (*glossary, *stock()))),
        "rules": RULES,
        "letters": LETTERS,
        "words": "\n".join(" ".join(written[name]) for name in names),
        "places": "\n".join(_steps(places[name]) for name in names),
    }


def _forms_of(word: str) -> Iterable[str]:
    """A word in American spelling, its other names, and its adjective or the noun of it."""
    plain = american(word)
    yield from (plain, *other_forms(word))
    for adjective, noun in ENDS_OF_FORMS:
        for ending, other in ((adjective, noun), (noun, adjective)):
            if plain.endswith(ending):
                yield plain[: -len(ending)] + other


def _text(leaf: Leaf) -> str:
    """Keys of all words of a note, a space before and after each."""
    text = "\n".join((leaf.title, *leaf.concepts, readable(leaf.body)))
    return f" {' '.join(keys(text))} "


def _stands(spelt: Sequence[str], text: str) -> bool:
    return f" {' '.join(spelt)} " in text


def _shorter(
    leaves: Sequence[Leaf], texts: Sequence[str], entries: Entries
) -> dict[int, list[str]]:
    """Abbreviations by number of the note of which a title or concept is part of the long form, or
    which has its beginning.

    Only where no note has the whole long form, as in the search of the base.
    """
    wholes: dict[tuple[str, ...], list[int]] = {}
    for number, leaf in enumerate(leaves):
        for spelt in {keys(name) for name in (leaf.title, *leaf.concepts)}:
            wholes.setdefault(spelt, []).append(number)
    everything = "\n".join(texts)
    found: dict[int, list[str]] = {}
    for name, meanings in entries:
        for meaning in meanings:
            spelt = keys(meaning)
            if _stands(spelt, everything):
                continue
            numbers = next((wholes[part] for _, part in parts(meaning) if part in wholes), [])
            for count in range(len(spelt) - 1, 1 if not numbers else len(spelt), -1):
                if _stands(spelt[:count], everything):
                    numbers = [n for n, text in enumerate(texts) if _stands(spelt[:count], text)]
                    break
            for number in numbers:
                found.setdefault(number, []).append(name.lstrip("="))
    return found


def _absent(leaves: Sequence[Leaf], texts: Sequence[str], entries: Entries) -> list[str]:
    """Names of several words, folded, that no note has under any name, as in the search of the
    base: neither whole, nor what an old and a new name share, nor a part as a title or concept.
    """
    everything = "\n".join(texts)
    used = set(everything.split())
    wholes = {keys(name) for leaf in leaves for name in (leaf.title, *leaf.concepts)}
    others: dict[str, set[tuple[str, ...]]] = {}
    for short, meanings in entries:
        for meaning in meanings:
            others.setdefault(meaning, set()).add(keys(short.lstrip("=")))
    for one, other in (*other_names(), *related_names()):
        others.setdefault(one, set()).add(keys(other))
    for name in lines("topics"):
        others.setdefault(name, set())
    found = []
    for name, alike in others.items():
        spelt = keys(name)
        if len(spelt) < 2 or not used.intersection(spelt):
            continue
        shared = {tuple(one for one in other if one in spelt) for other in alike}
        known = [one for one in (spelt, *alike, *shared) if one and used.issuperset(one)]
        shorter = [tuple(filter(None, part)) for _, part in parts(name)]
        if any(_stands(one, everything) for one in known) or any(
            one in wholes for one in shorter if len(one) > 1 or one == spelt[-1:]
        ):
            continue
        found.append(" ".join(folded(word) for word in words(name) if key(word)))
    return sorted(set(found))


def _said(leaf: Leaf, known: Glossary) -> Iterable[str]:
    """Every word by which a note can be found."""
    yield from words(" ".join((*leaf.questions, leaf.area_name)))
    for text in (leaf.title, *leaf.concepts, *readable(leaf.body).splitlines()):
        typed = words(text)
        yield from typed
        for expansion in known.expand(typed):
            if not expansion.short or len(expansion.forms) <= CLEAR_FORMS:
                for form, _ in expansion.forms:
                    yield from words(form)


def _steps(numbers: Sequence[int]) -> str:
    """Rising numbers as steps to base 36.

    >>> _steps([0, 1, 50])
    '0 1 1d'
    """
    steps = (now - before for before, now in zip((0, *numbers), numbers, strict=False))
    return " ".join(np.base_repr(step, 36).lower() for step in steps)
