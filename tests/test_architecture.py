"""Rules for the code itself: what a folder may import, and which may use disk, clock and network.

Every rule is an explicit table or list, and anything it does not name is a breach. Planted
breaches show that each rule catches every form it names.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import re
from collections import defaultdict
from copy import deepcopy
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

import pytest

from kb.core import plugins
from kb.presentation import report_module
from kb.presentation.report_model import Option

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

KB = Path(__file__).parent.parent / "kb"

AT_THE_ROOT = {"__init__.py", "__main__.py", "py.typed"}
TEXT_FOLDERS = {"help"}
"""Folders of text without a module."""
MAY_IMPORT: dict[str, str] = {
    "core": "",
    "language": "core",
    "stats": "core",
    "formats": "core language",
    "importers": "core language formats",
    "knowledge": "core language stats",
    "planning": "core stats formats",
    "storage": "core language formats",
    "search": "core language formats storage",
    "presentation": "core stats importers knowledge",
    "export": "core language formats planning search",
    "reports": "core stats knowledge planning search presentation",
    "charts": "core stats planning presentation reports",
    "services": "core language stats formats knowledge planning storage search "
    "presentation export reports charts",
    "web": "core stats formats importers presentation reports charts services",
    "cli": "core stats formats importers knowledge presentation export charts services web",
    "__main__": "cli",
    "__init__": "",
}
"""What each folder of kb/ may import besides itself, lowest first. Every file lies in one of
them, and each uses all that its row allows."""
LIBRARIES = {
    "whoosh": ("search",),
    "networkx": ("knowledge",),
    "markdown_it": ("formats.markdown",),
    "click": ("cli",),
    "flask": ("web",),
    "werkzeug": ("web",),
    "markupsafe": ("web", "export"),
    "segno": ("cli.cmd_serve",),
    "cryptography": ("services.certificate",),
    "waitress": ("cli.cmd_serve", "web"),
    "sqlite3": ("storage",),
    "platformdirs": ("storage.cache_folder",),
    "filelock": ("storage.atomic_files",),
    "rich": ("presentation", "cli"),
    "openpyxl": ("importers",),
    "icalendar": ("export", "importers"),
    "recurring_ical_events": ("importers",),
    "holidays": ("core.bank_holidays",),
    "yaml": ("formats",),
    "matplotlib": ("charts",),
    "reportlab": ("export",),
    "PIL": ("export",),
    "jinja2": ("export", "web"),
}
"""The only folders or modules that may import each library when they run."""
WRITERS = ("storage", "search")
"""The only folders that write to disk."""
PATH_WRITERS = {
    *("chmod", "hardlink_to", "mkdir", "rename", "rmdir", "symlink_to", "touch", "unlink"),
    *("write_bytes", "write_text"),
}
OS_READERS = {"environ", "fsencode", "get_terminal_size", "getenv", "name", "path", "sep"}
"""All of `os` that a module outside those folders may use."""
WRITING_LIBRARIES = {"shutil", "tempfile"}
OPENERS = {"open", "io.open", "codecs.open", "gzip.open", "bz2.open", "lzma.open"}
READING = set("rbt")
CLOCK_FOLDERS = ("cli", "web")
"""The doors: the only folders that ask what time it is."""
CLOCK_MODULES = {
    "storage.note_catalogue": "a file changed within the disk's clock tick is read again",
}
"""Other modules that may, each with its reason."""
CLOCK = {
    *("datetime.datetime.now", "datetime.datetime.today", "datetime.datetime.utcnow"),
    *("datetime.date.today", "uuid.uuid1"),
    *(f"time.{name}" for name in ("asctime", "ctime", "gmtime", "localtime", "strftime")),
    *(f"time.{name}{suffix}" for name in ("monotonic", "time") for suffix in ("", "_ns")),
    *(
        f"time.{name}{suffix}"
        for name in ("perf_counter", "process_time")
        for suffix in ("", "_ns")
    ),
}
NETWORK = {"socket", "http", "urllib.request", "ftplib", "smtplib", "requests", "httpx"}
EXECUTING = {"pickle", "_pickle", "marshal", "shelve", "dill", "multiprocessing"}
FORKS = {"os.fork", "os.forkpty", "os.posix_spawn"}
GETATTR_MODULE = "core.plugins"
"""The one module that looks up attributes of modules by name."""
LOADERS = {"load", "import_module", "__import__"}
LOOKUPS = {"getattr", "hasattr", "setattr", "delattr", "vars"}
MOST_LINES = 400
MOST_STATEMENTS = 40


@cache
def modules() -> dict[str, ast.Module]:
    """Every module of the package, by name."""
    return {
        name_of(path.relative_to(KB)): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted(KB.rglob("*.py"))
    }


def name_of(path: Path) -> str:
    """`formats.note` for formats/note.py; `formats` for formats/__init__.py."""
    parts = path.with_suffix("").parts
    return ".".join(parts[:-1] if len(parts) > 1 and parts[-1] == "__init__" else parts)


def folder_of(module: str) -> str:
    """The folder a module is in, or its own name if it is at the root."""
    return module.split(".", maxsplit=1)[0]


# What a module imports, and what its names mean


def imports(module: str, tree: ast.Module) -> Iterator[str]:
    """Every module or name that a module imports, in any form and anywhere in it.

    This includes imports for typing, inside a function, relative, or by a loader given the name.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            source = node.module or ""
            if node.level:
                above = ["kb", *module.split(".")][: -node.level]
                source = ".".join([*above, *([node.module] if node.module else [])])
            yield from (f"{source}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield from re.findall(r"\Akb(?:\.[a-z_]+)+\Z", node.value)


def at_runtime(tree: ast.Module) -> ast.Module:
    """The module without its imports for the type checker alone."""

    class Runtime(ast.NodeTransformer):
        def visit_If(self, node: ast.If) -> ast.AST:
            return ast.Pass() if ast.unparse(node.test) == "TYPE_CHECKING" else node

    return ast.Module(body=[Runtime().visit(node) for node in deepcopy(tree).body], type_ignores=[])


def origins(tree: ast.Module) -> dict[str, str]:
    """What each name of a module refers to, followed through imports and plain assignments."""
    found: dict[str, str] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                own = alias.asname or alias.name.split(".")[0]
                found[own] = alias.name if alias.asname else own
        elif isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                found[alias.asname or alias.name] = f"{node.module}.{alias.name}"
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and len(node.targets) == 1:
            target, origin = node.targets[0], origin_of(node.value, found)
            if isinstance(target, ast.Name) and origin:
                found.setdefault(target.id, origin)
    return found


def origin_of(node: ast.expr, names: dict[str, str]) -> str:
    """The full name, such as `datetime.datetime.now`, however it was imported; empty if unknown."""
    if isinstance(node, ast.Name):
        return names.get(node.id, "")
    if isinstance(node, ast.Attribute):
        base = origin_of(node.value, names)
        return f"{base}.{node.attr}" if base else ""
    return ""


def used(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Every imported name with its line, whether used or only imported."""
    names = origins(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield from ((node.lineno, f"{node.module}.{alias.name}") for alias in node.names)
        elif isinstance(node, (ast.Name, ast.Attribute)):
            origin = origin_of(node, names)
            if origin:
                yield node.lineno, origin


# The rules


def folder_breaches(module: str, tree: ast.Module) -> list[str]:
    """Imports from a folder that this module's folder may not import."""
    own = folder_of(module)
    if own not in MAY_IMPORT:
        return [f"{module} lies in no known folder"]
    found = []
    for name in imports(module, tree):
        parts = name.split(".")
        if parts[0] != "kb" or len(parts) < 2 or parts[1] == "__version__":
            continue
        if parts[1] != own and parts[1] not in MAY_IMPORT[own].split():
            found.append(f"{module} imports {name}")
    return found


def library_breaches(module: str, tree: ast.Module) -> list[str]:
    """Libraries that a module imports although another folder owns them."""
    found = []
    for name in imports(module, at_runtime(tree)):
        owners = LIBRARIES.get(name.split(".")[0])
        if owners and not any(module == own or module.startswith(f"{own}.") for own in owners):
            found.append(f"{module} imports {name}")
    return found


def private_breaches(module: str, tree: ast.Module) -> list[str]:
    """Private names of another folder, imported or reached through its module."""
    names = {name for _, name in used(tree)} | set(imports(module, tree))
    return [
        f"{module} uses {name}"
        for name in sorted(names)
        if re.match(r"kb\.", name)
        and name.split(".")[1] != folder_of(module)
        and any(part.startswith("_") and part != "__version__" for part in name.split(".")[1:])
    ]


def disk_breaches(module: str, tree: ast.Module) -> list[str]:
    """Calls that may change the disk, outside the folders allowed to."""
    if folder_of(module) in WRITERS:
        return []
    names = origins(tree)
    found = [
        f"{module}:{line} uses {name}"
        for line, name in used(tree)
        if name.split(".")[0] in WRITING_LIBRARIES
        or (name.startswith("os.") and name.split(".")[1] not in OS_READERS)
    ]
    found += [f"{module} imports {n}" for n in imports(module, tree) if n in WRITING_LIBRARIES]
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr in PATH_WRITERS:
            found.append(f"{module}:{node.lineno} uses .{node.attr}")
        elif isinstance(node, ast.Call) and (_opens(node, names) or _replaces(node)):
            found.append(f"{module}:{node.lineno} writes a file")
    return found


def _opens(call: ast.Call, names: dict[str, str]) -> bool:
    """Whether a file is opened for writing, or in a mode that is not a literal."""
    function = call.func
    origin = origin_of(function, names)
    if isinstance(function, ast.Name) and function.id == "open":
        origin = "open"
    if origin in OPENERS:
        place = 1
    elif isinstance(function, ast.Attribute) and function.attr == "open" and not origin:
        place = 0
    else:
        return False
    given = [word.value for word in call.keywords if word.arg == "mode"] or call.args[place:][:1]
    mode = given[0] if given else ast.Constant("r")
    if not isinstance(mode, ast.Constant):
        return True
    return isinstance(mode.value, str) and not set(mode.value) <= READING


def _replaces(call: ast.Call) -> bool:
    """Whether this is `Path.replace`, with one argument: text takes two, a date named ones."""
    replaces = isinstance(call.func, ast.Attribute) and call.func.attr == "replace"
    return replaces and len(call.args) == 1 and not call.keywords


def clock_breaches(module: str, tree: ast.Module) -> list[str]:
    """Uses of the clock outside cli and web, by any name, called or passed on."""
    if folder_of(module) in CLOCK_FOLDERS or module in CLOCK_MODULES:
        return []
    return [f"{module}:{line} uses {name}" for line, name in used(tree) if name in CLOCK]


def network_breaches(module: str, tree: ast.Module) -> list[str]:
    """Network libraries outside the page."""
    if folder_of(module) == "web":
        return []
    return [
        f"{module} imports {name}"
        for name in imports(module, tree)
        if any(name == library or name.startswith(f"{library}.") for library in NETWORK)
    ]


def executing_breaches(module: str, tree: ast.Module) -> list[str]:
    """Formats that run code when read, and process forks."""
    names = [name for name in imports(module, tree) if name.split(".")[0] in EXECUTING]
    names += [name for _, name in used(tree) if name in FORKS]
    return [f"{module} uses {name}" for name in names]


def getattr_breaches(module: str, tree: ast.Module) -> list[str]:
    """`getattr` on a module, except in the one place for it."""
    if module == GETATTR_MODULE:
        return []
    held = _modules_held(tree)
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args:
            if node.func.id in LOOKUPS and _is_module(node.args[0], held):
                found.append(f"{module}:{node.lineno} uses {node.func.id} on a module")
        elif isinstance(node, ast.Attribute) and (node.attr, _is_module(node.value, held)) == (
            "__dict__",
            True,
        ):
            found.append(f"{module}:{node.lineno} uses __dict__ of a module")
    return found


def _modules_held(tree: ast.Module) -> set[str]:
    """Names that hold a module: imported, annotated as one, or returned by a loader."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found.update(alias.asname or alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "kb":
            found.update(
                alias.asname or alias.name
                for alias in node.names
                if (KB.parent / f"{node.module}.{alias.name}".replace(".", "/")).exists()
                or (KB.parent / f"{node.module}.{alias.name}".replace(".", "/"))
                .with_suffix(".py")
                .exists()
            )
        elif isinstance(node, ast.arg) and "Module" in _text(node.annotation):
            found.add(node.arg)
        elif isinstance(node, ast.AnnAssign) and "Module" in _text(node.annotation):
            found.add(_text(node.target))
        elif isinstance(node, ast.Assign) and _is_module(node.value, set()):
            found.update(_text(target) for target in node.targets)
    return found


def _is_module(node: ast.expr, held: set[str]) -> bool:
    if isinstance(node, ast.Call):
        called = _text(node.func).split(".")[-1]
        return called in LOADERS or called.endswith("_module")
    return _text(node) in held


def _text(node: ast.expr | None) -> str:
    return "" if node is None else ast.unparse(node)


def length_breaches(module: str, tree: ast.Module) -> list[str]:
    """Functions with too many statements to take in; docstrings are not counted."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            statements = sum(isinstance(part, ast.stmt) for part in ast.walk(node)) - 1
            statements -= ast.get_docstring(node) is not None
            if statements > MOST_STATEMENTS:
                found.append(f"{module}.{node.name}: {statements} statements")
    return found


RULES = (
    folder_breaches,
    library_breaches,
    private_breaches,
    disk_breaches,
    clock_breaches,
    network_breaches,
    executing_breaches,
    getattr_breaches,
    length_breaches,
)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_no_module_breaks_the_rule(rule: Callable[[str, ast.Module], list[str]]) -> None:
    """No module imports, writes, or asks the time or the network beyond what its folder may."""
    assert [breach for name, tree in modules().items() for breach in rule(name, tree)] == []


PLANTED = {
    folder_breaches: [
        ("stats.tracker", "from kb.storage.atomic_files import replace_file"),
        ("stats.tracker", "from kb.storage import atomic_files as files"),
        ("reports.queue", "import kb.storage.base_folder"),
        ("reports.queue", "def f():\n    from kb.storage import scan"),
        ("core.model", "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import kb.stats"),
        ("stats.tracker", "from ..storage import scan"),
        ("formats.note", "from kb.core import plugins\nplugins.load('kb.reports', 'queue', ())"),
        ("formats.note", "import importlib\nimportlib.import_module('kb.reports.queue')"),
        ("loose", "x = 1"),
        ("helpers.text", "x = 1"),
    ],
    library_breaches: [
        ("services.session", "import whoosh.index"),
        ("services.session", "from whoosh import index"),
        ("cli.params", "def f():\n    import flask"),
        ("formats.note", "from markdown_it import MarkdownIt"),
    ],
    private_breaches: [
        ("reports.queue", "from kb.stats.tracker import _fit"),
        ("reports.queue", "from kb.charts import _layout"),
        ("reports.queue", "import kb.charts._layout"),
        ("reports.queue", "from kb.stats import tracker\ntracker._fit()"),
        ("reports.queue", "import kb.stats.tracker\nkb.stats.tracker._fit()"),
    ],
    disk_breaches: [
        ("reports.queue", "open('x', 'w')"),
        ("reports.queue", "open('x', mode='ab')"),
        ("reports.queue", "open('x', 'r+')"),
        ("reports.queue", "def f(mode):\n    open('x', mode)"),
        ("reports.queue", "import io\nio.open('x', 'w')"),
        ("reports.queue", "import gzip\ngzip.open('x', 'wb')"),
        ("reports.queue", "from io import open as o\no('x', 'x')"),
        ("reports.queue", "def f(path):\n    path.open('w')"),
        ("reports.queue", "def f(path):\n    path.open(mode='a')"),
        *(("reports.queue", f"def f(path):\n    path.{name}()") for name in sorted(PATH_WRITERS)),
        ("reports.queue", "def f(path):\n    path.replace(other)"),
        ("reports.queue", "def f(path):\n    save = path.write_text"),
        *(
            ("reports.queue", f"import os\nos.{name}('x')")
            for name in ("remove", "replace", "rename", "makedirs", "open", "truncate", "utime")
        ),
        ("reports.queue", "import os as o\no.remove('x')"),
        ("reports.queue", "from os import remove as gone\ngone('x')"),
        ("reports.queue", "import shutil"),
        ("reports.queue", "from shutil import copy"),
        ("reports.queue", "from tempfile import NamedTemporaryFile"),
        ("cli.cmd_draw", "from pathlib import Path\nPath('x').write_text('')"),
    ],
    clock_breaches: [
        ("planning.remedies", "from datetime import date\ndate.today()"),
        ("planning.remedies", "from datetime import date as d\nd.today()"),
        ("planning.remedies", "import datetime\ndatetime.datetime.now()"),
        ("planning.remedies", "import datetime as dt\ndt.date.today()"),
        ("planning.remedies", "from datetime import datetime\ndatetime.utcnow()"),
        ("planning.remedies", "from datetime import datetime\nx = datetime\nx.now()"),
        ("planning.remedies", "from datetime import datetime\ndef f(clock=datetime.now): ..."),
        ("planning.remedies", "import time\ntime.time()"),
        ("planning.remedies", "from time import time as t\nt()"),
        ("planning.remedies", "import time\nf(time.monotonic)"),
        ("storage.scan", "import time\ntime.time_ns()"),
        ("services.session", "from time import perf_counter"),
    ],
    network_breaches: [
        ("services.session", "import socket"),
        ("services.session", "from urllib.request import urlopen"),
        ("services.session", "from http import client"),
    ],
    executing_breaches: [
        ("storage.scan", "import pickle"),
        ("search.searcher", "from pickle import loads"),
        ("search.searcher", "import marshal as m"),
        ("storage.scan", "import os\nos.fork()"),
        ("storage.scan", "from os import fork as copy\ncopy()"),
        ("storage.scan", "from multiprocessing import Process"),
    ],
    getattr_breaches: [
        ("services.session", "from kb.stats import tracker\ngetattr(tracker, 'x')"),
        ("services.session", "import json\nhasattr(json, 'x')"),
        ("services.session", "def f(module: ModuleType):\n    getattr(module, 'x', None)"),
        ("services.session", "module = load('kb.reports', 'queue', ())\nhasattr(module, 'x')"),
        ("services.session", "getattr(report_module('queue'), 'x')"),
        ("services.session", "from kb.stats import tracker\nvars(tracker)"),
        ("services.session", "from kb.stats import tracker\ntracker.__dict__['x']"),
    ],
    length_breaches: [
        ("stats.tracker", "def f():\n" + "    x = 1\n" * (MOST_STATEMENTS + 1)),
        ("stats.tracker", "def f():\n    if x:\n" + "        x = 1\n" * MOST_STATEMENTS),
        ("stats.tracker", "class A:\n    def f(self):\n" + "        x = 1\n" * 41),
    ],
}


@pytest.mark.parametrize(
    ("rule", "module", "code"),
    [(rule, *case) for rule, cases in PLANTED.items() for case in cases],
)
def test_a_planted_breach_is_caught(
    rule: Callable[[str, ast.Module], list[str]], module: str, code: str
) -> None:
    """Each rule catches every form of breach it names."""
    assert rule(module, ast.parse(code)) != []


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_what_only_looks_like_a_breach_is_free(
    rule: Callable[[str, ast.Module], list[str]],
) -> None:
    """Reading a file, replacing text or a field, a given day and a record's field are allowed."""
    code = (
        "import os\nfrom dataclasses import replace\nfrom datetime import date, datetime\n"
        "from kb.core.model import Note\n"
        "def f(path, text, note, at: datetime, name):\n"
        "    path.open('rb'); path.open(); open(path); open(path, 'r', encoding='utf-8')\n"
        "    text.replace('a', 'b'); at.replace(microsecond=0); replace(note, id='x')\n"
        "    os.environ.get('X'); date.fromisoformat(text); at.date(); getattr(note, name)\n"
    )
    assert rule("services.session", ast.parse(code)) == []


def test_every_rule_has_planted_breaches() -> None:
    """Every rule has a planted breach, which shows that it can fail."""
    assert set(PLANTED) == set(RULES)


def test_nothing_else_lies_at_the_root() -> None:
    """All modules but two are in a folder that the table names."""
    there = {path.name for path in KB.iterdir() if path.name != "__pycache__"}
    folders = {name for name in MAY_IMPORT if not name.startswith("__")}
    assert there == AT_THE_ROOT | folders | TEXT_FOLDERS
    assert [path for name in TEXT_FOLDERS for path in (KB / name).rglob("*.py")] == []


def test_the_table_allows_no_more_than_is_used() -> None:
    """A row names only folders that are imported there."""
    reached: dict[str, set[str]] = defaultdict(set)
    for module, tree in modules().items():
        own = folder_of(module)
        for name in imports(module, tree):
            if name.startswith("kb.") and name.split(".")[1] not in (own, "__version__"):
                reached[own].add(name.split(".")[1])
    assert {own: set(row.split()) for own, row in MAY_IMPORT.items()} == {
        own: reached[own] for own in MAY_IMPORT
    }


# Circles


def circles(trees: dict[str, ast.Module]) -> list[list[str]]:
    """Groups of modules that import each other, in any form."""
    ties: dict[str, set[str]] = {}
    for module, tree in trees.items():
        ties[module] = set()
        for name in imports(module, tree):
            target = name.removeprefix("kb.") if name.startswith("kb.") else ""
            target = target if target in trees else target.rpartition(".")[0]
            if target in trees and target != module:
                ties[module].add(target)
    return [group for group in _strongly_connected(ties) if len(group) > 1]


def _strongly_connected(ties: dict[str, set[str]]) -> list[list[str]]:
    reach = {module: _reached(module, ties) for module in ties}
    groups = {
        tuple(sorted(other for other in reach[module] if module in reach[other])): None
        for module in ties
        if module in reach[module]
    }
    return [list(group) for group in groups]


def _reached(module: str, ties: dict[str, set[str]]) -> set[str]:
    found: set[str] = set()
    left = list(ties[module])
    while left:
        other = left.pop()
        if other not in found:
            found.add(other)
            left.extend(ties[other])
    return found


def test_no_module_imports_itself_by_a_detour() -> None:
    """There is no import cycle, even for typing or inside functions."""
    assert circles(modules()) == []


@pytest.mark.parametrize(
    "back",
    [
        "from kb.stats.beta import x",
        "from kb.stats import beta",
        "import kb.stats.beta",
        "from . import beta",
        "if TYPE_CHECKING:\n    from kb.stats.beta import x",
        "def f():\n    from kb.stats.beta import x",
    ],
)
def test_a_planted_circle_is_found(back: str) -> None:
    """A cycle of two modules is found, and one of three."""
    two = {"stats.beta": "import kb.stats.decay", "stats.decay": back}
    three = {**two, "stats.beta": "import kb.stats.trend", "stats.trend": "import kb.stats.decay"}
    for planted in (two, three):
        trees = {module: ast.parse(code) for module, code in planted.items()}
        assert [sorted(group) for group in circles(trees)] == [sorted(planted)]


# Sizes


def too_long(texts: dict[str, str]) -> list[str]:
    """Modules longer than one idea needs."""
    return [
        f"{name}: {count}"
        for name, text in texts.items()
        if (count := len(text.splitlines())) > MOST_LINES
    ]


def test_no_module_grows_beyond_its_idea() -> None:
    """A module over 400 lines holds a second idea."""
    texts = {
        name_of(path.relative_to(KB)): path.read_text(encoding="utf-8") for path in KB.rglob("*.py")
    }
    assert too_long(texts) == []
    assert too_long({"x": "x = 1\n" * (MOST_LINES + 1)}) == ["x: 401"]


# Reports and charts


def promised(protocol: type) -> set[str]:
    """The names a module must have under its protocol."""
    kinds = [kind for kind in protocol.__mro__ if kind.__module__ == protocol.__module__]
    names = {name for kind in kinds for name in (*vars(kind), *kind.__annotations__)}
    return {name for name in names if not name.startswith("_")}


def protocol_of(module: ModuleType) -> type:
    """The protocol for this kind of report."""
    if hasattr(module, "Card"):
        return report_module.CardReport
    return report_module.SearchReport if hasattr(module, "SEARCHES") else report_module.ReportModule


def promise_breaches(module: ModuleType, makes: str = "Report") -> list[str]:
    """Where a report or chart departs from its protocol."""
    protocol = protocol_of(module)
    if makes == "Chart":
        lacking = {"OPTIONS", "build"} - set(vars(module))
    else:
        lacking = promised(protocol) - set(vars(module))
    if lacking:
        return [f"{module.__name__} lacks {', '.join(sorted(lacking))}"]
    if not all(isinstance(option, Option) for option in module.OPTIONS):
        return [f"{module.__name__}: OPTIONS are not options"]
    found = []
    parameters = inspect.signature(module.build).parameters
    by_place = [name for name, one in parameters.items() if one.kind is not one.KEYWORD_ONLY]
    if by_place != (["cards"] if protocol is report_module.CardReport else ["base", "today"]):
        found.append(f"build takes {by_place}")
    wanted = {option.name for option in module.OPTIONS}
    if hasattr(module, "SEARCHES"):
        wanted.add("answer" if protocol is report_module.CardReport else "search")
    if protocol is report_module.CardReport:
        wanted = wanted - set(module.FILTERS) | {"filters"}
        filters = set(inspect.signature(module.paths).parameters)
        if not {"base", "today", *module.FILTERS} <= filters:
            found.append(f"paths takes {sorted(filters)}")
    if hasattr(module, "NEEDS_INDEX"):
        wanted |= {"index"}
    named = {name: one for name, one in parameters.items() if name not in by_place}
    needed = {name for name, one in named.items() if one.default is one.empty}
    if not needed <= wanted <= set(named):
        found.append(f"build takes {sorted(parameters)}, not {sorted(wanted)}")
    made = inspect.signature(module.build).return_annotation
    if getattr(made, "__name__", made) != makes:
        found.append(f"build does not make a {makes}")
    return [f"{module.__name__}: {breach}" for breach in found]


@pytest.mark.parametrize("name", plugins.module_names("kb.reports"))
def test_every_report_keeps_its_promise(name: str) -> None:
    """Each report has what its protocol names, and `build` takes its options."""
    assert promise_breaches(importlib.import_module(f"kb.reports.{name}")) == []


@pytest.mark.parametrize("name", plugins.module_names("kb.charts"))
def test_every_chart_keeps_its_promise(name: str) -> None:
    """Each chart has OPTIONS, and `build` takes them."""
    assert promise_breaches(importlib.import_module(f"kb.charts.{name}"), "Chart") == []


GOOD = "from __future__ import annotations\nOPTIONS = ()\n"


@pytest.mark.parametrize(
    "code",
    [
        "def build(base, today) -> Report: ...",
        "OPTIONS = ()",
        f"{GOOD}def build(base) -> Report: ...",
        f"{GOOD}def build(base, today, days) -> Report: ...",
        f"{GOOD}def build(base, today, *, days) -> Report: ...",
        f"{GOOD}def build(base, today) -> str: ...",
        f"{GOOD}OPTIONS = ('days',)\ndef build(base, today) -> Report: ...",
        f"{GOOD}NEEDS_INDEX = True\ndef build(base, today) -> Report: ...",
        f"{GOOD}SEARCHES = 'words'\ndef build(base, today, *, search) -> Report: ...",
        f"{GOOD}SEARCHES = 'words'\nSEARCH_LIMIT = 9\ndef build(base, today) -> Report: ...",
        f"{GOOD}SEARCHES = ''\nSEARCH_LIMIT = 9\nCard = str\ndef build(cards) -> Report: ...",
    ],
)
def test_a_broken_promise_is_found(code: str) -> None:
    """A missing part, a wrong parameter and a wrong result are each found."""
    module = ModuleType("planted")
    exec(compile(code, "planted", "exec"), vars(module))
    assert promise_breaches(module) != []


def test_the_simplest_report_keeps_its_promise() -> None:
    """A report that keeps its protocol has no breach."""
    module = ModuleType("planted")
    exec(compile(f"{GOOD}def build(base, today) -> Report: ...", "x", "exec"), vars(module))
    assert promise_breaches(module) == []
