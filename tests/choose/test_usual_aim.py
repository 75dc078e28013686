"""What is aimed at where nothing is asked: the same in the library, in every command and in batches."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator import load_job, make_choice, study_job
from estimator.batch.build import study_batch
from estimator.batch.choose import choose_batch
from estimator.batch.solve_exact import choose_jointly
from estimator.choose.choose import choose
from estimator.cli.main import run
from estimator.input.batch.load import load_batch
from tests.plan.bench import EXAMPLES, shop
from tests.shops import default_shop

NAMES = {
    "tight-commission": "price,cost",
    "school-guitar": "price,cost",
    "resale-flip": "cost",
    "short-scale-bass": "cost",
}


@pytest.mark.slow
@pytest.mark.parametrize(("name", "aim"), NAMES.items())
def test_the_library_aims_as_the_command_line(
    name: str, aim: str, capsys: pytest.CaptureFixture[str]
) -> None:
    the_shop = default_shop()
    study = study_job(the_shop, load_job(EXAMPLES / f"{name}.toml", the_shop))
    choice = make_choice(study, explain=False)
    assert choice.answer.aim == aim
    assert choice.answer.chosen == make_choice(study, aim, explain=False).answer.chosen
    assert choose(study.problem, study.measure, explain=False).aim == aim
    assert run(["choose", f"example:{name}", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["aim"], told["upgrades"]) == (aim, list(choice.answer.chosen))


@pytest.mark.slow
def test_a_batch_aims_as_its_jobs_do_alone(tmp_path: Path) -> None:
    """Customers' work by what they pay, the shop's own by its cost, all in one programme."""
    path = tmp_path / "mixed.toml"
    names = ("tight-commission", "short-scale-bass")
    path.write_text(
        '[batch]\nid = "mixed"\nstart = 2026-10-05\n'
        + "".join(f'[[job]]\nid = "{name}"\nfile = "{EXAMPLES}/{name}.toml"\n' for name in names)
    )
    found = study_batch(shop(), load_batch(path, shop()))
    batch = replace(found.batch, sellers=())
    answer = choose_jointly(batch)
    assert (answer.aims, answer.status) == (("price", "cost", "cash"), "optimal")
    paid = answer.measures["tight-commission"].price
    assert (
        paid
        == answer.objective
        == make_choice(found.studies["tight-commission"], explain=False).answer.objective
    )
    own = make_choice(found.studies["short-scale-bass"], explain=False).answer
    assert own.measure is not None
    assert answer.measures["short-scale-bass"].cost == own.measure.cost
    assert choose_batch(batch).chosen == answer.chosen
    alone = replace(batch, jobs=batch.jobs[1:], parts=(), uses=(), tools=(), moved=())
    assert choose_jointly(alone).aims == ("cost", "cash")
