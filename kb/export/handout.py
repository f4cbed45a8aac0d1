"""What a print or a carried file is made from: the chosen notes and what is shown of each."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from kb.core.ids import AreaId, NoteId, QuestionId
from kb.core.wording import CAUTION, dated


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """One note with its text.

    `state` is failing, holding or untested; `evidence` is what happened, in one sentence without
    its full stop; `lines` are the rest of its entry in the list. `pictures` are those in its text,
    by path in the base.
    """

    note: NoteId
    path: str
    title: str
    body: str
    area: AreaId
    area_name: str
    state: str = ""
    evidence: str = ""
    lines: tuple[str, ...] = ()
    concepts: tuple[str, ...] = ()
    questions: tuple[QuestionId, ...] = ()
    basis: str = ""
    checked: date | None = None
    pictures: Mapping[str, bytes] = field(default_factory=dict)

    @property
    def foot(self) -> str:
        """Its questions, and where and when its facts were checked."""
        basis = f"basis: {self.basis}" if self.basis else "no basis"
        if self.checked:
            basis += f", checked {dated(self.checked)}"
        return f"{', '.join(self.questions)}; {basis}" if self.questions else basis


@dataclass(frozen=True, slots=True, kw_only=True)
class Handout:
    """Chosen notes in their order. `by_area` groups them under the names of their areas.

    `right` is shown to the right of the title (the day and the days left).
    """

    title: str
    right: str
    day: date
    leaves: tuple[Leaf, ...]
    by_area: bool = False
    caution: str = CAUTION

    def areas(self) -> tuple[tuple[str, tuple[Leaf, ...]], ...]:
        """The notes by area, areas in the order in which they first appear."""
        found: dict[str, list[Leaf]] = {}
        for leaf in self.leaves:
            found.setdefault(leaf.area_name, []).append(leaf)
        return tuple((name, tuple(leaves)) for name, leaves in found.items())
