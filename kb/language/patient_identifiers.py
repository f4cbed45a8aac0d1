"""What looks as if it could identify a patient, and must not stand in a note or the log.

A caution, never an error: one random number of ten digits in twenty looks like one.
"""

import re
import unicodedata
from bisect import bisect
from collections.abc import Callable, Iterator
from datetime import date
from functools import cache
from importlib import import_module

from kb.language.data import rows, text_of

DASHES = re.compile("[\u2010-\u2015\u2212\u00ad\ufe58\ufe63\uff0d]")
DOTS = re.compile("[\u00b7\u2022\u2024\u2219\u22c5]")
CITED = re.compile(
    r"https?://\S+|\b(?=[1inop])(?:10\.\d{4,9}/\S+"
    r"|(?:isbn|issn|pmid|pmcid|pmc|nct|isrctn|orcid)(?:-1[03])?\W{0,3}[\dXx][\dXx -]*)",
    re.I,
)
"""Numbers of books, papers and trials."""
DIGIT = re.compile(r"\d")
LONG_NUMBER = re.compile(r"\d(?:\W{0,4}\d){3}")
NATIONAL = re.compile(r"\d(?:(?:\W{0,4}\d){5}|[A-Z]{1,2}\d|(?<=[A-Z]{3}\d)\d)")
"""Both begin with a digit, from which a search starts; elsewhere it would try every place."""
DIGIT_WORD = "(?:zero|oh|nought|one|two|three|four|five|six|seven|eight|nine)"
WORDS = re.compile(
    r"\b(?=[abcdefghlmnprst])"
    r"(?:born\b|b\b|d[ /]?\.?[ /]?o[ /]?\.?[ /]?b|birth|(?:four|five|six|seven|eight|nine)[ ,.-]+"
    r"(?:zero|oh|nought|one|two|three|four|five)[ ,.-]|(?:mr|mrs|ms|miss|mister|mx|master|mme|herr"
    r"|frau|senora?|pt|patient|name|named|called|baby of|next of kin|(?:post ?|eir)code"
    r"|dot (?:com?|net|org|ie|uk)|ave(?:nue)?|crescent|gardens|grove|lane|mews|road|rd|street"
    r"|terrace|address|lives|beds?|bay|ward|room|cubicle|sr)\b)"
    r"|@|[(\[{] ?at ?[)\]}]|(?:sur|fore)name\b|\bnok\b|\binitials|\bw\d"
    r"|\b[a-z]\d[\dw] ?[a-z\d]{4}\b|\d(?:[a-z]? ?\d[a-z]{2}\b| ?/?[mf]\b|[ -]?y\.?(?:/?o\b"
    r"|(?:ea)?rs?[ -]old)|d\.?o\.?b|[a-z]?,? (?:[a-z'’]+ ){1,2}(?:close|cl|court|drive|hill|place"
    r"|st|way)\b)|\baged \d"
)
"""What a text holds at least, in lower case, in which anything below can be found. Here and in
`CITED` the first letter is looked at before the words are tried, which is faster."""

