"""A whole shop of a handful of rows, as bytes of files; tests break one thing in it at a time."""

from __future__ import annotations

import csv
import io

from estimator.core.errors import InputError, Issue
from estimator.input.job.load import job_from
from estimator.model import Job, Shop
from estimator.tables.folders import Folder
from estimator.tables.load import assemble
from estimator.tables.schema.shop import BY_NAME, TABLES
from estimator.tables.toml.text import parse_toml

Rows = dict[str, list[dict[str, str]]]

TASK = {
    "group": "nut",
    "what": "work",
    "driver": "nut",
    "setup_min": "2",
    "run_min_low": "4",
    "run_min_likely": "5",
    "run_min_high": "8",
    "beginner_factor": "1.5",
}
FIELD = {"section": "2", "what": "thing", "how": "look"}
LENGTH = FIELD | {"kind": "length", "unit": "mm"}


def tiny_rows() -> Rows:
    """Fresh rows of the tables that the spine needs; blank cells are left out, other tables are empty."""
    ones = dict.fromkeys(
        ("level", "crown", "polish", "cut", "seat", "end", "pull", "tool_wear", "abrasive"), "1"
    )
    wood = dict.fromkeys(("route", "drill", "sand", "cutter_wear", "screw_strip", "chip_odds"), "1")
    finish = dict.fromkeys(("mask", "strip", "touch", "polish", "chip_odds"), "1")
    return {
        "tasks": [
            TASK | {"id": "remove-nut", "factors": "CD NM"},
            TASK | {"id": "fit-nut", "factors": "NM", "hazards": "H-BD"},
            TASK | {"id": "weigh", "factors": "BW.route FW.cut FT.mask"},
        ],
        "task_consumables": [{"task": "fit-nut", "consumable": "c-glue", "quantity": "1/6"}],
        "task_tools": [{"task": "fit-nut", "tool": "t-file", "uses": "1"}],
        "task_methods": [
            {"task": "fit-nut", "method": "file", "what": "by file", "usual": "yes"},
            {
                "task": "fit-nut",
                "method": "mill",
                "what": "at the mill",
                "setup_min": "9",
                "run_min_low": "1",
                "run_min_likely": "2",
                "run_min_high": "3",
                "not_when": "nut-stuck",
                "hazards": "H-BD",
            },
        ],
        "method_consumables": [
            {"task": "fit-nut", "method": "mill", "consumable": "c-glue", "quantity": "0.25"}
        ],
        "method_tools": [{"task": "fit-nut", "method": "mill", "tool": "t-file", "uses": "0"}],
        "task_order": [{"before": "remove-nut", "after": "fit-nut"}],
        "shop_stations": [{"id": "bench", "what": "bench", "number": "1", "stations": "B"}],
        "consumables": [
            {
                "id": "c-glue",
                "what": "glue",
                "pack": "tube",
                "price": "6.50",
                "unit": "drop",
                "units_per_pack": "100",
            }
        ],
        "tools": [
            {
                "id": "t-file",
                "what": "file",
                "inexpensive_price": "10",
                "inexpensive_life": "100",
                "premium_price": "20",
                "premium_life": "300",
                "unit": "nut",
                "default_grade": "premium",
            },
        ],
        "woods": [wood | {"id": "alder", "density": "0.45"}],
        "metals": [ones | {"id": "nickel-silver"}],
        "finishes": [finish | {"id": "acrylic"}],
        "factors": [
            {"code": "NM", "level": "bone", "factor": "1.25"},
            {"code": "NM", "level": "plastic", "factor": "1"},
            {"code": "CD", "level": "clean", "factor": "1"},
        ],
        "intake": [
            FIELD
            | {
                "id": "kind",
                "kind": "choice",
                "default_guitar": "guitar-solid",
                "choices": "guitar-solid bass-solid",
            },
            FIELD
            | {
                "id": "string_n",
                "kind": "count",
                "default_guitar": "6",
                "default_bass": "4",
                "accepted_low": "4",
                "accepted_high": "12",
            },
            FIELD | {"id": "tuner_n", "kind": "count", "default_guitar": "string_n", "accepted_low": "4"},
            LENGTH
            | {
                "id": "nut_wid",
                "default_guitar": "42",
                "accepted_low": "34",
                "accepted_high": "60",
                "hard_low": "20",
                "hard_high": "100",
            },
            LENGTH | {"id": "crack_cm", "unit": "cm", "default_guitar": "0"},
            FIELD | {"id": "face_cm2", "kind": "number", "unit": "cm2", "default_guitar": "1000"},
            FIELD
            | {
                "id": "skin_cm2",
                "kind": "number",
                "unit": "cm2",
                "default_guitar": "2 * face_cm2 + 10 * nut_wid",
            },
            FIELD
            | {
                "id": "weight_g",
                "kind": "mass",
                "unit": "g",
                "default_guitar": "3500",
                "accepted_low": "1500",
                "accepted_high": "7000",
            },
            FIELD
            | {"id": "body_wood", "kind": "choice", "default_guitar": "unknown", "choices": "alder unknown"},
            FIELD | {"id": "nut_stuck", "kind": "yes-no", "default_guitar": "no"},
            FIELD | {"id": "missing_list", "kind": "list"},
            FIELD | {"id": "odd_work", "kind": "text"},
        ],
        "attributes": [
            {"id": "nut-function", "code": "A-06", "what": "nut", "kind": "level", "default_level": "1"},
            {
                "id": "weight",
                "code": "A-24",
                "what": "weight",
                "kind": "number",
                "unit": "g",
                "better": "less",
                "limit_1": "4500",
                "limit_2": "4000",
                "limit_3": "3600",
                "limit_4": "3200",
                "bass_shift": "500",
                "intake_field": "weight_g",
                "adds": "mass",
            },
            {
                "id": "bridge-mass",
                "what": "mass",
                "kind": "number",
                "unit": "g",
                "better": "more",
                "limit_1": "150",
                "limit_2": "250",
                "limit_3": "350",
                "limit_4": "450",
            },
            {"id": "tuning", "what": "tuning", "kind": "level"},
        ],
        "attribute_limits": [
            {"attribute": "tuning", "other": "nut-function", "plus": "0", "reason": "pings"}
        ],
        "profiles": [
            {"profile": "student", "attribute": "nut-function", "minimum": "3", "weight": "60"},
            {"profile": "student", "attribute": "weight", "minimum": "2", "weight": "40"},
        ],
        "part_classes": [{"id": "p-nut", "what": "nut"}, {"id": "p-bag", "what": "bag"}],
        "part_dimensions": [
            {
                "part_class": "p-nut",
                "dimension": "thk",
                "kind": "length",
                "unit": "mm",
                "typical": "3.3",
                "low": "2",
                "high": "8",
                "meaning": "thickness",
            },
            {
                "part_class": "p-nut",
                "dimension": "spacing_w",
                "kind": "length",
                "unit": "mm",
                "typical": "35",
                "meaning": "outer slots",
            },
            {
                "part_class": "p-nut",
                "dimension": "slotted",
                "kind": "yes-no",
                "typical": "no",
                "meaning": "ready cut",
            },
            {
                "part_class": "p-nut",
                "dimension": "base",
                "kind": "choice",
                "choices": "flat curved",
                "meaning": "base",
            },
        ],
        "parts": [
            {
                "id": "p-nut-plastic",
                "part_class": "p-nut",
                "variant": "plastic",
                "grade": "economy",
                "what": "plastic nut",
                "price_low": "2",
                "price": "3",
                "price_high": "5",
                "weight_g": "3",
            },
            {
                "id": "p-nut-bone",
                "part_class": "p-nut",
                "variant": "bone",
                "grade": "standard",
                "what": "bone nut",
                "price_low": "8",
                "price": "10",
                "price_high": "12",
                "weight_g": "5",
                "levels": "NM=bone",
                "dims": "thk=6 base=flat",
            },
            {
                "id": "p-bag-plain",
                "part_class": "p-bag",
                "variant": "plain",
                "grade": "standard",
                "what": "bag",
                "price_low": "20",
                "price": "25",
                "price_high": "35",
            },
        ],
        "upgrades": [
            {
                "id": "new-nut",
                "what": "new nut",
                "slot": "nut",
                "part_class": "p-nut",
                "removes_g": "0.1 * part.weight_g",
            },
            {"id": "weigh-it", "what": "weigh", "slot": "scale", "excludes": "new-nut-plastic"},
        ],
        "upgrade_work": [
            {"upgrade": "new-nut", "task": "nut-swap", "quantity": "1"},
            {"upgrade": "weigh-it", "task": "weigh", "quantity": "0.5 * string_n"},
        ],
        "bundle_work": [
            {"bundle": "nut-swap", "task": "remove-nut"},
            {"bundle": "nut-swap", "task": "fit-nut", "levels": "NM=plastic"},
        ],
        "needless_work": [
            {"upgrade": "weigh-it", "task": "fit-nut"},
            {"with_task": "remove-nut", "task": "weigh"},
        ],
        "upgrade_effects": [
            {"upgrade": "new-nut", "grade": "bone", "attribute": "nut-function", "kind": "to", "value": "4"},
        ],
        "task_effects": [{"task": "fit-nut", "attribute": "nut-function", "kind": "to", "value": "3"}],
        "customer_words": [
            {"about": "fit-nut", "rule": "R38", "concern": "price", "words": "nut thinned: {n}"},
            {"about": "last-level", "concern": "result", "words": "one level more"},
        ],
        "hazards": [{"id": "H-BD", "where": "dust", "harm": "lungs", "controls": "mask"}],
        "base_work": [{"job_kind": "own", "task": "weigh", "quantity": "1"}],
        "known_jobs": [{"id": "nut-job", "what": "nut", "low_min": "10", "high_min": "20"}],
        "known_job_work": [{"known_job": "nut-job", "task": "fit-nut"}],
    }


