"""Faults are planted where a test can notice them, and a sample of them stays the same."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))

import mutate
from planted_faults import find_faults


def told(source: str) -> list[str]:
    """What each fault in a text changes, in order."""
    return [fault.what for fault in find_faults(source.encode(), "kb/stats/one.py")]


@pytest.mark.parametrize(
    ("source", "faults"),
    [
        ("x = a < b", ["a < b -> a <= b"]),
        ("x = a < b + 1e-9", ["b + 1e-09 -> b - 1e-09"]),
        ("x = a == b + HAIR", ["a == b + HAIR -> a != b + HAIR", "b + HAIR -> b - HAIR"]),
        ("BLOCK = 512", []),
        ("LIMIT = 512", ["512 -> 768"]),
        ("x = a.reshape(-1, 2)", ["2 -> 3"]),
        ("x = a[-1]", ["1 -> 2"]),
        ("x = read(a, strict=True)", []),
        ("x = read(a, deep=True)", ["True -> False"]),
        ("raise ValueError(len(a) - 1)", []),
    ],
)
def test_what_changes_no_result_is_not_planted(source: str, faults: list[str]) -> None:
    """Hairs for rounding, pieces of one result, a guard, a message; their like is planted."""
    assert told(source) == faults


def test_a_fault_is_one_change_of_the_text() -> None:
    """The rest of the line stays as it was."""
    source = b"x = a + b  # both\n"
    (fault,) = find_faults(source, "kb/stats/one.py")
    assert fault.plant(source) == b"x = (a - b)  # both\n"


def test_a_sample_stays_when_other_code_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Faults added to a module push out others at most; a second seed chooses its own."""
    monkeypatch.setattr(mutate, "ROOT", tmp_path)
    module = tmp_path / "kb" / "stats" / "one.py"
    module.parent.mkdir(parents=True)
    lines = [f"x{n} = a{n} < b{n}\n" for n in range(40)]
    module.write_text("".join(lines), encoding="utf-8")
    before = {fault.what for fault in mutate.choose([module], 10, seed=1)}
    other = {fault.what for fault in mutate.choose([module], 10, seed=2)}
    module.write_text("".join(["y = c > d\n", *lines]), encoding="utf-8")
    after = {fault.what for fault in mutate.choose([module], 10, seed=1)}
    assert len(before & after) >= 9
    assert before != other