_ORDINAL = (
    r"(?:twenty|thirty)?[ -]?(?:first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth"
    r"|eleventh|twelfth|thirteenth|fourteenth|fifteenth|sixteenth|seventeenth|eighteenth"
    r"|nineteenth|twentieth|thirtieth)"
)
_MONTH = (
    r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?"
    r"|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)\.?"
)
_YEAR = r"(?:'?\d{2}(?!\d)|\d{4}|(?:nineteen|two thousand|twenty)[ -]?[a-z]*(?:[ -][a-z]+)?)"
_DAY_NUMBER = rf"(?:\d{{1,2}}(?: ?(?:st|nd|rd|th))?|{_ORDINAL})"
_DAY = (
    r"(?:\d{4} ?[./-] ?\d{1,2} ?[./-] ?\d{1,2}(?!\d)"
    r"|\d{1,2} ?[./\\,|-] ?(?:\d{1,2}|[ivxIVX]{1,4}) ?[./\\,|-] ?'?(?:\d{4}|\d{2})(?!\d)"
    r"|\d{1,2} \d{1,2} (?:\d{4}|\d{2})(?!\d)|(?:\d{8}|\d{6})(?!\d)"
    rf"|{_DAY_NUMBER}[ ./-]*(?:day )?(?:of )?{_MONTH}[ ,./-]*(?:(?:of|in) )?(?:the year )?{_YEAR}"
    rf"|{_DAY_NUMBER} (?:of (?:the )?)?{_DAY_NUMBER}(?:,? \d{{4}}|,? '\d\d)"
    rf"|{_MONTH}[ ./-]*(?:the )?{_DAY_NUMBER}[ ,./-]*{_YEAR})"
)
_BORN = (
    r"(?:\bd[ /]?\.?[ /]?o[ /]?\.?[ /]?b(?![a-z])\.?|\bdate[ -]of[ -]birth|\bbirth[ -]?(?:date|day)"
    r"|\bborn|\bbirth(?= ?[:-])|\bdate born|\bb\.|\bb(?= ?\d{1,2}[ ./-]))"
)
BIRTH = (
    rf"(?i){_BORN}(?: ?\([a-z/ -]{{0,12}}\))?[ :=|;,*(\"'-]{{0,6}}(?:is |was |on |(?:in|at) \w+ )*"
    rf"(?:the )?{_DAY}"
    rf"|(?<![\d./-])\d{{1,4}}[ ./-]{{1,2}}(?:\d{{1,2}}|{_MONTH})[ ./-]{{1,2}}\d{{2,4}}[ ,(]{{0,2}}"
    r"(?:d\.?o\.?b\b|date of birth)"
)
_CAP = r"(?:Ma?c)?[A-Z][A-Za-z'’-]{1,30}"
_PAST = r"(?:19\d\d|200\d)"
NAMED_DAY = (
    rf"(?<![\w.])(?:[A-Z]{{2,3}}|(?:[A-Z]\. ?){{2,3}}|[A-Z](?:[A-Za-z'’-]{{1,30}},?|\.)? {_CAP})"
    rf"[ ,(-]{{1,3}}(?:\d{{1,2}}[./-]\d{{1,2}}[./-](?:{_PAST}|[3-9]\d)"
    rf"|\d{{1,2}}(?:st|nd|rd|th)? (?i:{_MONTH}) {_PAST})(?!\d)"
    r"|(?<![\w./-])\d{1,2}[./-]\d{1,2}[./-]19\d\d(?![\w./-]*\d)"
)
"""A day too long ago for an exam: beside initials or a name, or in the last century."""
_NUMBER_WORD = r"(?:no|nr|num|number|numb|nos|id|ident(?:ifier)?|ref(?:erence)?|code|#)(?![a-z])\.?"
_GAP = r"[ .:=#|;*\"'()-]{0,6}(?:is |was )?"
_LETTERED = r"(?=[A-Z]{0,4}[ /-]?\d)(?:\d\d)?[A-Z]{0,4}[ /-]?(?:\d[ ./-]?){3,17}\d[A-Z]{0,2}\b"
_PLACE = (
    r"(?:hosp(?:ital)?|patients?|pa?ts?|unit|[a-z](?= ?-? ?numb)|ni|case[ -]?(?:notes?|sheet)?"
    r"|(?:health|medical|clinical) ?(?:record|card|care)|rec(?:ord)?s?|charts?|notes?|lab|clinic|gp"
    r"|n\.?h\.?s|h ?& ?c|hcn|h and c|health (?:and|&) (?:social )?care|chi|ihi|nhi|pps|iom|gms"
    r"|m[./]?r[./]?n|ur|pas|insurance|trust|ward|file|folder|reg|a ?& ?e)"
)
_OTHERS = (
    r"(?<!question )(?<!item )(?<!\bbank )(?<!\bpage )(?<!issue )(?<!volume )(?<!version )"
    r"(?<!grant )(?<!award )(?<!contract )(?<!project )(?<!study )(?<!trial )(?<!protocol )"
    r"(?<!registration )(?<!registry )(?<!patent )(?<!product )(?<!\blot )(?<!batch )(?<!model )"
    r"(?<!catalogue )(?<!serial )(?<!part )(?<!order )(?<!sequence )(?<!\bgene )(?<!strain )"
    r"(?<!\bthe )(?<!\ba )(?<!total )"
)
"""Words before a number that is no patient's; after any other, six digits on end are."""
NUMBERED = (
    rf"(?i)(?<![a-z]){_PLACE}(?:['’]s)?\.?[ .-]{{0,2}}(?:{_NUMBER_WORD}|#)\W{{0,6}}(?:is |was )?"
    rf"{_LETTERED}"
    rf"|(?<=[a-z.][ .-])(?=[inr]){_OTHERS}(?:no|nr|num|number|id|ref)(?![a-z])\.?[ :=#-]{{0,3}}"
    r"(?:is )?(?:\d\d)?[A-Z]{0,3}-?\d{6,}\b"
)
ABBREVIATED = (
    r"(?i)(?<![a-z])(?:nhs|m[. /]?r[. /]?n|chi|ihi|nhi|ppsn?|hcn|hsc|h ?(?:[&+]|and) ?c|[chu]/n"
    r"|hn\b|urn?|crn|ssn|pid|gms|mcn|pas|epr|fin|csn|ubrn|ohip|phn|ramq|social security|passport"
    r"|(?:medical|health|medicare) card|medicare)(?![a-mo-z])\.?"
    rf"{_GAP}(?=[A-Z]{{0,4}}[ /-]?(?:\d[ ./-]?){{5}}){_LETTERED}"
    r"|(?<![a-z])(?:hosp(?:ital)?|episode|encounter|a(?:dmi|cce)ssion|case[ -]?notes?|patient|pt)"
    r"\.?[ :=#]{1,3}[A-Z]{0,2}\d{6,}|nhi\W{1,3}[a-z]{3} ?\d[\da-z]{3}\b"
    r"|\b\d[\d -]{4,20}\d[ ,(-]{1,3}(?:mrn|chi|ppsn|(?:nhs|hosp(?:ital)?) (?:no|number))\b"
    r"|(?<![\w:.-])(?-i:[ABE-Z]-?\d{7}|[A-Z]{2,5}9{0,3}\d{6}[A-Z9]{2}\d[A-Z]{2})(?!\w)"
)
"""Short forms after which a number of five digits or more is a patient's without further words. At
the end, a letter with seven digits, as many hospitals give them, but for C and D, which thesauri
use; and the number of a British driving licence.
"""
INITIALS = (
    r"(?<![\w.])(?:(?:[A-Z]\.[ ]?){2,3}|[A-Z]{2,3}|[A-Z] [A-Z]) ?[(\[] ?(?:[A-Za-z.#: ]{0,14})"
    r"[A-Z]{0,3}\d(?:[ -]?\d){4,}[A-Z]? ?[)\]]"
    r"|(?<![\w.])(?:[A-Z]\. ?){2,3},? \d{6,}(?!\w)"
    r"|(?<![\w.])(?!(?:DNA|RNA|SCT|MIM|N[MPR]|US|EP|WO)\b)[A-Z]{2,3}(?:[ :,/#-]{1,3})\d{5,6}"
    r"(?!00)\d\d(?![\w.]| (?:cop|cell|unit|IU))"
)
_AGE = r"\(?(?:aged? )?\d{1,3} ?/?(?:[MF]\b|(?<!99)[mf]\b|y\.?/?o\b|-?years?[ -]old\b|yrs? old\b)"
_BED = r"\b(?:[Ww]ard|[Bb]ed|[Bb]ay|[Rr]oom|[Cc]ubicle|SR|W)[ -]?\d{1,2}[A-Za-z]?\b"
_TITLE = r"(?:Mr|Mrs|Ms|Miss|Mister|Mx|Master|MRS|MISS|Mme|Herr|Frau|Senora?)\.? {1,3}"
_NOBODY = (
    r"(?<!Factor )(?!(?:[A-Z]\w* )?(?:A|Adults|Afro|African|All|Arm|Asian|Black|British|Caribbean"
    r"|Case|Category|Child|Children|Class|Cohort|Factor|Females|For|Grade|Group|Hepatitis|In"
    r"|Influenza|Killip|Males|Men|Patients|Protein|Score|Stage|Study|Type|Vitamin|White|Women)\b)"
)
BEDSIDE = (
    rf"{_BED}[ ,:(-]{{1,3}}(?:(?:[A-Z]\.? ?){{2,3}},? |{_CAP} )?{_AGE}|{_AGE}[^.\n]{{0,12}}?{_BED}"
    rf"|{_BED}[ ,:(-]{{1,3}}(?:[A-Z]\.){{2,3}}|(?<![\w.])(?:[A-Z]\.){{2,3}}[^.\n]{{0,12}}?{_BED}"
    rf"|(?<!\w){_TITLE}[A-Z]\b[^\n]{{0,12}}?(?:{_BED}|{_AGE}|, \d\d\b(?! [a-z%]))"
    rf"|{_BED}[ ,:(-]{{1,3}}{_TITLE}[A-Z]\b"
)
"""Age, sex and place of one patient, or a place with a title or dotted initials."""
_PATIENT = r"(?:[Pp]atient(?:['’]s)?|[Pp]t\.?|PATIENT)"
NAME = (
    rf"(?<![\w.]){_TITLE}(?:[A-Z]\.? ){{0,3}}"
    r"(?:(?:van|von|de[rnl]?|da|di|du|la|le|bin|al|el|ter) ?){0,3}(?!Wrong|Right|The\b)"
    r"(?:Ma?c)?[A-Z](?:[a-z]+|['’][A-Z][a-z]+|[A-Z]{2,}|\.[A-Z]\.)"
    rf"|\b{_PATIENT}(?: name|,)?(?: is| was)? ?(?:(?:named|called)|[:-] )"
    rf" ?(?:{_CAP},? [A-Z]|[A-Z]\. ?{_CAP})"
    rf"|\b(?:{_PATIENT}|[Ff]ull|[Ss]ur|[Ff]ore|[Ff]irst|[Ll]ast|[Hh]er|[Hh]is)[ -]?name"
    rf"(?: ?[:=]| is| was) ?{_CAP}|(?:{_PATIENT} name|by the name of) {_CAP}"
    rf"|(?<![\w-])[Nn]ame ?[:=-] ?{_CAP},? [A-Z]"
    rf"|\b(?:[Ss]ur|[Ff]ore|[Gg]iven |[Ff]amily )name:? {_CAP}"
    r"|\b(?:NOK|[Nn]ext of kin|[Bb]aby of)[ :,-]{1,3}(?:[a-z]+ )?[A-Z][a-z]+ [A-Z][a-z]+"
    r"|\bNOK[ :,-]{1,3}(?:wife|husband|son|daughter|partner|mother|father) [A-Z][a-z]+"
    rf"|\b(?:[Pp]t\.?|patient) [A-Z][a-z]+ {_CAP}|\b{_PATIENT} (?:[A-Z]\.?){{2,3}},? {_AGE}"
    rf"|\b(?:{_PATIENT}|lady|gentleman|man|woman|boy|girl|child)"
    r" (?:who is |is )?(?:named|called) [A-Z][a-z]+"
    rf"|(?<![\w-]){_NOBODY}(?:[A-Z]\.? {_CAP}|{_CAP},? [A-Z](?:\.|[A-Za-z'’-]{{1,30}})?),? {_AGE}"
    rf"|(?<![\w-]){_NOBODY}{_CAP},? {_CAP},? aged \d\d\b"
    rf"|\b(?:MR|Dr|Prof|Rev|Sir|Lady|Father|Sister)\.? {_CAP}(?: {_CAP})?,? {_AGE}"
    r"|\b[Ii]nitials:? (?:[A-Z]\.? ?){2,3}(?![\w.])"
)
EMAIL = (
    r"(?<![\w.+-])[\w.+-]{1,64} ?(?:@|[(\[{] ?at ?[)\]}]) ?[\w-]{1,63}"
    r"(?:\.| ?[(\[{] ?dot ?[)\]}] ?)\w|\b(?i:at [\w-]{1,63} dot (?:com?|net|org|ie|uk))\b"
    r"|\w\.\w+ at [\w-]{1,63}\.(?:com|net|org|ie|co\.uk)\b"
)
_ROAD = r"(?:Street|Road|Rd|Avenue|Ave|Lane|Crescent|Terrace|Gardens|Mews|Grove)\b"
ADDRESS = (
    rf"(?<![\w.,])\d{{1,4}}[A-Za-z]?,? (?:[A-Z][a-z'’]+ ){{1,2}}(?:{_ROAD}"
    r"|(?:St|Close|Cl|Court|Drive|Hill|Place|Way)\.?(?=,|\n|$))"
    r"|(?<![\w.,])\d{1,4}[a-z]? [a-z]+ (?:avenue|crescent|terrace|grove|mews)\b"
    r"|\b(?:[Aa]ddress|[Ll]ives (?:at|in))\W{1,3}\d{1,4}[A-Za-z]? [A-Z]"
)
SPELT = rf"(?i)\b(?:{DIGIT_WORD}[ ,.-]{{1,4}}){{5,12}}{DIGIT_WORD}\b"
"""Digits in words, as a dictated number may have them."""
_AREA = (
    r"(?:a[bl]|b[abdhlnrst]|c[abfhmortvw]|d[adeghlnty]|e[chnx]|f[ky]|g[luy]|h[adgprsux]|i[gmpv]"
    r"|k[atwy]|l[adelnsu]|m[ekl]|n[aegnprw]|o[lx]|p[aehlor]|r[ghm]|s[aegklmnoprstwy]|t[adfnqrsw]|ub"
    r"|w[acdfnrsv]|yo|ze)"
)
_INWARD = r"\d[ABD-HJLNP-UW-Zabd-hjlnp-uw-z]{2}"
POSTCODE = (
    rf"(?<![A-Za-z0-9])(?:[BEGLMNSW]\d[A-Z\d]? \d[ABD-HJLNP-UW-Z]{{2}}"
    rf"|(?i:{_AREA})\d[A-Za-z\d]? (?!\d(?:nd|rd|st|th|ng|pg|hz|gy|[fdu]l|pa)\b){_INWARD}"
    rf"|(?i:{_AREA})(?<=[A-Z][A-Z])\d[A-Z\d]?\d[A-Z]{{2}}"
    r"|(?:[AHKPRV-Y]\d\d |D(?:0[1-9]|1\d|2[024]|6W) ?)(?=\d*[A-Z])(?=[A-Z]*\d)[AC-FHKNPRTV-Y\d]{4}"
    r")(?![A-Za-z0-9])"
    r"|(?i:\b(?:post ?|eir)code\W{1,3}[a-z]{1,2}\d[a-z\d]? ?(?:\d[a-z]{2}|[a-z\d]{4})\b)"
)
"""British; Irish; others after a word that says so."""
_NEXT = r"(?:[ ().-]{0,3}\d)"
PHONE = (
    rf"(?<![\w.,/+-])(?:(?:\+|00 ?)[1-9]{_NEXT}{{8,13}}|\(?0[1-37]{_NEXT}{{9}}"
    r"|0(?:1|[25679]1) \d{3} \d{4}|048 \d{4} \d{4}|447\d{9}|7\d{3} ?\d{6}(?= \(?mob)"
    rf"|\(?08[35-79]{_NEXT}{{7}}|\(?04{_NEXT}{{8}}|\(0\d{{1,4}}\){_NEXT}{{6,9}}"
    r"|(?:\+?1[ .-](?:\([2-9]\d{2}\) ?|[2-9]\d{2}[.-])|\([2-9]\d{2}\) ?)[2-9]\d{2}[.-]\d{4})"
    r"(?!\w|[ .,/-]?\d)"
    r"|\b(?:[Tt]el|[Pp]h(?:one)?|[Ll]andline)[ .:]{1,2}\d{3,4} ?\d{4}(?!\w|[.,]\d)"
    r"|\b(?:[Tt]el(?:ephone)?|[Pp]hone|[Mm]ob(?:ile)?|[Cc]ell|[Cc]ontact|[Ff]ax|[Ww]hats[Aa]pp)"
    rf"(?: (?:no|number))?[ .:=#]{{1,4}}[+(]?(?!0\.)\d{_NEXT}{{8,13}}(?!\w)"
)
"""With the country's code; 11 digits in Britain; mobiles of Ireland and Australia; a code in
brackets; or after a word that says so.
"""
NUMBERS = (
    ("a hospital number", NUMBERED),
    ("a hospital number", ABBREVIATED),
    ("a hospital number", INITIALS),
    ("a date of birth", NAMED_DAY),
    ("a telephone number", PHONE),
)
NAMES = (
    ("a date of birth", BIRTH),
    ("a name", NAME),
    ("a patient's bed", BEDSIDE),
    ("an email address", EMAIL),
    ("a postcode", POSTCODE),
    ("an address", ADDRESS),
    ("a number in words", SPELT),
)
DIVIDED = r"(?: {0,2}[./|:+*~-] {0,2}|\)? {1,3})"

