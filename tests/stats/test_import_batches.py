"""The order of imports: as they were taken in, whatever the days of their answers."""

from __future__ import annotations

from datetime import UTC, datetime

from kb.core.errors import Place
from kb.core.ids import AttemptId, QuestionId
from kb.core.model import Attempt
from kb.stats.import_batches import imports_of


def answers(device: str, *rows: tuple[str, int]) -> list[Attempt]:
    """The log of a device: one answer a line, as (import, day of February)."""
    return [
        Attempt(
            id=AttemptId(f"{device}{line}"),
            at=datetime(2027, 2, day, 12, tzinfo=UTC),
            question=QuestionId(f"north:{line}"),
            outcome="right",
            batch=batch,
            place=Place(f"log/attempts-{device}.csv", line),
        )
        for line, (batch, day) in enumerate(rows, start=2)
    ]


def order(*logs: list[Attempt], device: str = "laptop") -> list[str]:
    """Imports in the order told, of logs read in any order."""
    attempts = sorted((a for log in logs for a in log), key=lambda a: (a.at, a.id))
    return [row.batch for row in imports_of(attempts, device)]


def test_an_old_sheet_taken_in_last_stands_last() -> None:
    """A person looks for the import they just made."""
    assert order(answers("laptop", ("new", 10), ("old", 2), ("old", 3))) == ["new", "old"]


def test_devices_are_put_together_by_the_days_they_reached() -> None:
    """What was taken in after answers of the 9th cannot have been taken in before the 9th."""
    laptop = answers("laptop", ("l5", 5), ("l9", 9), ("l-old", 1))
    phone = answers("phone", ("p4", 4), ("p8", 8), ("p10", 10))
    assert order(laptop, phone) == ["p4", "l5", "p8", "l9", "l-old", "p10"]


def test_of_one_day_this_device_comes_last() -> None:
    """Its own last import is the likeliest to be looked for."""
    laptop, phone = answers("laptop", ("l", 5)), answers("phone", ("p", 5))
    assert order(laptop, phone, device="laptop") == ["p", "l"]
    assert order(laptop, phone, device="phone") == ["l", "p"]


def test_an_import_that_grows_stands_where_it_grew_last() -> None:
    """Answers given one by one are one import of their day."""
    assert order(answers("laptop", ("page", 5), ("sheet", 5), ("page", 5))) == ["sheet", "page"]
