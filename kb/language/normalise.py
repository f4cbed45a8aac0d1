"""Medical English for search: text -> words -> keys under which they are looked up.

Two words with one key find each other: British and American spelling, singular and plural, old
and recommended drug names. A key is never shown and nothing in a note is rewritten.
"""

from __future__ import annotations

import re
from functools import cache

from kb.language.data import lines, rows

WORD = re.compile(r"[0-9]+\.[0-9]+|[a-zA-Z0-9]+(?:'[a-zA-Z]+)?|=a")
"""A decimal is one word; so is a name with its apostrophe."""
AS_WRITTEN = re.compile(r"[0-9]+\.[0-9]+|[^\W_]+(?:['\u2019][^\W\d_]+)?")
CHARGE = re.compile(r"\b(Ba|Ca|Co|Cu|Fe|Hg|Mg|Mn|Ni|Pb|Sr|Zn)[23]\+")
"""Metals with more than one charge; a single + is no word anyway."""
GREEK = {letter: f" {name} " for letters, name in rows("greek") for letter in letters}
LETTERED = (
    r"\b(hepatitis|vitamins?|influenza|ha?emophilia|groups?|types?|immunoglobulins?|factors?|"
    r"vitamin|class|streptococcus|streptococci|botulinum toxin|toxin|protein|lipoprotein|chain|"
    r"child-pugh|child|wave|waves|cannon) (?:(?-i:A)\b|a\b(?! [a-z]))"
)
"""Where a lone letter a is a name, not an article; prepared when one is met."""

LONE_A = re.compile(r"[a-z] A\b| [aA]\b(?! [a-zA-Z])")
"""What `LETTERED` needs at its end: most texts have none, which is quickly seen."""

CAPITALS = frozenset(
    "ALL AS IT OR US WHO AN IS AM ON DO SO IF BE HE ME NO TO WAS".split()  # noqa: SIM905
)
"""Stop words that mean something else when written in capitals (ALL, AS, MEN are diseases)."""

ALVEOLAR = frozenset(("PACO2", "PAO2"))
"""In capitals the alveolar pressures; PaCO2 and PaO2, the arterial ones, differ in case alone."""

STOP = frozenset(word for line in lines("stop") for word in line.split())

AE_KEPT = re.compile(r"aero|^aeri|^aesthet|^taenia|^haemophilus|ae$|^israel|^michael|^raphael")
OE_FOLDED = re.compile(
    r"^oe|(?<=rrh)oe|(?<=rh)oe(?=a)|(?<=pn)oe|(?<=am)oe(?=b)|(?<=f)oe(?=t)|(?<=hom)oe(?=o)|"
    r"(?<=c)oe(?=lia|lom)|oe(?=dem|soph|stroge|stradi|strio|strus|strous)"
)
OUR = re.compile(
    r"^(tum|col|discol|hum|behavi|lab|fav|od|rum|vap|flav|hon|harb|neighb|rig|vig|endeav|arm)our"
)
ISE = re.compile(r"(?<=[a-z]{3})is(e|ed|es|ing|er|ers|ation|ations|able)$")
ISE_KEPT = (
    r"^(?:exerc|prec|conc|adv|rev|superv|surpr|compr|comprom|enterpr|exc|inc|circumc|improv|telev|"
    r"disgu|prom|prem|franch|expert|treat|parad|merchand|dem|desp|dev|ar|an|mort|misadv|"
    r"otherw|likew|clockw|anticlockw|stepw|pairw|.*w|.*ra|.*oo|.*no|.*po|.*rui|.*bru|.*cru|.*lia|"
    r".*toxico|.*pra|.*mala|.*ra|.*ppra|.*poi|.*noi|.*rt|.*vo|.*dv)is"
)
YSE = re.compile(r"(?<=l)ys(e|ed|ing|er|ers)$")
METRE = re.compile(r"(met|lit|tit|fib|cent|goit|calib|theat)re(s?)$")