SHOP_TOML = b"""
shop_name = "Bench"
currency = "USD"
large_quote_hours = 0
hidden_faults_quoted = "in-price"
menu_place = "US"
skill = 4
charge_per_hour = 75
own_pay_per_hour = 35
allowance = 0
allowance_on = "work"
hidden_fault_share = 0.05
hidden_fault_share_unstrung = 0.10
shared_cause = 0.2
skew = 0.5
surety = 80
rework_spoil_min = 0
rework_damage_min = 25
rework_serious_min = 240
rework_serious_cost = 60
rework_client_min = 15
rework_cap_pct = 60
rework_skill_step = 1.2
billing_unit_min = 15
minimum_charge = 38
labour_reserve = 0.03
own_part_labour = 1.15
fee_share = 0.04
fee_least = 4
fee_most = 25
rush = 1.35
tax_parts = 0
tax_labour = 0
tax_per = "invoice"
deposit_labour_share = 0.25
deposit_labour_over = 200
deposit_step = 0
quote_valid_days = 30
warranty_days = 90
storage_free_days = 30
storage_per_day = 2
lien_days = 90
readjust_days = 30
queue_days = 0
day_sooner_min = 1
bench_fee = 35
batch_share = 0.5

[[markup]]
up_to = 10
factor = 2.0

[[markup]]
factor = 1.5

[rate_build_up]
draw = 50000
insurance = 20000
weeks = 50
hours_per_week = 40
billable_share = 0.5

[basis]
everything = "demo"
"""


