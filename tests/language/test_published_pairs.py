"""Published pairs of spellings and of drug names, every one in both directions.

Source of spelling-pairs.csv: the word lists wbritish-huge, wamerican-huge and hunspell-en-med of
Debian, and the Python package breame; 20 of its 382 British forms are from memory. Source of
drug-names.csv: named in each of its rows, after Directive 92/27/EEC.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

from kb.language.abbreviations import Glossary
from kb.language.normalise import key, words

PUBLISHED = Path(__file__).parent.parent / "published"
REMARK = re.compile(r"\s*[(\[].*")
STOCK = Glossary()


def rows(name: str) -> list[list[str]]:
    """Rows of a published table without its heading."""
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))[1:]


def spelt(name: str) -> tuple[str, ...]:
    """Keys of the words of a name."""
    return tuple(key(word) for word in words(name))


def leads_to(one: str, other: str) -> bool:
    """Whether typing one name looks for the other."""
    typed = words(one)
    return spelt(one) == spelt(other) or any(
        form == spelt(other)
        for expansion in STOCK.expand(typed)
        if (expansion.start, expansion.stop) == (0, len(typed))
        for _, form in expansion.forms
    )


def test_every_published_pair_of_spellings_has_one_key() -> None:
    """All 382, whichever is typed and whichever is written."""
    pairs = rows("spelling-pairs.csv")
    assert len(pairs) == 382
    assert [pair for pair in pairs if key(pair[0]) != key(pair[1])] == []


def test_every_published_drug_name_leads_to_its_other_and_back() -> None:
    """All 189, with what the source has in brackets or without it."""
    table = rows("drug-names.csv")
    assert len(table) == 189
    lost = [
        (one, other)
        for one, other, *_ in table
        if not any(
            leads_to(a, b) and leads_to(b, a)
            for a, b in ((one, other), (REMARK.sub("", one), REMARK.sub("", other)))
        )
    ]
    assert lost == []
