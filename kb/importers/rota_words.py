"""Which shift the title of a calendar event means, as rota systems of several countries write it.

Hours come before words, since a title is only a name: except words that the doctor has explained.

Source: own, because no standard names shifts; the words are those in common use (no source).
"""

import csv
import re
import unicodedata
from collections.abc import Iterable, Mapping
from datetime import time
from pathlib import Path

from kb.core.settings import Shift

_TABLE = Path(__file__).with_name("rota_words.csv").read_text(encoding="utf-8")
_ROWS = [*csv.reader(_TABLE.splitlines())][1:]
PHRASES = {shift: phrases.split("; ") for shift, phrases, _ in _ROWS}
"""Phrases by shift, without accents. Not among them: `jour`, which is a day in French and on call
in Swedish, and `on call`, which may be either; hours or a word of the doctor's decide there."""
HOLIDAYS = re.compile(r"\b((bank|public) holidays?|feiertag|jour ferie|feestdag|festivo|bh)\b")
"""Off by itself, but people work on them too: any other shift in the title counts instead."""
CODES = {code: shift for shift, _, codes in _ROWS for code in codes.split("; ") if code}
"""Short forms, recognised only where they are the whole title or head it: `LD - ward 7`."""
AFTER_NIGHTS = re.compile(
    r"\b(post|after|following|recovery from)\W+(the\W+)?(nights?|nd|oncalls?|on\Wcalls?)\b"
)
_CANCELLED = (
    r"(cancell?ed|abgesagt|annulee?|geannuleerd|cancelado|annullato|installt|aflyst|avlyst)"
)
CANCELLED = re.compile(rf"^\W*{_CANCELLED}\b|\b{_CANCELLED}\W*$")
NEAR_MINUTES = 60
LEAST_OVERLAP = 0.5


def plain_title(title: str) -> str:
    """Small letters, no accents, one space between words, and none of the dashes in a word."""
    text = unicodedata.normalize("NFKD", title.casefold())
    text = "".join(letter for letter in text if not unicodedata.combining(letter))
    return " ".join(
        text.replace("–", "-").replace("non-", "non ").replace("post-", "post ").split()
    )


def holds(title: str, words: str) -> bool:
    """Whether whole `words` are in the title; a plural s is forgiven, cover for it is not it."""
    return re.search(rf"(?<!\w){re.escape(words)}s?(?!\w)(?!\s+cover)", title) is not None


def shift_for(
    title: str,
    hours: tuple[time, time] | None,
    shifts: Iterable[Shift],
    remembered: Mapping[str, str],
) -> str | None:
    """The name of the shift that an event means, or None. An all-day event has no hours.

    Words told before, `remembered` with their shift, come first, then rest after nights, then a
    shift whose name or phrase is in the title, the longest first. An event with hours is never a
    duty that they contradict; if no name fits, it is the shift with the same hours, or with nearly
    the same.
    """
    known = {shift.name: shift for shift in shifts}
    text = plain_title(title)
    for words in sorted(remembered, key=len, reverse=True):
        if remembered[words] in known and holds(text, plain_title(words)):
            return remembered[words]
    if AFTER_NIGHTS.search(text) and "off" in known:
        return "off"
    named = [known[name] for name in _named(text, known)]
    if hours is None:
        return named[0].name if named else None
    same = [shift for shift in known.values() if (shift.start, shift.end) == hours]
    fits = [s for s in named if s.start is None or s in same or _overlap(s, hours) >= LEAST_OVERLAP]
    duties = [shift for shift in fits if shift.start is not None]
    if same and not (fits and fits[0].start is None):
        return next((shift.name for shift in duties if shift in same), same[0].name)
    near = [shift for shift in known.values() if _apart(shift, hours) <= NEAR_MINUTES]
    found = fits or sorted(near, key=lambda shift: _apart(shift, hours))
    return found[0].name if found else None


def _named(text: str, known: Mapping[str, Shift]) -> list[str]:
    """Names of the shifts that a title names, that of the longest words first."""
    found: list[tuple[int, str]] = []
    rest = HOLIDAYS.sub(" ", text).strip()
    for name in known:
        words = [plain_title(name), *PHRASES.get(name, ())]
        lengths = [len(word) for word in words if word and holds(rest, word)]
        if lengths:
            found.append((-max(lengths), name))
    code = re.match(r"(?:[^:]*:\s*)?([a-z/]{1,4})(?=$|\s*[-:(,@|])", rest)
    if code and CODES.get(code[1]) in known:
        found.append((-len(code[1]), CODES[code[1]]))
    if not found and rest != text and "off" in known:
        return ["off"]
    return [name for _, name in sorted(found)]


def clock_minutes(hours: tuple[time, time]) -> tuple[int, int]:
    """Start and end in minutes from midnight; an end that is not after the start is tomorrow's."""
    start, end = (moment.hour * 60 + moment.minute for moment in hours)
    return start, end if end > start else end + 1440


def _overlap(shift: Shift, hours: tuple[time, time]) -> float:
    """What share of the longer the shift's hours and these have in common; below 0 if nothing."""
    if shift.start is None or shift.end is None:
        return 0.0
    (a, b), (c, d) = clock_minutes((shift.start, shift.end)), clock_minutes(hours)
    both = max(min(b, d + day) - max(a, c + day) for day in (-1440, 0, 1440))
    return both / max(b - a, d - c)


def _apart(shift: Shift, hours: tuple[time, time]) -> float:
    """Minutes between the starts or the ends, whichever are further apart."""
    if shift.start is None or shift.end is None:
        return float("inf")
    (a, b), (c, d) = clock_minutes((shift.start, shift.end)), clock_minutes(hours)
    return max(abs(a - c), abs(b - d))
