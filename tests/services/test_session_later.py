"""A session of a later moment takes over what still holds, and nothing that does not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from kb.services.session import Session

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

NOW = datetime(2027, 2, 14, 12, tzinfo=UTC)
NOTE = "---\ntitle: {}\narea: cardiology\nwritten: {}\n---\nShort.\n"


def opened(root: Path) -> Session:
    """A session with everything loaded."""
    session = Session(root, now=NOW, device="test").later(NOW)
    assert not session.ready(indexed=False)
    _ = session.base, session.index
    return session


def test_an_unchanged_base_is_taken_over(base: Callable[..., Path]) -> None:
    """Neither notes nor index are read again."""
    first = opened(base({"cardiology/one.md": NOTE.format("One", "2027-02-01")}))
    second = first.later(NOW + timedelta(minutes=5))
    assert second.ready(indexed=True)
    assert second.base is first.base
    assert second.now == NOW + timedelta(minutes=5)


def test_a_changed_file_is_read_again(base: Callable[..., Path]) -> None:
    """A note changed by anybody is there at the next moment, found by search as well."""
    root = base({"cardiology/one.md": NOTE.format("One", "2027-02-01")})
    first = opened(root)
    (root / "cardiology" / "two.md").write_text(
        NOTE.format("Pericardial knock", "2027-02-02"), encoding="utf-8"
    )
    second = first.later(NOW)
    assert not second.ready(indexed=False)
    assert len(second.base.notes) == 2
    assert [hit.note for hit in second.search("knock").hits] == ["two"]


def test_another_day_is_cut_anew(base: Callable[..., Path]) -> None:
    """A note dated tomorrow is there tomorrow, without anything being read again."""
    first = opened(base({"cardiology/one.md": NOTE.format("One", "2027-02-15")}))
    second = first.later(NOW + timedelta(days=1))
    assert (len(first.base.notes), len(second.base.notes)) == (0, 1)
    assert second.whole is first.whole


def test_who_watches_is_told_of_every_note(base: Callable[..., Path]) -> None:
    """Reading and indexing tell how far they are, each up to the number of notes."""
    told: list[tuple[str, int, int]] = []
    root = base({f"cardiology/n{n}.md": NOTE.format(f"Idea {n}", "2027-02-01") for n in range(3)})
    session = Session(root, now=NOW, device="test")
    session.watch = lambda what, done, total: told.append((what, done, total))
    _ = session.base, session.index
    reading = [row[1:] for row in told if row[0] == "Reading notes"]
    indexing = [row[1:] for row in told if row[0] != "Reading notes"]
    # Files so young are looked at twice: their time may not show a second change.
    assert reading[:3] == [(1, 3), (2, 3), (3, 3)]
    assert indexing == [(1, 3), (2, 3), (3, 3)]
