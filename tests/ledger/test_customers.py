"""A customer's data, shown and erased; tables written out and read back."""

from __future__ import annotations

import csv
import io
from datetime import date
from io import BytesIO
from pathlib import Path

import pytest

from estimator.core.errors import InputError
from estimator.ledger import jobs, timers
from estimator.ledger.customers import erase_customer, show_customer
from estimator.ledger.stock import Beside, stock_move
from estimator.report.csv.ledger import csv_tables
from estimator.workbook.write.ledger import ledger_bytes
from tests.ledger.shop import at, begun, booking, offered

NOW = at("2026-10-06 09:00")


def test_all_of_a_customer_is_shown_and_erased_down_to_the_bytes(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        for name, who in (("blue", "Quince Marmalade"), ("red", "Another Person")):
            jobs.book(ledger, booking(name, customer=who), NOW)
            jobs.give_quote(ledger, name, offered(), NOW)
            jobs.accept(ledger, name, None, None, NOW)
            jobs.pay(ledger, name, "payment", 20000, NOW, remark=f"cash from {who}")
            jobs.move(ledger, name, "at-work", NOW, remark=f"{who} rang")
            timers.typed(ledger, name, "nut", 600, NOW, remark=f"for {who}")
            stock_move(ledger, "bought", name, 10**6, NOW, Beside(job=name, remark=f"for {who}"))
        shown = show_customer(ledger, "Quince Marmalade")
        assert [job.id for job in shown.jobs] == ["blue"]
        assert shown.jobs[0].serial == "S123"
        with pytest.raises(InputError, match="are open"):
            erase_customer(ledger, "Quince Marmalade", NOW)
        for state in ("ready", "collected"):
            jobs.move(ledger, "blue", state, NOW)
        before = jobs.account(ledger, "blue"), ledger.rows("SELECT job, seconds FROM spell")
        assert erase_customer(ledger, "Quince Marmalade", NOW).jobs == ["blue"]
        assert (jobs.account(ledger, "blue"), ledger.rows("SELECT job, seconds FROM spell")) == before
        # while it is open still: nothing beside the file holds it either
        for path in tmp_path.iterdir():
            assert b"Quince" not in path.read_bytes(), path.name
        assert b"Another Person" in (tmp_path / "ledger.sqlite").read_bytes()
        with pytest.raises(InputError, match="no customer of this name"):
            show_customer(ledger, "Quince Marmalade")
        assert show_customer(ledger, "Another Person").jobs[0].serial == "S123"
        quotes = jobs.history(ledger, "blue").quotes
        assert [q.to_pay for q in quotes] == [20000]
        assert ledger.faults() == []


def test_tables_written_out_are_what_the_ledger_holds(tmp_path: Path) -> None:
    import openpyxl

    with begun(tmp_path) as ledger:
        jobs.book(ledger, booking("blue", customer='=1+1, "quoted"\nsecond line'), NOW)
        jobs.give_quote(ledger, "blue", offered(seconds={"nut": 10}, needs={"x": 1}), NOW)
        jobs.pay(ledger, "blue", "deposit", 1, NOW)
        tables = ledger.tables()
        written = csv_tables(ledger)
        assert set(written) == {f"{name}.csv" for name in tables}
        for name, (columns, rows) in tables.items():
            found = list(csv.reader(io.StringIO(written[f"{name}.csv"], newline="")))
            assert found[0] == list(columns)
            assert found[1:] == [["" if v is None else str(v) for v in row] for row in rows]
        book = openpyxl.load_workbook(BytesIO(ledger_bytes(ledger, date(2026, 10, 6))))
        assert book.sheetnames == list(tables)
        for name, (columns, rows) in tables.items():
            cells = [[c.value for c in row] for row in book[name].iter_rows(max_col=len(columns))]
            assert cells[0] == list(columns)
            assert cells[1:] == [[None if v == "" else v for v in row] for row in rows]
        assert book["customer"]["B2"].data_type == "s"
