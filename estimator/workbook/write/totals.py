"""The totals and the price of the Price sheet: live formulas, each result named ``out_...``.

Their order, labels, formulas and notes stand in ``totals.csv`` beside this file; here is what they come to, which of
them a job has, and what the ``{...}`` of a formula stand for.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from pathlib import Path

from estimator.choose.study import Study
from estimator.core.amounts import Cents, Hundredths
from estimator.core.cell_text import Value
from estimator.estimate.three_point import FAULT_VARIANCE, z_of
from estimator.model import Estimate
from estimator.price.client.quote import dues_of
from estimator.tables.cells import plain as number_words
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.style import money_format, sign_known

LABEL, NOTE, VALUE, LAST = 2, 3, 9, 9


@cache
def _lines() -> tuple[Mapping[str, str], ...]:
    """Every total that a job may have, in their order."""
    with Path(__file__).with_name("totals.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def _figures(study: Study, estimate: Estimate) -> dict[str, Hundredths | Cents | float]:
    """What each total of the job comes to: hundredths of a minute and whole cents, spreads in minutes."""
    totals, money = estimate.totals, estimate.totals.money
    figures: dict[str, Hundredths | Cents | float] = {
        "out_attended": totals.attended,
        "out_reserve_min": totals.reserve_min,
        "out_expected": totals.expected,
        "out_sd": totals.sd,
        "out_p80": totals.p80,
        "out_surety_min": totals.surety_min,
        "out_unattended": totals.unattended,
        "out_desk": totals.desk,
        "out_parts": money.parts,
        "out_consumables": money.consumables,
        "out_tools": money.tools,
        "out_labour": money.labour,
        "out_overhead": money.overhead,
        "out_reserve": money.reserve,
        "out_cost": money.cost,
    }
    if not study.shop.terms.faults_priced:
        figures |= {"out_quoted_mean": totals.quoted_mean, "out_quoted_sd": totals.quoted_sd}
    return figures | (_price_figures(study, estimate) if study.job.for_customer else {})


def _price_figures(study: Study, estimate: Estimate) -> dict[str, Hundredths | Cents | float]:
    """The steps of the price, as ``estimate.commission`` takes them; some only in jobs that have them."""
    costing, money = study.costing, estimate.totals.money
    price = costing.price(estimate.totals.surety_min, money)
    dues = dues_of(study, estimate, price)
    fitting = sum((part.fitting for part in estimate.parts), Cents(0))
    figures: dict[str, Hundredths | Cents | float] = {
        "out_billed": price.billed_min,
        "out_billed_labour": price.labour,
        "out_labour_reserve": price.reserve,
        "out_fee": price.fee,
        "out_price_parts": price.parts,
        "out_plain": price.price - price.rush,
        "out_rush": price.rush,
        "out_price": price.price,
        "out_tax": price.tax,
        "out_to_pay": price.to_pay,
        "out_deposit": dues.deposit,
        "out_margin": price.price - money.cost,
    }
    if any(part.owner == "customer" for part in estimate.parts):
        figures["out_fitting"] = fitting
    if costing.setting.batch > 1:
        figures["out_batch"] = price.more_work - fitting - estimate.warranty
    if any(line.task in study.shop.resale.warranty for line in estimate.lines):
        figures["out_warranty"] = estimate.warranty
    if study.job.terms.bench_fee_paid:
        figures["out_credit"] = dues.credit
    return figures


def _pieces(study: Study, figures: Mapping[str, object]) -> dict[str, object]:
    """What the ``{...}`` of the formulas stand for."""
    terms = study.shop.terms
    mean, sd = ("out_expected", "out_sd") if terms.faults_priced else ("out_quoted_mean", "out_quoted_sd")
    at_surety = f"ROUND({mean}+in_z*{sd},2)"
    passage = f"IF(in_large_quote>0,MIN({at_surety},ROUND(2*{mean}-in_large_quote*60,2)),{at_surety})"
    more = [name for name in ("out_fitting", "out_batch", "out_warranty") if name in figures]
    # tax is rounded once for the whole, or on each line as the customer's page lists them
    by_line = (
        "SUMPRODUCT(ROUND(part_price*in_tax_parts,2))",
        "SUMPRODUCT(ROUND(work_parts_price*in_tax_parts,2))",
        "ROUND(ROUND(out_price-out_price_parts-out_fee-out_rush,2)*in_tax_labour,2)",
        "ROUND(out_fee*in_tax_labour,2)",
        "ROUND(out_rush*in_tax_labour,2)",
    )
    return {
        "fault_variance": f"{FAULT_VARIANCE:g}",
        "faults": "SUMPRODUCT(ROUND(work_faults,2))",
        "z_80": z_of(Decimal(80), terms.skew),
        "quoted": f"IF({mean}<in_large_quote*60,{mean},{passage})" if study.costing.large_from else at_surety,
        "summed": "+".join(["out_billed_labour", "out_labour_reserve", "out_fee", "out_price_parts", *more]),
        "left": "out_to_pay-out_credit" if "out_credit" in figures else "out_to_pay",
        "tax_by_line": "+".join(by_line),
        "tax_of_whole": "ROUND(out_price_parts*in_tax_parts+ROUND(out_price-out_price_parts,2)*in_tax_labour,2)",
    }


def _notes(study: Study, estimate: Estimate, figures: Mapping[str, object]) -> dict[str, str]:
    """Notes that hang on the job."""
    totals, currency = estimate.totals, study.shop.terms.currency
    surety = (
        "a small quote is held at its mean"
        if totals.at_mean
        else "between the mean and the surety: just above the size of a large quote"
        if totals.between
        else f"enough in {number_words(totals.surety)} of 100 such jobs, as the rates stand"
    )
    return {
        "out_surety_min": surety,
        "out_fee": "" if figures.get("out_fee") else "a small quote bears none",
        "out_to_pay": "" if sign_known(currency) else currency,
    }


def write_totals(book: Book, sheet: Sheet, at: int, study: Study, estimate: Estimate) -> int:
    """Write minutes, cost and what a customer pays, if there is one; returns the row below."""
    figures = _figures(study, estimate)
    pieces, notes = _pieces(study, figures), _notes(study, estimate, figures)
    total = {"num_format": money_format(study.shop.terms.currency), "font_size": 12}
    block = ""
    for line in (each for each in _lines() if each["name"] in figures):
        name, style = line["name"], line["style"]
        if line["block"] != block:
            at += bool(block)
            block = line["block"]
            sheet.text(at, 1, block, "section")
            sheet.rule(at, 1, LAST, "ink")
            at += 1
        bold = style.endswith("bold") or style == "total"
        sheet.text(at, LABEL, line["label"], "bold" if bold else "text")
        shown, more = ("money-bold", total) if style == "total" else (style, {})
        sheet.formula(at, VALUE, line["formula"].format_map(pieces), _value(figures[name]), shown, **more)
        note = notes.get(name, line["note"])
        if note:
            sheet.text(at, NOTE, note, "soft")
        book.name(name, sheet, at, VALUE)
        at += 1
    return at + 1


def _value(figure: Hundredths | Cents | float) -> Value:
    """A total as it stands in its cell: hundredths as minutes, cents as money, a spread as it is."""
    return figure if isinstance(figure, float) else Decimal(figure) / 100
