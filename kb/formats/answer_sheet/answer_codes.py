"""The codes behind an item of an answer sheet, and one spelling for what phones make of them."""

import re
import unicodedata
from dataclasses import dataclass, field, replace

from kb.core.ids import REASONS
from kb.formats.answer_sheet.outcome_words import CHOICE, doubt, leading, table
from kb.formats.answer_sheet.records import Coded

SIGNS = str.maketrans(
    dict.fromkeys(
        "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\u2e3a\ufe58\ufe63\uff0d\u00ad\u30fc", "-"
    )
    | dict.fromkeys("\u2192\u279c\u279d\u27a1\u203a\u00bb\u21d2\u2794\u2265\u21e8", ">")
    | dict.fromkeys("\u2190\u2039\u00ab\u21d0\u2b05", "<")
    | dict.fromkeys("\u2a2f\U0001f5d9\U0001f5f4\U0001f6ab\u26d4\U0001f44e\u00d7\u2717", "x")
    | dict.fromkeys("\u2718\u2715\u2716\u274c\u274e\u2612\u2573", "x")
    | dict.fromkeys("\u221a\u2713\u2714\u2705\u2611\U0001f44d\U0001f197\U0001f5f8", " \u2713 ")
    | dict.fromkeys("\U0001f4af\u2b55", " \u2713 ")
    | dict.fromkeys("\u2753\u2754\u00bf\u061f\U0001f914\U0001f937", "?")
)
"""Dashes, arrows, crosses, ticks and queries as phones have them, and the plain sign for each."""
BULLET = re.compile(
    r"^(?:\[ ?\]\s*|[#*\u2022\u00b7\u25aa\u25e6\u2610\u25cb\u25a1>]+\s*|-+\s+)+(?=\S)", re.I
)

TIGHT = re.compile(r"(?<=[^\W\d])([,;])(?=[^\s,;])|(?<=[\u2713?])([,;])(?=\d)")
"""A comma behind a letter or sign, without its space."""

CHANGE = re.compile(
    r"(?:(?P<first>[a-j])\s?/\s?)?(?P<chosen>[a-j])\s?-*>+\s?(?P<key>[a-j])(?!\w|')", re.I
)
SECONDS = re.compile(r"(\d{1,4})\s?(?:s|secs?|seconds?)(?!\w)", re.I)
MINUTES = re.compile(
    r"(\d{1,2})\s?(?:m|min)(?:\s?(\d{1,2})\s?s)?(?!\w)|(\d{1,2}):(\d{2})(?!\w)", re.I
)
CERTAINTY = re.compile(r"c\s?=?\s?([123])(?!\w)", re.I)
GLUED = re.compile(r"[x?\u2713-]{2,4}(?=[\s,;.]|$)", re.I)

