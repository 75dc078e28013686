"""Small jobs of our own for the tests of the money side."""

from __future__ import annotations

from estimator.choose.study import Study
from estimator.input.job.load import job_from
from estimator.model import Job, Shop
from estimator.tables.toml.text import parse_toml

SOUND = """
papers = true
fret_h = 1.05
fret_wear = 0.05
fret_uneven = 0.06
fret_sprout = 0.02
relief = 0.30
action_b = 2.3
action_t = 1.9
nut_clear_b = 0.70
nut_clear_t = 0.55
pot_state = "scratchy"
jack_state = "loose"
"""


def resale_job(
    shop: Shop,
    tier: str = "C",
    base: object = 320,
    ask: object = 120,
    condition: str = "",
    open_: tuple[str, ...] = (),
    kind: str = "guitar-solid",
    more: str = "",
    resale: str = "",
) -> Job:
    """A donor with the price class, clean price and asking price given."""
    lines = ['[job]\nid = "flip"\nkind = "resale"\n[instrument]', f'kind = "{kind}"\ntier = "{tier}"']
    if base is not None:
        lines.append(f"base_clean = {base}")
    lines += [f"ask = {ask}", more, "[resale]", f'condition = "{condition}"' if condition else "", resale]
    if open_:
        lines.append("[upgrades]\nopen = [" + ", ".join(f'"{name}"' for name in open_) + "]")
    return job_from(parse_toml("\n".join(lines).encode(), "flip.toml"), shop)


def client_job(shop: Shop, terms: str = "", budget: str = "", more: str = "", parts: str = "") -> Job:
    """A guitar of a customer with a few wishes; ``parts`` are sections of parts that are considered."""
    text = f"""
[job]
id = "client"
kind = "commission"
[instrument]
kind = "guitar-solid"
{SOUND}
{more}
[wish]
require = {{ nut-function = 3, controls = 2, output-jack = 3 }}
[upgrades]
open = ["set-up", "adjust-nut", "clean-controls", "new-jack", "level-crown-polish", "new-strings"]
[budget]
{budget or "money = 250"}
[terms]
{terms}
{parts}
"""
    return job_from(parse_toml(text.encode(), "client.toml"), shop)


SELLING = ("photograph-instrument", "list-and-answer-buyers", "pack-instrument", "ship-parcel")


def selling(study: Study) -> int:
    """What selling takes, in hundredths of a minute: the way's own time and what is done by it to list and send."""
    way = study.shop.resale.ways[study.job.sale.way or "local"]
    each = {
        line.task: line.setup + line.minutes + line.rework + line.allowance
        for line in study.costing.estimate(()).lines
    }
    boxes = study.shop.resale.boxes.values()
    box = next(box.minutes for box in boxes if box.instruments in ("any", "guitar"))
    packed = 0 if way.freight_by == "none" else int(box * 100)
    return int(way.minutes * 100) + packed + sum(each[task] for task in SELLING if task not in way.drops)


def selling_money(study: Study) -> int:
    """What selling takes in cents besides a share of the price: the way's fixed money, freight, all that is used up."""
    way = study.shop.resale.ways[study.job.sale.way or "local"]
    family = "bass" if study.job.is_bass else "guitar"
    box = next(box for box in study.shop.resale.boxes.values() if box.instruments in ("any", family))
    freight = box.freight if way.freight_by == "seller" else 0
    used = sum(
        line.money.consumables + line.money.tools + round(line.rework_material * 100)
        for line in study.costing.estimate(()).lines
        if line.task in SELLING
    )
    return int((way.fee_fixed + way.other_cost + freight) * 100) + used
