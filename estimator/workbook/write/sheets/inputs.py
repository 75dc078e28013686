"""The Inputs sheet: the rates and shares a worker may change, each marked, limited and named ``in_...``."""

from __future__ import annotations

from decimal import Decimal

from msgspec import Struct

from estimator.choose.study import Study
from estimator.estimate.three_point import z_of
from estimator.model import Terms
from estimator.tables.cells import plain as number_words
from estimator.tables.schema.settings import limits_of
from estimator.workbook.write.cells import Book, Sheet

SHEET = "Inputs"
ONE = Decimal(1)
#: the setting of the shop that an input stands for, and whose limits it keeps
SETTING = {
    "in_billing_unit": "billing_unit_min",
    "in_shared_cause": "shared_cause",
    "in_spoil_min": "rework_spoil_min",
    "in_damage_min": "rework_damage_min",
    "in_serious_min": "rework_serious_min",
    "in_serious_cost": "rework_serious_cost",
    "in_client_min": "rework_client_min",
    "in_large_quote": "large_quote_hours",
    "in_minimum": "minimum_charge",
    "in_labour_reserve": "labour_reserve",
    "in_fee_share": "fee_share",
    "in_fee_least": "fee_least",
    "in_fee_most": "fee_most",
    "in_own_part_labour": "own_part_labour",
    "in_tax_parts": "tax_parts",
    "in_tax_labour": "tax_labour",
    "in_deposit_share": "deposit_labour_share",
    "in_deposit_over": "deposit_labour_over",
    "in_deposit_step": "deposit_step",
    "in_bench_fee": "bench_fee",
    "in_wage": "wage_per_hour",
    "in_overhead": "overhead_per_hour",
    "in_charge": "charge_per_hour",
    "in_rush": "rush",
    "in_hidden_faults": "hidden_fault_share",
}


class InputCell(Struct, frozen=True):
    """One input: its name in formulas, label, value, style, unit, limits and a remark."""

    name: str
    label: str
    value: Decimal
    style: str
    unit: str
    low: Decimal
    high: Decimal
    note: str = ""


def inputs_of(study: Study) -> list[tuple[str, list[InputCell]]]:
    """All inputs by heading, with the values that the estimate was made with."""
    inputs = [("Hours", _hours(study)), ("Held back", _held_back(study))]
    if study.job.for_customer:
        inputs += [("Mark-up on parts", _bands(study.shop.terms)), ("Price", _price(study))]
    return inputs


def _cell(name: str, label: str, value: Decimal, style: str, unit: str, note: str = "") -> InputCell:
    return InputCell(name, label, value, style, unit, *limits_of(SETTING[name]), note)


def _money(name: str, label: str, value: Decimal, unit: str, note: str = "") -> InputCell:
    return _cell(name, label, value, "money", unit, note)


def _share(name: str, label: str, value: Decimal, unit: str) -> InputCell:
    return _cell(name, label, value, "percent", unit)


def _minutes(name: str, label: str, value: Decimal) -> InputCell:
    return _cell(name, label, value, "minutes", "minutes")


def _hours(study: Study) -> list[InputCell]:
    """What an hour costs and what is charged for it."""
    terms, setting = study.shop.terms, study.costing.setting
    charge = study.job.terms.charge(terms)
    own = [
        _money("in_wage", "Pay", setting.wage, "per hour"),
        _money("in_overhead", "Overhead", setting.overhead, "per hour"),
    ]
    if not study.job.for_customer:
        return own
    return [
        *own,
        _money("in_charge", "Charged to a customer", charge, "per hour"),
        _minutes("in_billing_unit", "Billed time is rounded up to", terms.billing_unit_min),
    ]