GROUPED = re.compile(
    "10|3-3-4|5-5|6-4|6-2-2|4-3-3|4-6|4-2-4|4-4-2|8-2|2-8|3-7|7-3|3-3-2-2|1-3-3-3|3-4-3|2-2-2-4"
    "|2-2-2-2-2|(?:1-){9}1"
)
"""How ten digits are divided; any other way is more often a row of results."""


MOST_READ = 1_000_000
"""Nobody writes a note so long; a longer one would take more than 2 seconds."""


def find_identifiers(text: str) -> tuple[tuple[int, str], ...]:
    """(line from 1, what it looks like) for everything that could identify a patient, in the first
    `MOST_READ` characters.
    """
    plain = _plain(text[:MOST_READ])
    named = WORDS.search(plain.lower()) is not None
    if not (named or LONG_NUMBER.search(plain) or NATIONAL.search(plain)):
        return ()
    breaks = [place for place, sign in enumerate(plain) if sign == "\n"]
    found = {
        (bisect(breaks, start) + 1, what): None for start, what in sorted(_found(plain, named))
    }
    return tuple(found)


def _plain(text: str) -> str:
    """A text with one kind of space, dash, dot and digit, and without numbers of publications."""
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text)
        text = "".join(sign for sign in text if unicodedata.category(sign) not in ("Cf", "Mn"))
        text = re.sub(r"(?![0-9])\d", lambda digit: str(unicodedata.decimal(digit[0])), text)
        text = DOTS.sub(".", DASHES.sub("-", text))
    text = re.sub(r"[\t\r\f\v_]", " ", text)
    return CITED.sub(" cited ", text) if "://" in text or DIGIT.search(text) else text


