"""The default shop, and small shops and jobs written to a folder, for tests that go through the public functions."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import cache
from pathlib import Path

from msgspec.structs import replace

from estimator.model import Shop
from estimator.tables.load import load_shop
from estimator.tables.schema.shop import BY_NAME

Row = Mapping[str, object]


@cache
def default_shop() -> Shop:
    """The shop that comes with the program, read once for all tests of a process: nothing changes a shop."""
    return load_shop()


def held_at_surety(shop: Shop) -> Shop:
    """The shop as one that holds every quote at its surety, in quarter hours, with a fee and hidden faults."""
    terms = replace(
        shop.terms,
        billing_unit_min=Decimal(15),
        large_quote_hours=Decimal(0),
        hidden_faults_quoted="in-price",
        minimum_charge=Decimal(38),
        bench_fee=Decimal(35),
    )
    return replace(shop, terms=terms)


def write_table(folder: Path, name: str, rows: Sequence[Row]) -> None:
    """One table of a shop folder; columns left out are blank, the basis is demo."""
    columns = [column.name for column in BY_NAME[name].columns]
    with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        for row in rows:
            writer.writerow({"basis": "demo", **{k: str(v) for k, v in row.items()}})


def write_shop(folder: Path, tables: Mapping[str, Sequence[Row]], settings: str = "") -> Path:
    """A shop folder that overlays the default one."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        write_table(folder, name, rows)
    if settings:
        (folder / "shop.toml").write_text(settings, encoding="utf-8")
    return folder


def write_job(path: Path, text: str) -> Path:
    """A job file."""
    path.write_text(text, encoding="utf-8")
    return path


def priced_item(name: str, price: object, amounts: Mapping[str, object]) -> dict[str, list[Row]]:
    """An upgrade that is nothing but a part of a price and what it adds to some amounts."""
    return {
        "part_classes": [{"id": f"class-{name}", "what": f"thing {name}", "counted": "each"}],
        "parts": [
            {
                "id": f"part-{name}",
                "part_class": f"class-{name}",
                "variant": "only",
                "grade": "standard",
                "what": f"thing {name}",
                "price_low": price,
                "price": price,
                "price_high": price,
            }
        ],
        "upgrades": [
            {"id": name, "what": f"take {name}", "slot": f"slot-{name}", "part_class": f"class-{name}"}
        ],
        "upgrade_effects": [
            {"upgrade": name, "attribute": attribute, "kind": "change", "value": value}
            for attribute, value in amounts.items()
            if value
        ],
    }


def joined(parts: Sequence[Mapping[str, Sequence[Row]]]) -> dict[str, list[Row]]:
    """Several small groups of rows as one set of tables."""
    tables: dict[str, list[Row]] = {}
    for part in parts:
        for name, rows in part.items():
            tables.setdefault(name, []).extend(rows)
    return tables


def amount_attribute(name: str) -> Row:
    """An attribute that is an amount, more being better."""
    return {"id": name, "what": f"amount of {name}", "kind": "number", "better": "more"}
