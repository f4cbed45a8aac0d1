"""The order of imports: as they were taken in, whatever the days of their answers."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from kb.core.errors import Place
from kb.core.ids import AttemptId, QuestionId
from kb.core.model import Attempt
from kb.core.settings import Source, Study
from kb.stats.import_batches import batches_of, items_beyond, latest_of


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
    return [row.batch for row in batches_of(attempts, device)]


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


def test_an_import_says_what_is_in_it() -> None:
    """First and last day, sources in order, answers and how many were wrong."""
    rows = [(2, "north", "right"), (9, "may", "wrong"), (5, "north", "blank")]
    made = [
        replace(own, at=own.at.replace(day=day), outcome=outcome, question=f"{source}:{n}")
        for n, (own, (day, source, outcome)) in enumerate(
            zip(answers("laptop", *[("b", 1)] * 3), rows, strict=True)
        )
    ]
    (found,) = batches_of(made)
    assert (found.first_day.day, found.last_day.day) == (2, 9)
    assert found.sources == ("north", "may")
    assert (found.answer_count, found.wrong_count) == (3, 2)
    assert batches_of(answers("laptop", ("", 1))) == ()


def test_what_a_device_logged_comes_latest_line_first() -> None:
    """From all its files, whatever the order given, and from no other device's."""
    own = answers("laptop", ("a", 5), ("b", 1))
    second = [replace(a, place=Place("log/Attempts-laptop-2.csv", a.place.line)) for a in own]
    other = answers("laptop2", ("c", 3)) + answers("my-laptop", ("d", 3))
    found = latest_of([*own, *other, *second], "laptop")
    assert [(a.place.path[-13:], a.place.line) for a in found] == [
        ("ts-laptop.csv", 3),
        ("ts-laptop.csv", 2),
        ("s-laptop-2.csv"[1:], 3),
        ("s-laptop-2.csv"[1:], 2),
    ]


def test_more_items_than_a_source_has_are_told() -> None:
    """The highest number and how many lie beyond; the last item of a source is fine."""
    study = Study(sources=(Source(id="north", name="North", item_count=3),))
    four = tuple(answers("laptop", *[("b", 1)] * 4))  # north:2 to north:5
    assert items_beyond(study, four[:2]) == []
    (said,) = items_beyond(study, four)
    assert said.startswith(
        "north has only 3 questions, yet 5 and 1 other were logged; correct 'items'"
    )
    assert items_beyond(Study(sources=(Source(id="north", name="North"),)), four) == []
    assert items_beyond(Study(), four) == []


def test_an_import_stands_where_its_last_line_is_not_its_last_answer() -> None:
    """It grew by an old answer after another import was made."""
    assert order(answers("laptop", ("page", 5), ("sheet", 6), ("page", 1))) == ["sheet", "page"]
