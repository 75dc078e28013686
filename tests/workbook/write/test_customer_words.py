"""What a customer reads of the fit: never a note for the bench, the same work on either page, all of it in the
words of the table; over every rule, every example job and jobs drawn with a seed.
"""

from __future__ import annotations

import ast
import json
import random
from pathlib import Path
from types import MappingProxyType

import pytest
from msgspec.structs import replace

import estimator.fit.rules
from estimator.choose.study import Study, study_job
from estimator.fit.case import RULES
from estimator.fit.judge import forced_beyond
from estimator.model import Shop, Verdict
from estimator.model.fit_rules import TOLD
from estimator.price.client.three_offers import three_offers
from estimator.report.record import as_data
from estimator.report.records.price import OffersAnswer
from estimator.report.text.money import offers_words
from estimator.report.words.customer import warnings_told, work_told
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes
from estimator.workbook.write.sheets.offers import IN_IT
from tests.drawn_jobs import drawn, example, the_shop
from tests.workbook.recalculate import cells_of
from tests.workbook.sets import together

RULE_FILES = sorted(Path(estimator.fit.rules.__file__).parent.glob("*.py"))


def read(data: bytes, folder: Path, sheet: str = "Quote") -> str:
    """All text of a sheet, lines that were broken put together again."""
    path = folder / "page.xlsx"
    path.write_bytes(data)
    cells = cells_of(path, {sheet})
    return " ".join(value for value in cells.values() if isinstance(value, str) and value != IN_IT)


def tellable(shop: Shop) -> set[str]:
    """Beginnings of all words of the table, up to the number."""
    return {row.words.partition("{n}")[0] for row in shop.customer_words.values()}


def of_set(study: Study, chosen: tuple[str, ...]) -> list[Verdict]:
    return [verdict for verdict in study.verdicts if verdict.upgrade.id in chosen]


def is_clean(study: Study, chosen: tuple[str, ...], text: str) -> int:
    """Hold the findings of a set against a customer's text; how many were looked for."""
    findings = [finding for verdict in of_set(study, chosen) for finding in verdict.findings]
    for finding in findings:
        assert finding.sentence.lower() not in text.lower(), finding.rule
        assert not finding.working or finding.working not in text, finding.rule
    return sum(finding.outcome in ("warn", "work") for finding in findings)


def sets_of(study: Study, chance: random.Random) -> list[tuple[str, ...]]:
    """Two sets that fit and go together, drawn."""
    ids = [verdict.upgrade.id for verdict in study.verdicts]
    return [together(study, chance.sample(ids, len(ids)), 16) for _ in range(2)]


def hold_pages(study: Study, folder: Path, chance: random.Random) -> int:
    """Both pages of two drawn sets: clean, the same work, in the words of the table."""
    looked = 0
    study = study_job(study.shop, replace(study.job, kind="commission"))
    sets = sets_of(study, chance)
    named = dict(zip(("Lean", "More"), sets, strict=True))
    beside = read(customer_quote_bytes(study, chosen=sets[0], offers=named), folder)
    for chosen in sets:
        alone = read(customer_quote_bytes(study, chosen=chosen), folder)
        looked += is_clean(study, chosen, alone) + is_clean(study, chosen, beside)
        # what another piece of work of the set does anyway, or makes needless, is told there
        of = of_set(study, chosen)
        told = [words for verdict in of for words in work_told(study.shop, verdict, of)]
        told += warnings_told(study.shop, study.verdicts, chosen)
        for words in told:
            assert words in alone
            assert words in beside
            assert any(words.startswith(begin) for begin in tellable(study.shop))
    return looked


@pytest.mark.slow
def test_no_bench_note_on_any_page_of_the_example_jobs(studies: dict[str, Study], tmp_path: Path) -> None:
    chance = random.Random(5)
    looked = sum(hold_pages(study, tmp_path, chance) for study in studies.values() for _ in range(2))
    assert looked > 200


@pytest.mark.slow
def test_no_bench_note_on_any_page_of_drawn_jobs(tmp_path: Path) -> None:
    chance = random.Random(6)
    assert sum(hold_pages(study_job(*drawn(seed)), tmp_path, chance) for seed in range(6)) > 100


@pytest.mark.slow
def test_the_customers_sheets_of_the_shops_own_workbook(studies: dict[str, Study], tmp_path: Path) -> None:
    study = studies["tight-commission"]
    sets = sets_of(study, random.Random(7))
    data = quote_bytes(study, chosen=sets[0], offers={"Lean": sets[0], "More": sets[1]})
    assert is_clean(study, sets[0], read(data, tmp_path))
    assert is_clean(study, (*sets[0], *sets[1]), read(data, tmp_path, "Offers"))
    noted = read(data, tmp_path, "Notes")
    warned = [f.sentence for v in of_set(study, sets[0]) for f in v.findings if f.outcome == "warn"]
    assert warned
    assert all(" ".join(sentence.split()[1:4]) in noted for sentence in warned)


