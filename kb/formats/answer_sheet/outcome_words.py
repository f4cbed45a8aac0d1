"""The words and signs for an outcome, and what in a remark casts doubt on one.

The words are in `language/data/outcomes.csv`. `use` is `mark` where a remark may follow, `alone`
where the word could also begin a remark, and `cell` where only tables have it; `speaks` marks words
that mean a wrong or missing answer wherever they are.
"""

import re
from functools import cache
from typing import Literal, NamedTuple

from kb.language.data import rows

Said = Literal["right", "wrong", "blank", "ask"]
SAID: dict[str, Said] = {"right": "right", "wrong": "wrong", "blank": "blank", "ask": "ask"}

LONGEST_PHRASE = 6
SHORTEST_SLIP = 5
"""Least letters of a word for which slips are considered: a shorter one is near too many."""
CHOICE = re.compile(
    r"(?:i )?(?:chose|choose|picked|put|said|answered|gave|selected|marked|ticked|went (?:for|with)"
    r"|had|my answer(?: was)?|mine(?: was)?|chosen)[\s:=]*(?P<chosen>[a-j])\b[\s,;.:-]*"
    r"(?:(?:but|and|though|while) )?(?:(?:the |it |its )?(?:correct |right )?"
    r"(?:key|answer|ans|one|option)?(?: was| is|s)?|it was|its|was|is"
    r"|should (?:be|have been)|not|instead of|correct)[\s:=]*"
    r"(?P<key>[a-j])\b",
    re.I,
)
"""`chose C, key B`."""
OPTIONS = re.compile(
    r"(?<!\w)[a-j]\s?(?:<|=>|=|/|\bnot\b|\bv\b|\bvs\b|\bor\b|\binstead of\b|\bshould be\b|\bwas\b)"
    r"\s?[a-j](?!\w)"
    r"|^(?:[a-e]{2}|[A-J]{2}$)(?![\w'])"
    r"|\b(?:chose|choose|chosen|picked|went for|went with|selected)\b"
    r"|\b(?:said|put|answered|marked|key|answer|ans|correct|right|option"
    r"|should (?:be|have been)|was|is)\b[\s:=]*(?:was |is |option |answer |one )*[A-J](?![\w'-])"
    r"|(?<![\w'])[A-J] (?:was|is) (?:the )?(?:right|correct|key|answer)\b"
    r"|^[a-j] ?[(\[] ?[a-j] ?[)\]]"
    r"|\bshould(?:'ve| have)? (?:been|chosen|picked|put|said)\b"
    r"|^[a-j]\s?(?:~>|\.{2,}|to|v|then|,)\s?[a-j]$"
    r"|\b(?:mine|theirs|me|went)\b[\s:=]*(?-i:[A-J])(?![\w'])|^(?-i:[A-J]) (?:correct|right|key)\b",
    re.I,
)
"""Options named without the arrow."""
NEGATED = re.compile(
    r"\b(?:not|never|no|none|hardly|\w+n'?t)\b(?: \w+){0,2} "
    r"(?:right|correct|correctly|ok|okay|know|sure|recall|remember|get (?:it|this|that))\b",
    re.I,
)
ALONE = ("left", "non", "mal", "fel", "blown", "half mark", "1/2", "0.5", "\u00bd")
"""They may mean an outcome where nothing follows them."""
FOREIGN = re.compile(r"[^\W\d_A-Za-z\u00c0-\u03ff]+(?![A-Za-z])")
"""A word in letters that are neither Latin nor Greek."""
SIGN = re.compile(r"[^\w\s\"'(\[{.,;:/<>-]|[0-9]{1,3}%")
"""A sign at the front that is no code, such as an emoji."""


class Word(NamedTuple):
    """What a word or phrase means, and how it may be used."""

    said: Said
    use: str
    speaks: bool


@cache
def table() -> dict[str, Word]:
    """Every word and phrase, in lower case and without apostrophes."""
    return {
        words: Word(SAID[outcome], use, bool(speaks))
        for words, outcome, use, speaks in rows("outcomes")
    }


def plain(text: str) -> str:
    """A word or phrase as the table spells it."""
    text = re.sub(r"['\u2018\u2019`]", "", text.casefold())
    bare = " ".join(re.sub(r"(?<=\w)-(?=\w)|_", " ", text).split()).strip(
        '"\u201c\u201d()[]{}*~.,;:! '
    )
    return bare or text.strip(",.;:! ")


def leading(text: str) -> tuple[Word, int] | None:
    """The longest phrase of the table at the front of a text, and where it ends."""
    ends = [match.end() for match in re.finditer(r"\S+", text)][:LONGEST_PHRASE]
    for end in reversed(ends):
        word = table().get(plain(text[:end]))
        if word is not None:
            return word, end
    return None


def of_cell(text: str) -> Said | None:
    """The outcome that a table's cell names; None if it names none or is ambiguous."""
    word = table().get(plain(text))
    return None if word is None or word.said == "ask" else word.said


def doubt(remark: str, *, signs: bool) -> str:
    """What in a remark on an answer without an outcome may mean it was wrong; empty if nothing.

    An unknown sign at its front counts only if `signs`.
    """
    first = leading(remark)
    whole = first is not None and first[1] == len(remark)
    if first is not None and (first[0].said != "right" or (whole and first[0].use == "cell")):
        return f"'{remark[: first[1]]}'"
    if signs and SIGN.match(remark):
        return f"'{remark.partition(' ')[0]}'"
    if plain(remark) in ALONE:
        return f"'{remark}'"
    for pattern in (OPTIONS, NEGATED, FOREIGN):
        if match := pattern.search(remark):
            return f"'{match[0].strip()}'"
    words = [plain(word) for word in re.findall(r"[\w'\u2019-]+", remark)]
    for number, word in enumerate(words):
        known = table().get(word)
        last = number == len(words) - 1 and known is not None and known.said in ("wrong", "blank")
        if last or (known is not None and known.speaks) or word.startswith("wrong"):
            return f"'{word}'"
        if slip := _slip(word, first=number == 0):
            return f"'{word}', perhaps '{slip}'"
    return ""


def _slip(word: str, *, first: bool) -> str:
    """The word of the table from which `word` differs by one letter or one swap; empty if none.

    After the first word, only words that mean a wrong or missing answer count.
    """
    if not word or word in table():
        return ""
    from rapidfuzz.distance import OSA

    for known, entry in table().items():
        wanted = first or (entry.speaks and entry.said in ("wrong", "blank"))
        alike = known[0] == word[0] or known[:2] == word[1::-1] or known[1:3] == word[:2]
        if wanted and alike and len(known) >= SHORTEST_SLIP and OSA.distance(word, known) == 1:
            return known
    return ""
