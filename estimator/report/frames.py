"""An estimate as pandas tables, for those who go on reckoning in a notebook.

Money columns hold ``Decimal`` amounts, so that sums stay exact; minutes are numbers.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from estimator.choose.study import Study, all_parts
from estimator.core.money import amount
from estimator.model import Estimate

if TYPE_CHECKING:
    from pandas import DataFrame


def to_frames(study: Study, estimate: Estimate) -> dict[str, DataFrame]:
    """Tables ``work``, ``parts`` and ``wear``, one row a line."""
    from pandas import DataFrame

    work = [
        {
            "task": line.task,
            "place": line.place,
            "quantity": float(line.quantity),
            "setup_min": line.setup / 100,
            "run_min": line.minutes / 100,
            "sd_min": line.sd,
            "reserve_min": (line.rework + line.allowance) / 100,
            "wait_min": line.wait / 100,
            "cost": amount(line.money.cost),
        }
        for line in estimate.lines
    ]
    parts = [
        {
            "part": p.part,
            "upgrade": p.upgrade,
            "quantity": p.quantity,
            "cost": amount(p.cost),
            "price": amount(p.price) if study.job.for_customer else None,
        }
        for p in all_parts(study, estimate)
    ]
    wear = [
        {
            "task": line.task,
            "place": line.place,
            "kind": kind,
            "id": use.id,
            "quantity": float(use.quantity),
            "unit": use.unit,
            "cost": use.cost.quantize(Decimal("0.0001")),
        }
        for line in estimate.lines
        for kind, uses in (("consumable", line.consumables), ("tool", line.tools))
        for use in uses
    ]
    return {"work": DataFrame(work), "parts": DataFrame(parts), "wear": DataFrame(wear)}
