"""Every dependency has bounds, and no licence of what is shipped binds; the command that tells what is newer."""

from __future__ import annotations

import pytest
from packaging.requirements import Requirement

from tests.upper_bounds import (
    PROJECT,
    Found,
    binds,
    installed,
    licence_of,
    newest_of,
    requirements,
    table,
    with_all_below,
    without_bounds,
)

WANTED = requirements(PROJECT.read_text(encoding="utf-8"))
ANSWER = "some-package (2.10.0)\nAvailable versions: 3.0rc1, 2.10.0, 2.9.1, 2.1-odd-name, 1.0\n  INSTALLED: 2.9.1\n"


@pytest.mark.parametrize("one", WANTED, ids=lambda one: one.name)
def test_every_dependency_has_both_bounds(one: Requirement) -> None:
    assert without_bounds(one) == ""


@pytest.mark.parametrize("one", [one for one in WANTED if installed(one.name)], ids=lambda one: one.name)
def test_what_is_installed_is_within_the_bounds(one: Requirement) -> None:
    here = installed(one.name)
    assert here is not None
    assert one.specifier.contains(here.version)


def test_no_licence_of_what_is_installed_binds() -> None:
    packages = list(with_all_below([one.name for one in WANTED]))
    assert {"numpy", "anyio", "markupsafe"} <= {
        package.name.lower() for package in packages
    }  # and what they need
    assert {p.name: licence_of(p) for p in packages if binds(licence_of(p))} == {}


@pytest.mark.parametrize(
    ("licence", "bound"),
    [
        ("MIT", False),
        ("BSD-3-Clause AND 0BSD AND Zlib", False),
        ("Apache-2.0 OR GPL-3.0-only", False),
        ("MPL-2.0", False),
        ("GNU Lesser General Public License v3 (LGPLv3)", False),
        ("MIT AND GPL-3.0-only", True),
        ("GNU General Public License v3 (GPLv3)", True),
        ("AGPL-3.0-or-later", True),
        ("Other/Proprietary License", True),
        ("", True),
    ],
)
def test_which_licences_bind(licence: str, bound: bool) -> None:
    assert binds(licence) is bound


@pytest.mark.parametrize(
    ("bounds", "lacks"),
    [(">=1,<2", ""), ("==1.5", ""), (">=1", "no upper"), ("<2", "no lower"), ("", "no lower and no upper")],
)
def test_a_bound_that_is_missing_is_told(bounds: str, lacks: str) -> None:
    told = without_bounds(Requirement(f"some-package{bounds}"))
    assert (lacks in told) if lacks else told == ""


@pytest.mark.parametrize(
    ("bounds", "here", "newest", "told"),
    [
        (">=2,<3", "2.9.1", "2.10.0", "2.10.0 is accepted and newer"),
        (">=2,<3", "2.10.0", "2.10.0", "up to date"),
        (">=2,<2.10", "2.9.1", "2.10.0", "2.10.0 is beyond the bound"),
        (">=2,<3", "", "2.10.0", "not installed here; 2.10.0 is accepted"),
        (">=2,<3", "2.9.1", "", "did not answer"),
    ],
)
def test_what_is_to_do_is_told(bounds: str, here: str, newest: str, told: str) -> None:
    found = Found(Requirement(f"some-package{bounds}"), here, newest)
    assert told in found.told
    head, line = table([found])
    assert line.index(found.told) == head.index("what to do")


def test_the_newest_release_is_read_from_the_answer() -> None:
    assert newest_of(ANSWER) == "2.10.0"  # by number, not by letters; what is tried out is no release
    assert newest_of("") == newest_of("ERROR: No matching distribution found for some-package") == ""
