"""Faults to plant in a module, found in its syntax tree: each a slip that could happen.

Comparisons are reversed or made strict, arithmetic swapped, conditions negated, numbers increased,
flags flipped and calls dropped, except in annotations, decorators, assertions, exception messages
and f-strings. Nor is planted what changes no result, whatever a test does: how much a hair for
rounding is, in what pieces or how many steps one result is worked out (`PIECES`), whether a limit
with a hair on top belongs to what it limits, and which negative number numpy takes in `reshape`
for what is left.
"""

from __future__ import annotations

import ast
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
WORKED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
}
SWAPPED = {"min": "max", "max": "min", "any": "all", "all": "any", "sorted": "list"}
DROPPED = {"abs", "round"}
DROPPED_METHODS = {"strip", "casefold", "lower", "upper"}
SMALL = 12
"""Up to here a whole number is likely a place, a part of a date or a count of steps."""

HAIR = 1e-5
"""A number this small only makes up for rounding."""
PIECES = {"BLOCK", "CHUNK", "NEAR", "STEPS", "MOST_STEPS"}
HARMLESS_FLAGS = {"strict", "slots", "frozen", "kw_only", "read_only"}
"""Arguments that only guard or save memory: with inputs that fit, either value does the same."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One change: bytes `start` to `end` of the file at `path` become `text`; `line` from 1. It is
    `listed` if it comes from a list instead of the syntax tree.
    """

    path: str
    line: int
    start: int
    end: int
    text: str
    what: str
    listed: bool = False

    def plant(self, source: bytes) -> bytes:
        """The file with the fault in it."""
        return source[: self.start] + self.text.encode() + source[self.end :]


def find_faults(source: bytes, path: str) -> tuple[Fault, ...]:
    """Every fault that can be planted in a module, in order of position.

    Raises:
        SyntaxError: The source is no Python.

    Source: own, because the operators are the usual ones of mutation testing (RA DeMillo, RJ
    Lipton, FG Sayward, Computer 1978;11(4):34-41) and only the choice among them is ours.
    """
    begins = [0]
    for line in source.split(b"\n"):
        begins.append(begins[-1] + len(line) + 1)
    found: list[Fault] = []
    for node, changed, what in _changes(ast.parse(source)):
        start = begins[node.lineno - 1] + node.col_offset
        end = begins[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        text = "pass" if changed is None else f"({ast.unparse(changed)})"
        found.append(Fault(path, node.lineno, start, end, text, what))
    return tuple(sorted(found, key=lambda fault: (fault.start, fault.end, fault.text)))


def kept_lines(source: bytes) -> frozenset[int]:
    """Lines, from 1, of functions that keep their results: of all tests that need one, only the
    first runs them.
    """
    return frozenset(
        line
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.FunctionDef)
        and any(re.search("cache|kept", ast.unparse(one)) for one in node.decorator_list)
        for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)
    )


def _changes(node: ast.AST) -> Iterator[tuple[ast.expr | ast.stmt, ast.expr | None, str]]:
    """(node, replacement, description) for a node and all below it; None means `pass`."""
    if isinstance(node, (ast.JoinedStr, ast.Raise, ast.Assert, ast.pattern)):
        return
    if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
        return
    if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) in PIECES:
        return
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield node, None, f"call dropped: {_short(node.value)}"
    if isinstance(node, (ast.If, ast.While, ast.IfExp)):
        negated = ast.UnaryOp(ast.Not(), node.test)
        yield node.test, negated, f"condition negated: {_short(node.test)}"
    if isinstance(node, ast.expr):
        for changed in _changed(node):
            yield node, changed, f"{_short(node)} -> {_short(changed)}"
    for child in _inside(node):
        yield from _changes(child)


def _inside(node: ast.AST) -> Iterator[ast.AST]:
    for name, value in ast.iter_fields(node):
        if name in {"annotation", "returns", "decorator_list", "type_params", "bases"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            harmless = isinstance(child, ast.keyword) and child.arg in HARMLESS_FLAGS
            rest = isinstance(child, ast.UnaryOp) and _is_call_of(node, "reshape")
            if isinstance(child, ast.AST) and not harmless and not rest:
                yield child


def _is_call_of(node: ast.AST, method: str) -> bool:
    return (
        isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == method
    )


def _changed(node: ast.expr) -> Iterator[ast.expr]:
    match node:
        case ast.Compare(left, ops, others):
            hair = any(_has_hair(side) for side in (left, *others))
            for at, operator in enumerate(ops):
                if hair and isinstance(operator, ast.Lt | ast.LtE | ast.Gt | ast.GtE):
                    continue
                turned = COMPARED[type(operator)]()
                yield ast.Compare(left, [*ops[:at], turned, *ops[at + 1 :]], others)
        case ast.BoolOp(operator, values):
            yield ast.BoolOp(ast.Or() if isinstance(operator, ast.And) else ast.And(), values)
        case ast.BinOp(left, operator, right) if type(operator) in WORKED:
            if not any(_is_text(side) for side in (left, right)):
                yield ast.BinOp(left, WORKED[type(operator)](), right)
        case ast.Constant(bool() as flag):
            yield ast.Constant(not flag)
        case ast.Constant(int() | float() as number) if not 0 < number < HAIR:
            yield ast.Constant(_other(number))
        case ast.Call(ast.Name(name) as called, [first, *rest], keywords):
            if name in SWAPPED:
                kept = [] if SWAPPED[name] == "list" else keywords
                yield ast.Call(ast.Name(SWAPPED[name], called.ctx), [first, *rest], kept)
            elif name in DROPPED:
                yield first
        case ast.Call(ast.Attribute(owner, name), [], []) if name in DROPPED_METHODS:
            yield owner


def _other(number: float) -> float:
    """A wrong number: one more for a small integer, half as much again for others."""
    if isinstance(number, int) and number <= SMALL:
        return number + 1
    return type(number)(number * 1.5) or 1.0


def _has_hair(node: ast.expr) -> bool:
    """Whether something is added or taken away that only makes up for rounding."""
    return any(
        isinstance(inner, ast.BinOp)
        and isinstance(inner.op, ast.Add | ast.Sub)
        and any(_is_hair(side) for side in (inner.left, inner.right))
        for inner in ast.walk(node)
    )


def _is_hair(node: ast.expr) -> bool:
    match node:
        case ast.BinOp(left, ast.Mult(), right):
            return _is_hair(left) or _is_hair(right)
        case ast.Name(name):
            return name == "HAIR"
        case ast.Constant(float() as number):
            return 0 < number < HAIR
    return False


def _is_text(node: ast.expr) -> bool:
    """Whether adding this joins texts or lists, where a minus would only raise."""
    if isinstance(node, ast.BinOp):
        return _is_text(node.left) or _is_text(node.right)
    if isinstance(node, ast.Constant):
        return isinstance(node.value, (str, bytes))
    return isinstance(node, (ast.JoinedStr, ast.List, ast.Tuple, ast.ListComp))


def _short(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 60 else text[:57] + "..."