def _found(text: str, named: bool) -> Iterator[tuple[int, str]]:
    taken: list[tuple[int, int]] = []
    for what, pattern, check in _table() if NATIONAL.search(text) else ():
        for match in pattern.finditer(text):
            inside = any(start < match.end() and match.start() < end for start, end in taken)
            if not inside and check(re.sub(r"[^0-9A-Za-z]", "", match[0]).upper(), match[0]):
                taken.append(match.span())
                yield match.start(), what
    numbers = NUMBERS if LONG_NUMBER.search(text) else ()
    for what, pattern in (*numbers, *(NAMES if named else ())):
        for match in re.finditer(pattern, text):  # prepared when a text is met that needs it
            inside = any(start < match.end() and match.start() < end for start, end in taken)
            if not inside and not _is_condition(match[0]):
                yield match.start(), what


def _is_condition(written: str) -> bool:
    """Whether what looks like two names is a condition's, as in "Mallory Weiss, 35 M"."""
    two = re.match("[A-Z][a-z'’]+[ ,-]{1,2}[A-Z][a-z'’]+", written)
    return two is not None and re.sub("[ ,-]+", " ", two[0]).lower() in _conditions()


@cache
def _conditions() -> str:
    files = ("names.csv", "signs.csv", "abbreviations.txt", "topics.txt")
    return "\n".join(map(text_of, files)).lower().replace("-", " ")


