"""The commands about money, as programs read them."""

from __future__ import annotations

import itertools
import json
from decimal import Decimal
from pathlib import Path

import pytest
from openpyxl import load_workbook

from estimator.cli.main import run
from estimator.core.errors import Exit

EXAMPLES = Path(__file__).parents[2] / "example_jobs"


def told(arguments: list[str], capsys: pytest.CaptureFixture[str], status: int = 0) -> dict:  # type: ignore[type-arg]
    capsys.readouterr()
    assert run([*arguments, "--json"]) == status
    return json.loads(capsys.readouterr().out)


def test_fewer_billed_hours_want_a_higher_rate(capsys: pytest.CaptureFixture[str]) -> None:
    usual = Decimal(told(["rate"], capsys)["break_even"])
    assert Decimal(told(["rate", "--billable-share", "0.45"], capsys)["break_even"]) > usual
    assert usual == Decimal("72.53")  # 77,400 a year over 1,067.2 billed hours
    assert run(["rate", "--billable-share", "lots"]) == 2
    assert "lots" in capsys.readouterr().err


def test_a_rate_cannot_rest_on_more_hours_than_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["rate", "--billable-share", "58"]) == 2
    assert "write 58 per cent as 0.58" in capsys.readouterr().err


def test_a_margin_that_the_charged_rate_does_not_leave_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """72.53 / (1 - 0.2) = 90.66, and 75.00 is charged."""
    data = told(["rate", "--margin", "0.2"], capsys)
    assert (data["charged_covers"], data["charged_leaves_margin"]) == (True, False)
    assert run(["rate", "--margin", "0.2"]) == 0
    assert "15.66 USD short of the margin" in capsys.readouterr().out
    assert told(["rate"], capsys)["charged_leaves_margin"]


