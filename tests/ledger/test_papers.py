"""What a customer gets on paper, what was agreed on the way, photos, and the history of an instrument."""

from __future__ import annotations

import io
import re
import sqlite3
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from estimator.cli.main import run
from estimator.core.errors import InputError
from estimator.ledger import jobs
from estimator.ledger.customers import erase_customer, show_instrument
from estimator.ledger.papers import KINDS, add_photo, agree, paper
from estimator.ledger.receipt import receipt
from estimator.ledger.store import Ledger
from estimator.ledger.timers import typed
from estimator.report.page.papers import paper_html, paper_terms
from estimator.workbook.write.paper import WIDTHS, paper_bytes
from estimator.workbook.write.style import text_width
from tests.ledger.shop import accepted, at, begun, booking, offered
from tests.plan.bench import shop

NOW = at("2026-10-15 16:00")


def told(tmp_path: Path) -> Ledger:
    ledger = begun(tmp_path)
    accepted(ledger, materials=4321, seconds={"level-frets": 3600})
    jobs.pay(ledger, "blue", "deposit", 5000, at("2026-10-06 10:00"), "bench remark")
    typed(ledger, "blue", "level-frets", 4000, at("2026-10-07 10:00"), "botched-once")
    return ledger


def words_of(html: str) -> str:
    return " ".join(re.sub(r"<style>.*?</style>|<[^>]*>", " ", html, flags=re.S).split())


def test_an_invoice_says_what_was_agreed_paid_and_is_left(tmp_path: Path) -> None:
    with told(tmp_path) as ledger:
        it = paper(ledger, "blue", "invoice", NOW)
    words = words_of(paper_html(it, shop().terms, "A4"))
    for part in (
        "Invoice I2026-001",
        "For A. Customer, 555 0100",
        "serial number S123",
        "Work 184.00 USD",
        "Tax 16.00 USD",
        "Agreed 200.00 USD",
        "Deposit, Tue 6 Oct 2026 50.00 USD",
        "Left to pay 150.00 USD",
    ):
        assert part in words
    assert sum(line.amount or 0 for line in it.lines[:-1]) == it.lines[-1].amount == 20000


def test_an_invoice_keeps_its_number_and_a_new_quote_gets_the_next(tmp_path: Path) -> None:
    with told(tmp_path) as ledger:
        assert [paper(ledger, "blue", "invoice", at(f"2026-10-{day} 09:00")).number for day in (15, 16)] == [
            "I2026-001"
        ] * 2
        assert paper(ledger, "blue", "invoice", at("2026-10-20 09:00")).dated == "Thu 15 Oct 2026"
        jobs.give_quote(ledger, "blue", offered(25000), NOW)
        assert paper(ledger, "blue", "invoice", NOW).number == "I2026-001"  # given, not accepted
        jobs.accept(ledger, "blue", None, None, NOW)
        newer = paper(ledger, "blue", "invoice", at("2027-01-02 09:00"))
        assert (newer.number, ("Takes the place of", "I2026-001") in newer.facts) == ("I2027-001", True)
        other = accepted(ledger, "red")
        assert paper(ledger, "red", "invoice", NOW).number == "I2026-002"
        assert other != "2026-001"
    plain = sqlite3.connect(tmp_path / "ledger.sqlite")
    for sql in ("UPDATE invoice SET job = 'x'", "DELETE FROM invoice"):
        with pytest.raises(sqlite3.IntegrityError, match="invoice"):
            plain.execute(sql)
    plain.close()


@pytest.mark.parametrize("kind", KINDS)
def test_no_cost_and_no_word_of_the_bench_is_on_any_paper(tmp_path: Path, kind: str) -> None:
    with told(tmp_path) as ledger:
        it = paper(ledger, "blue", kind, NOW)
    html = paper_html(it, shop().terms, "Letter")
    book = openpyxl.load_workbook(io.BytesIO(paper_bytes(it, shop().terms, date(2026, 10, 15), "A4")))
    cells = " ".join(
        str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row if cell.value
    )
    for text in (words_of(html), cells):
        assert "A. Customer" in text
        for secret in (
            "43.21",
            "level-frets",
            "botched",
            "bench remark",
            "4000",
            "3600",
            "guitar-solid",
            "commission",
            "accepted",
        ):
            assert secret not in text
    assert "<script" not in html
    assert "http" not in html


