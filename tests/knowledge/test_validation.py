"""Every kind of finding is found where it stands, and a sound base has none."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from kb.knowledge.validation import CHECKS, find_problems

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

GOOD = """\
---
title: {title}
area: cardiology
questions: [north:1]
basis: own lecture notes
checked: 2027-01-02
written: 2027-01-03
---
See [other]({link}).
"""
LOG = (
    "id,at,question,area,outcome\r\n"
    "a1,2027-01-02T10:00:00+00:00,north:1,,wrong\r\n"
    "a2,2027-01-02T10:00:00+00:00,north:{item},{area},wrong\r\n"
)


def files(**changes: str) -> dict[str, str]:
    """A sound base, with changes to parts of its note, link or log."""
    note = GOOD.format(title="One", link=changes.get("link", "other.md"))
    for old, new in (changes.get("swap", "|").split("|"),):
        note = note.replace(old, new) if old else note
    log = LOG.format(item=changes.get("item", "2"), area=changes.get("area", ""))
    return {
        "cardiology/one.md": note,
        "cardiology/other.md": GOOD.format(title="Other", link="one.md"),
        "log/attempts-a.csv": log,
    }


def test_a_sound_base_has_no_finding(session: Callable[..., Session]) -> None:
    """Silence means that all is well."""
    start = session(files())
    assert find_problems(start.base, start.today) == ()


@pytest.mark.parametrize(
    ("changes", "code", "place", "hint"),
    [
        ({"link": "othr.md"}, "broken-link", "cardiology/one.md:9", "did you mean other.md?"),
        ({"link": "../../x.md"}, "link-outside", "cardiology/one.md:9", "copy the file"),
        ({"swap": "area: cardiology|area: cardiolgy"}, "unknown-area", "cardiology/one.md:1",
         "did you mean cardiology?"),
        ({"swap": "area: cardiology|area: cardiology, neurology"}, "unknown-area",
         "cardiology/one.md:1", "write a list: areas: [cardiology, neurology]"),
        ({"swap": "area: cardiology|"}, "no-area", "cardiology/one.md:1", "area: cardiology"),
        ({"area": "renal"}, "unknown-area", "log/attempts-a.csv:3", "known are"),
        ({"item": "301"}, "item-out-of-range", "log/attempts-a.csv:3", "correct 'items'"),
        ({"swap": "north:1|north:1, north:9"}, "unlogged-question", "cardiology/one.md:1", "slip"),
        ({"swap": "basis: own lecture notes|"}, "no-basis", "cardiology/one.md:1", "basis:"),
        ({"swap": "2027-01-02|2026-02-13"}, "not-checked-lately", "cardiology/one.md:1", "again"),
        ({"swap": "2027-01-02|2027-02-15"}, "checked-in-future", "cardiology/one.md:1", ""),
        ({"swap": "See [other](other.md).|"}, "empty-note", "cardiology/one.md:1", "write"),
    ],
)  # fmt: skip
def test_a_finding_names_its_place_and_remedy(
    session: Callable[..., Session], changes: dict[str, str], code: str, place: str, hint: str
) -> None:
    """One thing wrong gives one finding."""
    start = session(files(**changes))
    found = find_problems(start.base, start.today)
    assert [(p.code, str(p.place)) for p in found] == [(code, place)]
    assert hint in found[0].hint


def test_a_year_and_a_day_is_too_long(session: Callable[..., Session]) -> None:
    """A fact checked 365 days ago still counts, one day more does not."""
    start = session(files())
    assert find_problems(start.base, date(2028, 1, 2)) == ()
    found = find_problems(start.base, date(2028, 1, 3))
    assert {p.code for p in found} == {"not-checked-lately"}


def test_notes_dated_ahead_are_one_finding(session: Callable[..., Session]) -> None:
    """They are left out of everything else, so that it must be said somewhere."""
    later = GOOD.format(title="Later", link="one.md").replace("2027-01-03", "2072-01-03")
    start = session({**files(), "cardiology/a.md": later, "cardiology/b.md": later})
    (found,) = find_problems(start.base, start.today)
    assert (found.code, str(found.place)) == ("written-in-future", "cardiology/a.md:1")
    assert "(2072-01-03), and 1 other note" in found.message


def test_a_day_asked_for_has_no_later_notes(session: Callable[..., Session]) -> None:
    """Looking back, what was written since is no finding."""
    later = GOOD.format(title="Later", link="one.md").replace("2027-01-03", "2072-01-03")
    start = session({**files(), "cardiology/a.md": later})
    start.as_of = start.today
    assert find_problems(start.base, start.today) == ()


def test_every_check_has_a_name_and_a_reason() -> None:
    """The list of checks is what it says."""
    assert len({name for name, _ in CHECKS}) == len(CHECKS)
    assert all(check.__doc__ for _, check in CHECKS)


@pytest.mark.parametrize(
    "front",
    [
        "title: a: b\narea: cardiology",
        "area: {a: 1}\nquestions: [north:1]\nbasis: text",
        "area: [a",
    ],
)
def test_one_cause_is_one_finding(session: Callable[..., Session], front: str) -> None:
    """What a front matter that cannot be read seems to lack may well stand in it."""
    note = f"---\n{front}\n---\nText.\n"
    start = session({**files(), "cardiology/x.md": note})
    found = [p for p in find_problems(start.base, start.today) if p.place.path == "cardiology/x.md"]
    assert len(found) == 1
    assert found[0].severity == "error"


@pytest.mark.parametrize("name", ["cardiology/ecg-943-476-5870.png", "log/Mr Smith 82M.txt"])
def test_a_name_that_says_who_a_patient_was(session: Callable[..., Session], name: str) -> None:
    """Of a picture too; a note sees to its own name."""
    start = session({**files(), name: b"x", "cardiology/ecg-2027-01-14.png": b"x"})
    (found,) = find_problems(start.base, start.today)
    assert (found.code, str(found.place)) == ("patient-identifier", name)
