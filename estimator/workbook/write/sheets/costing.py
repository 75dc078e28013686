"""The Costing sheet: every row of work with its minutes and money, and what they rest on.

Every figure that follows from others is a formula with its value. A quantity of zero drops a row;
a deleted one is missed when the book is read back. Columns and results are named, so that formulas read as sentences.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.choose.study import Study
from estimator.core.amounts import Cents
from estimator.core.cell_text import a1
from estimator.core.text import sentence_case
from estimator.model import Estimate
from estimator.report.record import columns
from estimator.report.records.work import LineOfWork, Work
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import id_words
from estimator.workbook.write.rows import CostRow, rework_material, rework_minutes
from estimator.workbook.write.style import MINUTES as MINUTES_FORMAT

SHEET = "Costing"
#: key, number, work, place, quantity, unit, minutes, labour, overhead, held, reserve, consumables, tools, parts, cost
WIDTHS = (10, 4, 42, 11, 9, 10, 9, 9, 9, 8, 9, 9, 8, 9, 10)
#: beyond the printed page: what the row rests on
MORE = (3, 9, 8, 9, 9, 9, 9, 9, 9, 9, 9, 10, 9, 9, 9, 9, 46)
LAST = len(WIDTHS) - 1
(
    KEY,
    NO,
    WORK,
    PLACE,
    QUANTITY,
    UNIT,
    MINUTES,
    LABOUR,
    OVERHEAD,
    HELD,
    RESERVE,
    CONSUMABLES,
    TOOLS,
    PARTS,
    COST,
) = range(15)
(
    EACH,
    EXTRA,
    AGAIN,
    EACH_SD,
    SD,
    CHANCE,
    SHARE,
    REWORK,
    REWORK_SD,
    FAULTS,
    MATERIAL,
    PARTS_PRICE,
    LET_OFF,
    WARRANTY,
    WAIT,
    BECAUSE,
) = range(16, 32)
HEADS = {
    KEY: "Key",
    NO: "No.",
    WORK: "Work",
    PLACE: "Place",
    QUANTITY: "Quantity",
    UNIT: "Unit",
    MINUTES: "Minutes",
    LABOUR: "Labour",
    OVERHEAD: "Overhead",
    HELD: "Minutes held",
    RESERVE: "Reserve",
    CONSUMABLES: "Consum- ables",
    TOOLS: "Tools",
    PARTS: "Parts used",
    COST: "Cost",
    EACH: "Minutes per unit",
    EXTRA: "Minutes extra",
    AGAIN: "Set up again, minutes",
    EACH_SD: "Spread per unit",
    SD: "Spread, minutes",
    CHANCE: "Chance of rework",
    SHARE: "Share repeated",
    REWORK: "Rework, minutes",
    REWORK_SD: "Spread of rework",
    FAULTS: "Hidden faults, minutes",
    MATERIAL: "Spoiled material",
    PARTS_PRICE: "Price of parts used",
    LET_OFF: "Let off for the batch",
    WARRANTY: "Warranty besides",
    WAIT: "Wait, minutes",
    BECAUSE: "Because",
}
#: columns of what a customer is charged
CHARGED = (PARTS_PRICE, LET_OFF, WARRANTY)
LEFT = (KEY, NO, WORK, PLACE, UNIT, BECAUSE)
FINE = '#,##0.0000;-#,##0.0000;"–"'
#: figures of the record of a line that have columns of their own here, where they are reckoned
RECKONED = ("quantity", "unit", "minutes", "cost")
#: what the record of a line tells besides, as it stands
TOLD = tuple(figure for figure in columns(Work) if figure.name not in RECKONED)
TOLD_WIDTH = 12


def write_costing(
    book: Book, study: Study, estimate: Estimate, rows: Sequence[CostRow], footer: str
) -> Sheet:
    """Write the sheet; its columns are named ``work_...``."""
    sheet = book.sheet(
        Sheet(
            SHEET,
            (*WIDTHS, *MORE, *(TOLD_WIDTH for _ in TOLD)),
            landscape=True,
            hidden_columns=(KEY,),
            footer=footer,
            repeat=(3, 3),
            print_last_column=LAST,
            freeze=(4, WORK + 1),
        )
    )
    sheet.text(0, NO, f"Costing  ·  {study.job.id}", "title")
    sheet.text(
        1,
        NO,
        f"{study.job.what}  ·  rates stand on the sheet Inputs; blue figures may be changed; quantity 0 drops a "
        "row; columns to the right say what each row rests on",
        "soft",
    )
    sheet.rule(1, NO, LAST, "heavy")
    heads = HEADS if study.job.for_customer else {c: h for c, h in HEADS.items() if c not in CHARGED}
    for column, head in heads.items():
        indent = {"indent": 1} if column == UNIT else {}
        sheet.text(3, column, head, "head" if column in LEFT else "head-right", **indent)
    for column, figure in enumerate(TOLD, BECAUSE + 1):
        sheet.text(3, column, sentence_case(figure.head), "head")
    sheet.tall(3, 26)
    sheet.rule(3, NO, LAST, "ink")
    sheet.rule(3, EACH, BECAUSE + len(TOLD), "ink")
    billed = [row for row in rows if not row.desk]
    first = at = 4
    for row in billed:
        _work_row(sheet, at, row, study, estimate)
        at += 1
    at = _column_totals(sheet, first, at, estimate)
    _name_columns(book, sheet, first, at - 2, study.job.for_customer)
    return sheet


def _name_columns(book: Book, sheet: Sheet, first: int, last: int, priced: bool) -> None:
    for name, column in {
        "row": NO,
        "quantity": QUANTITY,
        "minutes": MINUTES,
        "labour": LABOUR,
        "overhead": OVERHEAD,
        "reserve": RESERVE,
        "consumables": CONSUMABLES,
        "tools": TOOLS,
        "parts": PARTS,
        "sd": SD,
        "rework": REWORK,
        "rework_sd": REWORK_SD,
        "faults": FAULTS,
        "parts_price": PARTS_PRICE,
        "let_off": LET_OFF,
        "warranty": WARRANTY,
        "wait": WAIT,
    }.items():
        if priced or column not in CHARGED:
            book.name(f"work_{name}", sheet, first, column, last)


def _work_row(sheet: Sheet, at: int, row: CostRow, study: Study, estimate: Estimate) -> None:
    def cell(column: int) -> str:
        return a1(at, column)

    costing, money = study.costing, row.line.money
    sheet.text(at, KEY, row.key, "soft")
    sheet.number(at, NO, row.number, "count")
    sheet.text(at, WORK, work_words(row), "wrap", font_size=9)
    sheet.text(at, PLACE, row.place.replace("-", " "), "soft-wrap")
    sheet.input(at, QUANTITY, row.quantity, "quantity", Decimal(0), Decimal(100_000))
    sheet.text(at, UNIT, "sitting" if row.setup else row.task.driver, "soft", indent=1)
    some = f"IF({cell(QUANTITY)}>0"
    sheet.formula(
        at,
        MINUTES,
        f"={some},{cell(QUANTITY)}*{cell(EACH)}+{cell(EXTRA)}+{cell(AGAIN)},0)",
        row.minutes,
        "minutes",
    )
    sheet.formula(at, LABOUR, f"=ROUND({cell(MINUTES)}*in_wage/60,2)", _amount(money.labour), "money")
    sheet.formula(at, OVERHEAD, f"=ROUND({cell(MINUTES)}*in_overhead/60,2)", _amount(money.overhead), "money")
    held = rework_minutes(row, costing) + row.fault_min
    sheet.formula(at, HELD, f"={cell(REWORK)}+{cell(FAULTS)}", held, "minutes")
    sheet.formula(
        at,
        RESERVE,
        f"=ROUND({cell(HELD)}*(in_wage+in_overhead)/60,2)+ROUND({cell(MATERIAL)},2)",
        _amount(money.reserve),
        "money",
    )
    for column, kind, cents in (
        (CONSUMABLES, "wear", money.consumables),
        (TOOLS, "tool", money.tools),
        (PARTS, "part", money.parts),
    ):
        sheet.formula(
            at,
            column,
            f'=ROUND(SUMIFS(wear_money,wear_row,{cell(NO)},wear_kind,"{kind}"),2)',
            _amount(cents),
            "money",
        )
    listed = "+".join(cell(c) for c in (LABOUR, OVERHEAD, RESERVE, CONSUMABLES, TOOLS, PARTS))
    sheet.formula(at, COST, f"=ROUND({listed},2)", _amount(money.cost), "money")
    _grounds(sheet, at, row, study, estimate)
    sheet.rule(at, NO, LAST)


def work_words(row: CostRow) -> str:
    """A row of work in plain words: the task's name and what is done, or that it is set up."""
    name = id_words(row.task.id)
    return f"{name}: set up" if row.setup else f"{name}: {row.task.told}"


