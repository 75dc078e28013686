"""The programme as a file that any solver reads: LP text that a person can follow too, or MPS."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from estimator.choose.milp.linear import LAZY, Linear, Model, Row
from estimator.choose.milp.model import EVERYTHING, Programme
from estimator.choose.solvers.backends import WHOLE, pulp_problem
from estimator.core.errors import refusal

WIDTH = 100
CONSTANT = "one"
"""The objective's constant stands on a column that is fixed at 1, which every reader understands."""


def lp_text(programme: Programme, objective: Linear) -> str:
    """The programme in CPLEX LP format, with the meaning of columns and rows as comments.

    Rows of rules that no values can keep are written as 0 >= 1 on the fixed column, so that the
    file is infeasible where the programme is. Cuts are those that the questions so far have brought.
    """
    model, rows = programme.model, programme.rows(EVERYTHING)
    names = {column: option for option, column in programme.columns.members.items()}
    used = sorted({c for row in rows for c in row.columns} | {c for c, v in objective.terms.items() if v})
    lines = ["\\ A choice of upgrades; every coefficient is a whole number."]
    lines += [f"\\ {model.names[c]} = {_one_line(names[c])}" for c in used if c in names]
    lines.append("Minimize")
    lines += _wrapped(
        "aim:", [*_terms(model, sorted(objective.terms.items())), f"+ {objective.constant} {CONSTANT}"]
    )
    lines.append("Subject To")
    said = None
    for number, row in enumerate(rows):
        if row.tag != said:
            said = row.tag
            rule = programme.rules.get(row.tag)
            lines.append(f"\\ {_one_line(rule.words) if rule else row.tag}")
        lines += _row_lines(model, row, f"r{number:06d}")
    for tag in programme.model.impossible:
        if programme.in_force(tag, EVERYTHING):
            rule = programme.rules.get(tag)
            lines.append(f"\\ cannot be kept by any set: {_one_line(rule.words) if rule else tag}")
            lines.append(f" impossible: {CONSTANT} <= 0")
            break
    lines.append("Bounds")
    lines.append(f" {CONSTANT} = 1")
    lines += [f" {model.lower[c]} <= {model.names[c]} <= {model.upper[c]}" for c in used]
    whole = [model.names[c] for c in used if model.kinds[c] != LAZY]
    if whole:
        lines.append("General")
        lines += _wrapped("", whole)
    lines.append("End")
    return "\n".join(lines) + "\n"


def model_bytes(programme: Programme, objective: Linear, path: str | Path) -> bytes:
    """The file for ``path`` (.lp, else MPS); the modelling layer writes MPS by way of the temporary folder."""
    if Path(path).suffix.lower() == ".lp":
        return lp_text(programme, objective).encode()
    try:
        with TemporaryDirectory() as folder:
            beside = Path(folder) / "model.mps"
            _write_mps(programme, objective, beside)
            return beside.read_bytes()
    except OSError as error:
        raise refusal(
            str(path),
            "the programme could not be written by way of the system's temporary folder",
            (error.strerror or str(error)).lower(),
            "a temporary folder with room that may be written to",
            "make room there or set TMPDIR to another folder; or write a .lp, which needs none",
        ) from error


def _write_mps(programme: Programme, objective: Linear, path: Path) -> None:
    """MPS by the modelling layer; the objective's constant again on a column fixed at 1."""
    model = Model(
        [*programme.model.names, CONSTANT],
        [*programme.model.lower, 1],
        [*programme.model.upper, 1],
        [*programme.model.kinds, LAZY],
    )
    one = len(programme.model.names)
    rows = programme.rows(EVERYTHING)
    if any(programme.in_force(tag, EVERYTHING) for tag in programme.model.impossible):
        rows.append(Row((one,), (1,), None, 0, "impossible"))
    total = Linear({**objective.terms, one: objective.constant or 0})
    problem, _ = pulp_problem(model, [*rows, Row((one,), (1,), 1, 1, "one")], total, WHOLE)
    problem.writeMPS(str(path))


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _terms(model: Model, pairs: Iterable[tuple[int, int]]) -> list[str]:
    return [
        f"{'-' if value < 0 else '+'} {abs(value)} {model.names[column]}" for column, value in pairs if value
    ]


def _row_lines(model: Model, row: Row, name: str) -> list[str]:
    terms = _terms(model, zip(row.columns, row.coefficients, strict=True))
    if row.lower == row.upper:
        return _wrapped(f"{name}:", [*terms, f"= {row.lower}"])
    lines = []
    if row.lower is not None:
        lines += _wrapped(f"{name}g:", [*terms, f">= {row.lower}"])
    if row.upper is not None:
        lines += _wrapped(f"{name}l:", [*terms, f"<= {row.upper}"])
    return lines


def _wrapped(head: str, words: Sequence[str]) -> list[str]:
    """Words on lines of readable length; a continued line is indented."""
    lines, line = [], f" {head}" if head else ""
    for word in words:
        if len(line) + 1 + len(word) > WIDTH:
            lines.append(line)
            line = "  "
        line += f" {word}"
    return [*lines, line]
