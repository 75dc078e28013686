"""The Costing sheet: every row of work with its minutes and money, and what they rest on.

Every figure that follows from others is a formula with its value. A quantity of zero drops a row;
a deleted one is missed when the book is read back. Columns and results are named, so that formulas read as sentences.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.choose.study import Study
from estimator.core.amounts import Cents
from estimator.core.cell_text import Value, a1
from estimator.core.money import amount
from estimator.core.text import sentence_case
from estimator.model import Estimate
from estimator.report.record import columns
from estimator.report.records.work import LineOfWork, Work
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.columns import Column, Columns, name_columns, write_heads, write_row
from estimator.workbook.write.customer_page import id_words
from estimator.workbook.write.rows import CostRow, rework_material, rework_minutes
from estimator.workbook.write.style import MINUTES as MINUTES_FORMAT

SHEET = "Costing"


FINE = '#,##0.0000;-#,##0.0000;"–"'
MOST = 100_000
SMALL = {"font_size": 9}
INDENT = {"indent": 1}


def _used(kind: str) -> str:
    """The formula of the money that a row uses up of one kind."""
    return f'=ROUND(SUMIFS(wear_money,wear_row,{{NO}},wear_kind,"{kind}"),2)'


class Col(Columns):
    """Columns of the sheet; those from EACH on stand beyond the printed page and say what the row rests on."""

    KEY = Column("Key", 10)
    NO = Column("No.", 4, "count", named="row")
    WORK = Column("Work", 42, "wrap", look=SMALL)
    PLACE = Column("Place", 11, "soft-wrap")
    QUANTITY = Column("Quantity", 9, "quantity", most=MOST, named="quantity")
    UNIT = Column("Unit", 10, look=INDENT)
    MINUTES = Column(
        "Minutes", 9, "minutes", "=IF({QUANTITY}>0,{QUANTITY}*{EACH}+{EXTRA}+{AGAIN},0)", named="minutes"
    )
    LABOUR = Column("Labour", 9, "money", "=ROUND({MINUTES}*in_wage/60,2)", named="labour")
    OVERHEAD = Column("Overhead", 9, "money", "=ROUND({MINUTES}*in_overhead/60,2)", named="overhead")
    HELD = Column("Minutes held", 8, "minutes", "={REWORK}+{FAULTS}")
    RESERVE = Column(
        "Reserve",
        9,
        "money",
        "=ROUND({HELD}*(in_wage+in_overhead)/60,2)+ROUND({MATERIAL},2)",
        named="reserve",
    )
    CONSUMABLES = Column("Consum- ables", 9, "money", _used("wear"), named="consumables")
    TOOLS = Column("Tools", 8, "money", _used("tool"), named="tools")
    PARTS = Column("Parts used", 9, "money", _used("part"), named="parts")
    COST = Column(
        "Cost", 10, "money", "=ROUND({LABOUR}+{OVERHEAD}+{RESERVE}+{CONSUMABLES}+{TOOLS}+{PARTS},2)"
    )
    BETWEEN = Column("", 3)
    EACH = Column("Minutes per unit", 9, "minutes", most=MOST)
    EXTRA = Column("Minutes extra", 8, "minutes", most=MOST)
    AGAIN = Column("Set up again, minutes", 9, "minutes", most=MOST)
    EACH_SD = Column("Spread per unit", 9, "minutes", most=MOST)
    SD = Column("Spread, minutes", 9, "minutes", "={QUANTITY}*{EACH_SD}", named="sd")
    CHANCE = Column("Chance of rework", 9, "percent", most=1)
    SHARE = Column("Share repeated", 9, "factor", most=10)
    REWORK = Column("Rework, minutes", 9, "quantity", named="rework", look={"num_format": MINUTES_FORMAT})
    REWORK_SD = Column("Spread of rework", 9, "minutes", named="rework_sd")
    FAULTS = Column("Hidden faults, minutes", 9, "minutes", "={MINUTES}*in_hidden_faults", named="faults")
    MATERIAL = Column("Spoiled material", 10, "quantity", look={"num_format": FINE})
    PARTS_PRICE = Column("Price of parts used", 9, "money", named="parts_price")
    LET_OFF = Column("Let off for the batch", 9, "money", named="let_off")
    WARRANTY = Column("Warranty besides", 9, "money", named="warranty")
    WAIT = Column("Wait, minutes", 9, "minutes", named="wait")
    BECAUSE = Column("Because", 46)


LAST = Col.COST
#: columns of what a customer is charged
CHARGED = (Col.PARTS_PRICE, Col.LET_OFF, Col.WARRANTY)
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
            (*Col.widths(), *(TOLD_WIDTH for _ in TOLD)),
            landscape=True,
            hidden_columns=(Col.KEY,),
            footer=footer,
            repeat=(3, 3),
            print_last_column=LAST,
            freeze=(4, Col.WORK + 1),
        )
    )
    words = (
        "rates stand on the sheet Inputs; blue figures may be changed; quantity 0 drops a row; columns to the right "
        "say what each row rests on"
    )
    sheet.headline(f"Costing  ·  {study.job.id}", f"{study.job.what}  ·  {words}", Col.NO, LAST)
    shown = [c for c in Col if c is not Col.BETWEEN and (study.job.for_customer or c not in CHARGED)]
    write_heads(sheet, 3, shown)
    for column, figure in enumerate(TOLD, Col.BECAUSE + 1):
        sheet.head(3, column, sentence_case(figure.head))
    sheet.tall(3, 26)
    sheet.rule(3, Col.NO, LAST, "ink")
    sheet.rule(3, Col.EACH, Col.BECAUSE + len(TOLD), "ink")
    billed = [row for row in rows if not row.desk]
    first = at = 4
    for row in billed:
        _work_row(sheet, at, row, study, estimate)
        at += 1
    at = _column_totals(sheet, first, at, estimate)
    name_columns(book, sheet, "work", first, at - 2, shown)
    return sheet


def _work_row(sheet: Sheet, at: int, row: CostRow, study: Study, estimate: Estimate) -> None:
    costing, line, money = study.costing, row.line, row.line.money
    rework, material = _rework_formulas(row, estimate)
    # the odds of a row strike once, or once for each whole unit begun
    chances = "ROUNDUP({QUANTITY},0)" if row.chances_each else "1"
    values: dict[Col, Value | tuple[str, Value]] = {
        Col.KEY: row.key,
        Col.NO: row.number,
        Col.WORK: work_words(row),
        Col.PLACE: row.place.replace("-", " "),
        Col.QUANTITY: row.quantity,
        Col.UNIT: "sitting" if row.setup else row.task.driver,
        Col.MINUTES: row.minutes,
        Col.LABOUR: amount(money.labour),
        Col.OVERHEAD: amount(money.overhead),
        Col.HELD: rework_minutes(row, costing) + row.fault_min,
        Col.RESERVE: amount(money.reserve),
        Col.CONSUMABLES: amount(money.consumables),
        Col.TOOLS: amount(money.tools),
        Col.PARTS: amount(money.parts),
        Col.COST: amount(money.cost),
        Col.EACH: row.each_min,
        Col.EXTRA: row.extra,
        Col.AGAIN: row.again,
        Col.EACH_SD: row.each_sd,
        Col.SD: row.sd,
        Col.CHANCE: row.chance,
        Col.SHARE: row.share,
        Col.REWORK: (rework, rework_minutes(row, costing)) if rework else 0,
        Col.REWORK_SD: (
            f"=ROUND({{REWORK}},2)*SQRT((1-{{CHANCE}})/MAX({{CHANCE}}*{chances},0.000001))",
            line.rework_sd,
        ),
        Col.FAULTS: row.fault_min,
        Col.MATERIAL: (material, rework_material(row, costing)) if material else 0,
        Col.WAIT: Decimal(line.wait) / 100,
        Col.BECAUSE: "; ".join(row.because),
    }
    write_row(sheet, at, values)
    if study.job.for_customer:
        write_row(sheet, at, _charged(row, study))
    told = LineOfWork(line, row.task.driver)
    for column, figure in enumerate(TOLD, Col.BECAUSE + 1):
        sheet.text(at, column, figure.read(told), "soft")
    sheet.rule(at, Col.NO, LAST)


def work_words(row: CostRow) -> str:
    """A row of work in plain words: the task's name and what is done, or that it is set up."""
    name = id_words(row.task.id)
    return f"{name}: set up" if row.setup else f"{name}: {row.task.told}"


