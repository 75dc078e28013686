"""What tools that are not there take to have for one job: each bought, or had with what is rented, in whole cents."""

from __future__ import annotations

from collections.abc import Collection
from itertools import combinations

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.core.money import cents
from estimator.model import Shop


class Got(Struct, frozen=True):
    """A tool that is bought, or what is rented with one or more of them: cents.

    ``inexpensive``: what it is bought at in the other grade, where the shop reckons with the dearer one; else None.
    """

    what: str
    tools: tuple[str, ...]
    rented: str
    cents: Cents
    inexpensive: Cents | None = None


class ToolsGot(Struct, frozen=True):
    """What is got of the tools that are not there; the sums of the set do not hold it.

    ``around``: the cents of the best set that gets nothing (None: not weighed, or there is none). ``more``: cents
    that the set costs more, by tool not got, than with that tool there for nothing: from how many jobs like this
    one it pays. ``needed``: whether nothing does without.
    """

    got: tuple[Got, ...] = ()
    around: Cents | None = None
    more: tuple[tuple[Got, Cents], ...] = ()
    needed: bool = False

    @property
    def cents(self) -> Cents:
        """What is got takes in all."""
        return sum((one.cents for one in self.got), Cents(0))


NO_TOOLS = ToolsGot()


def price_of(shop: Shop, tool: str) -> Cents:
    """What a tool costs to buy, in the grade the shop reckons with."""
    row = shop.tools[tool]
    return cents(row.premium_price if row.default_grade == "premium" else row.inexpensive_price)


def _bought(shop: Shop, tool: str) -> Got:
    row, price = shop.tools[tool], price_of(shop, tool)
    less = cents(row.inexpensive_price)
    return Got(row.what, (tool,), "", price, less if less < price else None)


def cheapest_to_get(shop: Shop, tools: Collection[str]) -> tuple[Got, ...]:
    """The cheapest way to have all of some tools: every choice of what is rented, the rest bought.

    A rent is the middle of its range, once for all the tools that come with it. Of equals the one that rents less.
    """
    wanted = sorted(tools)
    rents = [
        (row, cents((row.rent_low + row.rent_high) / 2))
        for row in shop.resale.send_out.values()
        if row.rent_low is not None and row.rent_high is not None and not set(row.tools).isdisjoint(wanted)
    ]
    found: list[tuple[int, int, tuple[Got, ...]]] = []
    for number in range(len(rents) + 1):
        for some in combinations(rents, number):
            had = {tool for row, _ in some for tool in row.tools}
            got = [
                Got(row.what, tuple(t for t in wanted if t in row.tools), row.rent_per or "day", rent)
                for row, rent in some
            ]
            got += [_bought(shop, tool) for tool in wanted if tool not in had]
            found.append((sum(one.cents for one in got), number, tuple(got)))
    return min(found, key=lambda item: item[:2])[2]
