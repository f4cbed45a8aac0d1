"""The word index of a carried file: what the search of the base would find there, looked up before.

Notes are indexed as in the base, and every name of the tables is resolved here by the same rules,
so that a phone only looks up what stands for a name and adds up. What a person types is folded by
`RULES`, which go into the file: the same rules fold every word and name.
"""

import re
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from kb.export.handout import Leaf
from kb.language.abbreviations import Entries, Expansion, Glossary, lead_of, other_names, stock
from kb.language.data import lines, rows
from kb.language.normalise import (
    CAPITALS,
    ENDS_OF_FORMS,
    GREEK,
    STOP,
    american,
    key,
    one_of,
    other_forms,
    words,
)
from kb.language.related import Related, related, related_names
from kb.language.snippets import readable
from kb.language.spelling import OPPOSITES, stock_words
from kb.search.bm25f import Form, Group
from kb.search.document import EXACT, Page
from kb.search.in_memory import PageReader
from kb.search.other_names import add_meanings, add_related_meanings, held_of, is_absent

RULES = (
    ("z", "s"),
    ("ae|oe", "e"),
    ("ou", "o"),
    ("ll", "l"),
    ("sulph", "sulf"),
    ("leuc", "leuk"),
    ("([tb])re(s?)$", "$1er$2"),
)
"""British and American spellings folded into one: both sides of a comparison are folded alike, so a
rule may be coarse. The patterns mean the same in Python and in a browser.

Source: own, because it only has to fold both sides the same way.
"""
LETTERS = {
    **{letter: name.strip() for letter, name in GREEK.items()},
    **{"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ı": "i"},
}
"""Letters that do not decompose into a base letter and an accent, and what replaces each."""

_COMPILED = tuple((re.compile(old), re.sub(r"\$(\d)", r"\\\1", new)) for old, new in RULES)


def folded(word: str) -> str:
    """One word, without accents, as it is compared.

    >>> folded("Haemolysed") == folded("hemolyzed"), folded("tumours"), folded("litre")
    (True, 'tumors', 'liter')
    """
    word = one_of(word).lower()
    word = (word[:-2] if word.endswith("'s") else word).replace("'", "")
    for pattern, new in _COMPILED:
        word = pattern.sub(new, word)
    return word


def index(leaves: Sequence[Leaf], glossary: Entries) -> dict[str, object]:
    """The index of a carried file that holds these notes in this order.

    Returns:
        `words`: a line for each list of notes with its folded words; none if only names lead to
        it. `places`: a line for each list: notes, each as the step from the last one and, behind a
        point, the weight if it is not 1, to base 36. `lengths` of the notes. `names`: a line for
        each folded name that stands for something: the name, its kind (s: an abbreviation, w: one
        that is an ordinary word as well, a: in no note, though they have its words), lists that
        mean the same, and lists that are related. `exact`: for titles, then for concepts, the
        lists of their words and the note. `stop` are words passed over, `capitals` those that mean
        something in capitals, `common` those that carry no question, `right` those that are no
        slip. `values`: name, usual range, and what a value below or above it is called. `rules`
        and `letters` fold what is typed, `opposites` are never each other's slip.
    """
    reader = PageReader(map(_page, leaves), Glossary(glossary))
    numbers = {name: at for at, name in enumerate(n for n in reader.lists if n[0] != EXACT)}
    listed = _Lists(reader, numbers)
    spelt = _Spellings(reader, numbers)
    stems = (pair for pair in related_names() if "-" in (pair[0][0], pair[0][-1]))
    lines_of_names = [
        *(
            f"{spelt.name(name)} {kind}:{listed(same)}:{listed(weak)}"
            for name, kind, same, weak in _resolved(reader, glossary)
        ),
        *(
            f"{stem} :: {listed(_held(reader, [group]))}".replace(": ", ":")
            for stem, group in stems
        ),
    ]
    return {
        "words": "\n".join(spelt.rows),
        "right": "\n".join(spelt.others),
        "places": "\n".join(listed.places),
        "lengths": list(reader.lengths),
        "names": "\n".join(sorted(set(lines_of_names))),
        "exact": [list(_wholes(reader, numbers, kind)) for kind in "tc"],
        "stop": " ".join(sorted(map(folded, STOP))),
        "capitals": " ".join(sorted(CAPITALS)),
        "common": " ".join(folded(word) for line in lines("common") for word in line.split()),
        "values": [[*row[:3], *map(spelt.name, row[3:])] for row in rows("values")],
        "rules": RULES,
        "letters": LETTERS,
        "opposites": OPPOSITES,
    }


def _page(leaf: Leaf) -> Page:
    return Page(
        id=leaf.note,
        path=leaf.path,
        title=leaf.title,
        concepts=leaf.concepts,
        headings=(),
        body=readable(leaf.body),
        remarks=(*leaf.questions, leaf.area_name),
    )


class _Lists:
    """Numbers of lists of notes: one for each word, more for names of several words."""

    def __init__(self, reader: PageReader, numbers: dict[str, int]) -> None:
        self._reader, self._numbers = reader, numbers
        self._more: dict[Form, int] = {}
        self.places = [_steps(*reader.lists[name]) for name in numbers]

    def __call__(self, forms: Iterable[Form]) -> str:
        return " ".join(str(self._number(form)) for form in forms)

    def _number(self, form: Form) -> int:
        if len(form) == 1:
            return self._numbers[form[0][0]]
        if form not in self._more:
            self._more[form] = len(self.places)
            self.places.append(_steps(*self._reader.collection.occurrences(Group(forms=(form,)))))
        return self._more[form]


