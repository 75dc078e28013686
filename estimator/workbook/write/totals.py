"""The totals and the price of the Price sheet: live formulas, each result named ``out_...``."""

from __future__ import annotations

from decimal import Decimal

from estimator.choose.study import Study
from estimator.core.amounts import Cents, Hundredths
from estimator.core.cell_text import Value
from estimator.core.money import amount
from estimator.estimate.commission import Price
from estimator.estimate.three_point import FAULT_VARIANCE, z_of
from estimator.model import Estimate
from estimator.model.priced import Totals
from estimator.price.client.quote import dues_of
from estimator.tables.cells import plain as number_words
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.style import money_format, sign_known

LABEL, NOTE, VALUE, LAST = 2, 3, 9, 9
TotalLine = tuple[str, str, str, Value, str, str]


def _hundredths(minutes: Hundredths) -> Decimal:
    return Decimal(minutes) / 100


FAULTS = "SUMPRODUCT(ROUND(work_faults,2))"


def _lines_without_faults(totals: Totals) -> list[TotalLine]:
    """Where a price does not hold hidden faults: what is expected without them."""
    rework = "SUMPRODUCT(ROUND(work_rework,2))"
    return [
        (
            "out_quoted_mean",
            "Expected without hidden faults",
            f"=ROUND(out_attended+{rework},2)",
            _hundredths(totals.quoted_mean),
            "minutes",
            "these are quoted again when found",
        ),
        (
            "out_quoted_sd",
            "Spread without hidden faults",
            f"=SQRT(MAX(0,out_sd*out_sd-{FAULT_VARIANCE:g}*{FAULTS}*{FAULTS}))",
            totals.quoted_sd,
            "minutes",
            "",
        ),
    ]


def _spread_lines(totals: Totals, z_80: float) -> list[TotalLine]:
    """What is expected, how far it spreads, and what is enough in 80 of 100 such jobs."""
    return [
        (
            "out_attended",
            "Hands-on minutes",
            "=SUMPRODUCT(ROUND(work_minutes,2))",
            _hundredths(totals.attended),
            "minutes",
            "means of all rows",
        ),
        (
            "out_reserve_min",
            "Held for rework and hidden faults",
            "=SUMPRODUCT(ROUND(work_rework,2)+ROUND(work_faults,2))",
            _hundredths(totals.reserve_min),
            "minutes",
            "",
        ),
        (
            "out_expected",
            "Expected minutes",
            "=ROUND(out_attended+out_reserve_min,2)",
            _hundredths(totals.expected),
            "minutes-bold",
            "",
        ),
        (
            "out_sd",
            "Spread of the whole",
            "=SQRT((1-in_shared_cause)*SUMPRODUCT(work_sd*work_sd)+in_shared_cause*SUM(work_sd)*SUM(work_sd)"
            f"+SUMPRODUCT(work_rework_sd*work_rework_sd)+{FAULT_VARIANCE:g}*{FAULTS}*{FAULTS})",
            totals.sd,
            "minutes",
            "times joined by their shared cause, rework, hidden faults",
        ),
        (
            "out_p80",
            "Enough in 80 of 100 such jobs",
            f"=ROUND(out_expected+{z_80}*out_sd,2)",
            _hundredths(totals.p80),
            "minutes",
            "",
        ),
    ]


def minute_lines(study: Study, estimate: Estimate) -> list[TotalLine]:
    """Hands-on minutes, what is held, the spread, and the minutes quoted: (name, label, formula, value, ...)."""
    totals = estimate.totals
    terms, priced = study.shop.terms, study.shop.terms.faults_priced
    mean, sd = ("out_expected", "out_sd") if priced else ("out_quoted_mean", "out_quoted_sd")
    at_surety = f"ROUND({mean}+in_z*{sd},2)"
    small = bool(study.costing.large_from)
    passage = f"IF(in_large_quote>0,MIN({at_surety},ROUND(2*{mean}-in_large_quote*60,2)),{at_surety})"
    quoted = f"=IF({mean}<in_large_quote*60,{mean},{passage})" if small else f"={at_surety}"
    surety, z_80 = number_words(totals.surety), z_of(Decimal(80), terms.skew)
    return [
        *_spread_lines(totals, z_80),
        *([] if priced else _lines_without_faults(totals)),
        (
            "out_surety_min",
            "Minutes quoted",
            quoted,
            _hundredths(totals.surety_min),
            "minutes-bold",
            "a small quote is held at its mean"
            if totals.at_mean
            else "between the mean and the surety: just above the size of a large quote"
            if totals.between
            else f"enough in {surety} of 100 such jobs, as the rates stand",
        ),
        (
            "out_unattended",
            "Waiting (glue, paint, rest)",
            "=SUMPRODUCT((work_quantity>0)*work_wait)+SUM(desk_wait)",
            _hundredths(totals.unattended),
            "minutes",
            "by itself; other work goes on",
        ),
        (
            "out_desk",
            "Desk minutes, not billed",
            "=SUMPRODUCT(ROUND(desk_minutes,2))",
            _hundredths(totals.desk),
            "minutes",
            "",
        ),
    ]


