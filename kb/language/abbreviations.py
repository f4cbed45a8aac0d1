"""Abbreviations and names of more than one word: what else a query may be looking for.

A stock of clinical abbreviations and drug names comes with missbook; the base's own glossary.yaml
is laid over it and comes first. Nothing in a note is rewritten.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from kb.language.data import lines, rows, text_of
from kb.language.normalise import STOP, key, words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence


Entries = tuple[tuple[str, tuple[str, ...]], ...]
"""Abbreviations, each with all its meanings."""

LEAD = re.compile(r"[A-Za-z0-9]+(?:'[A-Za-z]+)?")

LONGEST = 8
"""Most letters of an abbreviation: longer names are not looked up."""

LONG_QUERY = 8
"""A query of this many words is read as a sentence, where `la` or `ms` in small letters is more
likely a word than an abbreviation."""

SYMBOLS = {
    "Cu": "copper",
    "Fe": "iron",
    "K": "potassium",
    "Li": "lithium",
    "Mg": "magnesium",
    "Na": "sodium",
    "PACO2": "alveolar carbon dioxide tension",
    "PAO2": "alveolar oxygen tension",
    "PaCO2": "partial pressure of carbon dioxide",
    "PaO2": "partial pressure of oxygen",
    "Zn": "zinc",
}
"""Written exactly so; one way only, since `magnesium` must not find every dose in mg."""

UNITS = frozenset(("cm", "hr", "mg", "mm", "ms", "pm"))
"""Behind a figure and in small letters these are units, not abbreviations: `QRS 160 ms`."""


class Expansion(NamedTuple):
    """Words `start` to `stop` (not included) of a query, and other ways to say them.

    `forms` are (text, keys of its words in order; "" for a stop word). An abbreviation with
    several meanings has several forms, none of them preferred.
    """

    start: int
    stop: int
    forms: tuple[tuple[str, tuple[str, ...]], ...]


@cache
def stock() -> Entries:
    """The abbreviations that come with missbook; those marked `=` are ordinary words as well."""
    found = []
    for line in lines("abbreviations"):
        name, _, meanings = line.partition(": ")
        found.append((name, tuple(meanings.split("; "))))
    return tuple(found)


class Glossary:
    """Finds abbreviations and names of several words in a query, in both directions.

    Args:
        own: The base's own entries; they stand before the stock's.
    """

    def __init__(self, own: Entries = ()) -> None:
        self._own: dict[str, list[str]] = {}
        for name, meanings in own:
            self._own.setdefault(_plain(name), []).extend(meanings)
        self._own_names: dict[str, list[tuple[str, str]]] = {}
        for name, meanings in own:
            for meaning in meanings:
                self._own_names.setdefault(initial_of(meaning), []).append((meaning, name))

    def meanings(self, abbreviation: str) -> tuple[str, ...]:
        """All meanings of an abbreviation, the base's own first; empty if it is none."""
        short = _plain(abbreviation)
        found: dict[str, str] = {}
        for meaning in (*self._own.get(short, ()), *_stock_meanings(short)):
            found.setdefault(meaning.casefold(), meaning)
        return tuple(found.values())

    def written_out(self, name: str) -> str:
        """The one long form of a name that is an abbreviation, else the name itself.

        The base's own first meaning decides; an abbreviation of the stock counts only where it has
        a single meaning, or several that are names of one thing. A name that the base abbreviates
        becomes that first meaning too.

        >>> Glossary().written_out("DIC")
        'disseminated intravascular coagulation'
        >>> Glossary().written_out("PBC")
        'primary biliary cholangitis'
        >>> Glossary().written_out("MS")
        'MS'
        """
        short = _plain(name)
        own = self._own.get(short)
        if own:
            return own[0]
        for meaning, abbreviation in self._own_names.get(initial_of(name), ()):
            if _keys(meaning) == _keys(name):
                return self._own[_plain(abbreviation)][0]
        if len(short) > LONGEST or (_is_word(short) and not name.isupper()):
            return name
        meanings = _stock_meanings(short)
        return meanings[0] if meanings and _one_thing(meanings) else name

    def expand(self, typed: Sequence[str]) -> tuple[Expansion, ...]:
        """What else the words of a query may be called.

        Args:
            typed: The words in order, as `english.words` gives them.

        Returns:
            Expansions in order, not overlapping; of two that begin together the longer one.
        """
        shouted = len(typed) > 1 and all(word.isupper() for word in typed)
        names = [key(word) for word in typed]
        found = []
        at = 0
        while at < len(typed):
            expansion = self._longest(typed, names, at) or self._short(typed, at, shouted)
            if expansion:
                found.append(expansion)
                at = expansion.stop
            else:
                at += 1
        return tuple(found)

    def _longest(self, typed: Sequence[str], names: Sequence[str], at: int) -> Expansion | None:
        """The longest name that begins here, with everything else it is called."""
        best = 0
        others: dict[str, None] = {}
        initial, lead = initial_of(typed[at]), names[at]
        own = [pair for pair in self._own_names.get(initial, ()) if _lead(pair[0]) == lead]
        for long, other in (*own, *_stock_names_led(initial).get(lead, ())):
            spelt = _keys(long)
            count = len(spelt)
            if count >= max(best, 1) and spelt == tuple(names[at : at + count]) and any(spelt):
                if count > best:
                    best, others = count, {}
                others[other] = None
        if not best or (best == 1 and not names[at]):
            return None
        forms = _forms(others, names[at : at + best])
        return Expansion(start=at, stop=at + best, forms=forms) if forms else None

    def _short(self, typed: Sequence[str], at: int, shouted: bool) -> Expansion | None:
        """The meanings of an abbreviation, if it is meant as one."""
        for count in (2, 1):
            piece = typed[at : at + count]
            short = _plain("".join(piece))
            meanings = self.meanings(short)
            named = at > 0 and typed[at - 1].lower() == "vitamin"
            if piece[0] in SYMBOLS and count == 1 and not named:
                meanings = (SYMBOLS[piece[0]],)
            if not meanings or len(piece) < count or (count == 2 and not _written_apart(piece)):
                continue
            written = any(letter.isupper() or letter.isdigit() for letter in "".join(piece))
            if not written or shouted:
                if short in UNITS and at and typed[at - 1].isdigit():
                    continue
                if _is_word(short) and (short in STOP or len(typed) > 3):
                    continue
                if len(typed) >= LONG_QUERY and not written:
                    continue
            elif _is_word(short) and not "".join(piece).isupper():
                continue
            forms = _forms(meanings, [key(word) for word in piece])
            if forms:
                return Expansion(start=at, stop=at + count, forms=forms)
        return None