def _wholes(reader: PageReader, numbers: dict[str, int], kind: str) -> Iterator[list[object]]:
    """Lists of the words of each whole title or concept, then its notes."""
    for name, held in reader.lists.items():
        if name.startswith(f"{EXACT}{kind} ") and name[3:]:
            yield [[numbers[one] for one in name[3:].split()], *held.docs]


def _names(glossary: Entries) -> Iterator[tuple[str, bool]]:
    """Every name of the tables and of the base's own glossary, and whether notes that have its
    words apart are no answer to it.
    """
    for name, meanings in (*glossary, *stock()):
        yield name, False
        yield from ((meaning, True) for meaning in meanings)
    yield from ((one, True) for one, _ in other_names())
    yield from ((one, True) for one in lines("topics"))
    yield from ((one, False) for one, _ in related_names() if lead_of(one) and one[-1] != "-")
    yield from ((one, False) for one in sorted(stock_words()))


Named = tuple[str, str, Sequence[Form], Sequence[Form]]


def _resolved(reader: PageReader, glossary: Entries) -> Iterator[Named]:
    """What every name stands for in these notes, if anything: its kind, forms and related forms."""
    own, seen = {name for name, _ in glossary}, set[str]()
    for name, whole in _names(glossary):
        short = name.lstrip("=")
        typed = words(short)
        keyed = [key(word) for word in typed]
        if short in seen or not any(keyed):
            continue
        seen.add(short)
        forms: list[list[Form]] = [[((one, 0),)] if one else [] for one in keyed]
        found = [one for one in reader.glossary.expand(typed) if one.stop - one.start == len(typed)]
        add_meanings(reader, found, keyed, forms, None)
        add_related_meanings(reader, found, forms)
        same = [form for form in next(filter(None, forms))[1:] if reader.collection.holds(form)]
        said = related(typed)
        weak = [text for one in said if one.stop - one.start == len(typed) for text, _ in one.forms]
        kind = ""
        if any(one.short for one in found) and short not in own:
            kind = "w" if name[0] == "=" else "s"
        if whole and len(keyed) > 1 and _apart(reader, typed, found, forms, said):
            kind = "a"
        held = _held(reader, weak)
        if same or held or kind == "a":
            yield short, kind, tuple(dict.fromkeys(same)), held


def _apart(
    reader: PageReader,
    typed: list[str],
    found: list[Expansion],
    forms: list[list[Form]],
    said: Sequence[Related],
) -> bool:
    """Whether a name is in no note although some have a word of it, or what that is related to."""
    parts = [form for one in forms for form in one]
    parts += _held(reader, [text for one in said for text, _ in one.forms])
    return any(map(reader.collection.holds, parts)) and is_absent(
        reader, 0, len(typed), typed, found, forms
    )


def _held(reader: PageReader, names: Sequence[str]) -> tuple[Form, ...]:
    return tuple(dict.fromkeys(form for _, form in held_of(reader, names)))


class _Spellings:
    """How words may be written, folded: a row for each list of notes, then the other words of the
    tables. The first of a row stands for all in a name.
    """

    def __init__(self, reader: PageReader, numbers: dict[str, int]) -> None:
        spelt: dict[str, set[str]] = {name: set() for name in numbers}
        for word in (*reader.seen, *stock_words()):
            name = key(word)
            if name and name != "=a":
                ways = [word] if name[0] != "=" else [name]
                if name in numbers and name[0] != "=":
                    ways += _forms_of(word.lower())
                spelt.setdefault(name, set()).update(map(folded, ways))
        rows = {name: " ".join(sorted(ways)) for name, ways in spelt.items()}
        self._first = {name: row.split(" ", 1)[0] for name, row in rows.items()}
        self.rows = [rows[name] for name in numbers]
        self.others = sorted(row for name, row in rows.items() if name not in numbers)

    def name(self, text: str) -> str:
        """A name as it is looked for: one spelling for each word, stop words left out."""
        return " ".join(
            self._first.get(key(word), folded(word)) for word in words(text) if key(word)
        )


def _forms_of(word: str) -> Iterable[str]:
    """A word in American spelling, its other names, and its adjective or the noun of it."""
    plain = american(word)
    yield from (plain, *other_forms(word))
    for adjective, noun in ENDS_OF_FORMS:
        for ending, other in ((adjective, noun), (noun, adjective)):
            if plain.endswith(ending):
                yield plain[: -len(ending)] + other


def _steps(docs: Iterable[int], weights: Iterable[float]) -> str:
    """Rising numbers as steps, with their weights, to base 36.

    >>> _steps([0, 1, 50], [1, 3, 1])
    '0 1.3 1d'
    """
    found, last = [], 0
    for doc, weight in zip(docs, weights, strict=True):
        step, last = np.base_repr(doc - last, 36).lower(), doc
        found.append(step if weight == 1 else f"{step}.{np.base_repr(int(weight), 36).lower()}")
    return " ".join(found)
