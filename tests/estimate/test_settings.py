"""Every setting that should move an estimate moves it, by the amount worked out by hand."""

from __future__ import annotations

import ast
from decimal import Decimal
from math import sqrt
from pathlib import Path

import pytest
from msgspec.structs import replace

import estimator
from estimator import load_job, load_shop, make_estimate, study_job
from estimator.choose.study import Study
from estimator.choose.verify.answer import priced_amiss
from estimator.choose.verify.rows import Rows
from estimator.core.errors import InputError
from estimator.core.money import amount, cents
from estimator.estimate.rework import PER_UNIT
from estimator.model import Estimate, Shop, Terms
from estimator.workbook.write.rows import cost_rows, rework_minutes
from tests.shops import default_shop, held_at_surety


def priced(
    folder: Path, body: str, chosen: list[str], shop: Shop | None = None, kind: str = "commission"
) -> tuple[Study, Estimate]:
    path = folder / "job.toml"
    path.write_text(f'[job]\nid = "count"\nkind = "{kind}"\n[instrument]\nkind = "guitar-solid"\n{body}')
    the_shop = shop or default_shop()
    study = study_job(the_shop, load_job(path, the_shop))
    return study, make_estimate(study, chosen)


def test_a_higher_surety_asks_for_more_minutes(tmp_path: Path) -> None:
    shop = held_at_surety(default_shop())
    _, at_80 = priced(tmp_path, "", ["set-up"], shop)
    _, at_95 = priced(tmp_path, "[budget]\nsurety = 95\n", ["set-up"], shop)
    assert at_95.totals.p80 == at_80.totals.p80 == at_80.totals.surety_min
    # the factors of a lean of 0.5: 0.82 at 80, 1.79 at 95
    more = (Decimal("1.79") - Decimal("0.82")) * Decimal(at_80.totals.sd) * 100
    assert abs(at_95.totals.surety_min - at_80.totals.surety_min - more) <= 1


def test_a_small_quote_is_held_at_its_mean_and_a_large_one_at_its_surety(tmp_path: Path) -> None:
    """The mean without hidden faults, in five minutes; from the size of a large quote on the surety of it."""
    shop = default_shop()
    ids = ["level-crown-polish"]
    study, small = priced(tmp_path, "", ids, shop)
    totals, faults = small.totals, sum(line.allowance for line in small.lines)
    assert totals.at_mean
    assert totals.surety_min == totals.expected - faults
    assert totals.billed_min == -(-totals.surety_min // 500) * 500
    assert study.costing.price(totals.surety_min, totals.money).fee == 0
    limit = Decimal(totals.surety_min) / 6000
    assert study.costing.quote_surety == 80
    for hours, at_mean in ((limit / 2, False), (limit + Decimal("0.001"), True)):
        other = replace(shop, terms=replace(shop.terms, large_quote_hours=hours))
        again, told = priced(tmp_path, "", ids, other)
        assert told.totals.at_mean is at_mean
        assert bool(again.costing.price(told.totals.surety_min, told.totals.money).fee) is not at_mean
        if not at_mean:
            spread = sqrt(totals.sd**2 - 3 * (faults / 100) ** 2)
            assert told.totals.surety_min == pytest.approx(totals.surety_min + 82 * spread, abs=1)
    _, asked = priced(tmp_path, "[budget]\nsurety = 80\n", ids, shop)
    assert not asked.totals.at_mean
    assert asked.totals.surety_min > totals.surety_min
    within = replace(shop, terms=replace(shop.terms, hidden_faults_quoted="in-price"))
    _, held = priced(tmp_path, "", ids, within)
    assert held.totals.surety_min == held.totals.expected == totals.expected


def test_making_good_a_spoiled_part_is_held_at_its_odds(tmp_path: Path) -> None:
    """One nut at its odds, slots counted one by one; told by the second calculator too, and in the sheet's minutes."""
    shop, ids = default_shop(), ["nut-from-blank-bone"]
    longer = replace(shop, terms=replace(shop.terms, rework_spoil_min=Decimal(30)))
    (_, usual), (study, more) = (priced(tmp_path, "", ids, each) for each in (shop, longer))
    spoils = [line for line in usual.lines if shop.tasks[line.task].rework_kind == "s"]
    spoiling = {line.task for line in spoils}
    assert {"shape-nut", "slot-nut"} <= spoiling
    for before, after in zip(usual.lines, more.lines, strict=True):
        count = before.quantity if shop.tasks[before.task].driver in PER_UNIT else 1
        added = 30 * before.rework_odds * count * 100 if before in spoils else 0
        assert after.rework - before.rework == pytest.approx(float(added), abs=1)
    assert more.totals.cost > usual.totals.cost
    verdicts = {verdict.upgrade.id: verdict for verdict in study.verdicts}
    assert priced_amiss(Rows(longer, study.job, verdicts), more) == []
    assert priced_amiss(Rows(shop, study.job, verdicts), more) != []
    rows = [row for row in cost_rows(study.costing, frozenset(ids)) if row.task.rework_kind == "s"]
    on_sheet = sum(rework_minutes(row, study.costing) for row in rows) * 100
    assert on_sheet == pytest.approx(
        sum(it.rework for it in more.lines if it.task in spoiling), abs=len(rows)
    )


def test_every_setting_of_the_shop_is_read() -> None:
    """What stands in ``shop.toml`` and is read by nothing would be a figure that moves no answer."""
    read: set[str] = set()
    for file in Path(estimator.__path__[0]).rglob("*.py"):
        nodes = ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        read |= {
            node.attr for node in nodes if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load)
        }
    assert "rework_spoil_min" in Terms.__struct_fields__
    assert set(Terms.__struct_fields__) - read == set()


