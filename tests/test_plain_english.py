"""Sentences that people read are plain British English."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
STILTED = re.compile(
    r"\b(?:mend(?:ed|s|ing)?|anew|truly|foretold|foretell|wants? doing|want something done"
    r"|come right|came right|comes right|so many (?:days|hours|minutes|questions|notes)"
    r"|stands? twice|is off|are off|tells nothing|seen through|let go of|true reason)\b",
    re.I,
)
PER_CENT = re.compile(r"(?:[0-9]|[0-9]f\}|\)\}) %(?![(a-z0-9{%-])")
"""A per cent sign is closed up: `71%`."""
AT_THE_HEAD = re.compile(r"(?:^|[.;] )else ", re.M)
"""`else its first line`: write `default: its first line`."""


def sentences(path: Path) -> list[tuple[int, str]]:
    """(line, text) of everything shown: a module's literals without docstrings, or a whole page."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        plain = re.sub(r"\{[%#].*?[%#]\}|\{\{.*?\}\}|```.*?```", "", text, flags=re.S)
        return list(enumerate(plain.splitlines(), start=1))
    tree = ast.parse(text)
    bare = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in bare
    ] + [(1, ast.get_docstring(tree) or "")] * (path.parent.name in ("reports", "charts"))


def shown_files() -> list[Path]:
    """Code, pages, help and documents."""
    found = [*(ROOT / "kb").rglob("*.py"), *(ROOT / "kb").rglob("*.html")]
    found += (ROOT / "kb" / "help").glob("*.md")
    found += (ROOT / "kb" / "formats").glob("*.yaml")
    return sorted([*found, ROOT / "README.md", ROOT / "DEVELOPERS.md"])


def breaches(path: Path) -> list[str]:
    """Every stilted word of a file, with its line."""
    return [
        f"{path.relative_to(ROOT)}:{line}: {match.group(0)}"
        for line, text in sentences(path)
        for rule in (STILTED, AT_THE_HEAD, PER_CENT)
        for match in rule.finditer(text)
    ]


def test_no_sentence_is_stilted() -> None:
    """Use fix, again, really, forecast, needs work, get right, N days."""
    assert [found for path in shown_files() for found in breaches(path)] == []


@pytest.mark.parametrize(
    "sentence",
    ["look it up and mend it", "made anew", "Its title; else its first line", "it is off", "71 %"],
)
def test_a_stilted_word_is_found(sentence: str) -> None:
    """The lint can fail."""
    assert any(rule.search(sentence) for rule in (STILTED, AT_THE_HEAD, PER_CENT))
