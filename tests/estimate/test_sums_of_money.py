"""Money added up heading by heading is the sum one by one."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from estimator.core.amounts import Cents
from estimator.model import MONEY_FIELDS, Money, add_up

moneys = st.lists(
    st.lists(st.integers(-(10**9), 10**9), min_size=len(MONEY_FIELDS), max_size=len(MONEY_FIELDS)), min_size=1
)


@given(moneys)
def test_by_heading_or_one_by_one(values: list[list[int]]) -> None:
    each = [Money(*map(Cents, one)) for one in values]
    total = Money()
    for money in each:
        total = total + money
    assert add_up(each) == total
    assert add_up(each).cost == sum(money.cost for money in each)
