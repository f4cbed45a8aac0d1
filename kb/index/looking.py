"""From a query to what is looked for in the index: groups of forms, and what to tell of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.index.ranking import Group
from kb.text.english import key, words

if TYPE_CHECKING:
    from kb.index.reader import Reader
    from kb.text.query import Query


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What to look for. `names` are the keys of all groups, `typed` those of the words in order."""

    groups: tuple[Group, ...]
    required: tuple[Group, ...]
    excluded: tuple[Group, ...]
    names: set[str]
    typed: tuple[str, ...]
    also: tuple[str, ...]
    nearest: tuple[str, ...]
    feedback: bool


def look_for(reader: Reader, query: Query, prefix: bool) -> Wanted:
    """What a parsed query looks for in this index."""
    counted: dict[str, int] = {}
    typed = []
    for word in words(query.plain):
        if name := key(word):
            counted[name] = counted.get(name, 0) + 1
            typed.append(name)
    groups = [Group(forms=(((name, 0),),), weight=float(n)) for name, n in counted.items()]
    required = []
    for phrase in query.phrases:
        form = _form(phrase)
        if form:
            required.append(Group(forms=(form,), weight=float(len(form))))
            typed.extend(name for name, _ in form)
    excluded = [Group(forms=(form,)) for text in query.excluded if (form := _form(text))]
    return Wanted(
        groups=(*groups, *required),
        required=tuple(required),
        excluded=tuple(excluded),
        names=set(counted),
        typed=tuple(typed),
        also=(),
        nearest=(),
        feedback=not prefix,
    )


def _form(text: str) -> tuple[tuple[str, int], ...]:
    """Keys of a phrase with their distance from its first word; stop words leave a gap."""
    found = [(name, at) for at, word in enumerate(words(text)) if (name := key(word))]
    return tuple((name, at - found[0][1]) for name, at in found) if found else ()
