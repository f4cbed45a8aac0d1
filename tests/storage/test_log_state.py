"""A large log is kept as it was read; the next process reads the new lines only."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from kb.core.settings import Study
from kb.formats.attempt_log import HEADER, LogReader
from kb.formats.log_state import state_of, take_up
from kb.storage import attempt_store
from kb.storage.attempt_store import LogMemory
from kb.storage.derived_store import DerivedStore

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

LOG = "log/attempts-a.csv"
AT = "2027-01-14T12:00:00+00:00"
FIRST = HEADER + "".join(
    (
        f"a1,{AT},north:1,Renal,gout,wrong,A,B,C,3,62,forgotten,first,,b-1,,as before\r\n",
        f"a2,{AT},north:2,,,right,,,,,,,,,,,\r\n",
        f"v1,{AT},north:2,,,void,,,,,,,,,,a2,a slip\r\n",
        f"d1,{AT},north:3,,,aside,,,,,,misread,,,,,known now\r\n",
        f"a3,{AT},north:4,,,perhaps,,,,,,,,,,,\r\n",
        f'a4,{AT},north:5,renal,,blank,,,,,,,,,,,"in, quotes"\r\n',
    )
)
MORE = (
    f"a5,{AT},north:1,,,right,,,,1,6.5,,second,mock,b-2,,\r\na6,{AT},north:9,,,wrong,,,,,,,,,,,\r\n"
)


def area_of(question: str) -> str:
    """What the settings say of a question."""
    return "cardiology" if question == "north:9" else ""


def told(reader: LogReader, text: str) -> tuple[Any, ...]:
    """All that a reader says of a file, the places of records included."""
    found = reader.read(text.encode())
    records = (*found.attempts, *found.not_answers)
    return records, [row.place for row in records], found.problems


def taken_up(state: dict[str, bytes]) -> LogReader:
    """A new reader with what another one had read."""
    reader = LogReader(LOG, area_of)
    take_up(reader, state)
    return reader


@pytest.fixture
def state() -> dict[str, bytes]:
    """What a reader has read of the first lines."""
    reader = LogReader(LOG, area_of)
    reader.read(FIRST.encode())
    return dict(state_of(reader))


@pytest.mark.parametrize("text", [FIRST, FIRST + MORE, FIRST + "a5", HEADER + MORE])
def test_a_log_taken_up_says_what_it_says_when_read_afresh(
    state: dict[str, bytes], text: str
) -> None:
    """Grown or not, with a torn line, and replaced by another; with all it holds beside answers."""
    assert told(taken_up(state), text) == told(LogReader(LOG, area_of), text)


def test_only_new_lines_are_read(state: dict[str, bytes]) -> None:
    """The area of a question is asked for once, by whichever process met it first."""
    reader = taken_up(state)
    reader._area_of = lambda question: f"asked {question}"
    areas = [answer.area for answer in reader.read((FIRST + MORE).encode()).attempts]
    assert areas == ["renal", "", "renal", "", "asked north:9"]


@pytest.mark.parametrize("part", ["about", "ids", "outcome", "check"])
def test_a_damaged_part_is_not_taken_up(state: dict[str, bytes], part: str) -> None:
    """A cut one or a missing one: the file is read afresh."""
    for damaged in (
        {**state, part: state[part][:-1]},
        {n: v for n, v in state.items() if n != part},
    ):
        assert taken_up(damaged).line_count == 0


def test_a_large_log_is_kept_for_the_next_process(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once a twentieth of it is new; for the same settings only, and never a small one."""
    store, taken = DerivedStore(tmp_path / "store"), list[bytes]()
    take = LogReader._take

    def noted(self: LogReader, lines: bytes, numbers: Sequence[int]) -> None:
        taken.append(lines)
        take(self, lines, numbers)

    monkeypatch.setattr(LogReader, "_take", noted)

    def read(text: str, study: Study) -> bytes:
        """The lines that had to be read."""
        taken.clear()
        LogMemory(store).read(text.encode(), LOG, study)
        return b"".join(taken)

    body = FIRST.removeprefix(HEADER).encode()
    here, there = Study(), Study(timezone="Europe/Paris")
    assert read(FIRST, here) == read(FIRST, here) == body
    monkeypatch.setattr(attempt_store, "LEAST_KEPT", 1)
    assert [read(FIRST, here), read(FIRST, here)] == [body, b""]
    assert read(FIRST + MORE, here) == MORE.encode()
    assert read(FIRST + MORE, here) == b""
    assert read(FIRST, there) == body


def test_words_taken_out_of_a_log_are_not_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A remark blanked for good is gone from what was kept as soon as the log is read."""
    monkeypatch.setattr(attempt_store, "LEAST_KEPT", 1)
    store = DerivedStore(tmp_path / "store")
    for text in (FIRST.replace("a slip", "unlucky words"), FIRST.replace("a slip", "scrubbed")):
        LogMemory(store).read(text.encode(), LOG, Study())
    kept = store.run(lambda db: db.execute("SELECT value FROM kept").fetchall())
    assert b"scrubbed" in b"".join(value for (value,) in kept)
    assert b"unlucky words" not in b"".join(value for (value,) in kept)