@pytest.mark.slow
def test_no_bench_note_in_text_or_data_of_offers(studies: dict[str, Study]) -> None:
    study = studies["tight-commission"]
    offers = three_offers(study, ())
    text = "\n".join(offers_words(offers)) + json.dumps(as_data(OffersAnswer((offers, study))))
    assert sum(is_clean(study, offer.chosen, text) for offer in offers.made) > 5


@pytest.mark.slow
def test_every_rule_of_every_verdict_is_silent_or_in_the_table(studies: dict[str, Study]) -> None:
    """All verdicts of the examples and of drawn jobs: work that is forced has words, warnings only the table's."""
    rules: set[str] = set()
    for study in (*studies.values(), *(study_job(*drawn(seed)) for seed in range(40, 60))):
        for verdict in study.verdicts:
            if verdict.outcome == "does-not-fit":
                continue
            rules |= {finding.rule for finding in verdict.findings}
            told = work_told(study.shop, verdict)
            forced = forced_beyond(verdict.upgrade, verdict.findings)
            assert bool(told) == bool(forced), (verdict.upgrade.id, forced)
            for finding in verdict.findings:
                for asked in finding.demands:
                    rows = study.shop.customer_words
                    if asked in forced:
                        assert (asked.task, finding.rule) in rows or (asked.task, "") in rows, asked.task
                said = warnings_told(study.shop, [replace(verdict, findings=(finding,))])
                assert len(said) == (finding.outcome == "warn" and bool(finding.tells))
                assert finding.sentence not in (*said, *told)
    assert len(rules) > 75
    assert rules <= RULES.keys()


def test_every_task_that_a_rule_can_force_has_words(shop: Shop) -> None:
    """By the source of the rules: the task of every demand stands in the table, every name told is used."""
    tasks: set[str] = set()
    told: set[str] = set()
    for path in RULE_FILES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            told |= {
                str(k.value.value)
                for k in node.keywords
                if k.arg == "tells" and isinstance(k.value, ast.Constant)
            }
            if (
                isinstance(node.func, ast.Name)
                and node.func.id == "demand"
                and isinstance(node.args[0], ast.Constant)
            ):
                tasks.add(str(node.args[0].value))
    assert len(tasks) > 25
    about = {about for about, _ in shop.customer_words}
    assert tasks <= about
    assert told == TOLD
    assert about - shop.tasks.keys() == TOLD


def test_an_empty_table_tells_nothing(studies: dict[str, Study], chosen: dict[str, tuple[str, ...]]) -> None:
    for name, study in studies.items():
        silent = replace(study.shop, customer_words=MappingProxyType({}))
        assert warnings_told(silent, study.verdicts, chosen[name]) == []
        assert not any(work_told(silent, verdict) for verdict in study.verdicts)


def test_a_row_for_one_rule_says_something_of_its_own(shop: Shop) -> None:
    named = [row for (_, rule), row in shop.customer_words.items() if rule]
    assert len(named) > 5
    for row in named:
        usual = shop.customer_words.get((row.about, ""))
        assert row.about in shop.tasks
        assert usual is None or usual.words != row.words


def test_no_work_is_told_that_another_piece_of_the_set_does_or_makes_needless() -> None:
    """Over drawn sets: what is told beside others is the work that the estimate has for it, and none of a nut that goes."""
    chance, left_out = random.Random(11), 0
    study = study_job(the_shop(), example("tight-commission"))
    for _ in range(12):
        for chosen in sets_of(study, chance):
            of = of_set(study, chosen)
            done = {line.task for line in study.costing.estimate(chosen).lines}
            for verdict in of:
                alone, beside = work_told(study.shop, verdict), work_told(study.shop, verdict, of)
                assert set(beside) <= set(alone)
                left_out += len(alone) - len(beside)
                forced = forced_beyond(verdict.upgrade, verdict.findings)
                gone = {asked.task for asked in forced} - done
                for task in gone:
                    row = study.shop.customer_words.get((task, ""))
                    words = row.words.partition("{n}")[0].strip() if row else ""
                    assert not words or not any(one.startswith(words) for one in beside), (chosen, task)
    assert left_out > 3


def test_a_new_nut_is_cut_once_on_the_page() -> None:
    study = study_job(the_shop(), example("tight-commission"))
    chosen = ("ready-cut-nut-slippery-nut", "set-up")
    told = {v.upgrade.id: work_told(study.shop, v, of_set(study, chosen)) for v in of_set(study, chosen)}
    assert told["set-up"] == ()
    [alone] = of_set(study, ("set-up",))
    assert work_told(study.shop, alone) == ("Nut slots cut to the height of the frets: 6",)