def _held_back(study: Study) -> list[InputCell]:
    """What is held for faults, spread and rework."""
    terms, setting, surety = study.shop.terms, study.costing.setting, study.costing.quote_surety
    least, most = (_factor(limit, study) for limit in limits_of("surety"))
    known = ", ".join(f"{_factor(Decimal(each), study)} is {each}" for each in (80, 90, 95))
    return [
        _share("in_hidden_faults", "For hidden faults", setting.hidden_faults, "of minutes"),
        _share("in_shared_cause", "Shared cause of spread", terms.shared_cause, "correlation"),
        InputCell(
            "in_z",
            "Spreads added for the surety quoted",
            _factor(surety, study),
            "factor",
            "spreads",
            least,
            most,
            f"now {number_words(surety)} of 100 jobs; 0 the mean, {known} of 100",
        ),
        _cell(
            "in_large_quote",
            "A quote is a large one from",
            terms.large_quote_hours,
            "minutes",
            "hours",
            "held at the surety, with the materials fee"
            if study.costing.large_from
            else "bears the materials fee; this job asks for a surety of its own",
        ),
        _minutes("in_spoil_min", "To make good a spoiled part", terms.rework_spoil_min),
        _minutes("in_damage_min", "To mend a chip", terms.rework_damage_min),
        _minutes("in_serious_min", "A serious accident, time", terms.rework_serious_min),
        _money("in_serious_cost", "A serious accident, money", terms.rework_serious_cost, "money"),
        _minutes("in_client_min", "To ask the customer again", terms.rework_client_min),
    ]


def _bands(terms: Terms) -> list[InputCell]:
    """The bands of mark-up, the last without an upper end."""
    bands: list[InputCell] = []
    for number, band in enumerate(terms.markup, start=1):
        if band.up_to is not None:
            bands.append(
                InputCell(
                    f"in_band{number}",
                    f"Band {number}: parts costing up to",
                    band.up_to,
                    "money",
                    "each",
                    *limits_of("up_to"),
                )
            )
        label = (
            f"Band {number}: price is cost times"
            if band.up_to is not None
            else "Dearer parts: price is cost times"
        )
        bands.append(InputCell(f"in_factor{number}", label, band.factor, "factor", "", *limits_of("factor")))
    return bands


def _price(study: Study) -> list[InputCell]:
    """What makes a price of the cost: fees, rush, tax, deposit."""
    terms, paid = study.shop.terms, study.job.terms.bench_fee_paid
    rush = study.job.terms.rush_factor(terms)
    return [
        _money("in_minimum", "Least charge", terms.minimum_charge, "a job"),
        _share("in_labour_reserve", "Warranty reserve", terms.labour_reserve, "of labour"),
        _share("in_fee_share", "Materials fee", terms.fee_share, "of labour"),
        _money("in_fee_least", "Materials fee, least", terms.fee_least, "a job"),
        _money("in_fee_most", "Materials fee, most", terms.fee_most, "a job", "at cost when more is used up"),
        _cell("in_rush", "Rush", rush, "factor", "times", "1 is no rush"),
        _cell(
            "in_own_part_labour", "Labour on a customer's own part", terms.own_part_labour, "factor", "times"
        ),
        _share("in_tax_parts", "Tax on parts", terms.tax_parts, "of price"),
        _share("in_tax_labour", "Tax on the rest", terms.tax_labour, "of price"),
        _share("in_deposit_share", "Deposit: share of labour", terms.deposit_labour_share, "of labour above"),
        _money("in_deposit_over", "Deposit: labour free of it", terms.deposit_labour_over, "a job"),
        _money(
            "in_deposit_step", "Deposit: rounded up to a whole", terms.deposit_step, "a job", "0: to the cent"
        ),
        *([_money("in_bench_fee", "Bench fee, already paid", terms.bench_fee, "a job")] if paid else []),
    ]


def _factor(surety: Decimal, study: Study) -> Decimal:
    """Spreads beyond the mean that a surety is held at."""
    return Decimal(str(z_of(surety, study.shop.terms.skew)))


def write_inputs(book: Book, study: Study, footer: str) -> Sheet:
    """Write the sheet and give every input its name."""
    sheet = book.sheet(Sheet(SHEET, (40, 13, 17, 40), footer=footer, landscape=False))
    words = "Underlined blue figures on pale ground are yours to change. Everything else follows."
    sheet.headline(SHEET, words, 0, 3)
    row = 3
    for heading, cells in inputs_of(study):
        sheet.text(row, 0, heading, "section")
        row += 1
        for cell in cells:
            sheet.text(row, 0, cell.label)
            sheet.input(row, 1, cell.value, cell.style, cell.low, cell.high)
            sheet.text(row, 2, cell.unit, "soft", indent=1)
            sheet.text(row, 3, cell.note, "soft-wrap")
            book.name(cell.name, sheet, row, 1)
            row += 1
        if heading == "Price":
            sheet.text(row, 0, "Tax is rounded once on the")
            sheet.choice(row, 1, study.shop.terms.tax_per, ("invoice", "line"))
            book.name("in_tax_per", sheet, row, 1)
            row += 1
        row += 1
    return sheet
