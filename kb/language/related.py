"""Weaker ways to say a thing: everyday and learned words, what a sign or a drug is known for, the
class of a drug, a value's name.

They help a search that lacks the word itself; none counts as much as the word that was typed.
"""

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

from kb.language.abbreviations import beginnings, keys_of, lead_of, start_of
from kb.language.data import lines_with, rows
from kb.language.normalise import drug_names, key, words

LEAST_LETTERS = 6
"""A shorter word is not read by its stem: `April` is no ACE inhibitor."""


class Related(NamedTuple):
    """Words `start` to `stop` (not included) of a query, and related names as (text, keys)."""

    start: int
    stop: int
    forms: tuple[tuple[str, tuple[str, ...]], ...]


def related(typed: Sequence[str]) -> tuple[Related, ...]:
    """What the words of a query are related to, in order; of two that begin together the longer.

    >>> [[text for text, _ in one.forms] for one in related(["Na", "118", "amitriptyline", "fits"])]
    [['hyponatraemia'], ['depression', 'tricyclic'], ['seizure']]
    """
    names = [key(word) for word in typed]
    found = []
    at = 0
    while at < len(typed):
        one = _value_at(typed, at) or _longer(_plain_at(typed, names, at), _class_at(typed, at))
        if one:
            found.append(one)
        at = one.stop if one else at + 1
    return tuple(found)


def broader(name: str) -> tuple[str, ...]:
    """What a class of drugs belongs to.

    >>> broader("loop diuretics"), broader("diuretic")
    (('diuretic',), ())
    """
    return _broader().get(keys_of(name), ())


@cache
def _broader() -> dict[tuple[str, ...], tuple[str, ...]]:
    found: dict[tuple[str, ...], tuple[str, ...]] = {}
    for name, group in rows("broader"):
        spelt = keys_of(name)
        found[spelt] = (*found.get(spelt, ()), group)
    return found


def drug_classes(word: str) -> tuple[str, ...]:
    """Classes of a drug by its name, or by the stem that international names of its class share.

    >>> drug_classes("ramipril"), drug_classes("amitriptyline"), drug_classes("April")
    (('ACE inhibitor',), ('tricyclic',), ())
    """
    lower = drug_names().get(word.lower(), word.lower())
    named, stems = _classes()
    if lower in named:
        return named[lower]
    if len(lower) < LEAST_LETTERS or " " in lower:
        return ()
    for size in range(len(lower), 0, -1):  # the longest stem that fits
        classes = stems.get(f"-{lower[-size:]}") or stems.get(f"{lower[:size]}-")
        if classes:
            return classes
    return ()


def _value_at(typed: Sequence[str], at: int) -> Related | None:
    """The name of a value in SI units that lies outside the usual range: `Na 118`."""
    limits = _values().get(typed[at].lower())
    if not limits or at + 1 == len(typed) or not typed[at + 1].replace(".", "").isdigit():
        return None
    least, most, below, above = limits
    value = float(typed[at + 1])
    name = below if value < least else above if value > most else ""
    return Related(at, at + 2, ((name, keys_of(name)),)) if name else None


def _longer(one: Related | None, other: Related | None) -> Related | None:
    """Of two that begin together the longer, or both as one if they are equally long."""
    if one and other and one.stop == other.stop:
        return one._replace(forms=(*one.forms, *other.forms))
    return max(filter(None, (one, other)), key=lambda each: each.stop, default=None)


def _class_at(typed: Sequence[str], at: int) -> Related | None:
    for count in (2, 1):
        name = " ".join(typed[at : at + count])
        classes = drug_classes(name) or broader(name)
        if classes and at + count <= len(typed):
            return Related(at, at + count, tuple((one, keys_of(one)) for one in classes))
    return None


def _plain_at(typed: Sequence[str], names: Sequence[str], at: int) -> Related | None:
    best: dict[str, tuple[str, ...]] = {}
    count = 0
    lead = names[at] or typed[at].lower()
    starts = {start_of(typed[at]), start_of(lead)} if names[at] else {f"{lead} "[:3]}
    for start in sorted(starts):
        for name, text in _by_first(start).get(lead, ()):
            length = _length_at(name, names, at)
            if length and length >= count:
                if length > count:
                    best, count = {}, length
                best[text] = keys_of(text)
    return Related(at, at + count, tuple(best.items())) if best else None


@cache
def _by_first(start: str) -> dict[str, list[tuple[str, str]]]:
    """Names under `start`, with what each is otherwise called or known for, by the key of their
    first word, or that word itself if no search looks for it: `no periods`.
    """
    found: dict[str, list[tuple[str, str]]] = {}
    for table, marks in (("plain", "\n,"), ("signs", "\n"), ("uses", "\n")):
        for line in lines_with(f"{table}.csv", beginnings(start), marks):
            one, _, other = line.partition(",")
            for name, text in ((one, other), (other, one))[: len(marks)]:
                if start_of(name) == start_of(start):
                    lead = lead_of(name) or words(name)[0].lower()
                    found.setdefault(lead, []).append((name, text))
    return found


def _length_at(name: str, names: Sequence[str], at: int) -> int:
    """How many words from `at` on are that name, stop words passed over; 0 if they are not it."""
    stop = at
    for one in filter(None, keys_of(name)):
        while stop < len(names) and not names[stop]:
            stop += 1
        if stop == len(names) or names[stop] != one:
            return 0
        stop += 1
    return stop - at


@cache
def _classes() -> tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]]:
    """Classes by whole name, and by stem."""
    named: dict[str, tuple[str, ...]] = {}
    stems: dict[str, tuple[str, ...]] = {}
    for name, group in rows("classes"):
        held = stems if "-" in (name[0], name[-1]) else named
        spelt = name if held is stems else name.replace("-", " ").lower()
        held[spelt] = (*held.get(spelt, ()), group)
    return named, stems


def related_names() -> tuple[tuple[str, str], ...]:
    """Every (name, what it is related to), in both directions where both are said; a stem of drug
    names begins or ends in a hyphen.
    """
    both = [pair for one, other in rows("plain") for pair in ((one, other), (other, one))]
    one_way = [(one, other) for table in ("signs", "uses", "classes") for one, other in rows(table)]
    return (*both, *one_way)


@cache
def _values() -> dict[str, tuple[float, float, str, str]]:
    """Usual range of a value and its names below and above."""
    return {
        name: (float(least), float(most), below, above)
        for name, least, most, below, above in rows("values")
    }
