"""A rule on a made-up instrument: values in, findings out, without the rates folder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from types import SimpleNamespace
from typing import Any, cast

from msgspec.structs import replace

from estimator.fit import judge  # noqa: F401  (registers all rules)
from estimator.fit.case import RULES, Case
from estimator.model import Demand, Finding, Part, Reading, Shop

Value = str | int | float | bool | Decimal


def plain(value: Value) -> Decimal | str | bool:
    """Numbers as Decimals; words and yes/no as they are."""
    return value if isinstance(value, (bool, str)) else Decimal(str(value))


def stub_shop(**more: Any) -> Shop:
    """A shop with nothing in it but what a rule may look up."""
    wood = SimpleNamespace
    shop = SimpleNamespace(
        intake={},
        part_dimensions={},
        part_classes={},
        tasks={},
        attributes={
            "fret-height": SimpleNamespace(
                limits=tuple(Decimal(text) for text in ("0.70", "0.85", "1.00", "1.15"))
            )
        },
        woods={
            "basswood": wood(pilot_share=Decimal("0.65"), density=Decimal("0.42")),
            "alder": wood(pilot_share=Decimal("0.72"), density=Decimal("0.45")),
            "hard-maple": wood(pilot_share=Decimal("0.80"), density=Decimal("0.70")),
        },
    )
    for name, value in more.items():
        setattr(shop, name, value)
    return cast(Shop, shop)


def make_case(
    instrument: Mapping[str, Value],
    part: str = "",
    dims: Mapping[str, Value] | None = None,
    *,
    typical: Iterable[str] = (),
    assumed: Iterable[str] = (),
    weight_g: Value | None = None,
    upgrade: str = "an-upgrade",
    place: str = "",
    wanted: Mapping[str, Value] | None = None,
    shop: Shop | None = None,
) -> Case:
    """A case: intake values, the class of the part (without ``p-``) and its dimensions."""
    taken_for_granted = frozenset(assumed)
    readings = {name: Reading(plain(value), name in taken_for_granted) for name, value in instrument.items()}
    fitted = None
    if part:
        fitted = Part(
            id=f"some-{part}",
            part_class=f"p-{part}",
            variant="some",
            grade="standard",
            what=f"some {part}",
            price=Decimal(1),
            weight_g=None if weight_g is None else Decimal(str(weight_g)),
            dims={name: cast(Decimal | str, plain(value)) for name, value in (dims or {}).items()},
            typical=frozenset(typical),
        )
    levels = {name: Decimal(str(level)) for name, level in (wanted or {}).items()}
    return Case(shop or stub_shop(), readings, fitted, upgrade, "slot", place, levels)


def run(number: str, case: Case) -> list[Finding]:
    """What a rule finds, from a fresh record of the values used."""
    return list(RULES[number](replace(case, used={})))


def one(number: str, case: Case) -> Finding:
    """The only finding of a rule."""
    found = run(number, case)
    assert len(found) == 1, found
    return found[0]


def work(findings: Finding | Iterable[Finding]) -> dict[tuple[str, str], Decimal]:
    """(task, place) -> quantity of all demands."""
    several = [findings] if isinstance(findings, Finding) else list(findings)
    return {(d.task, d.place): d.quantity for finding in several for d in finding.demands}


def asked(finding: Finding, task: str) -> Demand:
    """The demand for one task."""
    return next(d for d in finding.demands if d.task == task)
