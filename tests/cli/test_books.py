"""Workbooks out and back in through the command line."""

from __future__ import annotations

import json
import re
import shlex
from datetime import date
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest

from estimator.cli.main import run
from estimator.core.errors import Exit
from estimator.ledger.clock import read_moment
from estimator.ledger.jobs import give_number, history
from estimator.ledger.store import Ledger
from estimator.report.page.record import OFFER_NAMES
from tests.workbook.own_engine import Engine
from tests.workbook.recalculate import cells_of

EXAMPLES = Path(__file__).parents[2] / "example_jobs"


def priced(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> dict:  # type: ignore[type-arg]
    capsys.readouterr()
    assert run([*arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.slow
def test_a_quote_read_back_unchanged_prices_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "quote.xlsx"
    written = priced(["quote", "example:short-scale-bass", "-o", str(book)], capsys)
    again = priced(["reprice", "example:short-scale-bass", str(book)], capsys)
    assert again["totals"] == written["totals"]


@pytest.mark.slow
def test_a_changed_rate_in_the_workbook_is_the_rate_of_the_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "quote.xlsx"
    before = priced(["quote", "example:tight-commission", "-o", str(book)], capsys)
    workbook = openpyxl.load_workbook(book)
    name = workbook.defined_names["in_charge"]
    sheet, cell = next(iter(name.destinations))
    assert workbook[sheet][cell.replace("$", "")].value == 75
    workbook[sheet][cell.replace("$", "")].value = 90
    workbook.save(book)

    after = priced(["reprice", "example:tight-commission", str(book)], capsys)

    assert float(after["totals"]["price"]) > float(before["totals"]["price"])
    assert after["totals"]["cost"] == before["totals"]["cost"]


@pytest.mark.slow
def test_the_customers_page_is_written_at_the_price_of_the_changed_workbook(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, (book, page, theirs) = (
        "example:tight-commission",
        (tmp_path / n for n in ("q.xlsx", "p.html", "c.xlsx")),
    )
    named = ["--with", "set-up", "--with", "clean-controls"]
    priced(["quote", job, *named, "-o", str(book)], capsys)
    workbook = openpyxl.load_workbook(book)
    ((sheet, cell),) = workbook.defined_names["in_charge"].destinations
    workbook[sheet][cell.replace("$", "")].value = 90
    workbook.save(book)
    after = priced(["reprice", job, str(book), "--page", str(page), "--customer", str(theirs)], capsys)
    assert after["written"] == [str(theirs), str(page)]
    to_pay = float(after["totals"]["to_pay"])
    assert f"<b>{to_pay:.2f} USD</b>" in page.read_text(encoding="utf-8")
    cells = [c.value for row in openpyxl.load_workbook(theirs, data_only=True)["Quote"] for c in row]
    assert to_pay in cells
    # a row that was taken out is priced, and no page promises what it would have brought
    workbook["Costing"]["E5"].value = 0
    workbook.save(book)
    page.unlink()
    assert run(["reprice", job, str(book)]) == 0
    assert run(["reprice", job, str(book), "--page", str(page)]) == Exit.BAD_INPUT
    assert "would promise" in capsys.readouterr().err
    assert not page.exists()


@pytest.mark.slow
def test_a_page_written_again_keeps_the_number_and_the_promised_day(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, book = "example:tight-commission", tmp_path / "quote.xlsx"
    books = ["--ledger", str(tmp_path / "ledger.sqlite")]
    for words in (
        ["book", job],
        ["quote", "tight-commission"],
        ["accept", "tight-commission", "--promised", "2031-03-04"],
    ):
        assert run(["ledger", *words, *books]) == Exit.DONE
    first, again = (tmp_path / name for name in ("first.html", "again.html"))
    before = priced(["quote", job, "-o", str(book), "--page", str(first), "--numbered", *books], capsys)
    priced(["reprice", job, str(book), "--page", str(again)], capsys)
    for page in (first, again):
        words = page.read_text(encoding="utf-8")
        assert f"<b>{before['number']}</b>" in words
        assert "4 Mar" in words
        assert "as we promised you" in words


@pytest.mark.slow
def test_minutes_written_into_a_job_card_are_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = tmp_path / "quote.xlsx"
    priced(["quote", "example:short-scale-bass", "-o", str(book)], capsys)
    assert priced(["worked", str(book)], capsys) == {"job": "short-scale-bass", "rows": []}


def test_a_measuring_sheet_becomes_a_job_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet, job = tmp_path / "sheet.xlsx", tmp_path / "job.toml"
    assert run(["new", str(tmp_path / "plan.toml"), "--for", "new-jack", "--sheet", str(sheet)]) == 0
    assert run(["intake", str(sheet), "-o", str(job)]) == 0
    assert run(["check", str(job)]) == 0


@pytest.mark.slow
def test_a_shop_goes_through_a_workbook_unharmed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book, folder = tmp_path / "shop.xlsx", tmp_path / "tables"
    assert run(["shop-book", "--write", str(book)]) == 0
    assert run(["shop-book", "--read", str(book), "--folder", str(folder)]) == 0
    plain = priced(["estimate", "example:tight-commission", "--with", "set-up"], capsys)
    through = priced(
        ["estimate", "example:tight-commission", "--with", "set-up", "--shop", str(folder)], capsys
    )
    assert through == plain
    assert run(["shop-book", "--read", str(book), "--folder", str(folder)]) == 2
    assert run(["shop-book"]) == 2


@pytest.mark.parametrize("command", ["worked", "intake"])
def test_a_file_that_is_no_workbook(command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "book.xlsx"
    path.write_bytes(b"not a workbook")
    extra = ["-o", str(tmp_path / "job.toml")] if command == "intake" else []
    assert run([command, str(path), *extra]) == 2
    assert "book.xlsx" in capsys.readouterr().err
    assert not (tmp_path / "job.toml").exists()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["tight-commission", "school-guitar"])
def test_the_deposit_in_the_workbook_is_the_one_that_price_tells(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "quote.xlsx"
    priced(["quote", f"example:{name}", "-o", str(book)], capsys)
    told = priced(["price", f"example:{name}"], capsys)
    workbook = openpyxl.load_workbook(book, data_only=True)
    sheet, cell = next(iter(workbook.defined_names["out_deposit"].destinations))
    assert f"{workbook[sheet][cell.replace('$', '')].value:.2f}" == told["deposit"]


@pytest.mark.slow
def test_offers_stand_side_by_side_on_the_customers_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book, page = tmp_path / "quote.xlsx", tmp_path / "page.xlsx"
    priced(
        ["quote", "example:tight-commission", "-o", str(book), "--customer", str(page), "--offers"], capsys
    )
    offers = priced(["price", "example:tight-commission", "--offers"], capsys)["offers"]
    cells = {
        cell.value for row in openpyxl.load_workbook(page, data_only=True).active.iter_rows() for cell in row
    }
    for offer in offers:
        if offer["quote"]:
            assert float(offer["quote"]["to_pay"]) in cells, offer["offer"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("money", "rests_on", "many"),
    [(260, "Within budget", 2), (480, "Within budget", 3), (20, "As wished", 1)],
)
def test_offers_are_written_also_where_the_wish_cannot_be_met(
    money: int, rests_on: str, many: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The page beside the others holds every offer that can be made; the workbook reads back by its upgrades."""
    job, book, page = tmp_path / "job.toml", tmp_path / "quote.xlsx", tmp_path / "page.xlsx"
    wish = (EXAMPLES / "tight-commission.toml").read_text(encoding="utf-8")
    job.write_text(wish.replace("money = 525", f"money = {money}"), encoding="utf-8")
    assert run(["quote", str(job), "-o", str(book)]) == Exit.CANNOT_BE_MET
    assert not book.exists()
    files = ["-o", str(book), "--customer", str(page)]
    written = priced(["quote", str(job), *files, "--offers"], capsys)
    assert written["rests_on"] == rests_on
    offers = {o["offer"]: o for o in priced(["price", str(job), "--offers"], capsys)["offers"]}
    assert len(offers) == len(written["offers"]) == many
    # what is beyond the budget says so, to the shop and to the customer
    beyond = {name for name, offer in offers.items() if offer["over_limits"]}
    assert beyond == {"as-wished"}
    cells = {
        cell.value for row in openpyxl.load_workbook(page, data_only=True).active.iter_rows() for cell in row
    }
    assert {float(o["quote"]["to_pay"]) for o in offers.values()} <= cells
    assert any("beyond your budget" in str(cell) for cell in cells)
    own = offers[rests_on.lower().replace(" ", "-")]["quote"]
    assert (written["totals"]["to_pay"], written["upgrades"]) == (own["to_pay"], own["upgrades"])
    named = [word for name in own["upgrades"] for word in ("--with", name)]
    again = priced(["reprice", str(job), str(book), *named], capsys)
    assert again["totals"]["to_pay"] == own["to_pay"]
    assert run(["quote", str(job), *files, "--offers"]) == 0
    told = capsys.readouterr().out
    assert f"the workbook rests on the offer “{rests_on}”" in told
    found = re.search("To read it back: (reprice .*)", told)
    assert found
    assert "--with" not in found[1]
    again = priced(shlex.split(found[1]), capsys)
    assert (again["totals"]["to_pay"], again["upgrades"]) == (own["to_pay"], own["upgrades"])


@pytest.mark.slow
def test_a_picked_set_stands_beside_the_other_offers(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What was named is on the customer's page too, at the price that the price command tells."""
    book, page = tmp_path / "quote.xlsx", tmp_path / "page.xlsx"
    picked = ["example:tight-commission", "--with", "set-up", "--with", "shield-paint", "--offers"]
    written = priced(["quote", *picked, "-o", str(book), "--customer", str(page)], capsys)
    offers = {o["offer"]: o["quote"] for o in priced(["price", *picked], capsys)["offers"]}
    assert {"as-picked", "as-wished"} <= set(offers)
    assert [name.replace("-", " ").capitalize() for name in offers] == written["offers"]
    assert written["upgrades"] == offers["as-picked"]["upgrades"] == ["set-up", "shield-paint"]
    assert written["totals"]["to_pay"] == offers["as-picked"]["to_pay"]
    beside = openpyxl.load_workbook(book, data_only=True)["Offers"]
    for sheet in (beside, openpyxl.load_workbook(page, data_only=True).active):
        cells = {cell.value for row in sheet.iter_rows() for cell in row}
        assert f"☐ {OFFER_NAMES['As picked']}" in cells
        assert {float(quote["to_pay"]) for quote in offers.values()} <= cells


def test_offers_that_are_all_the_same_are_one_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, book = tmp_path / "job.toml", tmp_path / "quote.xlsx"
    job.write_text(
        '[job]\nid = "plain"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n'
        '[upgrades]\nopen = ["set-up"]\nrequired = ["set-up"]\n',
        encoding="utf-8",
    )
    assert run(["quote", str(job), "-o", str(book), "--offers"]) == 0
    assert "All offers come to the same set of upgrades" in capsys.readouterr().out
    assert "Offers" not in openpyxl.load_workbook(book).sheetnames


@pytest.mark.slow
def test_a_workbook_is_priced_for_its_own_set_also_where_the_wish_has_changed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Limits that hold no more, or allow another set, are no matter of the quote that was written."""
    job, book = tmp_path / "job.toml", tmp_path / "quote.xlsx"
    wish = (EXAMPLES / "tight-commission.toml").read_text(encoding="utf-8")
    job.write_text(wish, encoding="utf-8")
    written = priced(["quote", str(job), "-o", str(book)], capsys)
    assert "money = 525" in wish
    job.write_text(wish.replace("money = 525", "money = 300"), encoding="utf-8")

    again = priced(["reprice", str(job), str(book)], capsys)

    assert (again["totals"], again["upgrades"]) == (written["totals"], written["upgrades"])
    for command in (["price", str(job)], ["risk", str(job)]):
        assert run([*command, "--json"]) == Exit.CANNOT_BE_MET
        data = json.loads(capsys.readouterr().out)
        assert data["status"] == "infeasible"
        assert data["conflicts"], command


@pytest.mark.slow
def test_rows_of_another_set_are_told_in_the_order_of_the_sheet(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "quote.xlsx"
    priced(["quote", "example:tight-commission", "-o", str(book)], capsys)

    assert run(["reprice", "example:tight-commission", str(book), "--with", "set-up"]) == Exit.BAD_INPUT

    rows = [int(found) for found in re.findall(r"Costing!A(\d+): a row of work", capsys.readouterr().err)]
    assert len(rows) > 3
    assert rows == sorted(rows)
    assert "the workbook was written for other upgrades" in run_told(capsys, book, "set-up")


NAMED = ("adjust-nut", "bridge-pickup-stack-slim-stack", "new-knobs-economy")


def withs(*names: str) -> list[str]:
    return [word for name in names for word in ("--with", name)]


def run_told(
    capsys: pytest.CaptureFixture[str], book: Path, *names: str, job: str = "example:tight-commission"
) -> str:
    """What ``reprice`` refuses a book with."""
    assert run(["reprice", job, str(book), *withs(*names)]) == Exit.BAD_INPUT
    told = capsys.readouterr()
    assert told.out == ""
    return told.err


@pytest.mark.slow
def test_a_workbook_of_named_upgrades_is_priced_for_them_and_for_no_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book, job = tmp_path / "quote.xlsx", "example:tight-commission"
    priced(["quote", job, *withs(*NAMED), "-o", str(book)], capsys)
    plain = priced(["estimate", job, *withs(*NAMED)], capsys)
    for named in ([], withs(*NAMED)):
        again = priced(["reprice", job, str(book), *named], capsys)
        assert (again["totals"], again["upgrades"]) == (plain["totals"], list(NAMED))
    more = run_told(capsys, book, *NAMED, "new-jack-economy")
    assert "written for other upgrades; found not in the workbook: new-jack-economy" in more
    assert "parts are missing that this set needs" in more
    less = run_told(capsys, book, *NAMED[:2])
    assert "found only in the workbook: new-knobs-economy" in less


@pytest.mark.slow
def test_a_workbook_of_a_job_that_has_changed_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Other work for the same upgrades, other quantities, other rates: nothing of it is taken for an edit."""
    job, book, shop = tmp_path / "job.toml", tmp_path / "quote.xlsx", tmp_path / "shop"
    wish = (EXAMPLES / "tight-commission.toml").read_text(encoding="utf-8")
    job.write_text(wish, encoding="utf-8")
    priced(["quote", str(job), *withs(*NAMED), "-o", str(book)], capsys)
    assert "[instrument]" in wish
    job.write_text(wish.replace("[instrument]", "[instrument]\nstrung = false", 1), encoding="utf-8")
    told = run_told(capsys, book, job=str(job))
    assert (
        "the job file or the shop's tables have changed since the quote was written; found other figures for"
        in told
    )
    again = re.search(r"make the changes there: (quote .*)", told)
    assert again
    job.write_text(wish, encoding="utf-8")
    shop.mkdir()
    rates = (EXAMPLES.parent / "rates" / "shop.toml").read_text(encoding="utf-8")
    (shop / "shop.toml").write_text(
        re.sub(r"(?m)^charge_per_hour = .*$", "charge_per_hour = 81", rates, count=1)
    )
    assert run(["reprice", str(job), str(book), "--shop", str(shop)]) == Exit.BAD_INPUT
    assert "other figures for the rates and shares" in capsys.readouterr().err
    # what it tells to do does it
    new = tmp_path / "NEW.xlsx"
    words = [str(new) if word == "NEW.xlsx" else word for word in shlex.split(again[1])]
    written = priced([*words, "--shop", str(shop)], capsys)
    assert priced(["reprice", str(job), str(new), "--shop", str(shop)], capsys)["totals"] == written["totals"]


@pytest.mark.slow
def test_a_workbook_that_does_not_say_its_set_is_priced_only_for_a_named_one_with_the_same_rows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book, job = tmp_path / "quote.xlsx", "example:tight-commission"
    written = priced(["quote", job, *withs(*NAMED), "-o", str(book)], capsys)
    workbook = openpyxl.load_workbook(book)
    for name in workbook.custom_doc_props.names:
        if name not in ("schema", "job"):
            del workbook.custom_doc_props[name]
    workbook.save(book)
    assert "does not say which upgrades it was written for" in run_told(capsys, book)
    capsys.readouterr()
    assert run(["reprice", job, str(book), *withs(*NAMED), "--json"]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["totals"] == written["totals"]
    assert "warning" in told.err
    for others in ((*NAMED, "set-up"), (*NAMED[:2], "new-knobs-standard"), NAMED[:2]):
        assert "quote.xlsx, " in run_told(capsys, book, *others)


@pytest.mark.slow
def test_a_numbered_quote_bears_the_next_number_and_is_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, book, page, books = (tmp_path / name for name in ("j.toml", "q.xlsx", "p.html", "l.sqlite"))
    job.write_text(
        '[job]\nid = "plain"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n', encoding="utf-8"
    )
    asked = [
        "quote",
        str(job),
        "--with",
        "set-up",
        "-o",
        str(book),
        "--page",
        str(page),
        "--numbered",
        "--ledger",
        str(books),
    ]
    year = date.today().year
    for nth in (1, 2):  # no job is booked: numbers only
        assert priced(asked, capsys)["number"] == f"{year}-{nth:03d}"
        assert f"<b>{year}-{nth:03d}</b>" in page.read_text(encoding="utf-8")
    assert run(["ledger", "book", str(job), "--ledger", str(books)]) == 0
    capsys.readouterr()
    given = priced(asked, capsys)
    with Ledger(books) as ledger:
        (kept,) = history(ledger, "plain").quotes
    assert kept.number == given["number"] == f"{year}-003"
    assert f"<b>{kept.to_pay / 100:.2f} USD</b>" in page.read_text(encoding="utf-8")
    # a file that cannot be written uses no number up, and a number that is there is not given twice
    assert run([*asked[:-3], "--pdf", str(tmp_path / "x.txt"), *asked[-3:]]) == Exit.BAD_INPUT
    job.write_text(
        job.read_text(encoding="utf-8").replace("kind =", 'number = "7"\nkind =', 1), encoding="utf-8"
    )
    assert run(asked) == Exit.BAD_INPUT
    assert "the quote has a number already" in capsys.readouterr().err
    with Ledger(books) as ledger:
        assert len(history(ledger, "plain").quotes) == 1
        assert give_number(ledger, read_moment(None)) == f"{year}-004"


def page_words(job: str, folder: Path, *more: str) -> str:
    page = folder / "page.html"
    assert run(["quote", job, "-o", str(folder / "quote.xlsx"), "--page", str(page), *more]) == Exit.DONE
    return page.read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_ready_day_is_that_of_the_plan_or_of_the_promise_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A saved plan before the ledger, the ledger before the estimate; work that is not planned is no day."""
    job, plan = "example:tight-commission", tmp_path / "plan.json"
    assert run(["plan", "example:batch-three", "--save-plan", str(plan)]) == Exit.DONE
    saved = json.loads(plan.read_text(encoding="utf-8"))
    told = [one for name in saved["chosen"]["commission"] for one in ("--with", name)]
    by_plan = page_words(job, tmp_path, "--plan", f"{plan}#commission", *told)
    promised = date.fromisoformat(saved["promised"]["commission"])
    assert f"{promised:%a} {promised.day} {promised:%b}" in by_plan
    assert "by the plan of our bench" in by_plan
    assert "by the work and our queue" in page_words(job, tmp_path)
    ledger = str(tmp_path / "ledger.sqlite")
    for command in (
        ["book", job],
        ["quote", "tight-commission"],
        ["accept", "tight-commission", "--promised", "2031-03-04"],
    ):
        assert run(["ledger", *command, "--ledger", ledger]) == Exit.DONE
    by_ledger = page_words(job, tmp_path, "--ledger", ledger)
    assert "4 Mar" in by_ledger
    assert "as we promised you" in by_ledger
    capsys.readouterr()
    for more, said in (
        (["--plan", str(plan)], "commission, school"),
        (["--plan", f"{plan}#school"], "other work on school"),
        (["--plan", str(tmp_path / "none.json")], "no such plan"),
        (["--plan", ledger], "not a saved plan"),
    ):
        assert run(["quote", job, "-o", str(tmp_path / "q.xlsx"), *more]) == Exit.BAD_INPUT
        assert said in capsys.readouterr().err
    assert not (tmp_path / "q.xlsx").exists()


@pytest.mark.slow
def test_the_pdf_is_made_by_an_office_program_where_there_is_no_browser(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from estimator.report.page import pdf as printing

    job, target = ["quote", "example:school-guitar", "-o", str(tmp_path / "q.xlsx")], tmp_path / "page.pdf"
    monkeypatch.setattr(printing, "browser_there", lambda: None)
    if printing.office_there():
        assert run([*job, "--pdf", str(target), "--customer", str(tmp_path)]) == Exit.DONE
        assert "from the customer's sheet, as no browser is installed" in capsys.readouterr().out
        assert target.read_bytes().startswith(b"%PDF")
        assert (tmp_path / "school-guitar-customer.xlsx").is_file()
        target.unlink()
    monkeypatch.setattr(printing, "office_there", lambda: None)
    assert run([*job, "--pdf", str(target)]) == Exit.BAD_INPUT
    assert "no program is found that prints to PDF" in capsys.readouterr().err
    assert not target.exists()


@pytest.mark.slow
@pytest.mark.parametrize("paid", [0, 20, 95, 120, 400])
def test_a_quote_for_a_job_that_was_paid_for_in_part_asks_for_what_is_left(
    paid: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Half-way a hole turns out too large: the customer is told what it came to before and what is left to pay."""
    monkeypatch.chdir(tmp_path)
    job = (
        '[job]\nid = "tuners"\nkind = "commission"\nwhat = "tuners slip"\n[instrument]\nkind = "guitar-solid"\n'
        "tuner_play = 40\ntuner_hole_d = {}\n[wish]\nrequire = {{ tuner-quality = 3, action = 2 }}\n"
    )
    Path("tuners.toml").write_text(job.format(8), encoding="utf-8")
    assert run(["ledger", "book", "tuners.toml", "--now", "2026-10-05 09:00"]) == 0
    for words in (["quote", "tuners"], ["accept", "tuners", "--promised", "2026-10-20"]):
        assert run(["ledger", *words, "--now", "2026-10-05 10:00"]) == 0
    if paid:
        assert (
            run(["ledger", "pay", "tuners", str(paid), "--kind", "deposit", "--now", "2026-10-05 11:00"]) == 0
        )
    Path("tuners.toml").write_text(job.format(11.5), encoding="utf-8")
    capsys.readouterr()
    assert run(["ledger", "quote", "tuners", "--now", "2026-10-12 09:00"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    dear, more = (Decimal(one) for one in re.findall(r"([\d.]+) USD (?:to pay|more than)", said))
    assert "more than quote 2026-001, which stands till this one is accepted" in said
    files = ["-o", "q.xlsx", "--page", "q.html", "--ledger", "ledger.sqlite"]
    answer = priced(["quote", "tuners.toml", *files], capsys)
    assert Decimal(str(answer["totals"]["to_pay"])) == dear
    page = re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", Path("q.html").read_text(encoding="utf-8")))
    assert f"In place of quote 2026-001 of {dear - more} USD: {more} USD more." in page
    assert ".." not in page
    to_start = re.search(r"To start ([\d.]+|Nothing)", page)
    then = re.search(r"Collection ([\d.]+) USD then", page)
    back = re.search(r"([\d.]+) USD of it come back to you", page)
    sums = [
        Decimal(found[1].replace("Nothing", "0")) if found else Decimal(0) for found in (to_start, then, back)
    ]
    assert sums[0] + sums[1] - sums[2] + paid == dear
    assert (f"The {paid}.00 USD that you have paid so far are taken off." in page) == bool(paid)
    engine = Engine(Path("q.xlsx"))
    (place,) = (at for at, value in cells_of(Path("q.xlsx")).items() if value == "Due on collection")
    due = engine.value(place[0], "E" + place[1].lstrip("D"))
    assert Decimal(f"{due:.2f}") == sums[1] - sums[2]