@cache
def _stock_line(short: str) -> tuple[bool, str]:
    """Whether an abbreviation of the stock is an ordinary word as well, and all its meanings.

    Looking in the text of the stock is quicker than parting it all for one query.
    """
    text = text_of("abbreviations")
    for mark in ("", "="):
        begins = f"\n{mark}{short.upper()}: "
        at = text.find(begins) if short.isascii() else -1
        if at >= 0:
            at += len(begins)
            return bool(mark), text[at : text.find("\n", at)]
    return False, ""


def _stock_meanings(short: str) -> tuple[str, ...]:
    meanings = _stock_line(short)[1]
    return tuple(meanings.split("; ")) if meanings else ()


def _is_word(short: str) -> bool:
    return _stock_line(short)[0]


@cache
def _stock_names(initial: str) -> tuple[tuple[str, str], ...]:
    """Names of the stock that begin with that letter, and what else each is called."""
    if not initial.isalnum():
        return ()
    begins = f"[{initial}{initial.upper()}]" + ("|[ao]e" if initial == "e" else "")
    found = []
    text = text_of("abbreviations")
    for match in re.finditer(rf"(?:: |; )((?:{begins})[^;\n]*)", text):
        start = text.rfind("\n", 0, match.start()) + 1
        if text[start] != "#":
            name = text[start : text.index(":", start)].lstrip("=")
            found.append((match[1], name))
    found += [pair for pair in other_names() if initial_of(pair[0]) == initial]
    return tuple(pair for pair in found if initial_of(pair[0]) == initial)