def _charged(row: CostRow, study: Study) -> dict[Col, tuple[str, Value]]:
    """What a customer is charged for the row besides its minutes, and let off."""
    money, shop = row.line.money, study.shop
    charged: dict[Col, tuple[str, Value]] = {
        Col.PARTS_PRICE: (marked_up_formula("{PARTS}", study), amount(money.price_parts))
    }
    if row.let_off:
        formula = f"=-ROUND({{MINUTES}}*{float(row.let_off):.15g}*in_charge/60,2)"
        charged[Col.LET_OFF] = formula, amount(money.price_work - row.line.warranty)
    if row.task.id in shop.resale.warranty:
        held = "{HELD}" if shop.terms.faults_priced else "{REWORK}"
        share = f"MAX(0,{shop.resale.warranty[row.task.id]:f}-in_labour_reserve)"
        formula = f"=ROUND(({{MINUTES}}+{held})*{share}*in_charge/60,2)"
        charged[Col.WARRANTY] = formula, amount(row.line.warranty)
    return charged


def _rework_formulas(row: CostRow, estimate: Estimate) -> tuple[str, str]:
    """Formulas for the minutes and the material that rework is expected to take; see ``estimate.rework``."""
    some, share = "=IF({QUANTITY}>0,{CHANCE}", "{SHARE}"
    count = "*{QUANTITY}" if row.counted else ""
    kind = row.task.rework_kind
    if row.setup:
        return "", ""
    if kind in ("q", "r", "s"):
        minutes = "={CHANCE}*{SHARE}*({MINUTES}-IF({QUANTITY}>0,{AGAIN},0))"
        if kind == "r":
            return minutes, '={CHANCE}*{SHARE}*SUMIFS(wear_money,wear_row,{NO},wear_kind,"wear")'
        if kind == "s":
            return (
                f"{minutes}+{some[1:]}{count}*in_spoil_min,0)",
                f"{some}{count}*{_spoiled(row, estimate)},0)",
            )
        return minutes, ""
    if kind == "d":
        return f"{some}{count}*{share}*in_damage_min,0)", ""
    if kind == "x":
        return f"{some}*{share}*in_serious_min,0)", f"{some}*{share}*in_serious_cost,0)"
    return f"{some}*in_client_min,0)", ""


