"""The linear programme behind the prices: a case by hand."""

from __future__ import annotations

import pytest

from estimator.choose.milp.linear import STRUCTURE, Linear, Model, make_row
from estimator.choose.solvers import lp_duals as relaxed
from estimator.core.errors import EngineError


def test_value_and_prices_by_hand() -> None:
    # least 2a + 3b + 7 with a + b >= 10 and a <= 6: a = 6, b = 4. One more wanted costs 3; one more a saves 1
    model = Model()
    a, b = model.column("a", 0, 100), model.column("b", 0, 100)
    rows = [make_row(Linear({a: 1, b: 1}), 10, None, STRUCTURE), make_row(Linear({a: 1}), None, 6, STRUCTURE)]
    value, prices = relaxed.row_duals(model, rows, Linear({a: 2, b: 3}, 7))
    assert value == pytest.approx(31)
    assert prices == pytest.approx([3, -1])
    with pytest.raises(EngineError, match="Infeasible"):
        relaxed.row_duals(model, [make_row(Linear({a: 1, b: 1}), 300, None, STRUCTURE)], Linear({a: 2}))
