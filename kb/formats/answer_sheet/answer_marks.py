"""The marks behind an item of an answer sheet, and one spelling for what phones make of them."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace

from kb.core.ids import REASONS, Outcome

DASHES = "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\u2e3a\ufe58\ufe63\uff0d\u00ad\u30fc"
ARROWS = "\u2192\u279c\u279d\u27a1\u203a\u00bb\u21d2\u2794\u2265\u21e8"
CROSSES = "\u00d7\u2717\u2718\u2715\u2716\u274c\u274e\u2612\u2573\U0001f44e"
TICKS = "\u221a\u2713\u2714\u2705\u2611\U0001f44d\U0001f197"
QUERIES = "\u2753\u2754\u00bf\u061f\U0001f914\U0001f937"
BULLET = re.compile(
    r"^(?:\[[ x]?\]\s*|[#*\u2022\u00b7\u25aa\u25e6\u2610\u25cb\u25a1>]+\s*|-+\s+)+(?=\S)", re.I
)

CHANGE = re.compile(
    r"(?:(?P<first>[a-j])\s?/\s?)?(?P<chosen>[a-j])\s?-*>+\s?(?P<key>[a-j])(?!\w|')", re.I
)
SECONDS = re.compile(r"(\d{1,4})\s?(?:s|secs?|seconds?)(?!\w)", re.I)
MINUTES = re.compile(
    r"(\d{1,2})\s?(?:m|min)(?:\s?(\d{1,2})\s?s)?(?!\w)|(\d{1,2}):(\d{2})(?!\w)", re.I
)
CERTAINTY = re.compile(r"c\s?=?\s?([123])(?!\w)", re.I)
GLUED = re.compile(r"[x?\u2713-]{2,4}(?=[\s,;.]|$)", re.I)

WRONG = ("x", "wrong", "w")
RIGHT = ("\u2713", "right", "ok", "r")
GUESS = ("?", "guess", "guessed")
BLANK = ("-", "--", "_", "blank", "skipped", "unanswered", "n/a", "none")
NOT_ANSWERED = re.compile(r"not (?:answered|done)(?!\w)", re.I)
HALF_CHANGE = re.compile(
    r"\W*[a-j]?\s?>|\W*[a-z]\W*$|.*(?<!\w)[a-j]\s?-*>+\s?[a-j](?!\w)", re.I | re.S
)
"""A remark that looks like options, on a line that says neither right nor wrong."""
OTHER_OPTIONS = re.compile(r"[a-z]\s?-*>+\s?[a-z](?!\w)", re.I)
"""Letters and an arrow that are no options, or `CHANGE` would have taken them."""
ONLY_ALONE = ("right", "ok", "r", "none")
"""Words that also begin remarks (right heart, none of these): marks where no remark follows."""
REMARK_SIGN = "//"
"""Behind it everything is remark, for one that would begin like a mark."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What the marks of one line say. `unclear` is why they cannot be taken, if so."""

    outcome: Outcome = "right"
    first: str = ""
    chosen: str = ""
    key: str = ""
    certainty: int | None = None
    seconds: float | None = None
    reason: str = ""
    unclear: str = ""
    unclear_hint: str = ""


def tidy(line: str) -> str:
    """One spelling for what phones make of dashes, arrows, crosses, full-width signs and emoji."""
    line = line.replace("&gt;", ">").replace("&lt;", "<").replace("&amp;", "&")
    for signs, plain in ((CROSSES, "x"), (TICKS, "\u2713"), (QUERIES, "?")):
        line = _replaced(line, signs, f" {plain} " if plain == "\u2713" else plain)
    line = unicodedata.normalize("NFKC", _replaced(line, DASHES, "-"))
    line = _replaced(_replaced(line, DASHES, "-"), ARROWS, ">")
    kept = "".join(c if _is_text(c) else "" for c in line)
    return BULLET.sub("", " ".join(kept.split()))


def _replaced(line: str, signs: str, plain: str) -> str:
    for sign in signs:
        if sign in line:
            line = line.replace(sign, plain)
    return line


def _is_text(character: str) -> bool:
    """Neither a control, a format character, a lone surrogate, a variation nor a skin sign."""
    kind = unicodedata.category(character)
    if kind in ("Cf", "Cs") or (kind == "Cc" and not character.isspace()):
        return False
    return not ("\ufe00" <= character <= "\ufe0f" or "\U0001f3fb" <= character <= "\U0001f3ff")


def read_marks(text: str) -> tuple[Marks, str]:
    """Marks at the front of a text in any order, and the remark that follows them.

    The first word that is no mark begins the remark, and so does `//`. An outcome is said once: a
    second such word begins the remark too.
    """
    marks, said, rest = Marks(), False, text
    while rest:
        if rest.split(maxsplit=1)[0] == REMARK_SIGN:
            return marks, rest[len(REMARK_SIGN) :].strip()
        taken = _one(rest, marks, said)
        if taken is None:
            break
        marks, said, rest = taken
    if rest and not said and HALF_CHANGE.match(rest):
        hint = "write x C>B if it was wrong, or ok if it was right"
        marks = replace(marks, unclear="is it right or wrong?", unclear_hint=hint)
    if rest and marks.key and rest.lstrip("- ").startswith(">"):
        hint = "for an answer that was changed write A/C>B: first A, then C, and the key was B"
        marks = replace(marks, unclear="two arrows", unclear_hint=hint)
    elif rest and said and not marks.key and OTHER_OPTIONS.match(rest):
        hint = "options are A to J; put // before a remark that looks like them"
        marks = replace(marks, unclear=f"'{rest.split()[0]}' is no option", unclear_hint=hint)
    return marks, rest.strip()


