"""Word tables of medical English, read as text: facts typed by hand, one row each.

Where they come from:

- spelling, plurals: Debian's British, American and medical word lists; the rest from memory.
- drugs: British names changed to recommended international ones by Directive 92/27/EEC (in force in
  the United Kingdom 2003/04); names of the United States; names of one thing, from memory.
- classes: stems of international names as the World Health Organization lists them ("The use of
  stems in the selection of INN"), and drugs whose name shows no class; from memory. broader: what
  such a class belongs to.
- names: names of one thing. Renamings by the societies concerned, among them seizures (2025),
  infantile epileptic spasms (2022), arginine vasopressin deficiency (2022) and steatotic liver
  disease (2023); eponyms and their descriptions; from memory.
- signs: what a condition is known by (complaints, signs, tests, antibodies, circumstances), one way
  only; uses: what a drug or an antidote is given for, if it is given for little else. General
  medicine, from memory.
- common: everyday English, largely Ogden's Basic English (1930) without its parts of the body, and
  the words that any medical question may hold; from memory.
- greek, stop (words that no search looks for), symbols, endings (of an adjective or verb and of its
  noun): plain facts. In plurals and forms a word beside itself only looks like such a form.
- abbreviations, forms (in American spelling), plain, topics (names of several words that are looked
  for whole), values (usual ranges of adults in SI units), correct (drugs and diseases that no slip
  is seen in): common practice, no source.

What is from memory or common practice was reread row by row in 2026, for British use and for names
that lead to another drug or condition; identifiers and outcomes were not.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

FOLDER = Path(__file__).parent


@cache
def rows(name: str) -> tuple[tuple[str, ...], ...]:
    """Rows of the table `name`.csv without its heading; no cell holds a comma or a quote."""
    return tuple(tuple(line.split(",")) for line in text_of(f"{name}.csv").splitlines()[1:] if line)


@cache
def lines(name: str) -> tuple[str, ...]:
    """Lines of the list `name`.txt without comments and empty ones."""
    return tuple(line for line in text_of(f"{name}.txt").splitlines() if line and line[0] != "#")


@cache
def text_of(file: str) -> str:
    """A table or list as it is."""
    return (FOLDER / file).read_text(encoding="utf-8")


@cache
def _lower(file: str) -> str:
    return text_of(file).lower()


def lines_with(file: str, starts: Iterable[str], marks: Iterable[str]) -> list[str]:
    """Lines of a table or list, in order, in which something in small letters begins behind a mark.

    Looking in the text is quicker than parting it all for one query.

    >>> lines_with("symbols.csv", ["pota"], ",")
    ['K,potassium']
    """
    text, lower = text_of(file), _lower(file)
    places = set()
    for sought in (mark + start for start in starts for mark in marks):
        at = lower.find(sought)
        while at >= 0:
            places.add(lower.rfind("\n", 0, at + 1) + 1)
            at = lower.find(sought, at + 1)
    found = [text[place : text.find("\n", place)] for place in sorted(places) if place]
    return [line for line in found if line[0] != "#"]
