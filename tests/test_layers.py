"""The one direction of data flow, held by reading the imports."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "estimator"

#: stages in the order in which data passes; a module imports only from its own stage or those before it
STAGES = (
    ("errors", "units", "expressions"),
    ("model",),
    ("conditions",),
    ("tables",),
    ("fit",),
    ("price.commission", "price.tax", "estimate"),
    ("choose.problem", "choose.sale"),
    (
        "recheck",
        "recheck_sale",
        "recheck_lines",
        "recheck_rows",
        "recheck_levels",
        "recheck_search",
        "recheck_answer",
    ),
    ("choose",),
    ("pipeline",),
    ("asking", "measuring", "newjob"),
    ("plan",),
    ("price",),
    ("report",),
    ("cli",),
    ("__main__", "__init__"),
)
#: heavy packages and the only places that may import them
HEAVY = {
    "pulp": ("choose",),
    "highspy": ("choose",),
    "ortools": ("choose", "plan"),
    "icalendar": ("plan",),
    "xlsxwriter": ("report",),
    "openpyxl": ("report",),
    "defusedxml": ("report",),
    "numpy": ("estimate", "choose", "price", "plan"),
    "pandas": ("report",),
    "rich": ("report", "cli"),
    "typer": ("cli",),
}


def stage_of(module: str) -> int:
    """The stage of a module named without the package (``choose.solvers.solve``); the longest prefix counts."""
    matches = [
        (len(name), number)
        for number, names in enumerate(STAGES)
        for name in names
        if module == name or module.startswith(name + ".")
    ]
    assert matches, f"{module} belongs to no stage; add it to STAGES"
    return max(matches)[1]


def imports_of(path: Path) -> list[tuple[str, bool]]:
    """(module, inside a function or type-checking block) of every import in a file."""
    found: list[tuple[str, bool]] = []

    def visit(node: ast.AST, inside: bool) -> None:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.Import):
                found.extend((alias.name, inside) for alias in child.names)
            elif isinstance(child, ast.ImportFrom) and child.module:
                found.append((child.module, inside))
            typed = isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test)
            visit(child, inside or typed or isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef))

    visit(ast.parse(path.read_text(encoding="utf-8")), False)
    return found


MODULES = sorted(PACKAGE.rglob("*.py"))


def name_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" and len(parts) > 1 else parts)


@pytest.mark.parametrize("path", MODULES, ids=[name_of(p) for p in MODULES])
def test_a_module_imports_only_from_stages_before_it(path: Path) -> None:
    mine = stage_of(name_of(path))
    for module, inside in imports_of(path):
        if module.startswith("estimator.") and not inside:
            assert stage_of(module.removeprefix("estimator.")) <= mine, f"{path.name} imports {module}"


@pytest.mark.parametrize("path", MODULES, ids=[name_of(p) for p in MODULES])
def test_heavy_packages_are_imported_late_and_only_where_they_belong(path: Path) -> None:
    home = path.relative_to(PACKAGE).parts[0]
    for module, inside in imports_of(path):
        root = module.split(".")[0]
        if root in HEAVY:
            assert home in HEAVY[root], f"{path} imports {root}"
            assert inside or root == "typer", f"{path} imports {root} at the top"
