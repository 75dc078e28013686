"""No function is longer than one screen, or asks for more than one can keep in mind; held over the source."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer

from estimator.cli.main import make_app
from estimator.cli.stages import STAGES

PACKAGE = Path(__file__).parent.parent / "estimator"
MOST_LINES = 60
MOST_PARAMETERS = 7
#: a command says what it does and hands it on; its parameters are its options, as many as there are
MOST_LINES_OF_A_COMMAND = 40

Function = ast.FunctionDef | ast.AsyncFunctionDef


def commands_of(module: ast.Module) -> set[str]:
    """The functions that a module of commands hands over in its ``register``, or names in ``COMMANDS``."""
    functions = {node.name: node for node in module.body if isinstance(node, Function)}
    listed = [node.value for node in module.body if isinstance(node, ast.Assign) and _is_list(node)]
    handed = [functions["register"]] if "register" in functions else []
    named = {n.id for node in (*handed, *listed) for n in ast.walk(node) if isinstance(n, ast.Name)}
    return named & functions.keys()


def _is_list(node: ast.Assign) -> bool:
    return any(isinstance(target, ast.Name) and target.id == "COMMANDS" for target in node.targets)


def parameters_of(function: Function) -> list[str]:
    """All that is asked for, what is gathered (``*more``, ``**more``) as one; not the object itself."""
    asked = function.args
    every = [*asked.posonlyargs, *asked.args, asked.vararg, *asked.kwonlyargs, asked.kwarg]
    return [each.arg for each in every if each is not None and each.arg not in ("self", "cls")]


def too_large(source: str) -> Iterator[str]:
    """What is too large in a module, in words."""
    module = ast.parse(source)
    commands = commands_of(module)
    for node in ast.walk(module):
        if not isinstance(node, Function):
            continue
        assert node.end_lineno is not None
        lines, command = node.end_lineno - node.lineno + 1, node.name in commands
        most = MOST_LINES_OF_A_COMMAND if command else MOST_LINES
        if lines > most:
            yield f"{node.name}, line {node.lineno}: {lines} lines, not {most}; give each step a function"
        number = len(parameters_of(node))
        if number > MOST_PARAMETERS and not command:
            yield (
                f"{node.name}, line {node.lineno}: {number} parameters, not {MOST_PARAMETERS}; "
                "let what belongs together travel in a record"
            )


MODULES = sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=[str(p.relative_to(PACKAGE)) for p in MODULES])
def test_functions_are_small(path: Path) -> None:
    assert list(too_large(path.read_text(encoding="utf-8"))) == []


def function_of(lines: int, parameters: str, after: str = "") -> str:
    """A function of so many lines, its head included."""
    body = "    pass\n" * (lines - 1)
    return f"def some({parameters}):\n{body}{after}"


SEVEN, EIGHT = "a, b, /, c, *d, e, f, **g", "a, b, /, c, *d, e, f, g=1, **h"
COMMAND = "def register(app):\n    for command in (some,):\n        app.command()(command)\n"


@pytest.mark.parametrize(
    ("source", "found"),
    [
        (function_of(60, SEVEN), 0),
        (function_of(61, SEVEN), 1),
        (function_of(60, EIGHT), 1),
        (function_of(61, EIGHT), 2),
        (function_of(40, EIGHT, COMMAND), 0),
        (function_of(41, SEVEN, COMMAND), 1),
        (function_of(41, SEVEN, "cache(some)\n"), 0),
        ("class A:\n    def some(self, a, b, c, d, e, f, g):\n        pass\n", 0),
        ("class A:\n    async def some(self, a, b, c, d, e, f, g, h):\n        pass\n", 1),
        ("def outer():\n    def inner(a, b, c, d, e, f, g, h):\n        pass\n", 1),
    ],
)
def test_the_sizes_are_told(source: str, found: int) -> None:
    assert len(list(too_large(source))) == found


def test_all_commands_are_known_as_such() -> None:
    """Else their own limit would hold nobody."""
    files = (PACKAGE / "cli").glob("*.py")
    found = {name for path in files for name in commands_of(ast.parse(path.read_text(encoding="utf-8")))}
    group = typer.main.get_command(make_app()).commands["ledger"]  # type: ignore[attr-defined]
    assert found | {"ledger"} == {name.replace("-", "_") for _, names in STAGES for name in names}
    below = (PACKAGE / "cli" / "ledger").glob("*.py")
    listed = {name for path in below for name in commands_of(ast.parse(path.read_text(encoding="utf-8")))}
    assert len(listed) == len(group.commands) > 15


def test_the_formatter_is_switched_off_nowhere() -> None:
    """One hand lays out every line, so that no reader meets two styles."""
    folders = (PACKAGE, Path(__file__).parent)
    off = "fmt" + ": "
    found = [p for folder in folders for p in folder.rglob("*.py") if off in p.read_text(encoding="utf-8")]
    assert found == []
