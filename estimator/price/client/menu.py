"""The shop's menu: each usual job priced on a plain instrument, beside what other shops post for it.

The price is that of client work without its parts. Its pieces say what it is made of: the minutes of each
kind of work at the charged rate, and what the steps of the price add. They add up to the price.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import InputError, refusal, refused_word, squeezed
from estimator.core.money import cents, times_rate
from estimator.estimate.build import make_costing
from estimator.estimate.commission import Price
from estimator.estimate.costing import Costing
from estimator.estimate.sale_terms import usual_work
from estimator.estimate.tax import TaxLine, tax_of
from estimator.fit.candidates import names, upgrades_meant
from estimator.fit.judge import judge
from estimator.fit.ways import open_methods, ways_of
from estimator.input.job.load import job_from
from estimator.model import Estimate, Job, MenuJob, PostedPrice, Shop, Verdict
from estimator.tables.methods import by_methods
from estimator.tables.toml.text import parse_toml

CORE, ALWAYS, CHECK, RECHECK = "the work itself", "inspection", "final check", "recheck"
REWORK, FAULTS, SURETY, ROUNDING = "rework", "hidden faults", "surety", "rounding"
WARRANTY, FEE, LEAST = "warranty", "fee", "least charge"
CHECKS = {"final-check": CHECK, "recheck-next-day": RECHECK}
#: so many lists make a middle worth the name
ENOUGH_LISTS = 3
HALF = Decimal("0.5")
PARTS, STRINGS = "parts", "strings"
#: what is sold with the work by these units is called strings by everybody
STRING_UNITS = ("set", "string")


class Band(Struct, frozen=True):
    """The quartiles of what lists post for a job, in cents; ``lists`` read, ``taken`` those at home if any."""

    low: Cents
    middle: Cents
    high: Cents
    lists: int
    taken: int


class MenuRow(Struct, frozen=True):
    """A job of the menu: hundredths of a minute hands-on, cents without parts, and its pieces in cents.

    ``price`` is before ``tax``. ``extra``: what comes on top, in words. ``depends``: the price rests on what
    differs from instrument to instrument, and which the row of the job does not say.
    ``rows`` are the ids of upgrades.csv that it is, without their parts, ``beside`` those it is added to.
    """

    job: MenuJob
    minutes: Hundredths
    price: Cents
    tax: Cents
    with_set_up: Cents | None
    pieces: tuple[tuple[str, Cents], ...]
    band: Band | None
    extra: tuple[str, ...]
    depends: bool
    rows: tuple[str, ...]
    beside: tuple[str, ...]

    @property
    def ratio(self) -> Decimal | None:
        """Price over the middle of what is posted, to two places; None where nothing is posted."""
        if self.band is None or not self.band.middle:
            return None
        return (Decimal(self.price) / self.band.middle).quantize(Decimal("0.01"), ROUND_HALF_UP)


def menu_of(shop: Shop, words: Sequence[str] = (), top: int | None = None) -> tuple[MenuRow, ...]:
    """The menu in the order of its table; ``top``: only so many, those dearest beside the lists first.

    InputError where a word is in no job of the menu, or a job cannot be done on its instrument.
    """
    jobs = [job for job in shop.menu.jobs.values() if not words or any(_speaks(job, word) for word in words)]
    for word in words:
        if not any(_speaks(job, word) for job in shop.menu.jobs.values()):
            raise refused_word(
                "menu",
                "no job of the menu has this word",
                word,
                shop.menu.jobs,
                otherwise="take one of these, or a part of its words",
            )
    rows = [row_of(shop, job) for job in jobs]
    if top is None:
        return tuple(rows)
    return tuple(sorted(rows, key=lambda row: -(row.ratio or Decimal(0)))[:top])


def _speaks(job: MenuJob, word: str) -> bool:
    return squeezed(word) in squeezed(job.id) or squeezed(word) in squeezed(job.what)


def row_of(shop: Shop, job: MenuJob) -> MenuRow:
    """One job of the menu priced."""
    instrument = plain_job(shop, job)
    set_up = () if "set-up" in job.upgrades else ("set-up",)
    wanted = (*job.upgrades, *job.beside, *set_up)
    verdicts = _verdicts(shop, instrument, job, wanted)
    alone = {verdicts[name].upgrade.id for name in (*job.upgrades, *job.beside)}
    costing = _costing(shop, instrument, tuple(verdicts.values()), alone)
    whole = costing.estimate(alone)
    base = costing.estimate({verdicts[name].upgrade.id for name in job.beside}) if job.beside else None
    pieces, minutes, tax = pieces_of(costing, whole), whole.totals.attended, _tax(costing, whole)
    if base is not None:
        less = dict(pieces_of(costing, base))
        pieces = tuple((name, value - less[name]) for name, value in pieces)
        minutes -= base.totals.attended
        tax -= _tax(costing, base)
    more = None
    if set_up and not job.beside and _together(verdicts, wanted):
        set_up_alone = costing.estimate({"set-up"})
        more = _net(costing, costing.estimate({*alone, "set-up"})) - _net(costing, set_up_alone)
    mine = [verdicts[name] for name in job.upgrades]
    return MenuRow(
        job,
        minutes,
        sum((value for _, value in pieces), Cents(0)),
        tax,
        more,
        pieces,
        band_of(shop, shop.menu.posted.get(job.id, ())),
        _extra(shop, whole, base),
        _depends(mine, whole, base),
        tuple(dict.fromkeys(verdict.upgrade.row.id for verdict in mine)),
        tuple(dict.fromkeys(verdicts[name].upgrade.row.id for name in job.beside)),
    )


def _tax(costing: Costing, estimate: Estimate) -> Cents:
    """The tax on a price without its parts, in cents."""
    price, terms = _price(costing, estimate), costing.shop.terms
    lines = [TaxLine(net, terms.tax_labour) for net in (price.work, price.fee)]
    return tax_of(lines, terms.tax_per)


def _extra(shop: Shop, whole: Estimate, base: Estimate | None) -> tuple[str, ...]:
    """What comes on top of the price: parts, and what is sold with the work like a part."""
    there = set(base.chosen) if base else set()
    before = _sold(shop, base) if base else Counter[str]()
    words = [PARTS] if any(part.upgrade not in there for part in whole.parts) else []
    for name, many in _sold(shop, whole).items():
        if many > before[name]:
            sold = shop.consumables[name]
            words.append(STRINGS if sold.unit in STRING_UNITS else sold.what)
    return tuple(dict.fromkeys(words))


def _sold(shop: Shop, estimate: Estimate) -> Counter[str]:
    """What a set uses up of what is sold like a part, in thousandths of its unit."""
    found: Counter[str] = Counter()
    for line in estimate.lines:
        for use in line.consumables:
            if shop.consumables[use.id].by_the_piece:
                found[use.id] += int(use.quantity * 1000)
    return found


def _depends(mine: Sequence[Verdict], whole: Estimate, base: Estimate | None) -> bool:
    """Whether time or fit rests on what nobody has measured: of plain instruments no two are alike in it."""
    before = {(line.task, line.place): line.minutes + line.setup for line in (base.lines if base else ())}
    return any(
        line.rests_on and before.get((line.task, line.place)) != line.minutes + line.setup
        for line in whole.lines
    ) or any(
        verdict.upgrade.part is not None and any(finding.assumed for finding in verdict.findings)
        for verdict in mine
    )


def _costing(shop: Shop, instrument: Job, verdicts: tuple[Verdict, ...], alone: set[str]) -> Costing:
    """The job priced with its work done the ways that cost least."""
    open_ = make_costing(shop, instrument, verdicts, ways=open_methods(ways_of(shop, instrument), {}))
    if not open_.ways:
        return open_
    return make_costing(by_methods(open_.shop, open_.cheapest_ways(alone)), instrument, verdicts)


def minutes_by_group(shop: Shop, job: MenuJob) -> dict[str, int]:
    """Hundredths of a minute hands-on of a job of the menu by the group of their tasks; they add up to its minutes."""
    instrument = plain_job(shop, job)
    verdicts = _verdicts(shop, instrument, job, (*job.upgrades, *job.beside))
    alone = {verdicts[name].upgrade.id for name in (*job.upgrades, *job.beside)}
    costing = _costing(shop, instrument, tuple(verdicts.values()), alone)
    found: dict[str, int] = {}
    for sign, names_ in ((1, (*job.upgrades, *job.beside)), (-1, job.beside)):
        if names_:
            for line in costing.estimate({verdicts[name].upgrade.id for name in names_}).lines:
                group = shop.tasks[line.task].group
                found[group] = found.get(group, 0) + sign * (line.minutes + line.setup)
    return {group: minutes for group, minutes in found.items() if minutes}


def _together(verdicts: dict[str, Verdict], wanted: Sequence[str]) -> bool:
    """Whether a set-up can be done with the job: neither shuts the other out."""
    rows = {verdicts[name].upgrade.row.id for name in wanted}
    return not any(set(verdicts[name].upgrade.excludes) & rows for name in wanted)


def plain_job(shop: Shop, job: MenuJob) -> Job:
    """Client work on the plain instrument of a menu job; whatever its row does not name is as usual."""
    lines = [f'[job]\nid = "{job.id}"\nkind = "commission"\n[instrument]']
    for name, word in job.instrument.items():
        spec = shop.intake[name]
        told = word == "yes" if spec.kind == "yes-no" else word
        text = str(told).lower() if isinstance(told, bool) else word if _is_number(word) else f'"{word}"'
        lines.append(f"{name} = {text}")
    try:
        found = job_from(parse_toml("\n".join(lines).encode(), f"{job.id}.toml"), shop)
    except InputError as error:
        raise InputError(
            replace(issue, where=job.origin.at("instrument")) for issue in error.issues
        ) from None
    return replace(found, issues=())


def _is_number(word: str) -> bool:
    return word.replace(".", "", 1).lstrip("-").isdigit()


def _verdicts(shop: Shop, instrument: Job, job: MenuJob, wanted: Sequence[str]) -> dict[str, Verdict]:
    """The verdict on each upgrade wanted, on the first of its parts; InputError where one cannot be done."""
    offered = upgrades_meant(shop, instrument, wanted)
    found: dict[str, Verdict] = {}
    for name in wanted:
        upgrade = next((u for u in offered if names(u, name)), None)
        verdict = judge(shop, instrument, upgrade) if upgrade else None
        if verdict is None or verdict.outcome == "does-not-fit":
            why = "" if verdict is None else next(f.sentence for f in verdict.findings if f.outcome == "no")
            raise refusal(
                job.origin.at("upgrades"),
                "a job of the menu cannot be done on its instrument",
                f"“{name}”{': ' + why if why else ''}",
                "an upgrade that suits the instrument of the row",
                "mend the upgrades or the instrument of the row",
            )
        found[name] = verdict
    return found


def _net(costing: Costing, estimate: Estimate) -> Cents:
    """The price of a set before tax, without its parts, in cents."""
    return estimate.totals.price - _price(costing, estimate).parts


def _price(costing: Costing, estimate: Estimate) -> Price:
    return costing.price(estimate.totals.surety_min, estimate.totals.money)


def pieces_of(costing: Costing, estimate: Estimate) -> tuple[tuple[str, Cents], ...]:
    """What a price without parts is made of, in cents; the rounding takes what the cents leave."""
    totals, price = estimate.totals, _price(costing, estimate)
    base = {row.task for row in usual_work(costing.shop, costing.job)}
    minutes = dict.fromkeys((CORE, ALWAYS, CHECK, RECHECK), 0)
    rework = faults = 0
    for line in estimate.lines:
        kind = CHECKS.get(line.task, ALWAYS if line.task in base else CORE)
        minutes[kind] += line.minutes + line.setup
        rework += line.rework
        faults += line.allowance
    quoted = totals.surety_min
    mean = totals.attended + rework
    inside = faults if costing.shop.terms.faults_priced else 0
    spread = quoted - mean - inside
    rate = costing.setting.charge
    pieces = {name: times_rate(Decimal(value) / 100, rate) for name, value in minutes.items()}
    pieces |= {
        name: times_rate(Decimal(value) / 100, rate)
        for name, value in ((REWORK, rework), (FAULTS, inside), (SURETY, spread))
    }
    pieces[ROUNDING] = Cents(price.labour - sum(pieces.values(), Cents(0)))
    pieces |= {
        WARRANTY: Cents(price.reserve + price.more_work),
        FEE: Cents(price.fee),
        LEAST: Cents(price.top_up),
    }
    return tuple(pieces.items())


def band_of(shop: Shop, posted: Sequence[PostedPrice]) -> Band | None:
    """Quartiles of what is posted: of the lists of the shop's own country where there are some, else of all."""
    home = [row for row in posted if row.place == shop.terms.menu_place]
    taken = sorted(row.price_now for row in (home or posted))
    if not taken:
        return None
    low, middle, high = (cents(_quantile(taken, share)) for share in (HALF / 2, HALF, HALF + HALF / 2))
    return Band(low, middle, high, len(posted), len(taken))


def _quantile(values: Sequence[Decimal], share: Decimal) -> Decimal:
    """The value below which a share of sorted values lies, between two of them in proportion."""
    at = share * (len(values) - 1)
    below = int(at)
    above = min(below + 1, len(values) - 1)
    return values[below] + (values[above] - values[below]) * (at - below)


def median_ratio(rows: Sequence[MenuRow]) -> Decimal | None:
    """The middle ratio over the jobs that ``ENOUGH_LISTS`` lists or more post."""
    ratios = sorted(
        row.ratio for row in rows if row.ratio is not None and row.band and row.band.lists >= ENOUGH_LISTS
    )
    return _quantile(ratios, HALF) if ratios else None
