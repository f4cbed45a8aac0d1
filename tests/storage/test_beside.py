"""Work done beside other work gives what it would give in its place."""

from __future__ import annotations

import pytest

from kb.storage import beside
from kb.storage.beside import Beside


@pytest.fixture(params=[True, False], ids=["copy", "thread"], autouse=True)
def _both(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a copy of the process where that may be had, and in a thread."""
    if not request.param:
        monkeypatch.setattr(beside, "_may_copy", lambda: False)


def test_the_value_arrives_whole_however_long() -> None:
    """More than a pipe holds at once comes through, and may be asked for again."""
    work = Beside(lambda: [("x" * 100, number) for number in range(10_000)])
    assert work.result() == [("x" * 100, number) for number in range(10_000)]
    assert len(work.result()) == 10_000


def test_work_that_fails_gives_nothing() -> None:
    """A file that is not there is no reason to stop."""
    assert Beside(lambda: open("/no such file at all")).result() is None  # noqa: PTH123, SIM115
