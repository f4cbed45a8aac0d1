"""Which notes a name means, however it is spelled: abbreviations, British or American, plurals."""

from collections.abc import Collection, Iterable
from functools import cached_property

from kb.core.last_base import kept_for_last_base
from kb.core.model import Base, Note
from kb.language.abbreviations import Entries, Glossary
from kb.language.normalise import keys

Keys = frozenset[str]


class Naming:
    """Looks up notes by the names of diagnoses, drugs and signs.

    Args:
        notes: To be looked up by title and concepts.
        glossary: The base's own abbreviations, beside the stock.
        main: How many of a note's first concepts count; None for all.
    """

    def __init__(
        self, notes: Iterable[Note], glossary: Entries = (), *, main: int | None = None
    ) -> None:
        self._notes, self._main = tuple(notes), main
        self._glossary = Glossary(glossary)
        self._keys: dict[str, Keys] = {}

    @cached_property
    def _by_word(self) -> dict[str, list[tuple[Note, Keys]]]:
        found: dict[str, list[tuple[Note, Keys]]] = {}
        for note in self._notes:
            for name in (note.title, *note.concepts[: self._main]):
                for way in self.ways(name):
                    for word in way:
                        found.setdefault(word, []).append((note, way))
        return found

    def key(self, name: str) -> Keys:
        """Equal for two spellings of one name.

        Source: own, because the rules of the search and the glossary decide it.
        """
        found = self._keys.get(name)
        if found is None:
            found = self._keys[name] = _spelled(self._glossary.written_out(name))
        return found

    def about(self, name: str, asked: Collection[str] = ()) -> tuple[Note, ...]:
        """Notes whose title or a concept names it, in order of id; those that answer one of the
        questions `asked` come first.
        """
        found: dict[str, Note] = {}
        for wanted in self.ways(name):
            rarest = min(
                (self._by_word.get(word, []) for word in sorted(wanted)), key=len, default=[]
            )
            found.update((note.id, note) for note, way in rarest if wanted <= way)
        return tuple(
            sorted(
                found.values(),
                key=lambda note: (not any(q in asked for q in note.questions), note.id),
            )
        )

    def ways(self, name: str) -> set[Keys]:
        """The keys of a name's words, as it is written and written out."""
        return {_spelled(name), self.key(name)} - {frozenset()}


@kept_for_last_base
def naming_of(base: Base) -> Naming:
    """By what names the notes of a base are known."""
    return Naming(base.notes, base.glossary)


def _spelled(name: str) -> Keys:
    return frozenset(keys(name)) or frozenset(name.casefold().split())
