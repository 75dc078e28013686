"""``estimate`` and ``choose`` as programs read them: keys, kinds, sums, exit statuses."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import pytest

from estimator.cli.common import job_path
from estimator.cli.main import run
from estimator.report.text.questions import MOST_JOBS
from estimator.tables.load import load_shop

MONEY = re.compile(r"-?\d+\.\d\d")
TOTALS_MONEY = ("cost", "price", "cash", "parts", "consumables", "tools", "labour", "overhead", "reserve")
TOTALS_MINUTES = ("attended_min", "unattended_min", "p80_min", "expected_min", "reserve_min")
EXAMPLES = ("school-guitar", "tight-commission", "short-scale-bass", "resale-flip")
FOR_CUSTOMERS = ("school-guitar", "tight-commission")


def told(arguments: list[str], capsys: pytest.CaptureFixture[str], status: int = 0) -> dict:  # type: ignore[type-arg]
    assert run([*arguments, "--json"]) == status
    return json.loads(capsys.readouterr().out)


@pytest.mark.slow
@pytest.mark.parametrize("name", EXAMPLES)
def test_a_choice_has_all_its_keys_and_adds_up(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    data = told(["choose", f"example:{name}"], capsys)

    assert data["job"] == name
    assert data["status"] == "optimal"
    aim = "price,cost" if name in FOR_CUSTOMERS else "cost"
    assert (data["aim"], data["gap"]) == (aim, 0.0)
    assert data["upgrades"] == sorted(data["upgrades"])
    totals = data["totals"]
    priced = name in FOR_CUSTOMERS
    assert all(MONEY.fullmatch(totals[key]) for key in TOTALS_MONEY if priced or key != "price")
    assert priced or totals["price"] is None  # nobody pays for the shop's own instrument
    assert all(isinstance(totals[key], int | float) for key in TOTALS_MINUTES)
    headings = ("parts", "consumables", "tools", "labour", "overhead", "reserve")
    assert sum(Decimal(totals[key]) for key in headings) == Decimal(totals["cost"])
    assert sum(Decimal(str(line["minutes"])) for line in data["work"]) == Decimal(str(totals["attended_min"]))
    own_lines = sum(Decimal(line["cost"]) for line in data["work"])
    own_parts = sum(Decimal(part["cost"]) for part in data["parts"] if part["upgrade"])
    assert own_lines + own_parts == Decimal(totals["cost"])
    assert all({"task", "place", "quantity", "minutes", "because"} <= set(line) for line in data["work"])
    assert data["spec"]
    assert all(row["met"] for row in data["spec"])
    assert (data["conflict"], data["ways_out"]) == ([], [])
    assert all({"field", "value", "unit"} == set(row) for row in data["assumed"])


@pytest.mark.slow
@pytest.mark.parametrize("name", EXAMPLES)
def test_the_chosen_set_estimated_on_its_own_agrees(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    chosen = told(["choose", f"example:{name}"], capsys)
    with_options = [word for upgrade in chosen["upgrades"] for word in ("--with", upgrade)]
    priced = told(["estimate", f"example:{name}", *with_options], capsys)
    for key in ("totals", "work", "parts", "spec", "assumed"):
        assert priced[key] == chosen[key], key


@pytest.mark.slow
def test_an_impossible_wish_is_told_with_status_1(capsys: pytest.CaptureFixture[str]) -> None:
    data = told(["choose", "example:impossible-wish"], capsys, status=1)
    assert data["status"] == "infeasible"
    assert data["totals"] is None
    assert data["conflict"]
    assert len(data["conflicts"]) > 1
    assert {n for way in data["ways_out"] for n in way["settles"]} == set(
        range(1, len(data["conflicts"]) + 1)
    )
    assert data["within_limits"]["give_up"]
    assert run(["choose", "example:impossible-wish", "--full"]) == 1
    text = capsys.readouterr().out
    for way in data["ways_out"]:  # text and data tell one record: the change, then its set
        after = text.partition(f"- {way['words']}\n")[2].splitlines()[0].strip()
        assert after.startswith(
            f"with {', '.join(way['upgrades']) or 'no upgrade at all'}: cost {way['cost']} "
        )


def budget_job(folder: Path, budget: str, money: str) -> str:
    path = folder / f"{budget}.toml"
    path.write_text(
        '[job]\nid = "edge"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\nnut_clear_b = 0.9\n'
        f'[wish.require]\nnut-function = 3\naction = 2\n[budget]\non = "{budget}"\nmoney = "{money}"\n'
    )
    return str(path)


@pytest.mark.slow
@pytest.mark.parametrize("on", ["cost", "cash", "price"])
def test_a_budget_holds_to_the_cent(on: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The least budget that will do does; a cent less does not, and the way out names that budget."""
    least = told(["choose", budget_job(tmp_path, on, "100000"), "--aim", on], capsys)["totals"][on]
    exactly = told(["choose", budget_job(tmp_path, on, least)], capsys)
    assert exactly["status"] == "optimal"
    assert Decimal(exactly["totals"][on]) <= Decimal(least)
    short = f"{Decimal(least) - Decimal('0.01'):.2f}"
    refused = told(["choose", budget_job(tmp_path, on, short)], capsys, status=1)
    raised = [way for way in refused["ways_out"] if way["rule"] == "budget:money"]
    assert [way["to"] for way in raised] == [least]