def _grounds(sheet: Sheet, at: int, row: CostRow, study: Study, estimate: Estimate) -> None:
    """The columns to the right: what the minutes, the spread and the reserve of a row rest on."""

    def cell(column: int) -> str:
        return a1(at, column)

    high = Decimal(100_000)
    sheet.input(at, EACH, row.each_min, "minutes", Decimal(0), high)
    sheet.input(at, EXTRA, row.extra, "minutes", Decimal(0), high)
    sheet.input(at, AGAIN, row.again, "minutes", Decimal(0), high)
    sheet.input(at, EACH_SD, row.each_sd, "minutes", Decimal(0), high)
    sheet.formula(at, SD, f"={cell(QUANTITY)}*{cell(EACH_SD)}", row.sd, "minutes")
    sheet.input(at, CHANCE, row.chance, "percent", Decimal(0), Decimal(1))
    sheet.input(at, SHARE, row.share, "factor", Decimal(0), Decimal(10))
    minutes, material = _rework_formulas(at, row, estimate)
    _formula_or_zero(sheet, at, REWORK, minutes, rework_minutes(row, study.costing), MINUTES_FORMAT)
    # the odds of a row strike once, or once for each whole unit begun
    chances = f"ROUNDUP({cell(QUANTITY)},0)" if row.chances_each else "1"
    sheet.formula(
        at,
        REWORK_SD,
        f"=ROUND({cell(REWORK)},2)*SQRT((1-{cell(CHANCE)})/MAX({cell(CHANCE)}*{chances},0.000001))",
        row.line.rework_sd,
        "minutes",
    )
    sheet.formula(at, FAULTS, f"={cell(MINUTES)}*in_hidden_faults", row.fault_min, "minutes")
    _formula_or_zero(sheet, at, MATERIAL, material, rework_material(row, study.costing), FINE)
    if study.job.for_customer:
        _charged(sheet, at, row, study)
    sheet.number(at, WAIT, Decimal(row.line.wait) / 100, "minutes")
    sheet.text(at, BECAUSE, "; ".join(row.because), "soft")
    line = LineOfWork(row.line, row.task.driver)
    for column, figure in enumerate(TOLD, BECAUSE + 1):
        sheet.text(at, column, figure.read(line), "soft")


