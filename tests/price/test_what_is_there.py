"""Taking apart lists what is on the instrument, and nothing that could be but is not."""

from __future__ import annotations

import random

import pytest

from estimator.choose.study import study_job
from estimator.input.job.load import job_from
from estimator.price.resale.part_out import part_out
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import the_shop

BRIDGES = {
    "six-screw-trem": "trem6",
    "two-post-trem": "trem2",
    "locking-trem": "tremlock",
    "hardtail": "hardtail",
    "barrel-saddle-plate": "barrel",
    "post-and-tailpiece": "postbridge",
    "wraparound": "",
    "roller-vibrato": "",
}
PICKUPS = {"single": "single", "humbucker": "hum", "soapbar": "soap", "none": ""}
SWITCHES = {"blade-box": "blade", "toggle-short": "toggle", "none": ""}
FAMILIES = (tuple(BRIDGES.values()), tuple(PICKUPS.values()), tuple(SWITCHES.values()))


def lots_of(text: str) -> dict[str, int]:
    job = job_from(parse_toml(text.encode(), "apart.toml"), the_shop())
    return {lot.what: lot.value for lot in part_out(study_job(the_shop(), job)).lots}


@pytest.mark.slow
def test_drawn_instruments_are_listed_as_they_are():
    shop, seen = the_shop(), 0
    what = {name.removeprefix("p-"): row.what for name, row in shop.part_classes.items()}
    for seed in range(60):
        chance = random.Random(seed)
        bridge, switch = chance.choice(list(BRIDGES)), chance.choice(list(SWITCHES))
        pickups = {place: chance.choice(list(PICKUPS)) for place in ("neck", "middle", "bridge")}
        dead = chance.choice(("neck", "bridge", ""))
        lines = [
            '[job]\nid = "apart"\nkind = "resale"\n[instrument]\nkind = "guitar-solid"\nbase_clean = 900\ntier = "C"'
        ]
        lines += [f'pu_{place} = "{kind}"' for place, kind in pickups.items()]
        lines += [f'br_type = "{bridge}"', f'sw_type = "{switch}"', f"dc_ohm_{dead} = 0" if dead else ""]
        lots = lots_of("\n".join(lines) + "\n")
        sounding = {PICKUPS[kind] for place, kind in pickups.items() if place != dead}
        allowed = {BRIDGES[bridge], SWITCHES[switch], *sounding}
        for family in FAMILIES:
            for part in filter(None, family):
                if part not in allowed:
                    assert what[part] not in lots, (seed, part, lots)
                seen += what[part] in lots
        count = sum(place != dead and kind == "single" for place, kind in pickups.items())
        assert (what["single"] in lots) <= (count > 0)
    assert seen > 60


def test_a_part_of_a_class_is_listed_where_it_is_there():
    text = '[job]\nid = "a"\nkind = "resale"\n[instrument]\nbase_clean = 900\ntier = "C"\nbr_type = "locking-trem"\n'
    lots = lots_of(text)
    assert the_shop().part_classes["p-tremlock"].what in lots
    assert the_shop().part_classes["p-hardtail"].what not in lots
