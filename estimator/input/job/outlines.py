"""The [[outline]] sections of a job file: a guard or a headstock by the points of its edge."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

from estimator.core.errors import Issue, note, shown
from estimator.input.job.keys import OUTLINE, OUTLINE_POINTS
from estimator.model import Outline
from estimator.tables.cells import CellError, check_range
from estimator.tables.toml.text import TomlFile
from estimator.tables.toml.values import cell_issue, entries_of, number_of, read_section

FARTHEST = Decimal(700)
OutlinePoint = tuple[Decimal, Decimal]


def read_outlines(toml: TomlFile, issues: list[Issue]) -> Mapping[str, Outline]:
    """The outlines of a job by what they are of; every mistake is complained of."""
    found: dict[str, Outline] = {}
    for number, entry in enumerate(entries_of(toml, OUTLINE.name, issues)):
        path = f"{OUTLINE.name}.{number}"
        own = (
            {k: v for k, v in entry.items() if k not in OUTLINE_POINTS} if isinstance(entry, dict) else entry
        )
        before = len(issues)
        values = read_section(toml, path, own, OUTLINE.columns, issues)
        raw = entry if isinstance(entry, dict) else {}
        points, holes = (_points(toml, path, key, raw.get(key, []), issues) for key in OUTLINE_POINTS)
        if len(issues) > before:
            continue
        where = toml.where(path, "points")
        if len(points) < 3:
            note(
                issues,
                where,
                "too few points for an outline",
                shown(str(len(points))),
                "3 points or more, each [across, along]",
                "measure more of its edge",
            )
        elif (crossed := _crossing(points)) is not None:
            one, other = crossed
            note(
                issues,
                where,
                "the outline crosses itself",
                f"its edge from point {one} and its edge from point {other} cross",
                "points in their order round the edge",
                "look at their order and their signs",
            )
        elif values["of"] in found:
            note(
                issues,
                toml.where(path, "of"),
                "two outlines of the same thing",
                shown(values["of"]),
                "each once",
                "take one of them out",
            )
        else:
            found[values["of"]] = Outline(values["of"], points, holes, toml.where(path))
    return MappingProxyType(found)


def _points(
    toml: TomlFile, path: str, key: str, raw: object, issues: list[Issue]
) -> tuple[OutlinePoint, ...]:
    where = toml.where(path, key)
    accepted = "a list of [across, along] in mm, such as [[0, 0], [92.5, -14]]"
    if not isinstance(raw, list):
        note(issues, where, "no list of points", shown(str(raw)), accepted, "write it with brackets")
        return ()
    out = []
    for number, pair in enumerate(raw, start=1):
        if not isinstance(pair, list) or len(pair) != 2:
            note(
                issues,
                where,
                f"point {number} is no pair",
                shown(str(pair)),
                accepted,
                "give each point two numbers",
            )
            continue
        try:
            across, along = (number_of(value) for value in pair)
            for value in (across, along):
                check_range(value, -FARTHEST, FARTHEST)
        except CellError as error:
            issues.append(cell_issue(error, where, pair))
            continue
        out.append((across, along))
    return tuple(out)


def _side(a: OutlinePoint, b: OutlinePoint, c: OutlinePoint) -> Decimal:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _crossing(points: tuple[OutlinePoint, ...]) -> tuple[int, int] | None:
    """The numbers of two edges that cross, edges being told by the point that they start from; None if none do."""
    n = len(points)
    for i in range(n):
        for j in range(i + 2, n):
            if i == 0 and j == n - 1:
                continue  # neighbours across the start
            a, b, c, d = points[i], points[(i + 1) % n], points[j], points[(j + 1) % n]
            if _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0:
                return i + 1, j + 1
    return None
