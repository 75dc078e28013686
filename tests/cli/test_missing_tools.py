"""Tools that a shop lacks are worked around, rented or bought alike, whichever command is asked.

What ``choose`` tells is the answer; ``quote``, ``price``, ``risk``, the ledger's quote and the page are held to it.
"""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from estimator.choose import choose as choosing
from estimator.choose.study import study_job
from estimator.cli.main import run
from estimator.core.errors import Exit
from estimator.tables.methods import worn_by
from tests.drawn_jobs import EXAMPLES, NAMES, example, the_shop
from tests.server.desks import app_of, desk_in, get

Told = dict[str, Any]
Ask = Callable[..., Told]
CROWN_FILE, NUT_FILES, ROCKER, ROTARY, REST, RULE = (
    "t-crown-file",
    "t-nut-files",
    "t-rocker",
    "t-rotary",
    "t-neck-rest",
    "t-action-rule",
)
SMALL = (
    '[job]\nid = "small"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n'
    '[upgrades]\nopen = ["polish-frets", "new-strings"]\nrequired = ["polish-frets"]\n'
)


@pytest.fixture
def ask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Ask:
    """Run a command in a folder of its own and read its data; what it tells in words too, with ``words``."""
    monkeypatch.chdir(tmp_path)

    def asked(*arguments: str, status: int = 0) -> Told:
        assert run([*arguments, "--json"]) == status, capsys.readouterr().err
        found: Told = json.loads(capsys.readouterr().out)
        return found

    return asked


def job_file(folder: Path, name: str, tools: tuple[str, ...], money: int | None = None) -> str:
    """A copy of an example (or the small job) in a shop without some tools."""
    text = SMALL if name == "small" else (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")
    if money is not None:
        text, changed = re.subn(r"(?m)^money = [0-9]+", f"money = {money}", text)
        assert changed == 1
    lacks = ", ".join(f'"{tool}"' for tool in tools)
    (folder / f"{name}.toml").write_text(f"{text}\n[methods]\nwithout_tools = [{lacks}]\n", encoding="utf-8")
    return f"{name}.toml"


def held_to_choose(folder: Path, file: str, ask: Ask, *named: str) -> Told:
    """All commands tell what ``choose`` does (where upgrades are named: what ``quote`` does) of a job; its data."""
    job = file.removesuffix(".toml")
    client = example(job).kind == "commission" if job in NAMES else True
    quoted = ask("quote", file, "-o", "book.xlsx", "--force", *named)
    told = quoted if named else ask("choose", file)
    tools = {key: told[key] for key in ("tools_got", "tools_not_got", "cost_without_them")}

    def same(other: Told) -> None:
        assert other["upgrades"] == told["upgrades"]
        assert {key: other[key] for key in tools} == tools

    same(quoted)
    assert (quoted["totals"], quoted["work"]) == (told["totals"], told["work"])
    # the workbook comes to it when it is read back for the job as its file says
    again = ask("reprice", file, "book.xlsx")
    assert (again["upgrades"], again["totals"], again["work"]) == (
        told["upgrades"],
        told["totals"],
        told["work"],
    )
    if named:
        estimated = ask("estimate", file, *named)
        same(estimated)
        assert (estimated["totals"], estimated["work"]) == (told["totals"], told["work"])
    risk = ask("risk", file, *named)
    same(risk)
    assert risk["cost"] == told["totals"]["cost"]
    if client:
        price = ask("price", file, *named)
        same(price)
        assert (price["price"], price["to_pay"]) == (told["totals"]["price"], told["totals"]["to_pay"])
        offers = ask("price", file, "--offers", *named)
        assert offers["tools_got"] == tools["tools_got"]
        (wished,) = [
            o for o in offers["offers"] if ("as-picked" if named else "as-wished") in (o["offer"], *o["also"])
        ]
        assert wished["quote"]["to_pay"] == told["totals"]["to_pay"]
    ask("ledger", "book", file)
    kept = ask("ledger", "quote", job, *named)
    same(kept)
    key = "to_pay" if client else "cost"
    assert kept[key] == told["totals"][key]
    if not named:
        same(ask("measure", file))
        on_the_page(folder, job, told, client)
    return told


def on_the_page(folder: Path, job: str, told: Told, client: bool) -> None:
    app = app_of(desk_in(folder, the_shop()))
    seen = unescape(get(app, f"/job/{job}/answer?wait=1").text)
    match = re.search(r'data-figure="price">([^<]*)<', seen)
    assert match is not None
    assert match[1].split()[0] == told["totals"]["to_pay" if client else "cost"]
    for tool in (*told["tools_got"], *told["tools_not_got"]):
        assert tool["what"] in seen
        assert tool["money"] in seen
    # what the shop has to buy is no business of a customer who looks on
    hidden = unescape(get(app, f"/job/{job}/answer?wait=1&looking=1").text)
    assert "To get, not in these sums" not in hidden
    assert "Worked around" not in hidden


def test_a_tool_that_all_work_needs_is_got_in_every_command(tmp_path: Path, ask: Ask) -> None:
    """Without a neck rest nothing is polished; the rotary tool is worked around."""
    told = held_to_choose(tmp_path, job_file(tmp_path, "small", (REST, ROTARY)), ask)
    assert [tool["tools"] for tool in told["tools_got"]] == [[REST]]
    assert told["cost_without_them"] is None


def test_a_named_set_is_weighed_as_well(tmp_path: Path, ask: Ask) -> None:
    file = job_file(tmp_path, "small", (REST, ROTARY))
    told = held_to_choose(tmp_path, file, ask, "--with", "polish-frets")
    assert [tool["tools"] for tool in told["tools_got"]] == [[REST]]


def test_a_named_set_gets_no_tool_for_what_is_required_beside_it(tmp_path: Path, ask: Ask) -> None:
    """High frets have to be levelled, which needs a crowning file: to estimate new strings alone none is got."""
    file = job_file(tmp_path, "small", (CROWN_FILE,))
    text = (tmp_path / file).read_text(encoding="utf-8").replace("polish-frets", "spot-level-frets")
    text = text.replace('kind = "guitar-solid"', 'kind = "guitar-solid"\nhigh_fret_n = 2')
    (tmp_path / file).write_text(text, encoding="utf-8")
    levelled = ask("estimate", file, "--with", "spot-level-frets")
    assert [tool["tools"] for tool in levelled["tools_got"]] == [[CROWN_FILE]]
    assert ask("estimate", file, "--with", "new-strings")["tools_got"] == []


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "tools", "money", "got"),
    [
        ("school-guitar", (ROCKER,), None, [[ROCKER]]),  # could be worked around, for more
        ("school-guitar", (ROTARY,), None, []),  # worked around, as it costs more than it saves
        ("tight-commission", (NUT_FILES, REST), 650, [[REST], [NUT_FILES]]),
        ("short-scale-bass", (ROTARY, RULE), None, [[RULE]]),
    ],
)
def test_the_commands_give_one_answer_on_the_examples(
    tmp_path: Path, ask: Ask, name: str, tools: tuple[str, ...], money: int | None, got: list[list[str]]
) -> None:
    told = held_to_choose(tmp_path, job_file(tmp_path, name, tools, money), ask)
    assert sorted(tool["tools"] for tool in told["tools_got"]) == got


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_the_commands_give_one_answer_on_drawn_lacks(tmp_path: Path, ask: Ask, seed: int) -> None:
    """An example without one to three of the tools that its best set wears."""
    chance = random.Random(seed)
    name = chance.choice([name for name in NAMES if name != "impossible-wish"])
    worn = {tool["id"] for line in ask("choose", f"example:{name}")["work"] for tool in line["tools"]}
    lacks = tuple(chance.sample(sorted(worn), chance.randint(1, 3)))
    file = job_file(tmp_path, name, lacks, 5000 if example(name).budget.money else None)
    told = held_to_choose(tmp_path, file, ask)
    assert told["tools_got"] or told["tools_not_got"], lacks


