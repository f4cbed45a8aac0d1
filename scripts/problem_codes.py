"""Write kb/help/problems.md: every problem code, with an example of its message.

Codes are read from the source, so that none is missing: every call that makes a Problem, with its
message where that is a literal. `--check` writes nothing and exits 1 if the list is out of date.
"""

from __future__ import annotations

import ast
import re
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
FILE = ROOT / "kb" / "help" / "problems.md"
MAKERS = {"Problem", "SideLog", "report", "_report", "_drop", "_problem", "problem"}
CODE = re.compile(r"[a-z]+(?:-[a-z0-9]+)+")
WORD = re.compile(r"[a-z0-9-]+")
LISTED = re.compile(r"^\| `([a-z0-9-]+)`", re.M)
HEAD = """\
# Problem codes

Each problem in `missbook check --json` has a code, which stays the same when its message changes.

| code | such as |
| --- | --- |
"""


def codes_of(source: str) -> dict[str, str]:
    """Code -> message of its first problem in a module, with ... for variable parts."""
    tree = ast.parse(source)
    found: dict[str, str] = {}
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef | ast.Module):
            for call in ast.walk(function):
                if isinstance(call, ast.Call) and _name(call.func) in MAKERS:
                    for code in _codes(call, function, tree):
                        found[code] = _message(call, function) or found.get(code, "")
    return found


def _name(node: ast.expr) -> str:
    return node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", "")


def _codes(call: ast.Call, function: ast.AST, tree: ast.AST) -> list[str]:
    given = [word.value for word in call.keywords if word.arg == "code"] or call.args[:2]
    for node in given:
        pattern = CODE if node in call.args else WORD
        if isinstance(node, ast.Constant) and pattern.fullmatch(str(node.value)):
            return [str(node.value)]
        if isinstance(node, ast.JoinedStr) and isinstance(function, ast.FunctionDef):
            text = _text(node, function)
            names = [part for part in ast.walk(node) if isinstance(part, ast.Name)]
            if CODE.fullmatch(text.replace("...", "x")) and len(names) == 1:
                return [text.replace("...", word) for word in _given(function, names[0].id, tree)]
    return []


def _given(function: ast.FunctionDef, parameter: str, tree: ast.AST) -> list[str]:
    """Literal values a name may have: assigned to it, or passed by callers for a parameter."""
    for node in ast.walk(function):
        if isinstance(node, ast.Assign) and _name(node.targets[0]) == parameter:
            words = [w for w in ast.walk(node.value) if isinstance(w, ast.Constant)]
            return [str(word.value) for word in words if isinstance(word.value, str)]
    place = [a.arg for a in function.args.args if a.arg != "self"].index(parameter)
    calls = (node for node in ast.walk(tree) if isinstance(node, ast.Call))
    given = [c.args[place] for c in calls if _name(c.func) == function.name and len(c.args) > place]
    return [str(word.value) for word in given if isinstance(word, ast.Constant)]


def _message(call: ast.Call, function: ast.AST) -> str:
    named = {word.arg: word.value for word in call.keywords}
    if "what" in named:
        return f"this is not {_text(named['what'], function)}; left out"
    for node in [named["message"]] if "message" in named else call.args[2:3]:
        return _text(node, function, before=call.lineno)
    return ""


def _text(node: ast.expr, function: ast.AST, before: int = 0) -> str:
    """Text of an expression, a name standing for what was last assigned to it above `line`."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(_text(part, function) for part in node.values)
    if isinstance(node, ast.BinOp):
        return _text(node.left, function, before) + _text(node.right, function)
    if isinstance(node, ast.Name) and before:
        assigned = [
            other
            for other in ast.walk(function)
            if isinstance(other, ast.Assign) and _name(other.targets[0]) == node.id
        ]
        earlier = [other for other in assigned if other.lineno < before]
        if earlier:
            return _text(max(earlier, key=lambda other: other.lineno).value, function)
    return "..."


def listing() -> str:
    """The help topic as Markdown."""
    found: dict[str, str] = {}
    for path in sorted((ROOT / "kb").rglob("*.py")):
        for code, message in codes_of(path.read_text(encoding="utf-8")).items():
            found[code] = message.replace("|", "\\|") or found.get(code, "")
    return HEAD + "".join(f"| `{code}` | {found[code]} |\n" for code in sorted(found))


def main() -> None:
    """Write the list, or check it."""
    text = listing()
    if "--check" not in sys.argv:
        FILE.write_text(text, encoding="utf-8", newline="\n")
    elif LISTED.findall(FILE.read_text(encoding="utf-8")) != LISTED.findall(text):
        sys.exit("kb/help/problems.md is out of date: python scripts/problem_codes.py writes it")


if __name__ == "__main__":
    main()
