"""The one direction of data flow, held by reading the imports."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "estimator"

#: rooms in the order in which data passes; a module imports only from its own room or those before it
STAGES = (
    "core",
    "model",
    "tables",
    "input",
    "fit",
    "estimate",
    "choose",
    "schedule",
    "batch",
    "plan",
    "price",
    "ledger",
    "learn",
    "report",
    "workbook",
    "server",
    "cli",
)
#: the door of the package and its command stand above all rooms
DOORS = ("__init__", "__main__")
#: no folder holds more modules than one can take in at a glance
MOST_MODULES = 21
#: heavy packages and the only places that may import them
HEAVY = {
    "pulp": ("choose",),
    "highspy": ("choose",),
    "ortools": ("choose", "schedule"),
    "icalendar": ("report",),
    "xlsxwriter": ("workbook",),
    "openpyxl": ("workbook",),
    "defusedxml": ("workbook", "report"),
    "numpy": ("estimate", "price"),
    "pandas": ("report",),
    "rich": ("report", "cli"),
    "typer": ("cli",),
    "starlette": ("server",),
    "uvicorn": ("server",),
    "segno": ("server",),
}


def stage_of(module: str) -> int:
    """The stage of a module named without the package (``choose.choose``)."""
    room = module.partition(".")[0]
    assert room in (*STAGES, *DOORS), f"{module} stands in no room; add its folder to STAGES"
    return STAGES.index(room) if room in STAGES else len(STAGES)


def imports_of(path: Path) -> list[tuple[str, bool]]:
    """(module, inside a function or type-checking block) of every import in a file."""
    found: list[tuple[str, bool]] = []

    def visit(node: ast.AST, inside: bool) -> None:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.Import):
                found.extend((alias.name, inside) for alias in child.names)
            elif isinstance(child, ast.ImportFrom) and child.module == "estimator":
                found.extend((f"estimator.{alias.name}", inside) for alias in child.names)
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
def test_a_module_imports_only_from_rooms_before_it(path: Path) -> None:
    """Imports inside functions count as well: they are late for speed, not to go round the order."""
    mine = stage_of(name_of(path))
    for module, _ in imports_of(path):
        own = module.removeprefix("estimator.")
        if own != module and own != "__version__":
            assert stage_of(own) <= mine, f"{path.name} imports {module}"


def test_the_order_of_rooms_can_be_broken() -> None:
    assert stage_of("report.text.choice") > stage_of("choose.choose")
    assert stage_of("__main__") > stage_of("cli.main")


@pytest.mark.parametrize("folder", sorted({p.parent for p in MODULES}), ids=str)
def test_a_folder_holds_one_family(folder: Path) -> None:
    assert len(list(folder.glob("*.py"))) <= MOST_MODULES


def test_modules_loaded_by_name_are_there() -> None:
    """The door names the homes of public things as text: each of them is there."""
    import estimator

    for name in estimator.__all__:
        assert getattr(estimator, name) is not None


@pytest.mark.parametrize("path", MODULES, ids=[name_of(p) for p in MODULES])
def test_heavy_packages_are_imported_late_and_only_where_they_belong(path: Path) -> None:
    home = path.relative_to(PACKAGE).parts[0]
    for module, inside in imports_of(path):
        root = module.split(".")[0]
        if root in HEAVY:
            assert home in HEAVY[root], f"{path} imports {root}"
            assert inside or root == "typer", f"{path} imports {root} at the top"
