"""The ledger from the command line: the story of a job, data as JSON, what is refused in words."""

from __future__ import annotations

import json
import shlex
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from estimator.cli.main import run

HEAVY = ("pulp", "highspy", "numpy", "pandas", "openpyxl", "xlsxwriter", "ortools", "scipy")


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def said(line: str, capsys: pytest.CaptureFixture[str], status: int = 0) -> str:
    assert run(["ledger", *shlex.split(line)]) == status, capsys.readouterr().err
    out = capsys.readouterr()
    return out.err if status else out.out


def data(line: str, capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    found = json.loads(said(f"{line} --json", capsys))
    assert isinstance(found, dict)
    return found


@pytest.mark.slow
def test_the_story_of_a_job(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = "tight-commission"
    assert data(f'book example:{job} --now "2026-10-05 09:15"', capsys)["state"] == "asked"
    assert (here / "ledger.sqlite").exists()
    quote = data(f'quote {job} --with set-up --now "2026-10-05 09:40"', capsys)
    assert quote["quote"] == "2026-001"
    lines = quote["lines"]
    assert isinstance(lines, list)
    assert sum(round(float(line["amount"]) * 100) for line in lines) == round(
        float(str(quote["price"])) * 100
    )
    assert (
        data(f'accept {job} --promised 2026-10-30 --now "2026-10-06 10:00"', capsys)["promised"]
        == "2026-10-30"
    )
    paid = data(f'pay {job} 50 --kind deposit --now "2026-10-06 10:01"', capsys)
    assert paid["balance"] == f"{float(str(quote['to_pay'])) - 50:.2f}"
    assert data('stock bought c-strings-guitar 3 --cost 21 --now "2026-10-06 11:00"', capsys)["left"] == "3"
    [row] = [r for r in data("stock", capsys)["stock"] if r["item"] == "c-strings-guitar"]  # type: ignore[attr-defined]
    assert (row["reserved"], row["free"]) == ("1", "2")
    assert data(f"stock used c-strings-guitar 1 --job {job}", capsys)["left"] == "2"
    data(f'begin {job} string-up --now "2026-10-12 09:00"', capsys)
    [runs] = data('running --now "2026-10-12 09:05"', capsys)["running"]  # type: ignore[misc]
    assert runs["seconds"] == 300
    data('pause --now "2026-10-12 09:10"', capsys)
    data(f'begin {job} string-up --now "2026-10-12 09:30"', capsys)
    done = data('end --now "2026-10-12 09:45"', capsys)
    assert (done["seconds"], done["taken_s"]) == (1500, 1500)
    typed = data(f'time {job} set-action "0:15" --now "2026-10-12 10:00"', capsys)
    assert data(f'correct {typed["spell"]} "1 h 5" --now "2026-10-12 10:01"', capsys)["before_s"] == 900
    tasks = {row["task"]: row for row in data(f"report {job}", capsys)["tasks"]}  # type: ignore[attr-defined]
    assert tasks["set-action"]["taken_s"] == 3900
    assert tasks["set-action"]["planned_s"] > 0
    for state in ("ready", "told"):
        data(f'move {job} {state} --now "2026-10-13 09:00"', capsys)
    [stored] = data('board --now "2026-11-22 09:00"', capsys)["stored"]  # type: ignore[misc]
    assert (stored["stored_days"], stored["storage"]) == (40, "20.00")
    owed = f"{float(str(paid['balance'])) + 20:.2f}"  # the storage is due with it
    assert data(f'pay {job} {owed} --now "2026-11-22 09:05"', capsys)["balance"] == "0.00"
    assert data(f'move {job} collected --now "2026-11-22 09:06"', capsys)["state"] == "paid"
    assert "Left to pay" in said(f"receipt {job}", capsys)
    assert data("report", capsys)["pay_per_hour"][0]["taken_s"] == 5400  # type: ignore[index]
    for line in (
        "board",
        f"show {job}",
        "report",
        f"report {job}",
        "stock",
        f"time {job}",
        "running",
        "check",
    ):
        assert said(line, capsys).strip()
    data("backup copy.sqlite", capsys)
    assert len(data("export -o all.xlsx --csv tables", capsys)["written"]) > 10  # type: ignore[arg-type]
    told = data("report -o report.xlsx --svg drawn", capsys)
    assert next(Path(str(one)).name for one in told["written"]) == "report.xlsx"  # type: ignore[union-attr]
    assert len(list((here / "drawn").glob("*.svg"))) == 6
    assert data('erase-customer "A. Customer"', capsys)["jobs"] == [job]
    assert data("check", capsys)["faults"] == []
    assert "A. Customer" in said("show-customer 'A. Customer' --ledger copy.sqlite", capsys)


@pytest.mark.slow
def test_what_a_task_used_is_proposed_when_it_ends(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, item = "tight-commission", "c-strings-guitar"
    for line in (
        f"book example:{job}",
        f"quote {job} --with set-up",
        f"accept {job}",
        f"stock bought {item} 3",
        f"begin {job} string-up",
    ):
        said(line, capsys)
    told = said("end", capsys)
    assert f"used by the quote: 1 {item}; take it off: estimator ledger used {job} string-up planned" in told
    assert said(f"used {job}", capsys) == f"string-up: 1 {item} by the quote\n"
    assert said(f"used {job} string-up planned", capsys) == f"{job}, string-up: {item}: 2 left\n"
    assert "told already" in said(f"used {job} string-up none", capsys, 2)
    assert said(f"used {job}", capsys) == "all is told\n"
    said(f"begin {job} set-nut", capsys)
    assert "than there is" in said(f"end --used {item}=5", capsys, 2)
    [runs] = data("running", capsys)["running"]  # type: ignore[misc]
    assert runs["task"] == "set-nut"  # what was refused ended nothing
    assert data(f"end --used {item}=0.5", capsys)["used"][0]["left"] == "1.5"  # type: ignore[index]
    said(f"begin {job} set-action", capsys)
    assert data("end", capsys)["proposed"] == []
    [row] = [r for r in data("stock", capsys)["stock"] if r["item"] == item]  # type: ignore[attr-defined]
    assert (row["left"], row["reserved"]) == ("1.5", "0")
    assert row["order_point"] is not None
    assert "order at" in said("stock", capsys)


def test_where_the_ledger_stands(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "my-shop").mkdir()
    shutil.copy(Path(__file__).parents[2] / "rates" / "suppliers.csv", here / "my-shop")
    said("book example:school-guitar --shop my-shop", capsys)
    said("book example:school-guitar --shop my-shop --ledger other.sqlite", capsys)
    assert (here / "my-shop" / "ledger.sqlite").exists()
    assert (here / "other.sqlite").exists()
    assert not (here / "ledger.sqlite").exists()
    assert "booked already" in said("book example:school-guitar --shop my-shop", capsys, 2)


@pytest.mark.parametrize(
    "line",
    [
        "board",
        "check",
        "running",
        "show x",
        "pay x 5",
        "export",
        "end",
        "begin x y",
        "stock used c-strings-guitar 1",
        "stock",
        "stock bought",
        "stock bought nonsense 3",
        "stock bought c-strings-guitar 0.0000001",
        "time x nut",
        "quote x",
        "accept x",
        "receipt x",
        "backup .",
        "book example:school-guitar --now soon",
        "book example:school-guitar --ledger no/where.sqlite",
        "correct 1 5",
        "show-customer x",
        "card no.xlsx",
        "book example:school-guitar --ledger .",
        "report x",
        "move x ready",
        "report x -o y.xlsx",
        "used x",
        "used x y",
        "used x y z",
        "end --used all",
        "stock used c-strings-guitar 1 --best-before 2030-01-01",
        "stock bought c-strings-guitar 1 --best-before soon",
    ],
)
def test_what_cannot_be_done_is_told_in_words(
    here: Path, capsys: pytest.CaptureFixture[str], line: str
) -> None:
    told = said(line, capsys, 2)
    assert told.startswith("error: ")
    assert "next: " in told
    assert "Traceback" not in told
    assert "fault in the program" not in told


@pytest.mark.slow
def test_money_that_was_mistyped(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said("book example:school-guitar", capsys)
    for sum_ in ("5.001", "five", "0", "1.250", "99999999999999"):
        said(f"pay school-guitar {sum_}", capsys, 2)
    assert data("show school-guitar", capsys)["payments"] == []


@pytest.mark.slow
def test_minutes_off_a_job_card_count_once(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import openpyxl

    job = "tight-commission"
    said(f"book example:{job}", capsys)
    said(f"quote {job} --with set-up", capsys)
    said(f"accept {job}", capsys)
    assert run(["quote", f"example:{job}", "--with", "set-up", "-o", "quote.xlsx"]) == 0
    capsys.readouterr()
    book = openpyxl.load_workbook("quote.xlsx")
    sheet = next(s for s in book if any(c.value == "Minutes taken" for row in s.iter_rows() for c in row))
    head = next(row for row in sheet.iter_rows() if any(c.value == "Minutes taken" for c in row))
    columns = {c.value: c.column for c in head}
    key = next(
        r
        for r in range(head[0].row + 1, sheet.max_row + 1)
        if str(sheet.cell(r, columns["Key"]).value or "").startswith("run:")
    )
    sheet.cell(key, columns["Minutes taken"]).value = 12.5
    book.save("quote.xlsx")
    assert run(["worked", "quote.xlsx"]) == 0
    assert "take them over: estimator ledger card quote.xlsx" in capsys.readouterr().out
    assert [row["done"] for row in data("card quote.xlsx", capsys)["times"]] == ["new"]  # type: ignore[attr-defined]
    assert [row["done"] for row in data("card quote.xlsx", capsys)["times"]] == ["as before"]  # type: ignore[attr-defined]
    assert [row["seconds"] for row in data(f"time {job}", capsys)["times"]] == [750]  # type: ignore[attr-defined]
    task = str(sheet.cell(key, columns["Key"]).value).removeprefix("run:").partition("@")[0]
    said(f"time {job} {task} 10", capsys)
    assert run(["ledger", "card", "quote.xlsx"]) == 0
    told = capsys.readouterr().err
    assert "has minutes off the card and others beside them; found 12 min 30 s and 10 min" in told
    assert f"estimator ledger time {job}" in told


def test_commands_at_the_bench_load_nothing_heavy(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said("book example:resale-flip", capsys)
    lines = [
        "begin resale-flip x",
        "pause",
        "begin resale-flip x",
        "end",
        "time resale-flip x 5",
        "board",
        "report",
        "stock",
    ]
    code = "from estimator.cli.main import run\nimport sys\n" + "".join(
        f"assert run({['ledger', *line.split()]!r}) == 0\n" for line in lines
    )
    code += f"print('LOADED', *[m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "LOADED"


@pytest.mark.slow
def test_an_instrument_for_sale_without_a_wish_is_never_quoted_for_nothing_unasked(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (
        '[job]\nid = "donor"\nkind = "resale"\n[instrument]\nkind = "guitar-solid"\npot_state = "scratchy"\n'
    )
    (here / "donor.toml").write_text(text, encoding="utf-8")
    said("book donor.toml", capsys)
    told = said("quote donor", capsys)
    assert "no work is in it: no wish is stated in [wish]; what pays before a sale: estimator sell" in told
    assert "donor.toml; --with ID names the work" in told
    assert "no work is in it" not in said("quote donor --with clean-controls", capsys)
    said("accept donor", capsys)
    assert said("begin donor clean-controls", capsys) == "donor, clean-controls: begun\n"
    assert "polish: begun; not in the quote; donor, clean-controls is paused" in said(
        "begin donor polish", capsys
    )
    assert run(["choose", "donor.toml"]) == 0
    assert "what pays before a sale: estimator sell donor.toml" in capsys.readouterr().out


def test_the_way_to_sell_may_be_told_after_the_step_and_counts_from_it(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = '[job]\nid = "donor"\nkind = "resale"\n[instrument]\nkind = "guitar-solid"\n'
    (here / "donor.toml").write_text(text, encoding="utf-8")
    said("book donor.toml", capsys)
    for state in ("at-work", "ready"):
        said(f'move donor {state} --now "2026-10-05 09:00"', capsys)
    told = said('move donor listed --now "2026-10-06 09:00"', capsys)
    assert "estimator ledger move donor listed --way WAY" in told
    said('move donor listed --now "2026-10-08 09:00"', capsys, 2)
    said('move donor listed --way local --now "2026-10-08 09:00"', capsys)
    books = sqlite3.connect(here / "ledger.sqlite")
    rows = "SELECT way, at FROM listing"
    assert (
        books.execute(rows).fetchall()
        == books.execute("SELECT 'local', at FROM step WHERE state = 'listed'").fetchall()
    )
    said('move donor listed --way auction --now "2026-10-20 09:00"', capsys)
    [(way, since)] = books.execute(rows).fetchall()
    assert (way, since[:10]) == ("auction", "2026-10-20")
    books.close()