def cost_lines(estimate: Estimate) -> list[TotalLine]:
    """What the work costs the shop, by heading."""
    money = estimate.totals.money
    summed = "out_parts+out_consumables+out_tools+out_labour+out_overhead+out_reserve"
    return [
        (
            "out_parts",
            "Parts, with those used in the work",
            "=ROUND(SUM(part_cost)+SUM(work_parts),2)",
            amount(money.parts),
            "money",
            "",
        ),
        (
            "out_consumables",
            "Consumables, by use",
            "=ROUND(SUM(work_consumables),2)",
            amount(money.consumables),
            "money",
            "share of packs; whole packs stand on the buying list",
        ),
        ("out_tools", "Wear of tools", "=ROUND(SUM(work_tools),2)", amount(money.tools), "money", ""),
        ("out_labour", "Labour", "=ROUND(SUM(work_labour),2)", amount(money.labour), "money", ""),
        ("out_overhead", "Overhead", "=ROUND(SUM(work_overhead),2)", amount(money.overhead), "money", ""),
        (
            "out_reserve",
            "Reserve",
            "=ROUND(SUM(work_reserve),2)",
            amount(money.reserve),
            "money",
            "for rework and hidden faults",
        ),
        ("out_cost", "Cost to the shop", f"=ROUND({summed},2)", amount(money.cost), "money-bold", ""),
    ]


def _more_lines(study: Study, estimate: Estimate, price: Price) -> list[TotalLine]:
    """What a price holds only in some jobs: own parts, a shared set-up, warranty by kind of work."""
    setting = study.costing.setting
    fitting = sum((part.fitting for part in estimate.parts), Cents(0))
    more: list[TotalLine] = []
    if any(part.owner == "customer" for part in estimate.parts):
        more.append(
            (
                "out_fitting",
                "Fitting the customer's own parts",
                "=ROUND(SUM(part_fitting),2)",
                amount(fitting),
                "money",
                "more labour",
            )
        )
    if setting.batch > 1:
        more.append(
            (
                "out_batch",
                "Set-ups shared by the batch",
                "=ROUND(SUM(work_let_off),2)",
                amount(price.more_work - fitting - estimate.warranty),
                "money",
                "what the customer is let off",
            )
        )
    if any(line.task in study.shop.resale.warranty for line in estimate.lines):
        more.append(
            (
                "out_warranty",
                "Warranty reserve by kind of work",
                "=ROUND(SUM(work_warranty),2)",
                amount(estimate.warranty),
                "money",
                "fret and finish work: more of it comes back",
            )
        )
    return more


def _billed_lines(price: Price) -> list[TotalLine]:
    """What every price holds: labour billed, warranty, the materials fee, parts."""
    return [
        (
            "out_billed",
            "Minutes billed",
            "=in_billing_unit*ROUNDUP(ROUND(out_surety_min/in_billing_unit,6),0)",
            _hundredths(price.billed_min),
            "minutes",
            "minutes quoted, rounded up to the billing unit",
        ),
        (
            "out_billed_labour",
            "Labour at the charged rate",
            "=ROUND(out_billed*in_charge/60,2)",
            amount(price.labour),
            "money",
            "",
        ),
        (
            "out_labour_reserve",
            "Warranty reserve",
            "=ROUND(out_billed_labour*in_labour_reserve,2)",
            amount(price.reserve),
            "money",
            "",
        ),
        (
            "out_fee",
            "Materials fee",
            "=IF(out_billed>0,MIN(IF(out_consumables>in_fee_most,out_consumables,"
            "ROUND(MIN(MAX(out_billed_labour*in_fee_share,in_fee_least),in_fee_most),2)),"
            "IF(in_large_quote>0,ROUND(MAX(out_consumables-ROUND(in_fee_most,2),0)"
            "+MAX(out_billed_labour-ROUND(in_billing_unit*ROUNDUP(ROUND(in_large_quote*60/in_billing_unit,6),0)*in_charge/60,2),0),2),1000000000)),0)",
            amount(price.fee),
            "money",
            "" if price.fee else "a small quote bears none",
        ),
        (
            "out_price_parts",
            "Parts at their price",
            "=ROUND(SUM(part_price)+SUM(work_parts_price),2)",
            amount(price.parts),
            "money",
            "",
        ),
    ]


