"""What an operation is called: one record, and the text that a saved plan and the schedule know it by."""

from __future__ import annotations

import random

from estimator.model.operation import OperationName, SittingName, operation_name
from tests.shops import default_shop


def test_the_text_of_each_kind_of_operation() -> None:
    assert str(OperationName("mine", SittingName("wire"))) == "mine:wire"
    assert str(OperationName("mine", SittingName("spray", "02"))) == "mine:spray#02"
    assert str(OperationName("mine", SittingName("spray", "02", "neck"))) == "mine:spray#02@neck"
    assert str(OperationName("mine", SittingName("strip", where="strings-on"))) == "mine:strip@strings-on"


def test_what_was_written_is_read_back() -> None:
    shop, draw = default_shop(), random.Random(7)
    places = sorted({place for _, place in shop.planning.back} | {"", "neck", "body"})
    for _ in range(500):
        sitting = SittingName(
            draw.choice(sorted(shop.tasks)), draw.choice(("", "01", "12")), draw.choice(places)
        )
        # a job made by a program may be called anything
        name = OperationName(draw.choice(("job-1", "a:b", "http://x@y#z", "{=SUM(A1:A9)}", "")), sitting)
        assert operation_name(str(name)) == name
        assert operation_name(str(name)).task == sitting.task
