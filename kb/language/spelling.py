"""The known words nearest to one that finds nothing: what was meant, or may have been."""

import re
from collections.abc import Callable, Iterable
from functools import cache

from kb.language.abbreviations import start_of
from kb.language.data import lines, text_of
from kb.language.normalise import american, key, one_of, other_forms, plain

SHORTEST = 4
"""Letters of a word worth helping with: shorter ones are near to everything."""

SURE_LETTERS = 5
"""A word of this many letters that no note has is searched as its nearest known word."""
LONG_LETTERS = 8
"""From this many letters on two slips are forgiven there, else one."""
ENDING_LETTERS = 2
"""Spellings and endings of one word differ by no more letters than this."""
OPPOSITES = (("hyper", "hypo"), ("brady", "tachy"), ("macro", "micro"), ("intra", "inter"))
"""Beginnings never taken for each other's slip."""

DOUBLED = re.compile(r"(.)\1+")
WORD = re.compile(rf"[a-z]{{{SHORTEST},}}")
ABBREVIATION = re.compile(r"(?m)^[^:\n]*: ")
STOCK = str.split(
    "abbreviations.txt common.txt correct.txt topics.txt broader.csv classes.csv drugs.csv "
    "forms.csv names.csv plain.csv plurals.csv signs.csv spelling.csv uses.csv"
)


def slips(length: int) -> int:
    """How many slips a word of that many letters may hold: a letter too many, too few, wrong,
    or two letters in each other's place.

    >>> [slips(length) for length in (3, 4, 6, 12)]
    [0, 1, 2, 3]
    """
    if length < SHORTEST:
        return 0
    return 1 if length < 6 else 2 if length < 11 else 3


def nearest_words(
    word: str, known: Iterable[str], live: Callable[[str], object] = bool, limit: int = 3
) -> tuple[str, ...]:
    """The known words nearest to `word`, best first; none if nothing is near.

    British and American spellings count as equal, and a letter doubled or not as half a slip.

    Args:
        word: One word that finds nothing.
        known: Words in small letters; their order does not matter.
        live: Whether a word is one still; asked of the near ones only.
        limit: How many to name.

    Source: damerau1964, the four slips; the distance is rapidfuzz's optimal string alignment.
    """
    from rapidfuzz.distance import OSA
    from rapidfuzz.process import extract

    typed = plain(word).casefold()
    wanted = american(typed)
    allowed = slips(len(wanted))
    if not allowed:
        return ()
    spelt: dict[str, list[str]] = {}
    for candidate in known:
        if abs(len(candidate) - len(wanted)) <= allowed + 1:
            spelt.setdefault(american(candidate), []).append(candidate)
    found = extract(wanted, list(spelt), scorer=OSA.distance, score_cutoff=allowed, limit=None)
    single = DOUBLED.sub(r"\1", wanted)
    ranked = []
    for near, slip_count, _ in found:
        spelt[near] = list(filter(live, spelt[near]))
        if not spelt[near] or _opposite(wanted, near):
            continue
        doubled = DOUBLED.sub(r"\1", near) == single
        distance = slip_count / 2 if doubled else float(slip_count)
        lead = 0
        while lead < min(len(near), len(wanted)) and near[lead] == wanted[lead]:
            lead += 1
        ranked.append((distance, -lead, near))
    best: dict[str, None] = {}
    least = min((distance for distance, _, _ in ranked), default=0)
    for distance, _, near in sorted(ranked):
        if distance <= least + 1:
            best[min(spelt[near], key=lambda known: (OSA.distance(typed, known), known))] = None
    return tuple(best)[:limit]


def meant(word: str, known: Iterable[str], live: Callable[[str], object] = bool) -> str:
    """The known word that a word nobody wrote is a slip for; empty when that is not sure.

    It has the same first letter and lies one slip away, or two from eight letters on. A word in
    capitals is an abbreviation (so is its plural: `SSRIs`), and a word spelt right is no slip: see
    `stock_words`.

    Args:
        word: One word that finds nothing.
        known: Words of the notes in small letters.
        live: As in `nearest_words`.

    >>> meant("hyponatremai", ["hyponatraemia", "hypernatraemia"]), meant("SARD", ["sarcoid"])
    ('hyponatraemia', '')
    """
    lower = plain(word).casefold()
    if not sure(word):
        return ""
    if lower.endswith("s") and (near := meant(lower[:-1], known := frozenset(known), live)):
        return near
    from rapidfuzz.distance import OSA

    allowed = 1 if len(lower) < LONG_LETTERS else 2
    close = nearest_words(word, (one for one in known if one[:1] == lower[0]), live)
    slipped = (OSA.distance(american(lower), american(near)) for near in close)
    return next((near for near, n in zip(close, slipped, strict=True) if n <= allowed), "")


def sure(word: str) -> bool:
    """Whether a word is long enough to be searched as another, and no abbreviation.

    >>> sure("hyponatremai"), sure("SSRIs"), sure("gout")
    (True, False, False)
    """
    lower = plain(word)
    return len(lower) >= SURE_LETTERS and lower.isalpha() and not one_of(word).isupper()


def _opposite(one: str, other: str) -> bool:
    """Whether two words begin with each other's opposite: hyper- and hypo-."""
    return any(
        one.startswith(mine) and other.startswith(yours)
        for pair in OPPOSITES
        for mine, yours in (pair, pair[::-1])
    )


@cache
def stock_words() -> frozenset[str]:
    """Words in small letters that come with missbook: of meanings, names, spellings and drugs."""
    text = "\n".join(map(text_of, STOCK))
    return frozenset(WORD.findall(ABBREVIATION.sub("", text).casefold()))


@cache
def _common() -> frozenset[str]:
    return frozenset(word for line in lines("common") for word in line.split())


def is_common(word: str) -> bool:
    """Whether a word is an everyday one, or one that any medical question may hold.

    >>> is_common("Causes"), is_common("causes"), is_common("Whipple")
    (True, True, False)
    """
    lower = word.casefold()
    return lower in _common() or lower.removesuffix("s") in _common()


def spelt_right(word: str) -> bool:
    """Whether a word, in either spelling, singular or plural, is among `stock_words`."""
    lower, stock_of = plain(word).casefold(), stock_words()
    if lower in stock_of or any(other in stock_of for other in other_forms(lower)):
        return True
    wanted = key(lower)
    return any(
        key(one) == wanted
        for one in stock_of
        if abs(len(one) - len(lower)) <= ENDING_LETTERS
        and one[0] == lower[0]
        and start_of(one) == start_of(lower)
    )