GUESS = ("?", "guess", "guessed")
HALF_CHANGE = re.compile(
    r"\W*[a-j]?\s?>|\W*[a-z]\W*$|\W*[a-j]\W*\s(?:x\b|\u2713)"
    r"|(?:[a-j][ ,]+)+[a-j]\W*$|.*(?<!\w)[a-j]\s?-*>+\s?[a-j](?!\w)",
    re.I | re.S,
)
"""A remark that looks like options, on a line without an outcome."""
OTHER_OPTIONS = re.compile(r"[a-z]\s?-*>+\s?[a-z](?!\w)", re.I)
"""Letters and an arrow that are not options; `CHANGE` matches those that are."""
ANOTHER_ITEM = re.compile(r"\d{1,9}\s*([^\W\d].*|[x\u2713-])$", re.I)
MARKED_ITEMS = re.compile(
    r"(?:^|[\s,;]|\bthr(?:ough|u) )\d{1,9}(?:-\d{1,9})?\s?[:.)=-]?\s*"
    r"(?:xx?|w|r|\u2713|ok|y|n|right|wrong|correct|missed|blank)\W*$",
    re.I,
)
"""A remark that ends with an item and its mark."""
TAKEN_BACK = re.compile(
    r"\W*(?:sorry|actually|correction|oops|scratch that|scrub that|i mean|i meant|no wait)\b", re.I
)
ONE_EACH = "put a comma between two items, or // before a remark"
REMARK_SIGN = "//"
"""Everything after it is remark, for one that would begin like a code."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Codes(Coded):
    """The codes of one line: whether they name an outcome, and why they cannot be logged, if so."""

    is_said: bool = field(default=False, compare=False)
    unclear: str = ""
    unclear_hint: str = ""


def tidy(line: str) -> str:
    """One spelling for what phones make of dashes, arrows, crosses, full-width signs and emoji."""
    line = line.replace("&gt;", ">").replace("&lt;", "<").replace("&amp;", "&")
    line = unicodedata.normalize("NFKC", line.translate(SIGNS)).translate(SIGNS)
    kept = "".join(c if _is_text(c) else "" for c in line)
    return BULLET.sub("", " ".join(TIGHT.sub(r"\1 ", kept).split()))


def _is_text(character: str) -> bool:
    """Whether it is no control or format character, lone surrogate, variation or skin sign."""
    kind = unicodedata.category(character)
    if kind in ("Cf", "Cs") or (kind == "Cc" and not character.isspace()):
        return False
    return not ("\ufe00" <= character <= "\ufe0f" or "\U0001f3fb" <= character <= "\U0001f3ff")


def read_codes(text: str) -> tuple[Codes, str]:
    """Codes at the front of a text in any order, and the remark that follows them.

    The first word that is no code begins the remark, and so does `//`. Where nothing says right,
    wrong or not answered, the answer is right; but a remark that suggests another outcome, or a
    reason for a miss, makes the codes unclear. So does a second outcome.
    """
    codes, decided, rest = Codes(), False, text
    while rest:
        if rest.partition(" ")[0] == REMARK_SIGN:
            rest = rest[len(REMARK_SIGN) :].strip()
            return (codes if decided else _doubted(codes, rest, behind_sign=True)), rest
        taken = _one(rest, codes, decided)
        if taken is None:
            break
        codes, decided, rest = taken
    another = ANOTHER_ITEM.match(rest)
    if another and (found := leading(another[1])) and found[1] == len(another[1]):
        codes = replace(codes, unclear=f"'{rest}' looks like another item", unclear_hint=ONE_EACH)
    elif marked := MARKED_ITEMS.search(rest):
        said = f"'{marked[0].strip()}' looks like another item"
        codes = replace(codes, unclear=codes.unclear or said, unclear_hint=ONE_EACH)
    if not decided:
        codes = _doubted(codes, rest)
    elif rest:
        codes = _contradicted(codes, rest)
    if rest and codes.key and rest.lstrip("- ").startswith(">"):
        hint = "for an answer that was changed write A/C>B: first A, then C, and the key was B"
        codes = replace(codes, unclear="two arrows", unclear_hint=hint)
    elif rest and decided and not codes.key and OTHER_OPTIONS.match(rest):
        hint = "options are A to J; put // before a remark that looks like them"
        codes = replace(codes, unclear=f"'{rest.split()[0]}' is not an option", unclear_hint=hint)
    return replace(codes, is_said=decided), rest


def _doubted(codes: Codes, remark: str, *, behind_sign: bool = False) -> Codes:
    """Codes without an outcome: unclear if the remark or a reason suggests one."""
    hint = "write x C>B if it was wrong, or ok if it was right; a remark may follow behind //"
    why = doubt(remark, signs=not behind_sign) if remark else ""
    if codes.reason and not codes.unclear:
        return replace(codes, unclear=f"'{codes.reason}', but right or wrong?", unclear_hint=hint)
    if why or (HALF_CHANGE.match(remark) and not behind_sign):
        why = f"is it right or wrong? {why}".strip()
        return replace(codes, unclear=codes.unclear or why, unclear_hint=hint)
    return codes


def _contradicted(codes: Codes, remark: str) -> Codes:
    """Codes with an outcome: unclear if the remark begins with another one."""
    if not codes.unclear and (taken := TAKEN_BACK.match(remark)):
        why = f"both {codes.outcome} and '{taken[0].strip()}'"
        return replace(codes, unclear=why, unclear_hint="write what counts, and that alone")
    remark = remark.lstrip(">-=( ") or remark
    found = leading(remark)
    if found is None or codes.unclear or found[0].said == codes.outcome:
        return codes
    alone = found[1] == len(remark)
    if not alone and codes.outcome != "right":
        return codes
    hint = "write one of them; put // before a remark that begins so"
    why = f"both {codes.outcome} and '{remark[: found[1]]}'"
    return replace(codes, unclear=why, unclear_hint=hint)


def _one(rest: str, codes: Codes, decided: bool) -> tuple[Codes, bool, str] | None:
    """One code from the front: the codes with it, whether there is an outcome, and the rest."""
    for pattern in (CHANGE, CHOICE):
        change = pattern.match(rest)
        if change and not codes.key:
            same = change["chosen"].casefold() == change["key"].casefold()
            updated = replace(
                codes,
                outcome="right" if same else "wrong",
                first=(change.groupdict().get("first") or "").upper(),
                chosen=change["chosen"].upper(),
                key=change["key"].upper(),
            )
            if decided and codes.outcome != updated.outcome:
                why = f"both {codes.outcome} and {updated.chosen}>{updated.key}"
                updated = replace(updated, unclear=why, unclear_hint="write one of them")
            return updated, True, _after(rest, change.end())
    for pattern in (SECONDS, MINUTES):
        timed = pattern.match(rest)
        if timed and codes.seconds is None:
            return replace(codes, seconds=_seconds(timed)), decided, _after(rest, timed.end())
    certain = CERTAINTY.match(rest)
    if certain and codes.certainty in (None, 1):
        return replace(codes, certainty=int(certain[1])), decided, _after(rest, certain.end())
    glued = GLUED.match(rest)
    if glued and set(glued[0]) != {"-"}:
        parted = " ".join(glued[0].replace("-", "")) + rest[glued.end() :]
        return (codes, decided, parted) if parted != rest else None
    return _word(rest, codes, decided)


def _seconds(match: re.Match[str]) -> float:
    groups = match.groups()
    if len(groups) == 1:
        return float(groups[0])
    minutes, seconds = (groups[0], groups[1]) if groups[0] else (groups[2], groups[3])
    return float(int(minutes) * 60 + int(seconds or 0))


def _word(rest: str, codes: Codes, decided: bool) -> tuple[Codes, bool, str] | None:
    word = rest.partition(" ")[0]
    plain = word.casefold().strip("(),;.:!") or word
    after = _after(rest, len(word))
    if plain.endswith("?") and (known := table().get(plain[:-1])) and known.said != "ask":
        return _word(f"{plain[:-1]} ? {after}", codes, decided)
    if plain in GUESS and codes.certainty is None:
        return replace(codes, certainty=1), decided, after
    if plain in REASONS and not codes.reason:
        return replace(codes, reason=plain), decided, after
    found = leading(rest)
    if found is None or codes.key or found[0].said == "ask" or found[0].use == "cell":
        return None
    outcome, after = found[0].said, _after(rest, found[1])
    if decided and (outcome != codes.outcome or plain[0].isalnum() != (plain == "x")):
        return None
    if found[0].use == "alone" and after and not _is_code(after):
        return None
    if plain in ("-", "--"):
        return _dash(codes, decided, after)
    return replace(codes, outcome=outcome), True, after


def _dash(codes: Codes, decided: bool, after: str) -> tuple[Codes, bool, str]:
    """A dash alone is an item not answered; before an outcome it only separates; before a remark,
    such as `right heart`, it may be either, and the person is asked.
    """
    found = leading(after) if after else None
    remark = found is None or (found[0].said == "right" and found[1] < len(after))
    if decided or not remark or _is_code(after):
        return codes, decided, after
    if after:
        hint = "write 'blank' if it was not answered; leave the dash out if it was right"
        unclear = replace(codes, unclear="a dash and then a remark", unclear_hint=hint)
        return unclear, True, after
    return replace(codes, outcome="blank"), True, after


def _is_code(text: str) -> bool:
    """Whether a text begins with a code other than a word for an outcome."""
    if any(p.match(text) for p in (CHANGE, CHOICE, SECONDS, MINUTES, CERTAINTY)):
        return True
    word = text.partition(" ")[0].casefold().rstrip(",;.")
    return word in (*GUESS, *REASONS, "x", "\u2713", "-", REMARK_SIGN)


def _after(rest: str, end: int) -> str:
    """What follows a code, without the full stop or comma that a keyboard adds to it."""
    return re.sub(r"^(?:[.,;!](?=\s|$)|\s)+", "", rest[end:])
