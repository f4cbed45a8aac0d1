"""Abbreviations and names of more than one word: what else a query may be looking for.

A stock of clinical abbreviations and drug names comes with missbook; the base's own glossary.yaml
is laid over it and comes first. Nothing in a note is rewritten.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from itertools import product
from string import ascii_lowercase
from typing import NamedTuple

from kb.language.data import lines, lines_with, rows
from kb.language.normalise import STOP, key, one_of, plain, words

Entries = tuple[tuple[str, tuple[str, ...]], ...]
"""Abbreviations, each with all its meanings."""

LEAD = re.compile(r"[A-Za-z0-9]+(?:'[A-Za-z]+)?")

LONGEST = 8
"""Most letters of an abbreviation: longer names are not looked up."""

LONG_QUERY = 8
"""A query of this many words is read as a sentence, where `la` or `ms` in small letters is more
likely a word than an abbreviation."""

SYMBOLS: dict[str, str] = dict(rows("symbols"))  # type: ignore[arg-type]
"""Written exactly so; one way only, since `magnesium` must not find every dose in mg."""

ORDINARY = frozenset(
    str.split(
        "ACT ALS ARM ART BED CAP CART CHARGE COLD COP CUP DIP DISH FIT FIX GAS GAVE GO HALO HIT "
        "LAST LIP MAP MAT MEN METS PAD PEA SAD SAT SCAR SPA TAB TEA TEN TENS TIN TRAPS"
    )
)
"""Abbreviations that are, or have the key of, such common words that a note with the word hardly
ever means them: `MEN` is looked for as `man`."""

KIND = re.compile(r"[a-z]{1,2}[A-Z]{3}")
"""Small letters before an abbreviation say which kind of it is meant: `sIgAD`, `hATTR`, `cTTP`."""

UNITS = frozenset(("cm", "hr", "mg", "mm", "ms", "pm"))
"""Behind a figure and in small letters these are units, not abbreviations: `QRS 160 ms`."""


class Expansion(NamedTuple):
    """Words `start` to `stop` (not included) of a query, and other ways to say them.

    `forms` are (text, keys of its words in order; "" for a stop word). An abbreviation with
    several meanings has several forms, none of them preferred. `short`: an abbreviation was typed.
    """

    start: int
    stop: int
    forms: tuple[tuple[str, tuple[str, ...]], ...]
    short: bool = False


@cache
def stock() -> Entries:
    """The abbreviations that come with missbook; those marked `=` are ordinary words as well."""
    parted = (line.partition(": ") for line in lines("abbreviations"))
    return tuple((name, tuple(meanings.split("; "))) for name, _, meanings in parted)


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
                self._own_names.setdefault(start_of(meaning), []).append((meaning, name))

    def meanings(self, abbreviation: str) -> tuple[str, ...]:
        """All meanings of an abbreviation, the base's own first; empty if it is none."""
        short = _plain(abbreviation)
        known = (*self._own.get(short, ()), *_stock_line(short)[1])
        if not known and KIND.match(abbreviation):
            return self.meanings(abbreviation.lstrip(ascii_lowercase))
        if not known and (single := one_of(abbreviation)) != abbreviation:
            return self.meanings(single)
        found: dict[str, str] = {}
        for meaning in known:
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
        for meaning, abbreviation in self._own_names.get(start_of(name), ()):
            if keys_of(meaning) == keys_of(name):
                return self._own[_plain(abbreviation)][0]
        is_word, meanings = _stock_line(short) if len(short) <= LONGEST else (False, ())
        if is_word and not name.isupper():
            return name
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
            expansion = self._longest(typed, names, at)
            if not expansion or expansion.stop == at + 1:  # a name may be an abbreviation as well
                short = self._short(typed, at, shouted)
                if short and expansion:
                    short = short._replace(forms=(*short.forms, *expansion.forms))
                expansion = short or expansion
            if expansion:
                found.append(expansion)
            at = expansion.stop if expansion else at + 1
        return tuple(found)

    def _longest(self, typed: Sequence[str], names: Sequence[str], at: int) -> Expansion | None:
        """The longest name that begins here, with everything else it is called."""
        best = 0
        others: dict[str, None] = {}
        start, lead = start_of(typed[at]), names[at]
        own = [pair for pair in self._own_names.get(start, ()) if lead_of(pair[0]) == lead]
        for long, other in (*own, *_stock_names(start).get(lead, ())):
            spelt = keys_of(long)
            count = len(spelt)
            if count >= max(best, 1) and spelt == tuple(names[at : at + count]) and any(spelt):
                if count > best:
                    best, others = count, {}
                if other not in ORDINARY:
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
            meanings = self.meanings("".join(piece))
            named = at > 0 and typed[at - 1].lower() == "vitamin"
            if piece[0] in SYMBOLS and count == 1 and not named:
                meanings = (SYMBOLS[piece[0]],)
            if not meanings or len(piece) < count or (count == 2 and not _written_apart(piece)):
                continue
            is_word = _stock_line(short)[0]
            written = any(letter.isupper() or letter.isdigit() for letter in "".join(piece))
            if not written or shouted:
                if short in UNITS and at and typed[at - 1].isdigit():
                    continue
                if is_word and (short in STOP or len(typed) > 3):
                    continue
                if len(typed) >= LONG_QUERY and not written:
                    continue
            elif is_word and not "".join(piece).isupper():
                continue
            forms = _forms(meanings, [key(word) for word in piece])
            if forms:
                return Expansion(start=at, stop=at + count, forms=forms, short=True)
        return None


