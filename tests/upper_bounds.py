"""``python -m tests.upper_bounds``: of each dependency what is accepted, what is installed, what is newer.

For whoever keeps the project, about once a month: a newer release beyond a bound is tried by hand (raise the
bound in ``pyproject.toml``, run all tests), one within the bounds is taken into ``.ci/constraints.txt``.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator, Sequence
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from msgspec import Struct
from packaging.requirements import Requirement
from packaging.version import InvalidVersion, Version

PROJECT = Path(__file__).parent.parent / "pyproject.toml"
UPPER = ("<", "<=", "==", "~=")
LOWER = (">", ">=", "==", "~=")
#: licences that ask for their notice at most
PERMISSIVE = re.compile(r"\b(MIT|0?BSD|Apache|ISC|PSFL?|Python Software Foundation|Zlib|CC0|Unlicense)\b")
#: licences that bind changes of the package itself, and nothing that uses it as it is shipped
WEAK = re.compile(r"\b(MPL|Mozilla Public|LGPL|Lesser General Public)\b")
_AVAILABLE = re.compile(r"^Available versions:\s*(.+)$", re.M)
SECONDS = 60


class Found(Struct, frozen=True):
    """A dependency: what the project accepts, what stands here, what there is."""

    requirement: Requirement
    installed: str
    newest: str

    @property
    def told(self) -> str:
        """What to do about it, in words."""
        if not self.newest:
            return "the package index did not answer: ask again later"
        newest = Version(self.newest)
        if not self.requirement.specifier.contains(newest):
            return f"{newest} is beyond the bound: try it, run all tests, then raise the bound"
        if self.installed and newest > Version(self.installed):
            return f"{newest} is accepted and newer than what is installed: install it, run all tests"
        return "up to date" if self.installed else f"not installed here; {newest} is accepted"


def requirements(text: str) -> list[Requirement]:
    """Every dependency that the project names, those of its extras too; each name once."""
    project = tomllib.loads(text)["project"]
    extras = [one for extra in project["optional-dependencies"].values() for one in extra]
    found = {one.name.lower(): one for one in map(Requirement, (*project["dependencies"], *extras))}
    return list(found.values())


def without_bounds(requirement: Requirement) -> str:
    """Which bound a dependency lacks, in words; blank where it has both."""
    signs = {one.operator for one in requirement.specifier}
    lacks = [name for name, known in (("lower", LOWER), ("upper", UPPER)) if signs.isdisjoint(known)]
    return f"{requirement.name} has no {' and no '.join(lacks)} bound" if lacks else ""


def installed(name: str) -> Distribution | None:
    """The package as it is installed here; None where it is not."""
    try:
        return distribution(name)
    except PackageNotFoundError:
        return None


def with_all_below(names: Sequence[str]) -> Iterator[Distribution]:
    """The packages of some names and all that they need in turn, as far as they are installed."""
    waiting, seen = list(names), set()
    while waiting:
        name = re.sub(r"[-_.]+", "-", waiting.pop()).lower()
        package = None if name in seen else installed(name)
        seen.add(name)
        if package is None:
            continue
        yield package
        needs = (Requirement(one) for one in package.requires or ())
        waiting += [one.name for one in needs if one.marker is None or one.marker.evaluate({"extra": ""})]


def licence_of(package: Distribution) -> str:
    """What a package says of its licence: the expression, else its classifiers, else the first line of the text."""
    told = package.metadata
    kinds = [one.rpartition("::")[2].strip() for one in told.get_all("Classifier", []) if "License ::" in one]
    first = next(iter((told.get("License") or "").splitlines()), "")
    return told.get("License-Expression") or " AND ".join(kinds) or first


def binds(licence: str) -> bool:
    """Whether a licence asks for more than notices and open changes of the package itself, or says nothing known."""
    return not all(
        any(PERMISSIVE.search(way) or WEAK.search(way) for way in re.split(r"\s+OR\s+", part))
        for part in re.split(r"\s+AND\s+", licence)
    )


def newest_of(answer: str) -> str:
    """The newest release in the answer of ``pip index versions``; blank where there is none."""
    listed = _AVAILABLE.search(answer)
    versions = []
    for text in listed[1].split(",") if listed else ():
        try:
            versions.append(Version(text.strip()))
        except InvalidVersion:  # named before there was a rule for names
            continue
    released = [one for one in versions if not one.is_prerelease]
    return str(max(released)) if released else ""


def asked(name: str) -> str:
    """What the package index answers about one package; blank where it does not."""
    try:
        told = subprocess.run(
            [sys.executable, "-m", "pip", "index", "versions", name],
            capture_output=True,
            text=True,
            timeout=SECONDS,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return told.stdout


def table(found: Sequence[Found]) -> list[str]:
    """The lines that are printed."""
    rows = [("dependency", "accepted", "installed", "newest", "what to do")]
    rows += [
        (
            one.requirement.name,
            str(one.requirement.specifier),
            one.installed or "-",
            one.newest or "-",
            one.told,
        )
        for one in found
    ]
    wide = [max(len(row[column]) for row in rows) for column in range(4)]
    return [
        "  ".join([*(cell.ljust(most) for cell, most in zip(row[:4], wide, strict=True)), row[4]])
        for row in rows
    ]


def main() -> int:
    """Print it; 1 where something newer is beyond a bound, or a licence binds."""
    wanted = requirements(PROJECT.read_text(encoding="utf-8"))
    found = []
    for one in wanted:
        here = installed(one.name)
        found.append(Found(one, here.version if here else "", newest_of(asked(one.name))))
    print("\n".join(table(found)))
    bad = [p for p in with_all_below([one.name for one in wanted]) if binds(licence_of(p))]
    for package in bad:
        print(f"{package.name}: licence {licence_of(package)!r} may bind; read it before it is shipped")
    beyond = [one for one in found if "beyond the bound" in one.told]
    return 1 if beyond or bad else 0


if __name__ == "__main__":
    sys.exit(main())