def _spoiled(row: CostRow, estimate: Estimate) -> str:
    """The price of the part that rework spoils: the part's own row where it is bought, else its price."""
    for number, part in enumerate(estimate.parts, start=1):
        if (
            part.upgrade in row.spoiled_by
            and part.owner != "customer"
            and amount(part.unit_cost) == row.spoiled
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

    def rounded(column: Col) -> str:
        return f"ROUND({a1(first, column)}:{a1(at, column)},2)"

    sheet.end_rows(at, Col.NO, LAST)
    money, totals = estimate.totals.money, estimate.totals
    sold = money.parts - sum((part.cost for part in estimate.parts), Cents(0))
    sheet.text(at + 1, Col.WORK, "Work in all", "bold")
    for column, listed, minutes in (
        (Col.MINUTES, rounded(Col.MINUTES), totals.attended),
        (Col.HELD, f"{rounded(Col.REWORK)}+{rounded(Col.FAULTS)}", totals.reserve_min),
    ):
        sheet.formula(at + 1, column, f"=SUMPRODUCT({listed})", Decimal(minutes) / 100, "minutes-bold")
    for column, cents in (
        (Col.LABOUR, money.labour),
        (Col.OVERHEAD, money.overhead),
        (Col.RESERVE, money.reserve),
        (Col.CONSUMABLES, money.consumables),
        (Col.TOOLS, money.tools),
        (Col.PARTS, sold),
        (Col.COST, money.cost - money.parts + sold),
    ):
        summed = f"=ROUND(SUM({a1(first, column)}:{a1(at, column)}),2)"
        sheet.formula(at + 1, column, summed, amount(cents), "money-bold")
    return at + 2