def csv_bytes(table: str, rows: list[dict[str, str]], **how: str) -> bytes:
    """Rows as the bytes of a CSV file with the whole header; basis is demo unless a row says otherwise."""
    names = [column.name for column in BY_NAME[table].columns]
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, names, restval="", lineterminator="\n", **how)
    writer.writeheader()
    writer.writerows({"basis": "demo"} | row for row in rows)
    return out.getvalue().encode()


def tiny_files(rows: Rows | None = None, toml: bytes = SHOP_TOML) -> dict[str, bytes]:
    """The files of the tiny shop."""
    rows = tiny_rows() if rows is None else rows
    return {table.file: csv_bytes(table.name, rows.get(table.name, [])) for table in TABLES} | {
        "shop.toml": toml
    }


def tiny_shop(rows: Rows | None = None, *overlays: dict[str, bytes]) -> Shop:
    """The tiny shop, with further folders laid over it."""
    folders = [Folder("rates", tiny_files(rows))]
    folders += [Folder(f"mine{number}", files) for number, files in enumerate(overlays, 1)]
    return assemble(folders)


def shop_issues(rows: Rows | None = None, *overlays: dict[str, bytes]) -> list[Issue]:
    """The complaints about a broken tiny shop."""
    try:
        shop = tiny_shop(rows, *overlays)
    except InputError as error:
        return list(error.issues)
    return list(shop.issues)


def tiny_job(text: str, shop: Shop | None = None) -> Job:
    """A job file read against the tiny shop."""
    return job_from(parse_toml(text.encode(), "job.toml"), shop or tiny_shop())


def job_issues(text: str) -> list[Issue]:
    """The complaints about a broken job file, or the warnings of a good one."""
    try:
        return list(tiny_job(text).issues)
    except InputError as error:
        return list(error.issues)