def _one(rest: str, marks: Marks, said: bool) -> tuple[Marks, bool, str] | None:
    """One mark from the front: the marks with it, whether the outcome is said, and the rest."""
    change = CHANGE.match(rest)
    if change and not marks.key:
        same = change["chosen"].casefold() == change["key"].casefold()
        told = replace(
            marks,
            outcome="right" if same else "wrong",
            first=(change["first"] or "").upper(),
            chosen=change["chosen"].upper(),
            key=change["key"].upper(),
        )
        return told, True, _after(rest, change.end())
    for pattern in (SECONDS, MINUTES):
        timed = pattern.match(rest)
        if timed and marks.seconds is None:
            return replace(marks, seconds=_seconds(timed)), said, _after(rest, timed.end())
    certain = CERTAINTY.match(rest)
    if certain and marks.certainty in (None, 1):
        return replace(marks, certainty=int(certain[1])), said, _after(rest, certain.end())
    passed_over = NOT_ANSWERED.match(rest)
    if passed_over and not said:
        return replace(marks, outcome="blank"), True, _after(rest, passed_over.end())
    glued = GLUED.match(rest)
    if glued and set(glued[0].casefold()) != {"-"}:
        parted = " ".join(glued[0].replace("-", "")) + rest[glued.end() :]
        return (marks, said, parted) if parted != rest else None
    return _word(rest, marks, said)


def _seconds(match: re.Match[str]) -> float:
    groups = match.groups()
    if len(groups) == 1:
        return float(groups[0])
    minutes, seconds = (groups[0], groups[1]) if groups[0] else (groups[2], groups[3])
    return float(int(minutes) * 60 + int(seconds or 0))


def _word(rest: str, marks: Marks, said: bool) -> tuple[Marks, bool, str] | None:
    word = rest.split(maxsplit=1)[0]
    plain = word.casefold().strip("(),;.:!") or word
    after = _after(rest, len(word))
    if plain.endswith("?") and plain[:-1] in (*RIGHT, *WRONG):
        plain, after = plain[:-1], f"? {after}"
    outcome = _outcome(plain)
    if plain in GUESS and marks.certainty is None:
        return replace(marks, certainty=1), said, after
    if plain in REASONS and not marks.reason:
        return replace(marks, reason=plain), said, after
    if outcome is None or (said and outcome != marks.outcome) or marks.key:
        return None
    if plain in ONLY_ALONE and after and not _is_mark(after):
        return None
    if plain in ("-", "--"):
        return _dash(marks, said, after)
    if said and plain in RIGHT + WRONG and plain not in ("x", "\u2713"):
        return None
    return replace(marks, outcome=outcome), True, after


def _dash(marks: Marks, said: bool, after: str) -> tuple[Marks, bool, str]:
    """A dash alone is an item not answered; before an outcome it only divides; before a remark it
    may be either, and is left for the person to say.
    """
    word = after.split(maxsplit=1)[0].casefold().rstrip(",;.") if after else ""
    if said or word in (*WRONG, *RIGHT, *GUESS, *BLANK) or CHANGE.match(after):
        return marks, said, after
    if after and not _is_mark(after):
        hint = "write 'blank' if it was not answered; leave the dash out if it was right"
        unclear = replace(marks, unclear="a dash and then a remark", unclear_hint=hint)
        return unclear, True, after
    return replace(marks, outcome="blank"), True, after


def _is_mark(text: str) -> bool:
    """Whether a text begins with a mark."""
    if any(pattern.match(text) for pattern in (CHANGE, SECONDS, MINUTES, CERTAINTY)):
        return True
    word = text.split(maxsplit=1)[0].casefold().rstrip(",;.")
    return word in (*GUESS, *REASONS, "x", "\u2713", "-", REMARK_SIGN)


def _outcome(plain: str) -> Outcome | None:
    if plain in WRONG:
        return "wrong"
    if plain in RIGHT:
        return "right"
    return "blank" if plain in BLANK else None


def _after(rest: str, end: int) -> str:
    """What follows a mark, without the full stop or comma that a keyboard puts behind it."""
    return re.sub(r"^(?:[.,;!](?=\s|$)|\s)+", "", rest[end:])


def format_marks(marks: Marks) -> str:
    """Marks in their one tidy spelling."""
    sign = {"right": "", "wrong": "x", "blank": "blank"}[marks.outcome]
    change = f"{marks.chosen}>{marks.key}" if marks.chosen and marks.key else ""
    if change and marks.first:
        change = f"{marks.first}/{change}"
    certainty = f"c{marks.certainty}" if marks.certainty else ""
    seconds = f"{marks.seconds:g}s" if marks.seconds is not None else ""
    parts = (sign, change, certainty, seconds, marks.reason)
    return " ".join(part for part in parts if part)
