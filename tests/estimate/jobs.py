"""Worked jobs as lists of work: every task with its quantity and the multiple of its run time."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from msgspec.structs import replace

from estimator.estimate.labour import Setting
from estimator.estimate.work_list import neutral_setting
from estimator.model import Demand, Shop

ONE = Decimal(1)


def work(text: str, place: str = "", follows: bool = False, shop: Shop | None = None) -> list[Demand]:
    """``task``, ``task x 6``, ``task f 1.15``, ``task x 6 f 1.15``, parted by semicolons.

    ``follows``: a further instrument in a run, which pays the repeat share of every set-up.
    """
    demands = []
    for entry in text.split(";"):
        words = entry.split()
        quantity = Decimal(words[words.index("x") + 1]) if "x" in words else ONE
        share = Decimal(words[words.index("f") + 1]) if "f" in words else ONE
        repeat = shop.tasks[words[0]].repeat_share if follows and shop else Decimal(0)
        demands.append(Demand(words[0], place, quantity, "worked job", share, setup_share=repeat))
    return demands


def bass_setting(shop: Shop) -> Setting:
    """The neutral setting, on a bass."""
    return replace(neutral_setting(shop), family="bass")


def likely_minutes(lines: Iterable[object]) -> Decimal:
    """The plain sum of usual minutes."""
    return sum((line.likely for line in lines), Decimal(0))  # type: ignore[attr-defined]
