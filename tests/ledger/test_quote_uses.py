"""What a quote says each task uses adds up to what it needs of the stock: no part is left without its task."""

from __future__ import annotations

import pytest

from estimator.choose.tools import make_named_or_best
from estimator.cli.common import load_study
from estimator.workbook.quote_record import quote_record

EXAMPLES = ("tight-commission", "resale-flip", "school-guitar", "short-scale-bass")


@pytest.mark.slow
@pytest.mark.parametrize("name", EXAMPLES)
def test_uses_by_task_add_up_to_the_needs(name: str) -> None:
    choice = make_named_or_best(load_study(f"example:{name}", None), ())
    assert choice.found
    it = quote_record(choice)
    sums: dict[str, int] = {}
    for (task, item), many in it.uses.items():
        assert task in it.seconds
        sums[item] = sums.get(item, 0) + many
    assert it.needs
    for item, many in it.needs.items():
        assert abs(sums.get(item, 0) - many) <= 1, item