def _charged(sheet: Sheet, at: int, row: CostRow, study: Study) -> None:
    """What a customer is charged for the row besides its minutes, and let off."""

    def cell(column: int) -> str:
        return a1(at, column)

    sheet.formula(
        at, PARTS_PRICE, marked_up_formula(cell(PARTS), study), _amount(row.line.money.price_parts), "money"
    )
    if row.let_off:
        share = f"{float(row.let_off):.15g}"
        sheet.formula(
            at,
            LET_OFF,
            f"=-ROUND({cell(MINUTES)}*{share}*in_charge/60,2)",
            _amount(row.line.money.price_work - row.line.warranty),
            "money",
        )
    if row.task.id in study.shop.resale.warranty:
        held_share = study.shop.resale.warranty[row.task.id]
        held = HELD if study.shop.terms.faults_priced else REWORK
        sheet.formula(
            at,
            WARRANTY,
            f"=ROUND(({cell(MINUTES)}+{cell(held)})*MAX(0,{held_share:f}-in_labour_reserve)*in_charge/60,2)",
            _amount(row.line.warranty),
            "money",
        )


def _formula_or_zero(sheet: Sheet, at: int, column: int, formula: str, value: Decimal, shown_as: str) -> None:
    if formula:
        sheet.formula(at, column, formula, value, "quantity", num_format=shown_as)
    else:
        sheet.number(at, column, 0, "quantity", num_format=shown_as)


