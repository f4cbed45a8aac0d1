"""Fences on the code itself: who may import what, and who may touch clock, disk and network."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

KB = Path(__file__).parent.parent / "kb"

MAY_IMPORT: dict[str, str] = {
    "core": "",
    "language": "core formats",
    "stats": "core",
    "formats": "core language",
    "importers": "core formats",
    "knowledge": "core language stats",
    "planning": "core stats formats",
    "storage": "core language formats",
    "search": "core language formats storage",
    "presentation": "core stats importers knowledge",
    "export": "core language formats planning",
    "reports": "core stats knowledge planning search presentation",
    "charts": "core stats planning presentation reports",
    "services": "core language stats formats knowledge planning storage search presentation "
    "export charts",
    "cli": "core stats formats importers knowledge planning storage presentation export charts "
    "services web",
    "web": "core stats formats importers knowledge storage presentation reports charts services",
    "__main__": "cli",
    "__init__": "",
}
"""What each folder of kb/ may import besides itself; every file lies in one of them."""
EXCLUSIVE = {
    "whoosh": ("search",),
    "networkx": ("knowledge",),
    "markdown_it": ("formats.markdown",),
    "click": ("cli",),
    "flask": ("web",),
    "werkzeug": ("web",),
    "markupsafe": ("web", "export"),
    "segno": ("cli.cmd_serve",),
    "waitress": ("cli.cmd_serve", "web"),
    "sqlite3": ("storage",),
    "platformdirs": ("storage.cache_folder",),
    "filelock": ("storage.atomic_files",),
    "rich": ("presentation", "cli"),
    "openpyxl": ("importers",),
    "icalendar": ("export", "importers"),
    "recurring_ical_events": ("importers",),
    "yaml": ("formats",),
    "matplotlib": ("charts",),
    "reportlab": ("export",),
    "PIL": ("export",),
    "jinja2": ("export", "web"),
}
CLOCK = {"today", "now", "utcnow", "time"}
WRITES = {"write_text", "write_bytes", "unlink", "rename", "rmdir", "mkdir", "touch"}
NETWORK = {"socket", "http", "urllib.request", "ftplib", "smtplib", "requests", "httpx"}


def modules() -> list[Path]:
    """Every module of the package."""
    return sorted(KB.rglob("*.py"))


def name_of(path: Path) -> str:
    """`text.note` for kb/formats/note.py; a package's own file counts as the package."""
    parts = path.relative_to(KB).with_suffix("").parts
    return ".".join(parts[:-1] if len(parts) > 1 and parts[-1] == "__init__" else parts)


def ring_of(module: str) -> str:
    """The folder of a module, or its own name where it lies in none."""
    return module.split(".", maxsplit=1)[0]


def imported(tree: ast.Module) -> list[str]:
    """Every module that a module imports, wherever in it, except for typing only."""
    skipped: set[ast.AST] = set()
    for node in ast.walk(tree):
        test = node.test if isinstance(node, ast.If) else None
        if isinstance(test, ast.Name) and test.id == "TYPE_CHECKING":
            skipped.update(child for part in node.body for child in ast.walk(part))
    names: list[str] = []
    for node in ast.walk(tree):
        if node in skipped:
            continue
        if isinstance(node, ast.Import):
            names.extend(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.append(node.module)
            names.extend(f"{node.module}.{alias.name}" for alias in node.names)
    return names


def ring_breaches(module: str, tree: ast.Module) -> list[str]:
    """Imports of `module` that reach a ring it must not know."""
    own = ring_of(module)
    found = []
    for name in imported(tree):
        parts = name.split(".")
        if parts[0] != "kb" or len(parts) < 2:
            continue
        other = ring_of(parts[1])
        if parts[1] == "__version__" or other == own or other in MAY_IMPORT[own].split():
            continue
        found.append(f"{module} ({own}) imports {name} ({other})")
    return found


def library_breaches(module: str, tree: ast.Module) -> list[str]:
    """Libraries that `module` imports although another module owns them."""
    found = []
    for name in imported(tree):
        owners = EXCLUSIVE.get(name.split(".")[0])
        if owners and not any(module == own or module.startswith(f"{own}.") for own in owners):
            found.append(f"{module} imports {name}")
    return found


def clock_breaches(module: str, tree: ast.Module) -> list[str]:
    """Questions to the clock outside the doors."""
    if ring_of(module) in ("cli", "web", "storage"):
        return []
    return [
        f"{module}:{node.lineno} asks the clock"
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in CLOCK
        and isinstance(node.func.value, ast.Name)
        and node.func.value.id in ("date", "datetime", "time")
    ]


def disk_breaches(module: str, tree: ast.Module) -> list[str]:
    """Calls that change the disk outside the ring that may."""
    if ring_of(module) in ("storage", "search"):
        return []
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        function = node.func
        if isinstance(function, ast.Name) and function.id == "open":
            found.append(f"{module}:{node.lineno} opens a file")
        elif isinstance(function, ast.Attribute) and function.attr in WRITES:
            found.append(f"{module}:{node.lineno} calls {function.attr}")
    return found


def network_breaches(module: str, tree: ast.Module) -> list[str]:
    """Network libraries outside the page."""
    if ring_of(module) == "web":
        return []
    return [f"{module} imports {name}" for name in imported(tree) if name in NETWORK]


FENCES = (ring_breaches, library_breaches, clock_breaches, disk_breaches, network_breaches)


@pytest.mark.parametrize("fence", FENCES, ids=lambda fence: fence.__name__)
def test_no_module_crosses_the_fence(fence: object) -> None:
    """Every module keeps to its ring, its libraries, and away from clock, disk and network."""
    breaches: list[str] = []
    for path in modules():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        breaches.extend(fence(name_of(path), tree))  # type: ignore[operator]
    assert breaches == []


@pytest.mark.parametrize(
    ("fence", "module", "code"),
    [
        (ring_breaches, "stats.standing", "from kb.storage.atomic_files import replace_file"),
        (ring_breaches, "reports.queue", "import kb.storage.base_folder"),
        (library_breaches, "services.session", "import whoosh.index"),
        (clock_breaches, "planning.remedies", "from datetime import date\nx = date.today()"),
        (disk_breaches, "reports.queue", "open('x', 'w')"),
        (disk_breaches, "services.session", "from pathlib import Path\nPath('x').write_text('')"),
        (network_breaches, "services.session", "import socket"),
    ],
)
def test_a_planted_breach_is_caught(fence: object, module: str, code: str) -> None:
    """Each fence can fail."""
    assert fence(module, ast.parse(code)) != []  # type: ignore[operator]


def test_imports_for_typing_only_are_free() -> None:
    """A name needed by the type checker alone crosses no fence."""
    code = (
        "from typing import TYPE_CHECKING\n"
        "if TYPE_CHECKING:\n    from kb.storage.atomic_files import digest"
    )
    assert ring_breaches("stats.standing", ast.parse(code)) == []


def test_no_module_grows_beyond_two_ideas() -> None:
    """No file is longer than 600 lines: past some 400, ask what its second idea is."""
    long = [
        f"{name_of(path)}: {count}"
        for path in modules()
        if (count := len(path.read_text(encoding="utf-8").splitlines())) > 600
    ]
    assert long == []
