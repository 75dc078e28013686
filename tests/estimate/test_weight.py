"""What an instrument weighs afterwards: fit, spec and recheck against a sum of its own, to the gram."""

from __future__ import annotations

import csv
import random
import re
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest

from estimator.choose.study import Study, spec_rows, study_job
from estimator.choose.verify.choice import recheck
from estimator.choose.verify.levels import Spec
from estimator.choose.verify.rows import Rows
from estimator.choose.verify.search import PlainSearch
from estimator.fit.mass import shift_mm
from estimator.input.job.load import job_from, load_job
from estimator.model import Verdict
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import the_shop
from tests.estimate.test_what_work_brings import study_of

D = Decimal
ROOT = Path(__file__).parents[2]
EXAMPLES = sorted((ROOT / "example_jobs").glob("*.toml"))


def table(name: str) -> list[dict[str, str]]:
    with (ROOT / "rates" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def study_at(path: Path) -> Study:
    return study_job(the_shop(), load_job(path, the_shop()))


def cell(text: str, study: Study, part: str) -> Decimal:
    """A sum of products over the instrument, read here once more from the text of the cell."""
    total = D(0)
    for term in text.split("+"):
        product = D(1)
        for factor in term.split("*"):
            name = factor.strip()
            if re.fullmatch(r"[\d.]+", name):
                product *= D(name)
            elif name == "wood_g_cm3":
                product *= wood(study)
            elif name.startswith("part."):
                raise AssertionError(f"{name} of {part}: this sum does not know it")
            else:
                value = study.job.instrument[name].value
                assert isinstance(value, Decimal)
                product *= value
        total += product
    return total


def wood(study: Study) -> Decimal:
    word = str(study.job.instrument["body_wood"].value)
    return next(D(row["density"]) for row in table("woods") if row["id"] == word)


@cache
def rows_of_tables() -> tuple[dict[str, dict[str, str]], dict[str, dict[str, str]], set[str]]:
    upgrades = {row["id"]: row for row in table("upgrades")}
    parts = {row["id"]: row for row in table("parts")}
    by_volume = {row["id"] for row in table("tasks") if row["driver"] == "cm3"}
    return upgrades, parts, by_volume


def by_itself(study: Study, verdicts: list[Verdict]) -> Decimal:
    """New parts, less old ones, less wood: from the text of the tables, and wood by the largest at each place."""
    upgrades, parts, by_volume = rows_of_tables()
    total, cut = D(0), dict[tuple[str, str], Decimal]()
    for verdict in verdicts:
        upgrade = verdict.upgrade
        row = upgrades[upgrade.row.id]
        total -= cell(row["removes_g"], study, upgrade.id)
        if upgrade.part is not None:
            own = parts.get(upgrade.part.id)
            weighed = D(own["weight_g"] or 0) if own else upgrade.part.weight_g or D(0)
            total += weighed * cell(row["parts_needed"], study, upgrade.id)
        for demand in verdict.demands:
            if demand.task in by_volume:
                key = (demand.task, demand.place)
                cut[key] = max(cut.get(key, D(0)), demand.quantity)
    return total - sum(cut.values()) * wood(study)


def told_by_fit(verdict: Verdict) -> Decimal:
    """The weight that fit says, as its working has it; 0 change where it says none."""
    words = [f.working for f in verdict.findings if f.rule == "R80"]
    if not words:
        return D(0)
    (text,) = words
    match = re.fullmatch(r"([\d.]+) ([+-]) ([\d.]+) = ([\d.]+) g", text)
    assert match, text
    return D(match[3]) * (1 if match[2] == "+" else -1)


def spec_change(study: Study, chosen: tuple[str, ...]) -> Decimal:
    row = next(row for row in spec_rows(study, chosen) if row.attribute == "weight")
    return D(row.reached - row.now) / 1000


@pytest.mark.slow
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_fit_spec_and_recheck_weigh_alike(path: Path) -> None:
    study = study_at(path)
    verdicts = {v.upgrade.id: v for v in study.verdicts if v.outcome != "does-not-fit"}
    plain = Rows(study.shop, study.job, {v.upgrade.id: v for v in study.verdicts})
    singles = 0
    for name, verdict in verdicts.items():
        own = by_itself(study, [verdict])
        assert abs(told_by_fit(verdict) - own) < D("0.6"), name
        assert abs(study.costing.estimate((name,)).mass_change_g - own) < D("0.3"), name
        singles += own != 0
    assert singles > 20
    rng = random.Random(path.stem)
    names = sorted(verdicts)
    # nothing makes wood that is cut needless, so the sum needs no such rows
    assert not {row["task"] for row in table("needless_work")} & rows_of_tables()[2]
    cuts = 0
    for _ in range(40):
        chosen: list[str] = []
        for name in rng.sample(names, 8):
            slots = {verdicts[other].upgrade.slot for other in chosen}
            if verdicts[name].upgrade.slot not in slots:
                chosen.append(name)
        own = by_itself(study, [verdicts[name] for name in chosen])
        ids = tuple(sorted(chosen))
        assert abs(study.costing.estimate(ids).mass_change_g - own) < 1, ids
        assert abs(plain.mass(ids) - own) < 1, ids
        assert abs(spec_change(study, ids) - own) < 1, ids
        cuts += any(d.task in rows_of_tables()[2] for name in chosen for d in verdicts[name].demands)
    assert cuts > 0


def test_the_plain_search_counts_wood_that_is_cut() -> None:
    """A chamber weighs by its work alone, no part comes or goes: it lightens the guitar all the same."""
    study = study_of({"guard_cm2": 620}, text='[wish]\nlimits = { weight = { most = "3440 g" } }\n')
    rows = Rows(study.shop, study.job, {v.upgrade.id: v for v in study.verdicts})
    search = PlainSearch(rows, Spec(rows), "cost")
    assert rows.grams("hidden-chamber") == 0
    assert "weight" in search.touches["hidden-chamber"]


def test_the_recheck_of_a_set_holds_its_weight() -> None:
    """A wish for less weight is met by a chamber, and the recheck weighs the chamber too."""
    study = study_of(
        {"weight_g": 3500, "guard_cm2": 620},
        text='[wish]\nlimits = { weight = { most = "3440 g" } }\n',
    )
    for chosen, heavy in ((("hidden-chamber",), False), (("new-strings",), True)):
        assert any("weight" in one.words for one in recheck(study.problem, chosen)) == heavy


@pytest.mark.parametrize(
    ("old", "comes_off"),
    [
        ({"pu_neck": "humbucker"}, 145),
        ({"pu_neck": "single"}, 95),
        ({"pu_neck": "soapbar"}, 130),
        ({"pu_neck": "humbucker", "pu_mass_neck": 162}, 162),
    ],
)
def test_the_old_pickup_weighs_what_its_kind_does(old: dict[str, object], comes_off: int) -> None:
    study = study_of({"pu_mass_middle": 0, **old})
    humbucker = next(v for v in study.verdicts if v.upgrade.row.id == "neck-pickup-humbucker")
    assert humbucker.upgrade.mass_removed_g == comes_off


@pytest.mark.parametrize(
    ("how", "off"),
    [({"br_type": "six-screw-trem", "br_mass": 290}, 365), ({"br_type": "hardtail", "br_mass": 170}, 170)],
)
def test_a_fixed_bridge_takes_the_springs_with_it(how: dict[str, object], off: int) -> None:
    study = study_of(how)
    fixed = next(v for v in study.verdicts if v.upgrade.row.id == "hardtail-bridge")
    assert fixed.upgrade.mass_removed_g == off


def test_what_goes_with_a_template_holds_for_its_words() -> None:
    """A hardtail by template has no springs; what a template says itself goes before."""
    study = study_of({"template": "guitar-6-hardtail", "br_type": "hardtail"})
    assert study.job.instrument["spring_mass"].value == 0
    text = '[job]\nid = "t"\nkind = "own"\n[instrument]\ntemplate = "guitar-6-locking"\n'
    job = job_from(parse_toml(text.encode(), "t.toml"), the_shop())
    assert job.instrument["br_mass"].value == 530
    assert job.instrument["pu_mass_neck"].value == 145
    assert job.instrument["spring_mass"].value == 75


def test_new_frets_take_the_old_ones_with_them() -> None:
    study = study_of({"grooved_n": 5})
    (piece,) = [v for v in study.verdicts if v.upgrade.row.id == "partial-refret"][:1]
    assert piece.upgrade.part is not None
    assert piece.upgrade.part.weight_g == D("0.8")
    assert study.costing.estimate((piece.upgrade.id,)).mass_change_g == 0


@pytest.mark.parametrize(
    ("added", "weight", "scale", "mm"), [(60, 3500, 648, "9.5"), (-180, 4000, 864, "-34.3")]
)
def test_the_lever(added: int, weight: int, scale: int, mm: str) -> None:
    """60 x (0.75 x 648 + 80) / 3560 = 9.54 mm; -180 x (0.75 x 864 + 80) / 3820 = -34.30 mm."""
    assert shift_mm(D(added), D(weight), D(scale)).quantize(D("0.1")) == D(mm)