def _rework_formulas(at: int, row: CostRow, estimate: Estimate) -> tuple[str, str]:
    """Formulas for the minutes and the material that rework is expected to take; see ``estimate.rework``."""

    def cell(column: int) -> str:
        return a1(at, column)

    some, chance, share = f"=IF({cell(QUANTITY)}>0,", cell(CHANCE), cell(SHARE)
    count = f"*{cell(QUANTITY)}" if row.counted else ""
    kind = row.task.rework_kind
    if row.setup:
        return "", ""
    if kind in ("q", "r", "s"):
        minutes = f"={chance}*{share}*({cell(MINUTES)}-IF({cell(QUANTITY)}>0,{cell(AGAIN)},0))"
        if kind == "r":
            wear = f'SUMIFS(wear_money,wear_row,{cell(NO)},wear_kind,"wear")'
            return minutes, f"={chance}*{share}*{wear}"
        if kind == "s":
            return minutes, f"{some}{chance}{count}*{_spoiled(row, estimate)},0)"
        return minutes, ""
    if kind == "d":
        return f"{some}{chance}{count}*{share}*in_damage_min,0)", ""
    if kind == "x":
        return f"{some}{chance}*{share}*in_serious_min,0)", f"{some}{chance}*{share}*in_serious_cost,0)"
    return f"{some}{chance}*in_client_min,0)", ""


def _spoiled(row: CostRow, estimate: Estimate) -> str:
    """The price of the part that rework spoils: the part's own row where it is bought, else its price."""
    for number, part in enumerate(estimate.parts, start=1):
        if (
            part.upgrade in row.spoiled_by
            and part.owner != "customer"
            and _amount(part.unit_cost) == row.spoiled
        ):
            return f"SUMIF(part_row,{number},part_each)"
    return f"{row.spoiled:f}"


def marked_up_formula(cost: str, study: Study) -> str:
    """The price of something that costs ``cost`` (a cell): its cost times the factor of its band."""
    nested = "1"
    for number, band in reversed(list(enumerate(study.shop.terms.markup, start=1))):
        nested = (
            f"in_factor{number}"
            if band.up_to is None
            else f"IF({cost}<=in_band{number},in_factor{number},{nested})"
        )
    return f"=ROUND({cost}*{nested},2)"


def _column_totals(sheet: Sheet, first: int, at: int, estimate: Estimate) -> int:
    """A thin spacer row that the sums end on, and the sums of the columns below it."""
    sheet.low(at, 5)
    sheet.rule(at, NO, LAST, "ink")
    money, totals = estimate.totals.money, estimate.totals
    sold = money.parts - sum((part.cost for part in estimate.parts), Cents(0))
    sheet.text(at + 1, WORK, "Work in all", "bold")
    sheet.formula(
        at + 1,
        MINUTES,
        f"=SUMPRODUCT(ROUND({a1(first, MINUTES)}:{a1(at, MINUTES)},2))",
        Decimal(totals.attended) / 100,
        "minutes-bold",
    )
    sheet.formula(
        at + 1,
        HELD,
        f"=SUMPRODUCT(ROUND({a1(first, REWORK)}:{a1(at, REWORK)},2)+ROUND({a1(first, FAULTS)}:{a1(at, FAULTS)},2))",
        Decimal(totals.reserve_min) / 100,
        "minutes-bold",
    )
    for column, cents in (
        (LABOUR, money.labour),
        (OVERHEAD, money.overhead),
        (RESERVE, money.reserve),
        (CONSUMABLES, money.consumables),
        (TOOLS, money.tools),
        (PARTS, sold),
        (COST, money.cost - money.parts + sold),
    ):
        sheet.formula(
            at + 1,
            column,
            f"=ROUND(SUM({a1(first, column)}:{a1(at, column)}),2)",
            _amount(cents),
            "money-bold",
        )
    return at + 2


def _amount(cents: Cents) -> Decimal:
    return Decimal(cents).scaleb(-2)
