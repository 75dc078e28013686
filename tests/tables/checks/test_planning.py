"""The planning tables: one broken row for each complaint."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.core.errors import InputError
from estimator.schedule.build import _takes
from estimator.tables.load import load_shop
from tests.plan.bench import shop
from tests.shops import write_shop


@pytest.mark.parametrize(
    ("table", "row", "told"),
    [
        (
            "supplier_offers",
            {"supplier": "parts-house", "sells": "p-jakc", "price_factor": 1},
            "did you mean “p-jack”",
        ),
        (
            "supplier_offers",
            {"supplier": "nobody", "sells": "p-jack", "price_factor": 1},
            "nothing has this name",
        ),
        (
            "quantity_breaks",
            {"supplier": "parts-house", "what": "p-pott", "from_quantity": 10, "price_share": 0.9},
            "nothing of this name is bought",
        ),
        (
            "quantity_breaks",
            {"supplier": "finish-store", "what": "p-pot", "from_quantity": 10, "price_share": 0.9},
            "finish-store does not sell it",
        ),
        (
            "quantity_breaks",
            {"supplier": "parts-house", "what": "p-pot", "from_quantity": 1, "price_share": 0.9},
            "2 to 1000",
        ),
        (
            "quantity_breaks",
            {"supplier": "parts-house", "what": "p-pot", "from_quantity": 4, "price_share": 1.2},
            "0.001 to 1",
        ),
        (
            "task_waits",
            {
                "before": "plug-hole",
                "after": "drill-hole",
                "every": 1,
                "fast_min": 9,
                "usual_min": 8,
                "safe_min": 10,
            },
            "waits out of order",
        ),
        (
            "task_waits",
            {
                "before": "string-up",
                "after": "strings-off",
                "every": 1,
                "fast_min": 0,
                "usual_min": 0,
                "safe_min": 0,
            },
            "go round in a circle",
        ),
        (
            "suppliers",
            {"id": "slow", "what": "slow", "freight": 5, "lead_days_low": 9, "lead_days_high": 3},
            "lead_days_low is above",
        ),
        ("task_plans", {"task": "plug-hole", "kind": "glueing", "part": "body"}, "nothing has this name"),
        (
            "putting_back",
            {"task": "strip-hardware", "place": "knobs-back", "like": "fit-knob", "because": "they go back"},
            "nothing has this name",
        ),
        (
            "putting_back",
            {
                "task": "strip-hardware",
                "place": "knobs-back",
                "like": "strings-off",
                "because": "they go back",
            },
            "round in a circle with this sitting",
        ),
        (
            "bored_first",
            {"task": "plug-hole", "sitting": "bore", "share": 1, "before": "polish-body", "because": "first"},
            "0.01 to 0.99",
        ),
        (
            "bored_first",
            {
                "task": "drill-hole",
                "sitting": "bore",
                "share": "0.5",
                "after": "string-up",
                "before": "polish-body",
                "because": "first",
            },
            "round in a circle with this sitting",
        ),
        ("shop_stations", {"id": "lathe", "what": "lathe", "number": 0, "stations": "D"}, "1 to 1000"),
        ("tasks", {"id": "drill-hole", "station": "Q"}, "no station of this letter; found “Q”"),
        (
            "task_methods",
            {"task": "fit-nut", "method": "own", "what": "own", "station": "QQ"},
            "no station of this",
        ),
    ],
)
def test_a_broken_row_is_refused_in_words(
    table: str, row: dict[str, object], told: str, tmp_path: Path
) -> None:
    folder = write_shop(tmp_path / "shop", {table: [row]})
    with pytest.raises(InputError, match=told):
        load_shop(folder)


def test_a_shop_adds_a_station_by_rows_alone(tmp_path: Path) -> None:
    own = {"id": "band-saw", "what": "band saw", "number": 1, "stations": "Q"}
    folder = write_shop(
        tmp_path / "shop", {"shop_stations": [own], "tasks": [{"id": "drill-hole", "station": "Q"}]}
    )
    changed = load_shop(folder)
    needs, _ = _takes(changed, "job", changed.tasks["drill-hole"].station, "body", "M0")
    assert needs == (("band-saw", 1), ("job body", 1))


def test_every_task_is_planned() -> None:
    plans = shop().planning.tasks
    assert set(plans) == set(shop().tasks)
    # a task done in one go must fit into a working window: the longest is three hours
    assert {p.kind for p in plans.values()} <= set(shop().planning.kinds)
    for name, plan in plans.items():
        if shop().tasks[name].meanwhile == "M3":
            assert plan.in_one_go, name
            assert not shop().planning.kinds[plan.kind].dusty
