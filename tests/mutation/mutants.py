"""Small mistakes put into a module, one at a time: where each stands and what the file becomes."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from pathlib import Path

from msgspec import Struct

BOUNDARY = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
FLIPPED = {
    ast.Lt: ast.Gt,
    ast.Gt: ast.Lt,
    ast.LtE: ast.GtE,
    ast.GtE: ast.LtE,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
SUM = {ast.Add: ast.Sub, ast.Sub: ast.Add}
EXTREME = {"min": "max", "max": "min"}


class Mutant(Struct, frozen=True):
    """One change of one file: ``old`` becomes ``new`` in a line of which ``text`` is all."""

    file: str
    line: int
    text: str
    old: str
    new: str
    source: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.old} -> {self.new}"


def mutants_of(root: Path, file: str) -> list[Mutant]:
    """Every mutant of a file, in the order of its text."""
    text = (root / file).read_text(encoding="utf-8")
    found = []
    for node in _nodes(ast.parse(text)):
        for target, changed in _changes(node):
            new = "pass" if isinstance(changed, ast.Pass) else f"({ast.unparse(changed)})"
            found.append(_spliced(file, text, target, new))
    return sorted(set(found), key=lambda m: (m.line, m.old, m.new, m.source))


def replaced(root: Path, file: str, old: str, new: str) -> Mutant:
    """The mutant of a file in which one piece of text, there exactly once, is another."""
    text = (root / file).read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise SystemExit(
            f"{file}: {old!r} stands there {text.count(old)} times, not once; mend the list KEPT"
        )
    line = text[: text.index(old)].count("\n") + 1
    here = text.splitlines()[line - 1].strip()
    return Mutant(file, line, here, " ".join(old.split()), " ".join(new.split()), text.replace(old, new))


def _spliced(file: str, text: str, node: ast.expr | ast.stmt, new: str) -> Mutant:
    lines = text.encode().splitlines(keepends=True)  # the columns of a node are bytes
    assert node.end_lineno is not None
    start = sum(map(len, lines[: node.lineno - 1])) + node.col_offset
    end = sum(map(len, lines[: node.end_lineno - 1])) + (node.end_col_offset or 0)
    raw = text.encode()
    old = " ".join(raw[start:end].decode().split())
    here = text.splitlines()[node.lineno - 1].strip()
    return Mutant(file, node.lineno, here, old, new, (raw[:start] + new.encode() + raw[end:]).decode())


def _nodes(node: ast.AST) -> Iterator[ast.AST]:
    """What computes: no annotation, decorator, assertion or message (whose columns are not told)."""
    yield node
    for name, value in ast.iter_fields(node):
        if name not in ("annotation", "returns", "decorator_list"):
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST) and not isinstance(child, (ast.JoinedStr, ast.Assert)):
                    yield from _nodes(child)


def _changes(node: ast.AST) -> Iterator[tuple[ast.expr | ast.stmt, ast.AST]]:
    """What of a node may be mistaken, each with what stands there instead."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        for table in (BOUNDARY, FLIPPED):
            if other := table.get(type(node.ops[0])):
                yield node, _with(node, ops=[other()])
    elif isinstance(node, ast.BinOp) and type(node.op) in SUM:
        yield node, _with(node, op=SUM[type(node.op)]())
    elif isinstance(node, ast.BoolOp):
        yield node, _with(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And())
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in EXTREME:
        yield node, _with(node, func=ast.Name(EXTREME[node.func.id]))
        if len(node.args) == 2 and not any(isinstance(one, ast.Starred) for one in node.args):
            yield from ((node, one) for one in node.args)  # the cap or the floor dropped
    elif isinstance(node, ast.Constant) and isinstance(node.value, int):
        yield node, ast.Constant(not node.value if isinstance(node.value, bool) else node.value + 1)
    elif isinstance(node, (ast.If, ast.While, ast.IfExp)) and not isinstance(node.test, ast.Compare):
        yield node.test, ast.UnaryOp(ast.Not(), node.test)
    elif isinstance(node, ast.comprehension):
        yield from ((test, ast.UnaryOp(ast.Not(), test)) for test in node.ifs)
    if isinstance(node, (ast.If, ast.For, ast.While)):
        yield from ((one, ast.Pass()) for one in node.body if isinstance(one, ast.Return))


def _with(node: ast.AST, **fields: object) -> ast.AST:
    changed = copy.copy(node)
    for name, value in fields.items():
        setattr(changed, name, value)
    return changed