def test_a_claim_ticket_says_when_and_what_is_due_then(tmp_path: Path) -> None:
    with told(tmp_path) as ledger:
        jobs.accept(ledger, "blue", None, date(2026, 10, 30), at("2026-10-08 09:00"))
        words = words_of(paper_html(paper(ledger, "blue", "claim-ticket", NOW), shop().terms, "A4"))
    for part in (
        "Claim ticket blue",
        "With us since Mon 5 Oct 2026",
        "Promised for Fri 30 Oct 2026",
        "To pay on collection 150.00 USD",
        "Please bring this ticket",
        "Storage is free for",
    ):
        assert part in words


def test_the_buyer_of_the_shops_own_instrument_reads_nothing_of_the_bench(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        jobs.book(
            ledger,
            jobs.Booking("flip", "resale", "dead jack, cheap", "guitar-solid", "USD", serial="S9"),
            NOW,
        )
        jobs.give_quote(ledger, "flip", offered(27794), NOW)
        jobs.accept(ledger, "flip", None, None, NOW)
        jobs.pay(ledger, "flip", "purchase", 7000, NOW)
        jobs.pay(ledger, "flip", "sale", 26000, NOW)
        words = words_of(paper_html(paper(ledger, "flip", "receipt", NOW), shop().terms, "A4"))
        plain = receipt(ledger, "flip", "Shop", NOW)
    assert "Sale, Thu 15 Oct 2026 260.00 USD" in words
    assert "260.00 USD" in plain
    for secret in ("dead jack", "70.00", "277.94", "With us since", "Quote"):
        assert secret not in words
        assert secret not in plain


@pytest.mark.parametrize("kind", KINDS)
def test_the_sheet_says_what_the_page_says_within_what_is_printed(tmp_path: Path, kind: str) -> None:
    with told(tmp_path) as ledger:
        agree(ledger, "blue", "The old tuners stay here " * 9, None, NOW)
        it = paper(ledger, "blue", kind, NOW)
    sheet = openpyxl.load_workbook(io.BytesIO(paper_bytes(it, shop().terms, date(2026, 10, 15), "A4"))).active
    assert sheet is not None
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
    words = " ".join(str(cell.value) for cell in cells)
    for heading in ("What was agreed, USD", "Agreed on the way", "Paid, USD"):
        assert heading in words
    for term in (*paper_terms(it, shop().terms), *it.agreed):
        assert term in words
    bold = [cell.value for cell in cells if cell.font.b and isinstance(cell.value, (int, float))]
    assert bold == [
        line.amount / 100 for line in (it.lines[-1], it.total) if line is not None and line.amount
    ]
    most = sum(WIDTHS)
    assert all(
        text_width(str(cell.value), cell.font.sz or 10) <= 7 * most for cell in cells if cell.column == 1
    )


def test_hostile_words_stay_words(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        jobs.book(ledger, booking(customer="<script>alert(1)</script> =cmd"), NOW)
        jobs.give_quote(ledger, "blue", offered(), NOW)
        jobs.accept(ledger, "blue", None, None, NOW)
        agree(ledger, "blue", "=HYPERLINK(1)", None, NOW)
        it = paper(ledger, "blue", "invoice", NOW)
    assert "<script" not in paper_html(it, shop().terms, "A4")
    book = openpyxl.load_workbook(io.BytesIO(paper_bytes(it, shop().terms, date(2026, 10, 15), "A4")))
    assert all(cell.data_type != "f" for sheet in book for row in sheet.iter_rows() for cell in row)


def test_papers_that_cannot_be_are_refused(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        jobs.book(ledger, booking(), NOW)
        jobs.book(ledger, booking("mine", "resale", ""), NOW)
        for job, kind in (
            ("blue", "invoice"),
            ("blue", "receipt"),
            ("mine", "claim-ticket"),
            ("mine", "invoice"),
            ("blue", "bill"),
        ):
            with pytest.raises(InputError):
                paper(ledger, job, kind, NOW)
        assert ledger.rows("SELECT * FROM invoice") == []


def test_what_was_agreed_on_the_way_stands_on_the_invoice(tmp_path: Path) -> None:
    with told(tmp_path) as ledger:
        agree(ledger, "blue", "The old nut comes back with it.", None, at("2026-10-08 09:00"))
        newer = jobs.give_quote(ledger, "blue", offered(25000), NOW)
        agree(ledger, "blue", "New frets too.", newer, at("2026-10-09 09:00"))
        assert paper(ledger, "blue", "invoice", NOW).agreed == (
            "Thu 8 Oct 2026: The old nut comes back with it.",
        )
        jobs.accept(ledger, "blue", newer, None, NOW)
        assert len(paper(ledger, "blue", "invoice", NOW).agreed) == 2
        assert [row.words for row in jobs.history(ledger, "blue").agreed][1] == "New frets too."
        for words, quote in (("  ", None), ("x", "2026-099")):
            with pytest.raises(InputError):
                agree(ledger, "blue", words, quote, NOW)


def test_photos_stay_where_they_lie_and_a_missing_one_is_told(tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    front, away = tmp_path / "photos" / "front.jpg", tmp_path.parent / f"{tmp_path.name}-away.jpg"
    for one in (front, away):
        one.write_bytes(b"x")
    with told(tmp_path) as ledger:
        winding = tmp_path / "photos" / ".." / "photos" / "front.jpg"
        assert add_photo(ledger, "blue", str(winding), NOW).photo == "photos/front.jpg"
        assert add_photo(ledger, "blue", str(away), NOW).photo == away.as_posix()
        assert [row.missing for row in jobs.history(ledger, "blue").photos] == [False, False]
        front.unlink()
        away.unlink()
        assert [row.missing for row in jobs.history(ledger, "blue").photos] == [True, True]
        with pytest.raises(InputError, match="no such photo"):
            add_photo(ledger, "blue", str(front), NOW)
        front.write_bytes(b"x")
        with pytest.raises(InputError, match="already"):
            add_photo(ledger, "blue", str(front), NOW)


def test_an_instrument_is_found_again_whoever_brings_it(tmp_path: Path) -> None:
    with told(tmp_path) as ledger:
        jobs.book(
            ledger,
            jobs.Booking("later", "commission", "", "guitar-solid", "USD", "B. Other", serial="s 123"),
            NOW,
        )
        jobs.book(ledger, jobs.Booking("none", "commission", "", "guitar-solid", "USD", "B. Other"), NOW)
        assert [job.id for job in show_instrument(ledger, "S123").jobs] == ["blue", "later"]
        for serial in ("S124", "", " "):
            with pytest.raises(InputError, match="no instrument"):
                show_instrument(ledger, serial)


def test_photos_and_agreements_are_erased_with_their_customer(tmp_path: Path) -> None:
    photo = tmp_path / "of-a-customer.jpg"
    photo.write_bytes(b"x")
    with told(tmp_path) as ledger:
        add_photo(ledger, "blue", str(photo), NOW)
        agree(ledger, "blue", "A. Customer wants it loud", None, NOW)
        paper(ledger, "blue", "invoice", NOW)
        jobs.move(ledger, "blue", "at-work", NOW)
        jobs.move(ledger, "blue", "ready", NOW)
        jobs.pay(ledger, "blue", "payment", 15000, NOW)
        jobs.move(ledger, "blue", "collected", NOW)
        erase_customer(ledger, "A. Customer", NOW)
    held = b"".join(path.read_bytes() for path in tmp_path.glob("ledger.sqlite*"))
    assert b"of-a-customer" not in held
    assert b"wants it loud" not in held
    with Ledger(tmp_path / "ledger.sqlite") as ledger:
        assert paper(ledger, "blue", "invoice", NOW).number == "I2026-001"


def test_the_commands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    told(tmp_path).close()
    (tmp_path / "front.jpg").write_bytes(b"x")
    for line in (
        "photo blue front.jpg",
        "agree blue words",
        "instrument S123",
        "show blue",
        "paper blue invoice --page i.html -o i.xlsx",
        "paper blue receipt --page r.html --json",
    ):
        assert run(["ledger", *line.split()]) == 0
        assert capsys.readouterr().out.strip()
    assert {"i.html", "i.xlsx", "r.html"} <= {path.name for path in tmp_path.iterdir()}
    for line in (
        "photo blue none.jpg",
        "agree blue x --quote 1",
        "instrument none",
        "paper blue invoice",
        "paper blue invoice --page i.html",
        "paper blue bill --page b.html",
        "paper x invoice --page x.html",
        "paper blue invoice --page i.pdf",
    ):
        assert run(["ledger", *line.split()]) == 2
        assert "next: " in capsys.readouterr().err