def _stock_line(short: str) -> tuple[bool, tuple[str, ...]]:
    """Whether an abbreviation of the stock is an ordinary word as well, and all its meanings."""
    name, _, meanings = _stock_lines().get(short.upper(), "").partition(": ")
    return name[:1] == "=", tuple(meanings.split("; ")) if meanings else ()


@cache
def _stock_lines() -> dict[str, str]:
    """The lines of the stock by abbreviation; parting them all takes too long for one query."""
    return {line.partition(":")[0].lstrip("=").upper(): line for line in lines("abbreviations")}


@cache
def _stock_names(start: str) -> dict[str, list[tuple[str, str]]]:
    """Names of the stock under those letters, and what else each is called, by their first key."""
    begins = tuple(beginnings(start))
    pairs = []
    for line in lines_with("abbreviations.txt", begins, (": ", "; ")):
        short, _, meanings = line.partition(": ")
        pairs += [(name, short.lstrip("=")) for name in meanings.split("; ")]
    for table in ("drugs", "names"):
        pairs += _both_ways(line.split(",") for line in lines_with(f"{table}.csv", begins, "\n,"))
    found: dict[str, list[tuple[str, str]]] = {}
    for name, other in pairs:
        if start_of(name) == start:
            found.setdefault(lead_of(name), []).append((name, other))
    return found


def beginnings(start: str) -> Iterator[str]:
    """A start as it may be written: an e also as ae or oe.

    >>> list(beginnings("el"))
    ['el', 'ael', 'oel']
    """
    spelt = [("e", "ae", "oe") if letter == "e" else (letter,) for letter in start]
    return map("".join, product(*spelt))


@cache
def other_names() -> tuple[tuple[str, str], ...]:
    """Names of drugs and diseases of which one at least has several words, in both directions."""
    return tuple(_both_ways((*rows("drugs"), *rows("names"))))


def _both_ways(table: Iterable[Sequence[str]]) -> Iterator[tuple[str, str]]:
    for one, other, *kind in table:
        if not kind or {" ", "-"} & {*one, *other}:
            yield from ((one, other), (other, one))


def names_in(typed: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Where names of several words that mean one thing begin and end; of overlapping ones the first
    and longest.

    >>> list(names_in(["old", "basal", "cell", "carcinoma"])), list(names_in(["cell", "old"]))
    ([(1, 4)], [])
    """
    keyed = [key(word) for word in typed]
    at = 0
    while at < len(typed):
        start = start_of(typed[at])
        names = [name for name, _ in _stock_names(start).get(keyed[at], ()) if not name.isalnum()]
        names += [name for name in _topics(start) if lead_of(name) == keyed[at]]
        lengths = [
            len(spelt)
            for spelt in map(keys_of, names)
            if len(spelt) > 1 and spelt == tuple(keyed[at : at + len(spelt)])
        ]
        stop = at + max(lengths, default=1)
        if lengths:
            yield at, stop
        at = stop


@cache
def _topics(start: str) -> tuple[str, ...]:
    found = lines_with("topics.txt", beginnings(start), "\n")
    return tuple(name for name in found if start_of(name) == start)


def _one_thing(meanings: Sequence[str]) -> bool:
    """Whether all meanings after the first are other names of the first."""
    first = meanings[0]
    return all((first, other) in other_names() for other in meanings[1:])


def _written_apart(piece: Sequence[str]) -> bool:
    """Whether two words may be one abbreviation written with a hyphen or space: `GLP 1`, `6-MP`,
    `anti-HBc`.
    """
    first, second = piece
    if first.lower() == "anti" or first.isdigit():
        return second[:1].isupper()
    return first.isalpha() and first.isupper() and (second.isdigit() or second != second.lower())


def _forms(
    texts: Iterable[str], instead_of: Sequence[str]
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    own = tuple(instead_of)
    found = ((text, keys_of(text)) for text in texts)
    return tuple((text, spelt) for text, spelt in found if any(spelt) and spelt != own)


@cache
def lead_of(text: str) -> str:
    """Key of the first word of a name, to pass over most names without parting them; "" for a stop
    word.
    """
    if not text.isascii():
        return next(iter(keys_of(text)), "")
    match = LEAD.match(text)
    return key(match[0]) if match else ""


@cache
def keys_of(text: str) -> tuple[str, ...]:
    """Keys of the words of a name in order; "" for a stop word."""
    return tuple(key(word) for word in words(text))


@cache
def _plain(abbreviation: str) -> str:
    """One spelling for an abbreviation: small letters and digits only."""
    return "".join(letter for letter in abbreviation.casefold() if letter.isalnum())


def start_of(text: str) -> str:
    """The letters under which a name is kept: the first two of its first word, ae and oe as e.

    >>> start_of("Haemolysis"), start_of("hemolysis"), start_of("B cell")
    ('he', 'he', 'b')
    """
    lead = (text if text.isascii() else plain(text)).lstrip()[:4].lower()
    lead = lead.replace("ae", "e").replace("oe", "e")[:2]
    return lead if lead.isalnum() else lead[:1]


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