@cache
def _table() -> tuple[tuple[str, re.Pattern[str], Callable[[str, str], bool]], ...]:
    """The national numbers: what each is called, how it is written, and its check digit."""
    found = []
    for what, pattern, check in rows("identifiers"):
        written = pattern.replace("~", DIVIDED)
        whole = re.compile(rf"(?<![\w.])(?:{written})(?!\w|[./-]\d)")
        found.append((what, whole, _check(check)))
    return tuple(found)


def _check(name: str) -> Callable[[str, str], bool]:
    """How a number of one kind is checked: by python-stdnum, or here where that has no module."""
    own: dict[str, Callable[[str, str], bool]]
    own = {"": lambda *_: True, "nhs": _nhs, "gs1": _gs1, "medicare_au": _medicare, "nhi_nz": _nhi}
    if name in own:
        return own[name]
    if name == "luhn":
        return lambda plain, _: bool(import_module("stdnum.luhn").is_valid(plain))
    return lambda plain, written: bool(import_module(f"stdnum.{name}").is_valid(written.strip()))


def _nhs(plain: str, written: str) -> bool:
    """Ten digits of which the last one checks the others, modulo 11; one of one digit ten times is
    never issued, and a CHI number begins with a date of birth, which the others need not.

    Source: nhs-check-digit, with python-stdnum.
    """
    from stdnum.gb import nhs

    groups = "-".join(str(len(group)) for group in re.findall(r"\d+", written))
    if not GROUPED.fullmatch(groups) or len(set(plain)) == 1 or not nhs.is_valid(plain):
        return False
    if plain[0] in "4679" or "320" <= plain[:3] <= "399":
        return True
    try:
        date(2000 + int(plain[4:6]), int(plain[2:4]), int(plain[:2]))
    except ValueError:
        return False
    return True


def _gs1(plain: str, _written: str) -> bool:
    from stdnum.ean import calc_check_digit

    return bool(calc_check_digit(plain[:-1]) == plain[-1])


def _medicare(plain: str, _written: str) -> bool:
    """The ninth digit is the sum of eight, weighted 1, 3, 7, 9 twice, modulo 10 (from memory)."""
    weights = (1, 3, 7, 9, 1, 3, 7, 9)
    total = sum(int(digit) * weight for digit, weight in zip(plain, weights, strict=False))
    return total % 10 == int(plain[8])


def _nhi(plain: str, _written: str) -> bool:
    """Weights 7 to 2, letters counted without I and O; the last sign makes it whole (modulo 11 to a
    digit, modulo 24 to a letter; from memory).
    """
    letters = "ABCDEFGHJKLMNPQRSTUVWXYZ"
    values = [int(sign) if sign.isdigit() else letters.index(sign) + 1 for sign in plain[:6]]
    total = sum(value * weight for value, weight in zip(values, range(7, 1, -1), strict=True))
    if plain[6].isdigit():
        return total % 11 != 0 and (11 - total % 11) % 10 == int(plain[6])
    return letters[(24 - total % 24) - 1] == plain[6]