SINGULAR = (
    (re.compile(r"(?<=..[a-z])ae$"), "a"),
    (re.compile(r"(?<=[a-z]{2}[nrhlmtc])oses$"), "osis"),
    (re.compile(r"(?<=[hrtnu])eses$"), "esis"),
    (re.compile(r"(?<=[lh])yses$"), "ysis"),
)
ENDINGS = (
    ("omata", "oma"),
    ("cocci", "coccus"),
    ("bacilli", "bacillus"),
    ("itides", "itis"),
    ("stases", "stasis"),
    ("ptyses", "ptysis"),
)


def words(text: str) -> list[str]:
    """The words of a text in order, letters as written but without accents.

    Greek letters become their names, and hyphens part words, so that `β blocker` and
    `beta-blocker` are the same two words. A charge is dropped, and a decimal stays whole.

    >>> words("β-blocker, vitamin A; Ca2+ 2.8 and Ménière's")
    ['beta', 'blocker', 'vitamin', '=a', 'Ca', '2.8', 'and', "Meniere's"]
    """
    if not text.isascii():
        text = plain(text)
    if "+" in text:
        text = CHARGE.sub(r"\1", text)
    if LONE_A.search(text):
        text = re.sub(LETTERED, r"\1 =a", text, flags=re.IGNORECASE)
    return WORD.findall(text)


def plain(text: str) -> str:
    """`text` in ASCII letters as far as it can be: accents off, Greek letters by name."""
    import unicodedata

    text = unicodedata.normalize("NFKC", text).replace("\u2019", "'")
    if any(letter in GREEK for letter in text):
        text = "".join(GREEK.get(letter, letter) for letter in text)
    text = text.replace("ß", "ss").replace("æ", "ae").replace("Æ", "Ae")
    text = text.replace("œ", "oe").replace("Œ", "Oe").replace("ø", "o").replace("Ø", "O")
    text = text.replace("ł", "l").replace("đ", "d").replace("ı", "i")
    parted = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in parted if not unicodedata.combining(letter))


def american(word: str) -> str:
    """A lower-case word in American spelling, or as it is where the rules must not touch it.

    For comparing only. Source: own, because published converters break medical words; checked
    against word lists and a list of words that must stay.

    >>> american("hyperkalaemia"), american("oedema"), american("aerobic"), american("larvae")
    ('hyperkalemia', 'edema', 'aerobic', 'larvae')
    """
    known = spellings().get(word)
    if known is not None:
        return known
    if len(word) < 5 or not word.isalpha():
        return word
    if "ae" in word and not AE_KEPT.search(word):
        word = word.replace("ae", "e")
    if "oe" in word and word != "entamoeba":
        word = OE_FOLDED.sub("e", word)
    if "our" in word:
        word = OUR.sub(r"\1or", word)
    if "is" in word:
        changed = ISE.sub(r"iz\1", word)
        if changed != word and not re.match(ISE_KEPT, word):  # prepared when it is needed
            word = changed
    if "lys" in word:
        word = YSE.sub(r"yz\1", word)
    if "re" in word:
        word = METRE.sub(r"\1er\2", word)
    if "sulph" in word:
        word = word.replace("sulph", "sulf")
    if word.startswith(("leucoc", "leucop", "leucod")):
        word = "leuko" + word[5:]
    return word


def one_of(word: str) -> str:
    """An abbreviation in capitals without the small s of its plural; any other word as it is.

    >>> one_of("TFTs"), one_of("SLE"), one_of("As"), one_of("doses")
    ('TFT', 'SLE', 'As', 'doses')
    """
    return word[:-1] if len(word) > 2 and word[-1] == "s" and word[:-1].isupper() else word


def singular(word: str) -> str:
    """A lower-case word in the singular where its plural is Latin, Greek or irregular.

    Regular plurals are left to the stemmer.

    >>> singular("vertebrae"), singular("diagnoses"), singular("bacteria"), singular("doses")
    ('vertebra', 'diagnosis', 'bacterium', 'doses')
    """
    known = plurals().get(word)
    if known is not None:
        return known
    if len(word) < 6 or word[-1] not in "eias":
        return word
    for many, one in ENDINGS:
        if word.endswith(many):
            return word[: -len(many)] + one
    for pattern, ending in SINGULAR:
        changed = pattern.sub(ending, word)
        if changed != word:
            return changed
    return word