@pytest.mark.slow
def test_wood_and_finish_that_chip_raise_the_reserve(tmp_path: Path) -> None:
    def rework(body: str) -> int:
        _, estimate = priced(tmp_path, body, ["heel-ferrules-standard"])
        return next(line.rework for line in estimate.lines if line.task == "drill-neck-ferrules")

    plain = rework('body_wood = "alder"\nfin_type = "polyurethane"\n')
    assert rework('body_wood = "alder"\nfin_type = "polyester-thick"\n') == 2 * plain
    assert rework('body_wood = "plywood"\nfin_type = "polyurethane"\n') == pytest.approx(1.6 * plain, abs=1)


def test_an_instrument_that_nobody_could_string_hides_more(tmp_path: Path) -> None:
    _, strung = priced(tmp_path, "strung = true\n", ["set-up"])
    _, unstrung = priced(tmp_path, "strung = false\n", ["set-up"])
    held, more = (sum(line.allowance for line in e.lines) for e in (strung, unstrung))
    assert more == pytest.approx(2 * held, rel=0.01)


@pytest.mark.slow
def test_stock_of_the_job_is_not_bought_again(tmp_path: Path) -> None:
    _, without = priced(tmp_path, "", ["shield-paint"])
    _, with_paint = priced(tmp_path, "[stock]\nc-shield-paint = 220\n", ["shield-paint"])
    paint = default_shop().consumables["c-shield-paint"].price
    assert without.totals.money.cash - with_paint.totals.money.cash == cents(paint)
    assert without.totals.cost == with_paint.totals.cost
    _, part = priced(tmp_path, "[stock]\njack-standard = 1\n", ["new-jack-standard"])
    _, bought = priced(tmp_path, "", ["new-jack-standard"])
    assert bought.totals.money.cash - part.totals.money.cash == cents(
        default_shop().parts["jack-standard"].price
    )


def test_strings_are_sold_with_the_mark_up_of_their_band(tmp_path: Path) -> None:
    _, estimate = priced(tmp_path, "", ["set-up"])
    (strings,) = (line.money for line in estimate.lines if line.task == "string-up")
    assert (amount(strings.parts), amount(strings.price_parts)) == (Decimal("7.00"), Decimal("14.00"))


def test_an_open_crack_is_never_sound(tmp_path: Path) -> None:
    from estimator.choose.study import spec_rows

    study, _ = priced(tmp_path, 'crack_cm = 3\ncrack_at = "peghead"\n[wish.require]\nsoundness = 2\n', [])
    (row,) = (row for row in spec_rows(study, ()) if row.attribute == "soundness")
    assert (row.now, row.met) == (0, False)


def test_two_leads_cannot_be_split(tmp_path: Path) -> None:
    body = '[[part]]\nid = "twin"\nclass = "p-hum"\nprice = 30\nleads = 2\n'
    study, estimate = priced(tmp_path, body, ["bridge-pickup-humbucker-twin"])
    assert "fit-pickup-two-wire" in {line.task for line in estimate.lines}
    with pytest.raises(InputError, match="needs one of"):
        make_estimate(study, ["bridge-pickup-humbucker-twin", "coil-split-bridge-standard"])


def test_sets_that_cannot_be_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="both sit in the slot frets"):
        priced(tmp_path, "", ["refret-hard-standard", "refret-stainless-standard"])


def test_a_wood_of_ones_own_is_a_row(tmp_path: Path) -> None:
    shop_dir = tmp_path / "shop"
    shop_dir.mkdir()
    (shop_dir / "woods.csv").write_text(
        "id,what,route,drill,sand,cutter_wear,screw_strip,chip_odds,density,hardness_lbf,grain,pilot_share,basis,source\n"
        "oak,oak,1.3,1.2,1.2,1.4,0.9,1.2,0.70,1290,open,0.8,demo,\n"
    )
    shop = load_shop(shop_dir)
    study, _ = priced(tmp_path, 'body_wood = "oak"\n', [], shop)
    assert study.job.instrument["body_wood"].value == "oak"


def test_parts_come_in_whole_numbers(tmp_path: Path) -> None:
    shop = default_shop()
    rows = dict(shop.upgrades)
    rows["new-jack"] = replace(rows["new-jack"], parts_needed="1.5")
    with pytest.raises(InputError, match=r"1\.5 parts"):
        priced(tmp_path, "", ["new-jack-standard"], replace(shop, upgrades=rows))