@pytest.mark.slow
def test_where_the_limit_does_not_reach_for_the_tool_no_command_finds_a_set(
    tmp_path: Path, ask: Ask, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nut files take 60.00; 525.00 do not reach for them and the set, and nothing goes without them.

    Why not is looked for once, on the page: how much of it a command finds hangs on the time that it is given.
    """
    file, status = job_file(tmp_path, "tight-commission", (NUT_FILES,)), Exit.CANNOT_BE_MET
    patience = choosing.PATIENCE
    monkeypatch.setattr(choosing, "PATIENCE", 0.5)
    told = ask("choose", file, status=status)
    assert [tool["money"] for tool in told["tools_got"]] == ["60.00"]
    for command in (["quote", file, "-o", "book.xlsx"], ["price", file], ["risk", file]):
        other = ask(*command, status=status)
        assert {**other, **told}.keys() == told.keys()
        assert [other[key] for key in ("status", "upgrades", "tools_got")] == [
            "infeasible",
            [],
            told["tools_got"],
        ]
        assert run(command) == status
        said = " ".join(capsys.readouterr().out.split())
        assert "To get, not in these sums: gauged nut file set, bought, 60.00 USD." in said
    ask("ledger", "book", file)
    ask("ledger", "quote", "tight-commission", status=status)
    monkeypatch.setattr(choosing, "PATIENCE", patience)
    app, address = app_of(desk_in(tmp_path, the_shop())), "/job/tight-commission/answer?wait=1"
    page, looking = (unescape(get(app, f"{address}{more}").text) for more in ("", "&looking=1"))
    limit = "rice at most 525.00 USD"
    for seen in (page, looking):
        assert "No set of work meets this" in seen
        assert limit in seen
    assert f"{limit} (of it 60.00 USD for tools to get)" in page
    assert "60.00" not in looking


def cannot_be_done(tools: tuple[str, ...], upgrades: list[str]) -> set[str]:
    """Upgrades some work of which cannot be done any way without these tools, read off the tables."""
    shop = the_shop()

    def able(task: str) -> bool:
        ways = [worn_by(shop, task, way) for way in shop.ways.methods.get(task, ())]
        return any(
            set(tools).isdisjoint(tool for tool, _ in worn)
            for worn in ways or [shop.task_tools.get(task, ())]
        )

    study = study_job(shop, example("resale-flip"))
    return {name for name in upgrades if not all(able(demand.task) for demand in study.verdict(name).demands)}


@pytest.mark.parametrize(
    "tools", [("t-solder-station",), ("t-knob-puller",), ("t-solder-station", "t-nut-files")]
)
def test_a_sale_plans_no_work_that_cannot_be_done(tmp_path: Path, ask: Ask, tools: tuple[str, ...]) -> None:
    """A sale gets no tool that is not there, and says so: it sold an instrument with a jack that nobody could solder."""
    there = ask("sell", str(EXAMPLES / "resale-flip.toml"))
    file = job_file(tmp_path, "resale-flip", tools)
    for plan in ask("sell", file)["plans"]:
        assert cannot_be_done(tools, plan["upgrades"]) == set(), plan["plan"]
    assert cannot_be_done(tools, ask("offer", file)["plan"]["upgrades"]) == set()
    if "t-solder-station" in tools:
        assert any(cannot_be_done(tools, plan["upgrades"]) for plan in there["plans"])
