"""Every formula names its source, and every work in the list is used."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from kb.core.citations import WORKS

KB = Path(__file__).parent.parent / "kb"
LOOK_UPS = (
    *("validation", "import_batches", "history"),
    *("calendar_entries", "progress", "what_if", "workload"),
)
"""Modules that only look things up or bring them together."""
COMPUTING = sorted(
    path
    for folder in ("stats", "planning", "knowledge")
    for path in (KB / folder).glob("*.py")
    if path.stem not in LOOK_UPS
)
SOURCE = re.compile(r"Source:\s*(.*?)(?:\n\s*\n|\Z)", re.S)


def public_functions(path: Path) -> list[tuple[str, str]]:
    """(name, docstring) of every public function in a module that computes."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = []
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            found.append((f"{path.stem}.{node.name}", ast.get_docstring(node) or ""))
    return found


def keys_in(text: str) -> set[str]:
    """Keys of works named in a text."""
    return set(re.findall(r"\b[a-z]+[a-z-]*\d{4}[a-z]?\b|\bnhs-check-digit\b", text))


def test_every_work_is_used_somewhere() -> None:
    """Every work in the list is cited by some module."""
    text = "\n".join(
        path.read_text(encoding="utf-8") for path in KB.rglob("*.py") if path.name != "citations.py"
    )
    assert sorted(key for key in WORKS if key not in text) == []


def test_no_source_line_names_an_unknown_work() -> None:
    """Every key in a Source line is in the table, or the line says `own, because`."""
    unknown = []
    for path in KB.rglob("*.py"):
        for match in SOURCE.finditer(path.read_text(encoding="utf-8")):
            said = match.group(1)
            keys = keys_in(said.split('"""', maxsplit=1)[0])
            unknown += [f"{path.name}: {key}" for key in keys if key not in WORKS]
    assert unknown == []


@pytest.mark.parametrize("path", COMPUTING, ids=lambda path: path.stem)
def test_a_module_that_computes_says_where_from(path: Path) -> None:
    """Every module that computes has a Source line in its own or a function's docstring."""
    text = path.read_text(encoding="utf-8")
    if path.name == "__init__.py" or not public_functions(path):
        return
    assert "Source:" in text, f"{path.name} names no source"


def test_works_read_as_citations() -> None:
    """Each work has authors, year, title and where it was published."""
    for key, work in WORKS.items():
        assert work.authors, key
        assert 1800 < work.year <= 2027, key
        assert str(work).startswith(f"{work.authors} ({work.year}). ")