@cache
def other_names() -> tuple[tuple[str, str], ...]:
    """Names of drugs and diseases of which one at least has several words, in both directions."""
    pairs = [row[:2] for row in rows("drugs") if {" ", "-"} & {*row[0], *row[1]}]
    pairs += [row[:2] for row in rows("names")]
    return tuple(pair for one, other in pairs for pair in ((one, other), (other, one)))


def _one_thing(meanings: Sequence[str]) -> bool:
    """Whether all meanings after the first are other names of the first."""
    first = meanings[0]
    return all((first, other) in other_names() for other in meanings[1:])


def _written_apart(piece: Sequence[str]) -> bool:
    """Whether two words may be one abbreviation written with a hyphen or space: `GLP 1`."""
    first, second = piece
    return first.isalpha() and first.isupper() and (second.isdigit() or second.isupper())


def _forms(
    texts: Iterable[str], instead_of: Sequence[str]
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    own = tuple(instead_of)
    found = ((text, _keys(text)) for text in texts)
    return tuple((text, spelt) for text, spelt in found if any(spelt) and spelt != own)


FEW_LETTERS = 8
"""This many first letters are looked up one by one; after that all at once is quicker."""


@cache
def _stock_names_led(initial: str) -> dict[str, list[tuple[str, str]]]:
    """The names of `_stock_names` by the key of their first word."""
    if _stock_names_led.cache_info().currsize >= FEW_LETTERS:
        return _all_stock_names_led().get(initial, {})
    return _led(_stock_names(initial))


@cache
def _all_stock_names_led() -> dict[str, dict[str, list[tuple[str, str]]]]:
    """What `_stock_names_led` gives for every letter."""
    text = text_of("abbreviations")
    found: list[tuple[str, str]] = []
    for line in text.split("\n"):
        name, _, meanings = line.partition(": ")
        if meanings and name[0] != "#":
            found += [(meaning, name.lstrip("=")) for meaning in meanings.split("; ")]
    found += other_names()
    letters: dict[str, list[tuple[str, str]]] = {}
    for pair in found:
        letters.setdefault(initial_of(pair[0]), []).append(pair)
    return {initial: _led(pairs) for initial, pairs in letters.items() if initial.isalnum()}


def _led(names: Iterable[tuple[str, str]]) -> dict[str, list[tuple[str, str]]]:
    found: dict[str, list[tuple[str, str]]] = {}
    for pair in names:
        found.setdefault(_lead(pair[0]), []).append(pair)
    return found


@cache
def _lead(text: str) -> str:
    """Key of the first word of a name, to pass over most names without parting them."""
    if not text.isascii():
        return next(iter(_keys(text)), "")
    match = LEAD.match(text)
    return key(match[0]) if match else ""


@cache
def _keys(text: str) -> tuple[str, ...]:
    return tuple(key(word) for word in words(text))


@cache
def _plain(abbreviation: str) -> str:
    """One spelling for an abbreviation: small letters and digits only."""
    return "".join(letter for letter in abbreviation.casefold() if letter.isalnum())


def initial_of(text: str) -> str:
    """The letter under which a name is kept, with ae and oe folded as in its key."""
    first = text.lstrip().casefold()
    if first[:2] in ("ae", "oe"):
        return "e"
    return first[:1]


def parts(text: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Parts of a name of several words with the keys of their words, the longest first.

    >>> [text for text, _ in parts("right heart failure")]
    ['right heart', 'heart failure', 'right', 'heart', 'failure']
    """
    typed = words(text)
    for count in range(len(typed) - 1, 0, -1):
        for start in range(len(typed) - count + 1):
            part = typed[start : start + count]
            yield " ".join(part), tuple(key(word) for word in part)


def also(expansions: Iterable[Expansion]) -> Iterator[str]:
    """Every other form once, in order, as shown to the person."""
    seen = set()
    for expansion in expansions:
        for text, _ in expansion.forms:
            if text.casefold() not in seen:
                seen.add(text.casefold())
                yield text