@pytest.mark.slow
def test_further_answers(capsys: pytest.CaptureFixture[str]) -> None:
    data = told(["choose", "example:short-scale-bass", "--why", "--next", "3", "--frontier"], capsys)
    best = Decimal(data["totals"]["cost"])
    costs = [Decimal(row["cost"]) for row in data["next_best"]]
    assert costs[0] == best
    assert costs == sorted(costs)
    assert [row["upgrade"] for row in data["why"]] == data["upgrades"]
    assert all(Decimal(row["dearer"]) >= 0 for row in data["why_not"] if row["dearer"] is not None)
    points = [(Decimal(p["cost"]), p["score"]) for p in data["frontier"]]
    assert points == sorted(points)
    assert all(a[1] < b[1] for a, b in pairwise(points))
    assert any(p["meets_wish"] for p in data["frontier"])


@pytest.mark.slow
def test_the_most_of_the_wish_within_a_budget(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "score.toml"
    path.write_text(
        '[job]\nid = "score"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n[wish]\nprofile = "student"\n'
        '[budget]\nmoney = 160\non = "cost"\n'
    )
    assert told(["choose", str(path)], capsys, status=1)["status"] == "infeasible"
    data = told(["choose", str(path), "--aim", "score"], capsys)
    assert data["status"] == "optimal"
    assert Decimal(data["totals"]["cost"]) <= 160
    assert not all(row["met"] for row in data["spec"])


def test_the_programme_can_be_saved_and_solved_elsewhere(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """HiGHS reads the written model on its own and finds the same optimum."""
    import highspy

    target = tmp_path / "model.mps"
    data = told(["choose", "example:short-scale-bass", "--save-model", str(target)], capsys)
    solver = highspy.Highs()
    solver.silent()
    assert solver.readModel(str(target)) == highspy.HighsStatus.kOk
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.run()
    assert round(solver.getInfo().objective_function_value) == Decimal(data["totals"]["cost"]) * 100


@pytest.mark.slow
def test_a_saved_programme_of_client_work_counts_the_payment(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The price is held by tangents from below, so another solver finds at least what is left, never a loss."""
    import highspy

    target = tmp_path / "model.mps"
    arguments = ["choose", "example:tight-commission", "--aim", "profit", "--save-model", str(target)]
    left = Decimal(told(arguments, capsys)["objective"]) * 100
    solver = highspy.Highs()
    solver.silent()
    assert solver.readModel(str(target)) == highspy.HighsStatus.kOk
    solver.run()
    assert 0 < left <= -round(solver.getInfo().objective_function_value) < 64_000
    assert run(["choose", "example:impossible-wish", "--aim", "hourly", "--save-model", str(target)]) == 2
    assert "is a ratio" in capsys.readouterr().err


@pytest.mark.slow
def test_row_order_and_hash_seed_do_not_matter(tmp_path: Path) -> None:
    import os
    import subprocess
    import sys

    outputs = set()
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-m", "estimator", "choose", "example:short-scale-bass", "--json"],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        )
        outputs.add(done.stdout)
    assert len(outputs) == 1


@pytest.mark.slow
def test_a_surety_of_ones_own(capsys: pytest.CaptureFixture[str]) -> None:
    usual = told(["estimate", "example:school-guitar", "--with", "set-up"], capsys)["totals"]
    surer = told(["estimate", "example:school-guitar", "--with", "set-up", "--surety", "95"], capsys)[
        "totals"
    ]
    assert (usual["surety"], surer["surety"]) == (80, 95)
    # a small quote is held at the mean, unless the job asks for a surety
    assert surer["surety_min"] > surer["p80_min"] == usual["p80_min"] > usual["surety_min"]
    assert run(["estimate", "example:school-guitar", "--surety", "30"]) == 2


@pytest.mark.slow
def test_whole_packs_count_in_the_cost(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One set of upgrades, priced with packs by the share used and as whole ones."""
    chosen = json.dumps(told(["choose", "example:tight-commission"], capsys)["upgrades"])
    job = (
        job_path("example:tight-commission").read_text(encoding="utf-8").replace("money = 525", "money = 900")
    )
    named = f"[upgrades]\nopen = {chosen}\nrequired = {chosen}\n"
    path = tmp_path / "job.toml"
    path.write_text(re.sub(r"(?ms)^\[upgrades\]$.*?(?=^\[)", named, job), encoding="utf-8")
    share, whole = (told(["choose", str(path), "--buying", buying], capsys) for buying in ("share", "whole"))
    assert (share["buying"], whole["buying"]) == ("share", "whole")
    assert whole["packs"]
    assert whole["upgrades"] == share["upgrades"]
    freight = Decimal(whole["totals"]["freight"])
    assert share["totals"]["freight"] == "0.00"
    paid = sum(Decimal(pack["money"]) for pack in whole["packs"])
    order = sum(Decimal(x["money"]) for x in (*whole["order"]["freight"], *whole["order"]["lines"]))
    # what the order comes to beyond the goods at list: parcels, and what is dearer where a parcel goes free
    parts = sum(Decimal(part["cost"]) for part in whole["parts"] if part["upgrade"])
    assert order - paid - parts == freight > 0
    assert Decimal(whole["totals"]["cash"]) == Decimal(share["totals"]["cash"]) + freight
    more = Decimal(whole["totals"]["cost"]) - Decimal(share["totals"]["cost"]) - freight
    assert 0 < more < paid
    consumables = Decimal(whole["totals"]["consumables"]) - Decimal(share["totals"]["consumables"])
    assert consumables == more


def test_an_unknown_way_of_buying_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["choose", "example:resale-flip", "--buying", "hole"]) == 2
    assert "share or whole; next: did you mean “whole”?" in capsys.readouterr().err


@pytest.mark.slow
def test_ranges_and_tool_grades_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    data = told(["choose", "example:short-scale-bass", "--why"], capsys)
    rate = data["settings"][0]
    assert (rate["setting"], rate["now"]) == ("labour rate", "35.00")
    assert all(row["low"] is None or Decimal(row["low"]) <= Decimal(row["now"]) for row in data["settings"])
    assert all(row["high"] is None or Decimal(row["high"]) >= Decimal(row["now"]) for row in data["settings"])
    assert {row["upgrade"] for row in data["settings"][1:]} <= set(data["upgrades"])
    assert all(row["charged"] != row["cheaper"] for row in data["tool_grades"])
    assert run(["choose", "example:short-scale-bass", "--why", "--full"]) == 0
    text = capsys.readouterr().out
    assert "labour rate, an hour" in text
    # what comes back in thousands of such jobs says nothing, and is left out of the text alone
    shop = load_shop(None)
    late = {row["tool"] for row in data["tool_grades"] if (row["jobs_to_pay_back"] or 0) > MOST_JOBS}
    assert "t-nut-files" in late
    assert not any(shop.tools[tool].what in text for tool in late)
    soon = [
        row
        for row in data["tool_grades"]
        if row["tool"] not in late and Decimal(row["saves"]) >= Decimal("0.01")
    ]
    assert all(shop.tools[row["tool"]].what in text for row in soon)


@pytest.mark.slow
def test_a_frontier_of_three_figures(capsys: pytest.CaptureFixture[str]) -> None:
    data = told(["choose", "example:short-scale-bass", "--frontier", "--with-hours"], capsys)
    points = [(Decimal(p["cost"]), -p["score"], p["minutes"]) for p in data["frontier"]]
    assert len(points) > 2
    assert not [
        (a, b) for a in points for b in points if a != b and all(x <= y for x, y in zip(a, b, strict=True))
    ]
    two = told(["choose", "example:short-scale-bass", "--frontier"], capsys)["frontier"]
    assert {(p["cost"], p["score"]) for p in two} <= {(p["cost"], p["score"]) for p in data["frontier"]}


@pytest.mark.slow
def test_the_frontier_is_drawn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import xml.etree.ElementTree as ElementTree

    target = tmp_path / "frontier.svg"
    data = told(["choose", "example:tight-commission", "--svg", str(target)], capsys)
    root = ElementTree.fromstring(target.read_text(encoding="utf-8"))
    kinds = [element.tag.rpartition("}")[2] for element in root]
    words = [element.text or "" for element in root.iter() if element.tag.endswith("text")]
    points = data["frontier"]
    assert not any(p["meets_wish"] for p in points)
    # a circle for each set and one in the key; a square for the best set and one in the key; two of the knee
    assert kinds.count("circle") == len(points) + 1
    assert kinds.count("rect") - 1 == 2
    assert kinds.count("polygon") == 2 * sum(p["knee"] for p in points) == 2
    assert any(
        w.startswith(f"D: least price that meets the wish, {data['totals']['cost']} USD") for w in words
    )
    assert "All keep the limit: price at most 525.00 USD." in words
    places = [(float(e.get("x", 0)), float(e.get("y", 0))) for e in root.iter() if e.tag.endswith("text")]
    assert all(0 <= x <= float(root.get("width", "").removesuffix("mm")) for x, _ in places)
    assert all(0 <= y <= float(root.get("height", "").removesuffix("mm")) for _, y in places)
    assert run(["choose", "example:tight-commission", "--svg", str(tmp_path / "frontier.png")]) == 2
    assert ".svg" in capsys.readouterr().err


@pytest.mark.slow
def test_the_changes_told_for_an_impossible_wish_do_together(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each is made in a copy of the job; then the wish can be met."""
    data = told(["choose", "example:impossible-wish"], capsys, status=1)
    assert len(data["conflicts"]) > 1
    values = {}
    for words in data["together"]["words"]:
        demand, _, found = words.partition(": ")
        values[demand.split(" at ")[0]] = re.search(r"\d.*?(?= of |$)", found)[0]  # type: ignore[index]
    assert set(values) == {"weight", "hands-on time"}
    job = job_path("example:impossible-wish").read_text(encoding="utf-8")
    eased = (
        ('most = "3.2 kg"', f'most = "{values["weight"]}"'),
        ("hours = 2", f'hours = "{values["hands-on time"]}"'),
    )
    for old, new in eased:
        assert old in job
        job = job.replace(old, new)
    path = tmp_path / "eased.toml"
    path.write_text(job, encoding="utf-8")
    assert told(["choose", str(path)], capsys)["status"] == "optimal"


@pytest.mark.slow
def test_what_is_told_beside_another_aim_is_about_the_cheapest_set(
    capsys: pytest.CaptureFixture[str],
) -> None:
    data = told(["choose", "example:resale-flip", "--aim", "cash", "--next", "1"], capsys)
    cheapest = told(["choose", "example:resale-flip"], capsys)
    assert data["about"] == cheapest["upgrades"] == data["next_best"][0]["upgrades"] != data["upgrades"]
    assert run(["choose", "example:resale-flip", "--aim", "cash", "--next", "1", "--full"]) == 0
    said = capsys.readouterr().out
    assert f"Left out: {data['next_best_leaves_out']}." in " ".join(said.split())
    assert "What follows is about the cheapest set" in said


@pytest.mark.slow
def test_time_that_ran_out_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["choose", "example:impossible-wish", "--time-limit", "0.2", "--full"]) == 1
    out = capsys.readouterr().out
    assert "Time ran out" in out or "No answer was found in the time given" in out


@pytest.mark.slow
@pytest.mark.parametrize(
    ("aim", "words"), [("profit", "a profit of"), ("hourly", "an hour."), ("score", "a score of")]
)
def test_the_figure_aimed_at_is_told(aim: str, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["choose", "example:resale-flip", "--aim", aim, "--full"]) == 0
    assert "That comes to " in (out := capsys.readouterr().out)
    assert words in out


@pytest.mark.slow
@pytest.mark.parametrize("surety", [80, 95])
@pytest.mark.parametrize("name", ["tight-commission", "short-scale-bass"])
def test_the_cost_limit_to_raise_to_solves_and_a_cent_less_does_not(
    name: str, surety: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The limit told is the cost at the surety, which the set then reaches to the cent."""
    text = job_path(f"example:{name}").read_text(encoding="utf-8")
    start, rest = text.split("[budget]")
    path = tmp_path / "job.toml"

    def limited(money: str) -> list[str]:
        after = rest[rest.index("\n[") :] if "\n[" in rest else ""
        budget = f'[budget]\non = "cost"\nmoney = "{money}"\nsurety = {surety}\n'
        path.write_text(start + budget + after, encoding="utf-8")
        return ["choose", str(path)]

    refused = told(limited("1"), capsys, status=1)
    assert refused["limits"] == []
    (to,) = (way["to"] for way in refused["ways_out"] if way["rule"] == "budget:money")
    solved = told(limited(to), capsys)
    (limit,) = solved["limits"]
    assert (limit["most"], limit["comes_to"], limit["left"]) == (to, to, "0.00")
    assert Decimal(solved["totals"]["cost"]) < Decimal(to)
    told(limited(f"{Decimal(to) - Decimal('0.01')}"), capsys, status=1)
    assert run(limited(to)) == 0
    words = " ".join(capsys.readouterr().out.split())
    assert f"at {surety} % surety; {to} USD at that surety, 0.00 USD left." in words