def price_lines(study: Study, estimate: Estimate) -> list[TotalLine]:
    """The steps of the price, as ``estimate.commission`` takes them."""
    totals, terms, costing = estimate.totals, study.shop.terms, study.costing
    money = totals.money
    price = costing.price(totals.surety_min, money)
    plain, dues = price.price - price.rush, dues_of(study, estimate, price)
    shown = "" if sign_known(terms.currency) else terms.currency
    more = _more_lines(study, estimate, price)
    summed = "+".join(
        ["out_billed_labour+out_labour_reserve+out_fee+out_price_parts", *(line[0] for line in more)]
    )
    credit: list[TotalLine] = []
    if study.job.settings.get("bench_fee_paid") == "yes":
        paid = "=MIN(out_to_pay,ROUND(in_bench_fee,2))"
        credit.append(("out_credit", "Bench fee already paid", paid, amount(dues.credit), "money", ""))
    left = "out_to_pay-out_credit" if credit else "out_to_pay"
    return [
        *_billed_lines(price),
        *more,
        (
            "out_plain",
            "Together, at least the least charge",
            f"=MAX(ROUND(in_minimum,2),ROUND({summed},2))",
            amount(plain),
            "money",
            "",
        ),
        ("out_rush", "Rush", "=ROUND(out_price-out_plain,2)", amount(price.rush), "money", ""),
        (
            "out_price",
            "Price before tax",
            "=ROUND(out_plain*in_rush,2)",
            amount(price.price),
            "money-bold",
            "",
        ),
        ("out_tax", "Tax", tax_formula(), amount(price.tax), "money", ""),
        ("out_to_pay", "To pay", "=ROUND(out_price+out_tax,2)", amount(price.to_pay), "total", shown),
        *credit,
        (
            "out_deposit",
            "Deposit",
            f"=MIN(ROUND({left},2),ROUND(SUMPRODUCT(ROUND(buy_pieces*part_unit_price,2))+"
            "ROUND(MAX(out_billed_labour-in_deposit_over,0)*in_deposit_share,2),2))",
            amount(dues.deposit),
            "money",
            "ordered parts, and a share of the labour",
        ),
        (
            "out_margin",
            "Price less cost",
            "=ROUND(out_price-out_cost,2)",
            amount(price.price - money.cost),
            "money",
            "what is left for profit",
        ),
    ]


def tax_formula() -> str:
    """Tax rounded once for the whole, or on each line as the customer's page lists them."""
    work = "out_price-out_price_parts-out_fee-out_rush"
    lines = (
        "SUMPRODUCT(ROUND(part_price*in_tax_parts,2))",
        "SUMPRODUCT(ROUND(work_parts_price*in_tax_parts,2))",
        f"ROUND(ROUND({work},2)*in_tax_labour,2)",
        "ROUND(out_fee*in_tax_labour,2)",
        "ROUND(out_rush*in_tax_labour,2)",
    )
    whole = "ROUND(out_price_parts*in_tax_parts+ROUND(out_price-out_price_parts,2)*in_tax_labour,2)"
    return f'=IF(in_tax_per="line",ROUND({"+".join(lines)},2),{whole})'


def write_totals(book: Book, sheet: Sheet, at: int, study: Study, estimate: Estimate) -> int:
    """Write minutes, cost and what a customer pays, if there is one; returns the row below."""
    total = {"num_format": money_format(study.shop.terms.currency), "font_size": 12}
    blocks = [("Minutes", minute_lines(study, estimate)), ("Cost", cost_lines(estimate))]
    if study.job.for_customer:
        blocks.append(("Price", price_lines(study, estimate)))
    for heading, lines in blocks:
        sheet.text(at, 1, heading, "section")
        sheet.rule(at, 1, LAST, "ink")
        at += 1
        for name, label, formula, value, style, note in lines:
            bold = style.endswith("bold") or style == "total"
            sheet.text(at, LABEL, label, "bold" if bold else "text")
            if style == "total":
                sheet.formula(at, VALUE, formula, value, "money-bold", **total)
            else:
                sheet.formula(at, VALUE, formula, value, style)
            if note:
                sheet.text(at, NOTE, note, "soft")
            book.name(name, sheet, at, VALUE)
            at += 1
        at += 1
    return at
