"""A new estimate from an edited costing workbook: the changes put into shop and job, and all of it priced anew."""

from __future__ import annotations

import re
from collections.abc import Collection
from decimal import Decimal

from msgspec.structs import replace

from estimator.choose.study import Study, study_job
from estimator.core.amounts import Cents
from estimator.core.errors import InputError, Issue, Origin, refusal
from estimator.core.money import amount, cents
from estimator.estimate.costing import Costing, is_active
from estimator.estimate.labour import marked_up, run_line, setup_line
from estimator.estimate.three_point import percent_of, z_of
from estimator.model import Estimate, Job, MarkupBand, Shop
from estimator.tables.settings import terms_issues
from estimator.workbook.read.costing import Edits
from estimator.workbook.row_key import SETUP, row_key
from estimator.workbook.write.sheets.inputs import SETTING, inputs_of

#: inputs that are settings of the shop as they stand
SPECIAL = {"in_wage", "in_overhead", "in_charge", "in_rush", "in_hidden_faults"}
DIRECT = {name: setting for name, setting in SETTING.items() if name not in SPECIAL}
ONE = Decimal(1)
_SETTING_NAME = re.compile(r"[a-z]+(?:_[a-z]+)+")


def reprice(study: Study, chosen: Collection[str], edits: Edits) -> tuple[Study, Estimate]:
    """Study and estimate with the changes in; InputError for a change that cannot be carried out."""
    shop, job = _with_inputs(study, edits)
    shop, job = _with_part_costs(shop, job, study, edits)
    # the work is done the ways of the workbook, with the tools that were got for them
    fresh = study_job(shop, replace(job, without_tools=()))
    costing = _with_quantities(fresh.costing, chosen, edits)
    fresh = fresh.priced_as(_with_parts(costing, edits))
    return fresh, fresh.costing.estimate(chosen)


def _with_inputs(study: Study, edits: Edits) -> tuple[Shop, Job]:
    terms, job, inputs = study.shop.terms, study.job, edits.inputs
    changes: dict[str, object] = {DIRECT[name]: value for name, value in inputs.items() if name in DIRECT}
    own = job.terms
    client = job.kind == "commission"
    if "in_wage" in inputs:
        changes["wage_per_hour" if client else "own_pay_per_hour"] = inputs["in_wage"]
    if "in_overhead" in inputs:
        if not client:
            raise _cannot("overhead", "an own instrument carries no overhead")
        changes["overhead_per_hour"] = inputs["in_overhead"]
    if "in_charge" in inputs:
        own = replace(own, charge_per_hour=inputs["in_charge"])
    if "in_rush" in inputs:
        own = replace(own, rush=inputs["in_rush"] != ONE)
        if inputs["in_rush"] != ONE:
            changes["rush"] = inputs["in_rush"]
    if "in_hidden_faults" in inputs:
        _hidden_faults(study, inputs["in_hidden_faults"], changes)
    if edits.tax_per:
        changes["tax_per"] = edits.tax_per
    changes["markup"] = tuple(
        MarkupBand(
            None if band.up_to is None else inputs.get(f"in_band{number}", band.up_to),
            inputs.get(f"in_factor{number}", band.factor),
        )
        for number, band in enumerate(terms.markup, start=1)
    )
    if "in_z" in inputs:
        surety = surety_of(inputs["in_z"], terms.skew)
        if job.budget.surety is None and surety >= 50:
            changes["surety"] = surety
        else:
            job = replace(job, budget=replace(job.budget, surety=surety))
    job = replace(job, terms=own)
    changed = replace(terms, **changes)
    if issues := terms_issues(changed, edits.file):
        raise InputError([_by_cell(issue, study, edits) for issue in issues])
    return replace(study.shop, terms=changed), job