@cache
def spellings() -> dict[str, str]:
    """British -> American spelling of listed words."""
    return dict(rows("spelling"))  # type: ignore[arg-type]


@cache
def plurals() -> dict[str, str]:
    """Irregular plural -> singular."""
    return dict(rows("plurals"))  # type: ignore[arg-type]


@cache
def drug_names() -> dict[str, str]:
    """Other drug name -> recommended name, where both are single words."""
    return {row[0]: row[1] for row in rows("drugs") if " " not in row[0] + row[1]}


_STEMMERS: list[object] = []


def _stem(word: str) -> str:
    if not _STEMMERS:
        import Stemmer

        _STEMMERS.append(Stemmer.Stemmer("english"))
    return str(_STEMMERS[0].stemWord(word))  # type: ignore[attr-defined]


ENDS_OF_FORMS = rows("endings")
"""Endings of an adjective or verb and of its noun, in American spelling: anaemic and anaemia name
one thing. The first that fits counts."""
ENDS = tuple(ending for ending, _ in ENDS_OF_FORMS)
FORM_LETTERS = 6
"""Shorter words have no ending to change."""


def noun(word: str) -> str:
    """The noun of an adjective or verb in small letters and American spelling, or the word itself.

    >>> noun("anemic"), noun("hemolyzed"), noun("asthmatic"), noun("antibiotic")
    ('anemia', 'hemolysis', 'asthma', 'antibiotic')
    """
    single = word[:-1] if word.endswith("ics") else word
    listed = forms().get(single)
    if listed is not None:
        return listed
    if len(single) < FORM_LETTERS or single.endswith(("biotic", "antipsychotic")):
        return single
    if single.endswith(ENDS):
        ending, other = next(row for row in ENDS_OF_FORMS if single.endswith(row[0]))
        return single[: -len(ending)] + other
    return single


@cache
def forms() -> dict[str, str]:
    """Listed adjectives -> their nouns, in American spelling."""
    return dict(rows("forms"))  # type: ignore[arg-type]


@cache
def key(word: str) -> str:
    """The key of one word as `words` gives it; empty for a stop word.

    >>> key("oedema") == key("edema"), key("frusemide") == key("furosemide"), key("the")
    (True, True, '')
    """
    if word == "=a":
        return word
    if word in ALVEOLAR:
        return f"={word}"
    lower = one_of(word).lower()
    if lower.endswith("'s"):
        lower = lower[:-2]
    lower = lower.replace("'", "")
    if lower in STOP:
        return f"={lower}" if word in CAPITALS else ""
    if lower[:1].isdigit() and lower.replace(".", "").isdigit():
        return lower
    drugs = drug_names()
    lower = drugs.get(lower, lower)
    lower = american(singular(lower))
    lower = american(drugs.get(lower, lower))
    lower = noun(lower)
    return lower if lower.endswith("itis") else _stem(lower)  # or hepatitis would be hepatic


def spans(text: str) -> list[tuple[int, int, str]]:
    """Where each word of a text begins and ends, and its key; stop words left out.

    Places are those in `text` as it is, accents, Greek letters and all.

    >>> spans("a β-blocker")
    [(2, 3, 'beta'), (4, 11, 'blocker')]
    """
    found = []
    for match in AS_WRITTEN.finditer(text):
        piece = match.group()
        for word in [piece] if piece.isascii() else WORD.findall(plain(piece)):
            if name := key(word):
                found.append((match.start(), match.end(), name))
                break
    return found


def other_forms(word: str) -> tuple[str, ...]:
    """Other spellings and names of a lower-case word that the tables list, in order.

    >>> other_forms("frusemide"), other_forms("edema")
    (('furosemide',), ('oedema',))
    """
    return _others().get(word, ())


@cache
def _others() -> dict[str, tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {}
    for one, other in (*spellings().items(), *drug_names().items()):
        found.setdefault(one, {})[other] = None
        found.setdefault(other, {})[one] = None
    return {word: tuple(sorted(others)) for word, others in found.items()}


def keys(text: str) -> tuple[str, ...]:
    """Keys of the words of a text, in order, stop words left out."""
    return tuple(found for word in words(text) if (found := key(word)))