@pytest.mark.slow
def test_an_asking_price_is_taken_to_the_cent_and_with_parts_of_one_refused(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert told(["offer", "example:resale-flip", "--ask", "12.35"], capsys)["ask"] == "12.35"
    assert run(["offer", "example:resale-flip", "--ask", "1012.345"]) == Exit.BAD_INPUT
    assert "parts of a cent" in capsys.readouterr().err


@pytest.mark.slow
def test_price_agrees_with_the_choice(capsys: pytest.CaptureFixture[str]) -> None:
    chosen = told(["choose", "example:tight-commission"], capsys)
    priced = told(["price", "example:tight-commission"], capsys)
    assert priced["price"] == chosen["totals"]["price"]
    assert priced["upgrades"] == chosen["upgrades"]
    assert Decimal(priced["floor"]) < Decimal(priced["price"])


@pytest.mark.slow
def test_three_offers_rise_in_price(capsys: pytest.CaptureFixture[str]) -> None:
    offers = told(["price", "example:tight-commission", "--offers"], capsys)["offers"]
    by_name = {name: Decimal(o["quote"]["to_pay"]) for o in offers for name in (o["offer"], *o["also"])}
    assert by_name["lean"] < by_name["as-wished"] == by_name["within-budget"] <= 525
    assert [Decimal(o["quote"]["to_pay"]) for o in offers] == sorted(by_name[o["offer"]] for o in offers)
    assert not any(o["over_limits"] for o in offers)
    plain = told(["price", "example:tight-commission"], capsys)
    wished = next(o for o in offers if "as-wished" in (o["offer"], *o["also"]))
    assert (wished["quote"]["to_pay"], wished["quote"]["upgrades"]) == (plain["to_pay"], plain["upgrades"])


@pytest.mark.slow
@pytest.mark.parametrize("budget", ["money = 300", 'money = 300\non = "cash"', ""])
def test_a_wish_that_nothing_meets_is_told_once(
    budget: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Offers are made of a wish; without one that can be met there are none, with a budget or not."""
    job = tmp_path / "job.toml"
    job.write_text(
        '[job]\nid = "beyond"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n'
        '[wish.require]\naction = 4\ncontrols = 2\n[upgrades]\nopen = ["clean-controls", "new-strings"]\n'
        f"[budget]\n{budget}\n",
        encoding="utf-8",
    )
    for command in (["price", str(job)], ["quote", str(job), "-o", str(tmp_path / "quote.xlsx")]):
        assert run([*command, "--offers", "--full"]) == 1
        out = capsys.readouterr().out
        assert out.count("cannot be met") == 1, out
        assert told([*command, "--offers"], capsys, 1)["status"] == "infeasible"
    assert not (tmp_path / "quote.xlsx").exists()


@pytest.mark.slow
def test_a_change_order_is_the_difference_of_two_quotes(capsys: pytest.CaptureFixture[str]) -> None:
    before = told(["price", "example:tight-commission", "--with", "set-up"], capsys)
    after = told(["price", "example:tight-commission", "--with", "set-up", "--with", "shield-paint"], capsys)
    order = told(
        [
            "change",
            "example:tight-commission",
            "--quoted",
            "set-up",
            "--now",
            "set-up",
            "--now",
            "shield-paint",
        ],
        capsys,
    )
    assert order["added"] == ["shield-paint"]
    assert Decimal(order["to_pay"]) == Decimal(after["to_pay"]) - Decimal(before["to_pay"])


@pytest.mark.slow
def test_the_most_to_pay_does_not_depend_on_the_asking_price(capsys: pytest.CaptureFixture[str]) -> None:
    dear = told(["offer", "example:resale-flip", "--ask", "400"], capsys)
    cheap = told(["offer", "example:resale-flip", "--ask", "1"], capsys)
    assert dear["most"] == cheap["most"]
    assert (dear["buy"], cheap["buy"]) == (False, True)


@pytest.mark.slow
def test_cleaning_and_selling_is_always_a_plan(capsys: pytest.CaptureFixture[str]) -> None:
    data = told(["sell", "example:resale-flip"], capsys)
    assert "clean" in data["plans"][0]["words"]
    best = max(Decimal(p["profit"]) for p in data["plans"])
    assert Decimal(data["ways"][0]["profit"]) >= best


def test_listings_in_error_are_told_and_not_dropped(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "listings.csv"
    path.write_text(
        "id,what,ask,tier,base_clean\na,fair one,1,B,400\nb,broken row,cheap,B,180\nc,dear one,900,B,180\n"
    )
    data = told(["offer", "--list", str(path)], capsys)
    assert {o["id"]: o["buy"] for o in data["offers"]} == {"a": True, "c": False}
    assert [issue["row"] for issue in data["skipped"]] == [3]
    assert data["rows"] == 3


@pytest.mark.slow
def test_the_ranked_table_shows_what_to_pay_and_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "listings.csv"
    path.write_text(
        "id,what,ask,tier,base_clean\na,fair one,1,B,400\nb,broken row,cheap,B,180\nc,dear one,900,B,400\nd,cheap kind,5,A,60\n"
    )
    data = told(["offer", "--list", str(path)], capsys)
    assert data["left_out"] == 1
    assert run(["offer", "--list", str(path), "--top", "2"]) == 0
    shown = capsys.readouterr()
    by_id = {o["id"]: o for o in data["offers"]}
    assert [o["verdict"] for o in data["offers"]] == ["buy", "do not buy", "offer less"]
    for name in ("a", "d"):
        row = next(line for line in shown.out.splitlines() if f"{name}: " in line)
        for cell in (
            by_id[name]["ask"],
            "none" if by_id[name]["stop"].startswith("-") else by_id[name]["stop"],
            by_id[name]["verdict"],
            by_id[name]["earned_per_hour"],
        ):
            assert cell in row
    assert "c: dear one" not in shown.out
    assert "1 more rank below these" in shown.out
    assert "1 row was left out because of errors" in shown.out
    assert "row 3" in shown.err


def test_what_is_due_follows_from_the_terms_of_the_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    text = (EXAMPLES / "tight-commission.toml").read_text(encoding="utf-8")
    job.write_text(text + "\n[terms]\nbatch = 3\nbench_fee_paid = true\nstored_days = 40\n", encoding="utf-8")
    data = told(["price", str(job), "--with", "set-up"], capsys)
    steps = {name: Decimal(value) for name, value in data["steps"].items() if isinstance(value, str)}
    assert steps["batch"] < 0
    assert Decimal(data["price"]) == sum(steps.values()) - steps["charge_per_hour"]
    assert Decimal(data["due"]) == Decimal(data["to_pay"]) - 30 + 20
    assert Decimal(data["due_on_collection"]) == Decimal(data["due"]) - Decimal(data["deposit"])
    assert (data["storage_free_days"], data["storage_per_day"], data["readjust_days"]) == (30, "2.00", 30)


def test_blanks_to_buy(capsys: pytest.CaptureFixture[str]) -> None:
    """6 good at 90 % yield and 95 % surety take 8: exact binomial."""
    data = told(["spares", "--good", "6", "--failure", "0.1", "--surety", "95"], capsys)
    assert data["buy"] == 8
    assert run(["spares", "--good", "6", "--failure", "2"]) == 2
    capsys.readouterr()
    assert run(["spares", "--good", "6", "--failure", "0.1", "--surety", "101"]) == 2
    assert "“101”" in capsys.readouterr().err


def test_tool_grades_compared(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["invest", "t-crown-file", "--jobs", "12", "--uses", "22"]
    ways = told([*arguments, "--inexpensive", "55 min", "--premium", "47 min"], capsys)["ways"]
    costs = [Decimal(way["cost"]) for way in ways]
    assert costs == sorted(costs)
    assert run([*arguments, "--inexpensive", "-5", "--premium", "47"]) == 2
    assert (
        run(["invest", "t-crown-fiel", "--jobs", "1", "--uses", "1", "--inexpensive", "1", "--premium", "1"])
        == 2
    )
    assert "t-crown-file" in capsys.readouterr().err


@pytest.mark.parametrize(
    "arguments",
    [
        ["estimate", "example:school-guitar", "--surety", "nan"],
        ["offer", "example:resale-flip", "--ask", "-4"],
        ["spares", "--good", "20000", "--failure", "0.5"],
        ["spares", "--good", "2", "--failure", "0.99"],
    ],
)
def test_figures_out_of_range_are_refused(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(arguments) == 2
    assert "fault in the program" not in capsys.readouterr().err


@pytest.mark.slow
def test_a_price_under_cost_is_told_by_how_much_and_not_to_the_customer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    text = (EXAMPLES / "tight-commission.toml").read_text()
    job = tmp_path / "cheap.toml"
    job.write_text(text.replace("[instrument]", "[terms]\ncharge_per_hour = 20\n\n[instrument]", 1))
    data = told(["choose", str(job)], capsys)
    totals = data["totals"]
    short = Decimal(totals["cost"]) - Decimal(totals["price"])
    assert short > 0
    assert Decimal(data["price_under_cost"]) == short
    assert Decimal(told(["price", str(job)], capsys)["price_under_cost"]) == short
    written = ["quote", str(job), "-o", "shop.xlsx", "--customer", "page.xlsx"]
    assert Decimal(told(written, capsys)["price_under_cost"]) == short
    for command in (["choose", str(job)], ["price", str(job)], written):
        assert run(command) == 0
        assert f"lies {short} USD under the cost" in capsys.readouterr().out
    page = load_workbook(tmp_path / "page.xlsx")
    cells = [str(c.value) for sheet in page.worksheets for row in sheet.iter_rows() for c in row]
    assert "Fixed price" in cells
    assert not any("under the cost" in cell or str(short) in cell for cell in cells)
    plain = told(["choose", "example:tight-commission"], capsys)
    assert plain["price_under_cost"] == "0.00"
    assert run(["choose", "example:tight-commission", "--full"]) == 0
    assert "under the cost" not in capsys.readouterr().out


@pytest.mark.parametrize("given", range(5))
def test_all_that_is_missing_is_named_at_once(given: int, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever is given of what a command needs, all the rest is told, and nothing else."""
    needed = [
        ("TOOL", ["t-crown-file"]),
        ("--jobs", ["--jobs", "12"]),
        ("--uses", ["--uses", "22"]),
        ("--inexpensive", ["--inexpensive", "90"]),
        ("--premium", ["--premium", "60"]),
    ]
    for have in itertools.combinations(needed, given):
        assert run(["invest", *itertools.chain.from_iterable(words for _, words in have)]) == 2
        told = capsys.readouterr().err
        assert told.count("error: ") == 5 - given
        assert [name for name, _ in needed if f"'{name}'" in told] == [
            name for name, _ in needed if name not in dict(have)
        ]
    assert run(["invest", "t-crown-file", "--jobs", "0", "--premium", "60"]) == 2
    told = capsys.readouterr().err
    assert [name for name in ("'--jobs'", "'--uses'", "'--inexpensive'", "'--premium'") if name in told] == [
        "'--jobs'",
        "'--uses'",
        "'--inexpensive'",
    ]
    assert run(["spares"]) == 2
    told = capsys.readouterr().err
    assert "'--good'" in told
    assert "'--failure'" in told
