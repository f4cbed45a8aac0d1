"""Notes in the form that `print` and `carry` receive."""

from __future__ import annotations

from datetime import date

from kb.core.ids import AreaId, NoteId, QuestionId
from kb.export.handout import Leaf

DAY = date(2027, 2, 14)


def leaf(body: str = "A fact.", title: str = "A title", **more: object) -> Leaf:
    """A nephrology note with this text."""
    given: dict[str, object] = {
        "note": NoteId(title),
        "path": f"nephrology/{title.casefold().replace(' ', '-')}.md",
        "title": title,
        "body": body,
        "area": AreaId("nephrology"),
        "area_name": "Nephrology",
        "state": "failing",
        "evidence": "wrong 2 of the last 3",
        "questions": (QuestionId("north:101"),),
        "basis": "physiology text, 2024 edition",
    }
    return Leaf(**{**given, **more})  # type: ignore[arg-type]