def _by_cell(issue: Issue, study: Study, edits: Edits) -> Issue:
    """A complaint of a setting, told of the cell that was changed and in the words of its row."""
    cells = {setting: name for name, setting in SETTING.items() if name != "in_hidden_faults"}
    cells[_faults_setting(study)] = "in_hidden_faults"
    labels = {cell.name: f"“{cell.label}”" for _, group in inputs_of(study) for cell in group}
    named = _SETTING_NAME.findall(f"{issue.where.column} {issue.problem}")
    touched = [cells[each] for each in named if cells.get(each) in edits.places]
    if not touched:
        return issue

    def worded(text: str) -> str:
        return _SETTING_NAME.sub(lambda found: labels.get(cells.get(found[0], ""), found[0]), text)

    return replace(
        issue,
        where=Origin(edits.file, None, edits.places[touched[-1]]),
        problem=worded(issue.problem),
        accepted=worded(issue.accepted),
        next_step=issue.next_step or "change the one or the other",
    )


def _faults_setting(study: Study) -> str:
    strung = study.job.instrument.get("strung")
    unstrung = strung is not None and strung.value is False
    return "hidden_fault_share_unstrung" if unstrung else "hidden_fault_share"


def _hidden_faults(study: Study, share: Decimal, changes: dict[str, object]) -> None:
    """The setting that gives this share on this instrument (it is greater on an odd or unstrung one)."""
    terms, old = study.shop.terms, study.costing.setting.hidden_faults
    name = _faults_setting(study)
    stood = getattr(terms, name)
    changes[name] = share if old == stood or not old else share * stood / old


def surety_of(z: Decimal, skew: Decimal) -> Decimal:
    """The surety in per cent that a number of spreads stands for; InputError unless it has two decimals."""
    surety = Decimal(str(round(percent_of(float(z), float(skew)), 6)))
    if not Decimal(0) < surety < Decimal(100) or Decimal(str(z_of(surety, skew))) != z:
        raise _cannot("spreads for the surety", "give them with two decimals, between 0 and 4")
    return surety


def _with_part_costs(shop: Shop, job: Job, study: Study, edits: Edits) -> tuple[Shop, Job]:
    prices: dict[str, Decimal] = {}
    for upgrade, cost in edits.part_costs.items():
        part = study.costing.parts[upgrade].part
        if prices.setdefault(part, cost) != cost:
            raise _cannot(f"the part {part}", "it stands in two rows with two costs; give both the same")
    own = {name: replace(p, price=prices[name]) if name in prices else p for name, p in job.parts.items()}
    common = {name: replace(p, price=prices[name]) if name in prices else p for name, p in shop.parts.items()}
    return replace(shop, parts=common), replace(job, parts=own)


def _with_quantities(costing: Costing, chosen: Collection[str], edits: Edits) -> Costing:
    ranks, setups = dict(costing.ranks), dict(costing.setups)
    for key, quantity in edits.quantities.items():
        kind, task, place = row_key(key)
        if kind == SETUP:
            line = setup_line(costing.shop.tasks[task], costing.setting, quantity)
            setups[task] = (line, setups[task][1])
            continue
        active = [rank for rank in ranks[task, place] if is_active(rank.triggers, frozenset(chosen))]
        if not quantity:
            del ranks[task, place]
            continue
        demand = replace(active[-1].demand, quantity=quantity)
        line = run_line(costing.shop.tasks[task], demand, costing.setting, active[-1].part_price)
        ranks[task, place] = (replace(active[-1], line=line, demand=demand),)
    return replace(costing, ranks=ranks, setups=setups)


def _with_parts(costing: Costing, edits: Edits) -> Costing:
    parts = dict(costing.parts)
    for upgrade, quantity in edits.part_quantities.items():
        line = parts[upgrade]
        if line.owner == "customer":
            parts[upgrade] = replace(line, quantity=quantity, fitting=line.fitting if quantity else Cents(0))
            continue
        unit_price = marked_up(line.unit_cost, costing.shop.terms)
        parts[upgrade] = replace(
            line,
            quantity=quantity,
            cost=cents(amount(line.unit_cost) * quantity),
            unit_price=unit_price,
            price=cents(amount(unit_price) * quantity),
        )
    return replace(costing, parts=parts)


def _cannot(what: str, why: str) -> InputError:
    return refusal(Origin(), f"a change to {what} cannot be carried out", "", why)
